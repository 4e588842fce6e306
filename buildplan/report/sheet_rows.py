"""The rows of the workshop sheet: orders, feedstocks, tests, prints, cautions."""

from typing import Any

from buildplan.decide.calendar import moment_at
from buildplan.plan import Plan, chosen_option
from buildplan.plan.takes import takes_of
from buildplan.report import numbers
from buildplan.report.cautions import cautions_for
from buildplan.report.print_rows import PrintRow, print_rows
from buildplan.report.sheet_text import shorten, tidy
from buildplan.tables.cautions import caution_texts
from buildplan.tables.feedstock import ExtrusionFeedstock

PART_CHARS, LOOK_CHARS, ORDER_CHARS, FEEDSTOCK_CHARS = 29, 25, 44, 12
MOST_LINES = 3
"""Characters that one line of a column holds."""

STEPS_SHOWN = 6
LOOK_WORDS = {"first layers": "first layers", "first overhang": "overhang"}


def order_rows(plan: Plan, most: int) -> list[dict[str, str]]:
    """What to order by when, the most pressing first; without a calendar, by days of lead time."""
    if plan.calendar is not None and plan.calendar.orders:
        rows = [
            {"by": f"{line.by:%a %d %b}", "what": _order_words(*line.name.partition(": ")[::2])}
            for line in plan.calendar.orders
        ]
    else:
        late = sorted((o for o in plan.orders.orders if o.lead_d > 0.0), key=lambda o: -o.lead_d)
        rows = [
            {
                "by": numbers.num(order.lead_d, 0, "days"),
                "what": _order_words(order.supplier, ", ".join(order.items)),
            }
            for order in late
        ]
    if len(rows) > most:
        more = len(rows) - most + 1
        rows = [
            *rows[: most - 1],
            {"by": "later", "what": f"and {more} more orders, in the report"},
        ]
    return rows


def _order_words(supplier: str, items: str) -> str:
    """The supplier and what fits of its items."""
    names = items.split(", ")
    text = tidy(f"{supplier}: {items}" if items and items != supplier else supplier)
    if len(text) <= ORDER_CHARS or len(names) == 1:
        return text
    first = tidy(f"{supplier}: {names[0]}", ORDER_CHARS - 11)
    return f"{first} and {len(names) - 1} more"


def feedstock_rows(plan: Plan) -> list[dict[str, Any]]:
    """Each feedstock with its limits, the one most used first."""
    rows: dict[str, tuple[float, Any]] = {}
    for item in plan.parts:
        if item.sent is None:
            grams = item.quantity * takes_of(item, plan.splits).mass_g.likely
            before = rows.get(item.feedstock.key, (0.0, None))[0]
            rows[item.feedstock.key] = (before + grams, item.feedstock)
    told = []
    for key, (grams, row) in sorted(rows.items(), key=lambda pair: -pair[1][0]):
        melts = isinstance(row, ExtrusionFeedstock)
        told.append(
            {
                "name": tidy(key, 26),
                "lines": 1 if len(key) <= FEEDSTOCK_CHARS else 2,
                "grams": numbers.num(grams, 0 if grams >= 9.95 else 1),
                "dry": f"{row.dry_c:.0f} °C, {row.dry_h:g} h" if melts else "",
                "nozzle": f"{row.nozzle_low_c:.0f} to {row.nozzle_high_c:.0f}" if melts else "",
                "platform": f"{row.platform_c:.0f}" if melts else "",
                "after": "" if melts else f"wash {row.wash_min:g} min, cure {row.cure_min:g} min",
                "holds": f"{row.service_c:.0f}",
            }
        )
    return told


