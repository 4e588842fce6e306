"""One page for whoever pays: what is built, what it costs, when it is done, what may go wrong."""

from importlib.resources import files
from pathlib import Path
from typing import Any

from buildplan.decide.readiness import ReadinessLine
from buildplan.plan import Plan
from buildplan.plan.takes import longest_print_h
from buildplan.report import numbers, style
from buildplan.report.embed import data_address
from buildplan.report.page import template_named
from buildplan.report.picture import draw_part
from buildplan.report.sheet_text import shorten, tidy
from buildplan.report.verdict import longest_print

SWINGS_SHOWN, RISKS_SHOWN, ORDERS_SHOWN, DAYS_SHOWN = 3, 6, 7, 6
LEAST_SWING = 0.005
"""A swing below half a cent is none."""

EARLIEST_FRAC, LATEST_FRAC = 0.02, 0.99
"""Days with less or more than this chance are not shown."""

AXIS_PX, EDGE_PX = 688, 36
PICTURE_PX = (560, 380)


def build_brief(plan: Plan) -> str:
    """The page as HTML text, always light, with nothing outside of it; one A4 page on paper."""
    context = {
        **_head(plan),
        "heading": _heading(plan),
        "what": _what(plan),
        "picture": _picture(plan),
        "money": _money(plan),
        "swings": _swings(plan),
        "days": _days(plan),
        "done": _done(plan),
        "risks": _risks(plan),
        "asked": _asked(plan),
        "orders": _orders(plan),
        "dated": plan.calendar is not None and bool(plan.calendar.orders),
    }
    return numbers.bind_units(style.for_paper(template_named("brief.html.j2").render(context)))


def _head(plan: Plan) -> dict[str, Any]:
    from markupsafe import Markup

    css = (files("buildplan.report") / "templates" / "brief.css").read_text("utf-8")
    light = ";".join(f"--{name}:{pair[0]}" for name, pair in style.TOKENS.items())
    return {
        "fonts": Markup(style.font_faces()),
        "css": Markup(f":root{{color-scheme:light;{light}}}\n{css}"),
        "name": tidy(plan.name, 40),
        "revision": tidy(plan.revision, 20),
        "file": tidy(Path(plan.file).name, 40),
        "mark_text": f"{plan.sha256[:4]} {plan.sha256[4:8]}",
        "currency": plan.currency,
        "invented": plan.invented,
    }


def _heading(plan: Plan) -> str:
    """What it costs and when it is done, as one sentence."""
    cost = f"{plan.currency} {numbers.num(plan.budget.median_cost, 0)}"
    finish = plan.calendar.finish if plan.calendar is not None else None
    if finish is None:
        return f"{tidy(plan.name, 40)} costs about {cost}"
    day = f"{finish.p50_day.day}{numbers.FIXED_SPACE}{finish.p50_day:%B}"
    return f"{tidy(plan.name, 40)} costs about {cost} and is as likely as not done by {day}"


def _what(plan: Plan) -> str:
    copies = sum(item.quantity for item in plan.parts)
    sent = sum(item.quantity for item in plan.parts if item.sent is not None)
    bought = sum(1 for line in plan.bill if line.wanted.kind != "feedstock" and line.cost)
    longest = longest_print(plan)
    text = (
        f"One device from {numbers.count(copies, 'printed part')} and "
        f"{numbers.count(bought, 'kind of thing bought', 'kinds of things bought')}. "
        f"Printing takes {numbers.num(plan.time_h.likely, 0, 'h')} of machine time; the longest "
        f"print, the {tidy(longest.name, 40)}, takes "
        f"{numbers.hours(longest_print_h(longest, plan.splits))}. Own time at the printers: "
        f"{numbers.num(plan.own_time_h, 1, 'h')}, not in the sum."
    )
    return text + (f" Services make {sent} of the parts." if sent else "")


def _picture(plan: Plan) -> dict[str, str]:
    longest = longest_print(plan)
    drawn = draw_part(longest.part, width_px=PICTURE_PX[0], height_px=PICTURE_PX[1])
    return {"src": data_address(drawn), "alt": f"The {tidy(longest.name, 40)}, the longest print"}


def _money(plan: Plan) -> dict[str, Any]:
    """Three sums on one axis beside the plain one, and what the plain one is worth."""
    budget = plan.budget
    marks = (budget.low_cost, budget.median_cost, budget.high_cost, budget.plain_cost)
    low, high = min(marks), max(marks)
    span = max(high - low, 1e-9)
    at = [round(EDGE_PX + (AXIS_PX - 2 * EDGE_PX) * (x - low) / span, 1) for x in marks]
    spread = high - low > LEAST_SWING
    kept = numbers.num(100.0 * budget.plain_frac, 0)
    return {
        "spread": spread,
        "at": at,
        "low": numbers.num(budget.low_cost, 0),
        "median": numbers.num(budget.median_cost, 0),
        "high": numbers.num(budget.high_cost, 0),
        "plain": numbers.num(budget.plain_cost, 2),
        "said": (
            f"The plain sum of all likely prices is kept {kept} times in 100, so it is not what to "
            "count on."
            if spread and budget.plain_frac < 0.5
            else f"The plain sum of all likely prices is kept {kept} times in 100."
            if spread
            else "Every price is taken as known; the sum has no spread."
        ),
    }


