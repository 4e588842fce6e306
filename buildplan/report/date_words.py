"""What sets the finish date, in words: the same on the terminal, in the report and in JSON."""

from buildplan.decide.calendar import Hold
from buildplan.plan import Plan
from buildplan.plan.model import CalendarPlan
from buildplan.report import numbers

ORDER_FROM = "order from "
"""How the calendar names a delivery."""


def date_sentence(plan: Plan, print_words: str) -> str:
    """What sets the date, by how much, what comes next, and when to order; empty without a date.

    ``print_words`` names the longest print with its hours: "the 21.6 h of the base shell".
    """
    calendar = plan.calendar
    if calendar is None or calendar.finish is None:
        return ""
    if not calendar.holds:
        return "No single thing sets the date: without any one of them it is done no sooner."
    top = calendar.holds[0]
    subject, plural = _subject(plan, top)
    verb = "set" if plural else "sets"
    said = f"{subject} {verb} the date{_not_the_print(top, print_words)}: {_without(top)}."
    said = said[:1].upper() + said[1:]
    said += _order_words(plan, calendar, top)
    later = next((hold for hold in calendar.holds[1:] if not _same(top, hold)), None)
    if later is not None:
        said += f" Next {_next_words(later)}, {_time(later.sooner_p50_h)}."
    return said


def _same(top: Hold, other: Hold) -> bool:
    """Whether another is only a part of the first, or holds it."""
    families = (("delivery", "deliveries"), ("print", "printer", "prints"))
    return any(top.kind in family and other.kind in family for family in families)


def _time(hours: float) -> str:
    if hours < 24.0:
        return numbers.hours(hours)
    return numbers.num(hours / 24.0, 1, "days")


def _name(text: str) -> str:
    return text.replace("_", " ")


def _subject(plan: Plan, hold: Hold) -> tuple[str, bool]:
    """What sets the date, and whether it is several things."""
    if hold.kind in ("delivery", "deliveries"):
        item, packs, lead_d = _slowest(plan, hold.lead)
        goods = f"{packs} {item}" if packs > 1 else f"the {item}"
        days = numbers.num(lead_d, 0, "day" if lead_d == 1.0 else "days")
        return f"{goods} with {days} of delivery", packs > 1
    if hold.kind == "hours":
        return "the hours at which you are there", True
    return _next_words(hold), hold.kind in ("printer", "prints")


def _next_words(hold: Hold) -> str:
    name = _name(hold.name)
    return {
        "delivery": f"the {name}",
        "deliveries": "all deliveries together",
        "print": f"the print {name}",
        "printer": f"the prints on {name}",
        "prints": "all prints together",
        "work": f"the step “{name}”",
        "cure": f"the curing after “{name}”",
        "hours": "the hours at which you are there",
    }[hold.kind]


def _not_the_print(top: Hold, print_words: str) -> str:
    return "" if top.kind in ("print", "printer", "prints") else f", not {print_words}"


def _without(top: Hold) -> str:
    sooner = f"all would be done {_time(top.sooner_p50_h)} sooner"
    return {
        "delivery": f"were it here today, {sooner}",
        "deliveries": f"were all deliveries here today, {sooner}",
        "print": f"if it took no time, {sooner}",
        "printer": f"if they took no time, {sooner}",
        "prints": f"if they took no time, {sooner}",
        "work": f"if it took no time, {sooner}",
        "cure": f"if it took no time, {sooner}",
        "hours": f"were you there day and night, {sooner}",
    }[top.kind]


def _slowest(plan: Plan, delivery: str) -> tuple[str, int, float]:
    """Item, packs and days of what takes longest in a delivery."""
    supplier = delivery.removeprefix(ORDER_FROM)
    for order in plan.orders.orders:
        if order.supplier == supplier:
            lines = [line for line in plan.bill if line.wanted.item in order.items]
            if not lines:
                return f"{delivery}", 1, order.lead_d
            line = max(lines, key=lambda one: one.wanted.lead_d)
            return line.wanted.item, line.packs, order.lead_d
    return delivery, 1, 0.0


def _order_words(plan: Plan, calendar: CalendarPlan, top: Hold) -> str:
    """When to order it; empty where nothing is to be ordered."""
    if top.kind not in ("delivery", "deliveries"):
        return ""
    supplier = top.lead.removeprefix(ORDER_FROM)
    line = next((one for one in calendar.orders if one.name.startswith(f"{supplier}: ")), None)
    if line is None:
        return " It is on its way already."
    today = line.by <= calendar.windows.first_day
    when = "today" if today else f"by {line.by:%a %d %b}"
    return f" Order the {_slowest(plan, top.lead)[0]} {when}."