def tests_rows(plan: Plan) -> list[dict[str, str]]:
    """What must be mended, then the tests worth their time, each with when it has passed.

    Without a long print: the first things to do.
    """
    rows: dict[str, dict[str, str]] = {}
    for ready in plan.ready:
        for claim in ready.readiness.stops:
            told = {"do": claim.remedy or claim.because, "holds": _holds(claim.name), "hours": ""}
            rows.setdefault(claim.name, told | {"stop": "yes"})
    for ready in plan.ready:
        for line in ready.readiness.lines:
            claim = line.claim
            if line.band == "skip":
                continue
            wait = f", {claim.test.wait_d:g} d" if claim.test.wait_d else ""
            told = {
                "do": tidy(claim.test.what),
                "holds": _holds(claim.name),
                "hours": numbers.num(claim.test.hours, 1, "h") + wait,
                "stop": "",
            }
            rows.setdefault(claim.name, told)
    if not rows:
        for step in plan.first[:STEPS_SHOWN]:
            rows[step] = {"do": tidy(step), "holds": "", "hours": "", "stop": ""}
    return [
        row | {"do": shorten(numbers.plain(tidy(row["do"])), 110 if not row["holds"] else 54)}
        for row in rows.values()
    ]


def _holds(name: str) -> str:
    """What must be true: of a part with its name, of the device or a feedstock without."""
    about, colon, text = name.rpartition(": ")
    told = f"{about}: {text}" if colon and about != "device" and len(about) < 20 else text
    return tidy(told, 52)


def assembly_rows(plan: Plan) -> list[dict[str, str]]:
    """The steps by hand in the order of the usual outcome, with their attended hours."""
    hours: dict[str, float] = {}
    for bar in plan.calendar.bars if plan.calendar is not None else ():
        if bar.kind == "assembly":
            hours[bar.task] = hours.get(bar.task, 0.0) + bar.end_h - bar.start_h
    return [
        {"what": tidy(name, 46), "hours": numbers.num(time_h, 1, "h")}
        for name, time_h in hours.items()
    ]


def never_lines(plan: Plan) -> list[str]:
    """The cautions that the build calls for, in a few words each."""
    texts = caution_texts()
    return [texts[one.key].never for one in cautions_for(plan)]


def sheet_prints(plan: Plan) -> list[dict[str, Any]]:
    """The rows of prints in order, each with its lines, and those with its start ("tall")."""
    printers = {chosen_option(item).printer for item in plan.parts}
    rows = []
    for row in print_rows(plan):
        when = ""
        if plan.calendar is not None and row.start_h is not None:
            when = f"{moment_at(plan.calendar.windows, row.start_h):%a %d, %H:%M}"
        parts, look = _part_words(row), _look_words(row)
        lines = min(max(-(-len(parts) // PART_CHARS), -(-len(look) // LOOK_CHARS), 1), MOST_LINES)
        rows.append(
            {
                "parts": shorten(parts, MOST_LINES * PART_CHARS - 6),
                "printer": tidy(row.printer, 19 if len(printers) > 1 else 40),
                "when": when,
                "feedstock": tidy(row.feedstock, 24),
                "hours": numbers.num(row.time_h, 1),
                "grams": numbers.num(row.mass_g, 0 if row.mass_g >= 9.95 else 1),
                "look": shorten(look, MOST_LINES * LOOK_CHARS - 4),
                "lines": lines,
                "tall": max(lines, 2) if when else lines,
            }
        )
    return rows


def _part_words(row: PrintRow) -> str:
    names = [f"{tidy(name)} × {count}" if count > 1 else tidy(name) for name, count in row.parts]
    return ", ".join(names) + (f", {row.copies} times" if row.copies > 1 else "")


def _look_words(row: PrintRow) -> str:
    """Hours from the start with what to look for; a change of reel with its layer."""
    told = []
    for look in row.looks:
        head = look.why.partition(":")[0]
        hours = numbers.hours(look.after_h)
        if head.startswith("change of reel"):
            told.append(f"new reel {hours}, layer {look.layer}".replace(" ", numbers.FIXED_SPACE))
        else:
            told.append(f"{LOOK_WORDS.get(head, head)}{numbers.FIXED_SPACE}{hours}")
    return ", ".join(told)
