"""Writing a plan out: numbers, tables and pages, each file whole or not at all."""

import csv
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from io import StringIO
from pathlib import Path

from buildplan.bill import BillLine
from buildplan.decide.calendar import ics_text
from buildplan.files import write_whole
from buildplan.plan import Plan
from buildplan.plan.model import CalendarPlan
from buildplan.report import as_json
from buildplan.report.brief import build_brief
from buildplan.report.page import report_page
from buildplan.report.pdf import page_pdf, require_pdf
from buildplan.report.sheet import build_sheet
from buildplan.report.sheet_text import tidy
from buildplan.report.workbook import workbook_bytes

Progress = Callable[[int, int], None]
CREATED = date(2020, 1, 1)
"""Written into PDF files of a plan without a calendar, so that same plan gives same bytes."""

BILL_COLUMNS = (
    "kind", "item", "need", "need_low", "need_high", "unit", "pack", "least", "on_hand", "packs",
    "spare", "pack_cost", "price_breaks", "cost", "currency", "tax_frac", "supplier", "lead_d",
    "state", "used_in", "asked_by",
)  # fmt: skip


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def write_reports(
    plan: Plan, folder: Path, *, pdf: bool = False, progress: Progress | None = None
) -> tuple[Path, ...]:
    """Write the tables, the report, the sheet, the brief and the calendar; their absolute paths.

    Args:
        plan: The plan.
        folder: Made where it is not there.
        pdf: The three pages as PDF too.
        progress: Told how many of the report's pictures are drawn.

    Raises:
        BuildplanError: PDF is asked for and its maker is missing; nothing is written then.
    """
    if pdf:
        require_pdf()
    target = folder.resolve()
    pages = {
        "report": report_page(plan, progress),
        "build-sheet": build_sheet(plan),
        "brief": build_brief(plan),
    }
    files = [
        write_whole(target / "plan.json", as_json.dump(as_json.plan_object(plan))),
        write_whole(target / "bill.csv", bill_csv(plan.bill, plan.currency)),
        write_whole(target / "plan.xlsx", workbook_bytes(plan)),
        *(write_whole(target / f"{name}.html", page) for name, page in pages.items()),
    ]
    if pdf:
        made_on = plan.calendar.windows.first_day if plan.calendar is not None else CREATED
        foot = tidy(f"{plan.name}, revision {plan.revision}" if plan.revision else plan.name, 80)
        for name, page in pages.items():
            own_foot = foot if name == "report" else ""
            made = page_pdf(page, foot=own_foot, made_on=made_on)
            files.append(write_whole(target / f"{name}.pdf", made))
    if plan.calendar is not None and plan.calendar.bars:
        files.append(write_whole(target / "calendar.ics", calendar_ics(plan, plan.calendar)))
    return tuple(files)


def calendar_ics(plan: Plan, calendar: CalendarPlan) -> bytes:
    """Set-up times and order-by dates (RFC 5545); the same plan gives the same bytes."""
    stamp = datetime.combine(calendar.windows.first_day, time(), tzinfo=UTC)
    text = ics_text(plan.name, calendar.bars, calendar.orders, calendar.windows, stamp=stamp)
    return text.encode("utf-8")


def bill_csv(lines: tuple[BillLine, ...], currency: str) -> str:
    """The bill as CSV text; no cell can start a formula in a spreadsheet."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(BILL_COLUMNS)
    for line in lines:
        row = {"currency": currency, **as_json.line_object(line, currency)}
        writer.writerow([safe_cell(row[column]) for column in BILL_COLUMNS])
    return out.getvalue()


def safe_cell(value: object) -> str:
    """A cell that a spreadsheet reads as text or number, never as a formula.

    Source: OWASP, "CSV Injection": cells that begin with = + - @ tab or return are quoted.
    """
    text = f"{value:g}" if isinstance(value, float) else str(value)
    risky = isinstance(value, str) and text.startswith(FORMULA_STARTS)
    return f"'{text}" if risky else text
