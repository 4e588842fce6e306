"""Set-up times and order-by days as an iCalendar file (RFC 5545), by the icalendar library."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from buildplan.decide.calendar.model import Bar
from buildplan.decide.calendar.windows import Windows, moment_at
from buildplan.errors import InputError

if TYPE_CHECKING:
    from icalendar import Event

MAKER = "-//buildplan//calendar//EN"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """Something bought and the last day on which it may be ordered."""

    name: str
    by: date


def order_by(needed: date, lead_days: float) -> date:
    """Last day on which to order what must be there on a day; a part of a day is a day.

    Raises:
        InputError: Negative days.
    """
    if lead_days < 0.0:
        raise InputError(f"lead time: {lead_days:g} days found; 0 or more needed")
    return needed - timedelta(days=int(-(-lead_days // 1)))


def ics_text(
    build_name: str,
    bars: Sequence[Bar],
    orders: Sequence[OrderLine],
    windows: Windows,
    *,
    stamp: datetime,
) -> str:
    """The text of an .ics file: an event for each set-up, a whole-day event for each order.

    Times are in UTC where the build names its zone, else on whatever clock reads them. The same
    input and stamp give the same text; an event keeps its UID when its time moves.

    Args:
        build_name: Of the build; the UIDs hang on it.
        bars: From bars.
        orders: What is bought.
        windows: Those of the bars.
        stamp: When the plan was made, with its time zone.

    Raises:
        InputError: The stamp has no time zone.
    """
    from icalendar import Calendar

    if stamp.tzinfo is None:
        raise InputError(f"calendar file: stamp {stamp} found; it needs a time zone")
    made = Calendar()
    made.add("prodid", MAKER)
    made.add("version", "2.0")
    tries: dict[str, int] = {}
    for bar in sorted((b for b in bars if b.kind == "set-up"), key=lambda b: (b.start_h, b.lane)):
        tries[bar.task] = tries.get(bar.task, 0) + 1
        again = f", try {tries[bar.task]}" if tries[bar.task] > 1 else ""
        event = _event(f"{build_name}\nset-up\n{bar.task}\n{tries[bar.task]}", stamp)
        event.add("dtstart", _clock(windows, bar.start_h))
        event.add("dtend", _clock(windows, bar.end_h))
        event.add("summary", f"Set up {bar.task} on {bar.lane}{again}")
        made.add_component(event)
    for line in sorted(orders, key=lambda order: (order.by, order.name)):
        event = _event(f"{build_name}\norder\n{line.name}", stamp)
        event.add("dtstart", line.by)
        event.add("dtend", line.by + timedelta(days=1))
        event.add("summary", f"Last day to order {line.name}")
        event.add("transp", "TRANSPARENT")
        made.add_component(event)
    text: str = made.to_ical().decode("utf-8")
    return text


def _event(key: str, stamp: datetime) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", f"{uuid5(NAMESPACE_URL, key)}@buildplan")
    event.add("dtstamp", stamp.astimezone(UTC).replace(microsecond=0))
    return event


def _clock(windows: Windows, time_h: float) -> datetime:
    moment = moment_at(windows, time_h)
    return moment.astimezone(UTC) if windows.time_zone else moment
