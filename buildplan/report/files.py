"""Writing a plan out: plan.json, bill.csv, report.html, each whole or not at all."""

import csv
from collections.abc import Callable
from datetime import UTC, datetime, time
from io import StringIO
from pathlib import Path

from buildplan.bill import BillLine
from buildplan.decide.calendar import ics_text
from buildplan.files import write_whole
from buildplan.plan import Plan
from buildplan.plan.model import CalendarPlan
from buildplan.report import as_json
from buildplan.report.page import report_page
from buildplan.report.workbook import workbook_bytes

Progress = Callable[[int, int], None]
BILL_COLUMNS = (
    "kind", "item", "need", "unit", "pack", "packs", "spare",
    "pack_cost", "cost", "currency", "supplier", "lead_d", "used_in",
)  # fmt: skip


def write_reports(
    plan: Plan, folder: Path, *, progress: Progress | None = None
) -> tuple[Path, ...]:
    """Write plan.json, bill.csv, plan.xlsx, report.html and calendar.ics; their absolute paths."""
    target = folder.resolve()
    files = [
        write_whole(target / "plan.json", as_json.dump(as_json.plan_object(plan))),
        write_whole(target / "bill.csv", bill_csv(plan.bill, plan.currency)),
        write_whole(target / "plan.xlsx", workbook_bytes(plan)),
        write_whole(target / "report.html", report_page(plan, progress)),
    ]
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
        row = {**as_json.line_object(line), "currency": currency}
        writer.writerow([_safe(row[column]) for column in BILL_COLUMNS])
    return out.getvalue()


def _safe(value: object) -> str:
    """A cell that a spreadsheet reads as text or number, never as a formula.

    Source: OWASP, "CSV Injection": cells that begin with = + - @ tab or return are quoted.
    """
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return "'" + text if isinstance(value, str) and text[:1] in "=+-@\t\r" else text