def _swings(plan: Plan) -> list[dict[str, str]]:
    moving = [s for s in plan.budget.swings if s.high_cost - s.low_cost > LEAST_SWING]
    return [
        {
            "name": f"{tidy(one.item, 40)}, {one.what}",
            "low": numbers.num(one.low_cost, 2),
            "high": f"+{numbers.num(one.high_cost, 2)}",
            "share": f"{numbers.num(100.0 * one.share_frac, 0)} %",
        }
        for one in moving[:SWINGS_SHOWN]
    ]


def _days(plan: Plan) -> list[dict[str, str]]:
    """The chance to be finished by the end of a day."""
    finish = plan.calendar.finish if plan.calendar is not None else None
    if finish is None:
        return []
    rows = [row for row in finish.by_day if EARLIEST_FRAC <= row.chance_frac <= LATEST_FRAC]
    rows = rows or list(finish.by_day[-1:])
    rows = rows[:: -(-len(rows) // DAYS_SHOWN)]
    return [
        {
            "day": f"{row.day:%a %d %b}",
            "chance": f"{numbers.num(100.0 * row.chance_frac, 0)} in 100",
            "width": f"{100.0 * row.chance_frac:.1f}",
        }
        for row in rows
    ]


def _done(plan: Plan) -> str:
    calendar = plan.calendar
    if calendar is None:
        return "No date: the build file does not say when somebody is there."
    if calendar.finish is None:
        return f"No date: {tidy(calendar.refused)}"
    usual, late = calendar.finish.p50_day, calendar.finish.p90_day
    return f"Half the time by {usual:%d %b}, 9 times in 10 by {late:%d %b}."


def _risks(plan: Plan) -> list[dict[str, str]]:
    """What must be true, the costliest to leave untried first; a stop before all."""
    rows: dict[str, dict[str, str]] = {}
    for ready in plan.ready:
        for claim in ready.readiness.stops:
            rows[claim.name] = {
                "what": _wrong(claim.name),
                "chance": "for sure",
                "test": shorten(tidy(claim.remedy or claim.because), 52),
                "takes": "mend it",
            }
    lines: list[ReadinessLine] = [
        line for ready in plan.ready for line in ready.readiness.lines if line.band != "skip"
    ]
    for line in sorted(lines, key=lambda line: -line.skip_h):
        claim = line.claim
        percent = numbers.num(100.0 * claim.p_wrong_frac, 0)
        told = {
            "what": _wrong(claim.name),
            "chance": f"{percent} in 100",
            "test": shorten(tidy(claim.test.what), 52),
            "takes": numbers.num(claim.test.hours, 1, "h"),
        }
        rows.setdefault(claim.name, told)
    return list(rows.values())[:RISKS_SHOWN]


def _wrong(name: str) -> str:
    about, colon, text = name.rpartition(": ")
    told = f"{about}: {text}" if colon and about != "device" and len(about) < 20 else text
    return tidy(told, 50)


def _asked(plan: Plan) -> str:
    """The sum that covers it 9 times in 10, and the day of the first order."""
    amount = f"{plan.currency} {-int(-plan.budget.high_cost // 1)}"
    covers = "covers it 9 times in 10" if _money(plan)["spread"] else "covers it"
    calendar = plan.calendar
    if calendar is not None and calendar.orders:
        first = min(line.by for line in calendar.orders)
        return f"{amount}, which {covers}, by {first:%a %d %B %Y}: the first order goes out then"
    return f"{amount}, which {covers}, before the first order"


def _orders(plan: Plan) -> list[dict[str, str]]:
    """The sum of each order and the last day for it; what is not to be ordered has no day."""
    by = {}
    if plan.calendar is not None:
        by = {line.name.partition(": ")[0]: line.by for line in plan.calendar.orders}
    orders = [order for order in plan.orders.orders if order.total_cost]
    orders.sort(key=lambda o: (o.supplier not in by, by.get(o.supplier), -o.lead_d))
    rows = [
        {
            "by": f"{by[order.supplier]:%a %d %b}" if order.supplier in by else _lead(order.lead_d),
            "from": tidy(order.supplier, 34),
            "cost": numbers.num(float(order.total_cost), 2),
        }
        for order in orders
    ]
    if len(rows) > ORDERS_SHOWN:
        rest = orders[ORDERS_SHOWN - 1 :]
        total = numbers.num(float(sum(order.total_cost for order in rest)), 2)
        told = {"by": "later", "from": f"{len(rest)} more orders", "cost": total}
        rows = [*rows[: ORDERS_SHOWN - 1], told]
    return rows


def _lead(lead_d: float) -> str:
    return numbers.num(lead_d, 0, "days") if lead_d else "any day"
