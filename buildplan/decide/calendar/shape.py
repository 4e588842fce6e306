"""When somebody is there, and which printers may run alone: tables of the build file.

::

    [attended]
    first_day = "2031-03-17"
    time_zone = "Europe/Vienna"
    off = ["2031-03-21"]
    times = [
      { days = ["Mon", "Tue", "Wed", "Thu", "Fri"], start = "17:00", end = "23:00" },
      { days = ["Sat", "Sun"], start = "08:00", end = "23:00" },
    ]

    [[unattended]]                      # none: no printer runs while nobody is there
    printer = "north bench"
    stated = "2031-03-01"
    smoke_alarm = true
    supply = true
    clear_bench = true
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, TypeVar

from buildplan.tables.strict import Fault, Path, read_record
from buildplan.tables.wording import show

Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)|24:00")
Record = TypeVar("Record")


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """One line of `times`: from when to when somebody is there, on some days of the week.

    Attributes:
        start, end: On the wall clock, "17:00" and "23:00"; "24:00" is the end of the day.
    """

    days: tuple[Weekday, ...]
    start: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Attended:
    """`[attended]`: when somebody can set up, take off and assemble.

    Attributes:
        first_day: Day on which the work starts, "2031-03-17"; its midnight is hour 0.
        time_zone: Name after the IANA table ("Europe/Vienna"): hours then run through the change
            of the clocks; empty counts every day as 24 h.
        off: Days without anybody.
        times: Several lines may hold for one day; what overlaps counts once.
    """

    first_day: str
    time_zone: str = ""
    off: tuple[str, ...] = ()
    times: tuple[Times, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unattended:
    """`[[unattended]]`: a printer that may run while nobody is there, and what was looked at.

    Attributes:
        printer: By its name.
        stated: Day on which this was looked at and written down.
        smoke_alarm: A smoke alarm that was tried hangs in the room and is heard where people are.
        supply: The printer hangs on a supply that its makers allow, with sound leads and plugs.
        clear_bench: Nothing that burns lies on, over or beside the bench.
    """

    printer: str
    stated: str
    smoke_alarm: bool = False
    supply: bool = False
    clear_bench: bool = False


def read_attended(
    data: object, path: Path = ("attended",)
) -> tuple[Attended | None, tuple[Fault, ...]]:
    """The `[attended]` table, None where it is missing or wrong, and every fault in it."""
    if data is None:
        return None, ()
    table, faults = _read(Attended, data, path)
    if table is None:
        return None, faults
    wrong = list(faults)
    _date_fault(table.first_day, (*path, "first_day"), wrong)
    for number, text in enumerate(table.off):
        _date_fault(text, (*path, "off", number), wrong)
    if table.time_zone:
        _zone_fault(table.time_zone, (*path, "time_zone"), wrong)
    if not table.times:
        wrong.append(Fault(path=(*path, "times"), text="times is empty; one line or more needed"))
    for number, line in enumerate(table.times):
        _times_faults(line, (*path, "times", number), wrong)
    return (None if wrong else table), tuple(wrong)


def read_unattended(
    data: object, printers: Sequence[str], path: Path = ("unattended",)
) -> tuple[tuple[Unattended, ...], tuple[Fault, ...]]:
    """The `[[unattended]]` tables of a build file, and every fault in them.

    Args:
        data: The list of tables as tomllib gives it, or None.
        printers: Names of the build's printers.
        path: Where the list stands in its file.
    """
    if data is None:
        return (), ()
    if not isinstance(data, list):
        return (), (
            Fault(path=path, text=f"unattended must be [[unattended]], found {show(data)}"),
        )
    rows: list[Unattended] = []
    faults: list[Fault] = []
    for number, raw in enumerate(data):
        where = (*path, number)
        row, wrong = _read(Unattended, raw, where)
        faults.extend(wrong)
        if row is None:
            continue
        _date_fault(row.stated, (*where, "stated"), faults)
        if row.printer not in printers:
            allowed = ", ".join(printers)
            text = f"printer {show(row.printer)} is not a printer of this build; allowed: {allowed}"
            faults.append(Fault(path=(*where, "printer"), text=text))
        if any(row.printer == other.printer for other in rows):
            text = f"printer {show(row.printer)} is stated twice; keep the newer statement"
            faults.append(Fault(path=(*where, "printer"), text=text))
        rows.append(row)
    return (() if faults else tuple(rows)), tuple(faults)


def clock_h(text: str) -> float:
    """Hours since midnight of a time as "17:30".

    Raises:
        ValueError: It is no such time.
    """
    if not CLOCK.fullmatch(text):
        raise ValueError(text)
    hours, minutes = text.split(":")
    return int(hours) + int(minutes) / 60.0


def _read(
    record: type[Record], data: object, path: Path
) -> tuple[Record | None, tuple[Fault, ...]]:
    if not isinstance(data, Mapping):
        text = f"{path[0]} must be a table, found {show(data)}"
        return None, (Fault(path=path, text=text),)
    table: Mapping[str, Any] = data
    return read_record(record, table, path)


def _date_fault(text: str, path: Path, faults: list[Fault]) -> None:
    try:
        date.fromisoformat(text)
    except ValueError:
        key = path[-1] if isinstance(path[-1], str) else path[-2]
        said = f'{key} {show(text)} is not a day; write it as "2031-03-17"'
        faults.append(Fault(path=path, text=said))


def _zone_fault(text: str, path: Path, faults: list[Fault]) -> None:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        said = (
            f'time_zone {show(text)} is not known; write a name as "Europe/Vienna", or leave it out'
        )
        faults.append(Fault(path=path, text=said))


def _times_faults(line: Times, path: Path, faults: list[Fault]) -> None:
    if not line.days:
        faults.append(Fault(path=(*path, "days"), text="days is empty; one day or more needed"))
    wrong = False
    for key, text in (("start", line.start), ("end", line.end)):
        if not CLOCK.fullmatch(text):
            wrong = True
            said = f'{key} {show(text)} is not a time; "00:00" to "24:00" allowed'
            faults.append(Fault(path=(*path, key), text=said))
    if not wrong and clock_h(line.start) >= clock_h(line.end):
        said = (
            f"end {show(line.end)} is not after start {show(line.start)}; "
            "write a night as two lines, one to 24:00 and one from 00:00"
        )
        faults.append(Fault(path=(*path, "end"), text=said))
