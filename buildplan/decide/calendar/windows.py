"""Attended windows on one line of hours, and the two functions that the whole calendar rests on.

Hours run from the midnight at the start of the first day. With a time zone they are real hours:
the day on which the clocks go forward has 23 of them, the other one 25, so that a print through
that night ends when it will; windows stay where the wall clock has them. Without a time zone every
day has 24 h.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.decide.calendar.shape import WEEKDAYS, Attended, clock_h
from buildplan.errors import InputError

HORIZON_D = 366
"""Days that a calendar looks ahead. Source: ours; a build of over a year needs another plan."""

SLACK_H = 1e-12
"""Rounding that does not count as a missed window."""

Hours = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """When somebody is there.

    Attributes:
        start_h, end_h: (w,) windows, sorted, apart from each other.
        before_h: (w + 1,) attended hours before each window, and all of them.
        day_end_h: (d,) hour at which each day ends.
        first_day: Day 0.
        time_zone: As in the build file.
    """

    start_h: Hours
    end_h: Hours
    before_h: Hours
    day_end_h: Hours
    first_day: date
    time_zone: str

    def fit(self, time_h: ArrayLike, need_h: ArrayLike) -> Hours:
        """First moment at or after a time from which somebody is there for so long unbroken.

        Args:
            time_h: Any shape; infinite stays infinite.
            need_h: A number, or one for each time.

        Returns:
            As time_h; infinite where no window that is left is long enough.
        """
        times = np.asarray(time_h, float)
        need = np.asarray(need_h, float)
        return (
            _fit_one(self, times, float(need)) if need.ndim == 0 else _fit_each(self, times, need)
        )

    def work(self, time_h: ArrayLike, need_h: ArrayLike) -> Hours:
        """When so many attended hours are done that may be split over windows.

        Nothing to do is done at the first attended moment. Infinite where the windows run out.
        """
        times, need = np.broadcast_arrays(np.asarray(time_h, float), np.asarray(need_h, float))
        here = np.searchsorted(self.end_h, times, side="right")
        inside = np.minimum(here, len(self.start_h) - 1)
        begin = np.maximum(times, self.start_h[inside])
        goal = self.before_h[inside] + (begin - self.start_h[inside]) + need
        there = np.searchsorted(self.before_h, goal - SLACK_H, side="left") - 1
        there = np.clip(there, inside, len(self.start_h) - 1)
        done = self.start_h[there] + (goal - self.before_h[there])
        done = np.where(need == 0.0, begin, np.where(there == inside, begin + need, done))
        late = (goal > self.before_h[-1] + SLACK_H) | (here >= len(self.start_h))
        return np.asarray(np.where(late, math.inf, done))

    def attended_h(self, time_h: ArrayLike) -> Hours:
        """Attended hours from hour 0 to a time."""
        times = np.asarray(time_h, float)
        here = np.searchsorted(self.end_h, times, side="right")
        inside = np.minimum(here, len(self.start_h) - 1)
        part = np.clip(times - self.start_h[inside], 0.0, self.end_h[inside] - self.start_h[inside])
        return np.asarray(self.before_h[inside] + part)

    @property
    def longest_h(self) -> float:
        """The longest window."""
        return float(np.max(self.end_h - self.start_h))


def make_windows(attended: Attended, *, days: int = HORIZON_D) -> Windows:
    """Windows of the days ahead.

    Args:
        attended: From read_attended, or made in Python with the same care.
        days: How far ahead.

    Raises:
        InputError: Nobody is ever there.
    """
    first = date.fromisoformat(attended.first_day)
    off = {date.fromisoformat(text) for text in attended.off}
    pairs = []
    for number in range(days):
        day = first + timedelta(days=number)
        if day in off:
            continue
        for line in attended.times:
            if WEEKDAYS[day.weekday()] in line.days:
                ends = (
                    hour_of(day, clock_h(t), first, attended.time_zone)
                    for t in (line.start, line.end)
                )
                pairs.append(tuple(ends))
    edges = [
        hour_of(first + timedelta(days=n + 1), 0.0, first, attended.time_zone) for n in range(days)
    ]
    return windows_from(
        pairs, first_day=first, day_end_h=np.array(edges), time_zone=attended.time_zone
    )


def windows_from(
    pairs: Iterable[tuple[float, ...]],
    *,
    first_day: date,
    day_end_h: Hours,
    time_zone: str = "",
) -> Windows:
    """Windows from (start, end) hours in any order; what touches or overlaps becomes one.

    Raises:
        InputError: None is longer than 0 h.
    """
    merged: list[list[float]] = []
    for start, end in sorted(pair for pair in pairs if pair[1] > pair[0]):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    if not merged:
        raise InputError(
            "attended: nobody is there on any day ahead, 0 h found; give one line of times or more"
        )
    start_h, end_h = np.array(merged).T.copy()
    before_h = np.concatenate(([0.0], np.cumsum(end_h - start_h)))
    day_end_h = np.array(day_end_h, float)
    for array in (start_h, end_h, before_h, day_end_h):
        array.flags.writeable = False
    return Windows(
        start_h=start_h,
        end_h=end_h,
        before_h=before_h,
        day_end_h=day_end_h,
        first_day=first_day,
        time_zone=time_zone,
    )


def hour_of(day: date, clock: float, first_day: date, time_zone: str) -> float:
    """Hours from the start of the first day to a time on the wall clock of a day."""
    days, minutes = divmod(round(clock * 60.0), 24 * 60)
    wall = datetime.combine(day + timedelta(days=days), time(minutes // 60, minutes % 60))
    zero = datetime.combine(first_day, time())
    if time_zone:
        wall, zero = _utc(wall, time_zone), _utc(zero, time_zone)
    return (wall - zero).total_seconds() / 3600.0


def moment_at(windows: Windows, time_h: float) -> datetime:
    """Date and wall clock at an hour, to the minute; with its zone where the build names one."""
    span = timedelta(minutes=round(time_h * 60.0))
    zero = datetime.combine(windows.first_day, time())
    if not windows.time_zone:
        return zero + span
    from zoneinfo import ZoneInfo

    return (_utc(zero, windows.time_zone) + span).astimezone(ZoneInfo(windows.time_zone))


def day_at(windows: Windows, time_h: float) -> date:
    """The day in which an hour lies; the very end of a day belongs to it."""
    number = int(np.searchsorted(windows.day_end_h, time_h - 1e-9, side="left"))
    return windows.first_day + timedelta(days=number)


def _utc(wall: datetime, time_zone: str) -> datetime:
    from zoneinfo import ZoneInfo

    return wall.replace(tzinfo=ZoneInfo(time_zone)).astimezone(UTC)


def _fit_one(windows: Windows, times: Hours, need: float) -> Hours:
    """Fit for one length: only windows that are long enough count, then one search finds all."""
    long_enough = windows.end_h - windows.start_h >= need - SLACK_H
    starts, lasts = windows.start_h[long_enough], windows.end_h[long_enough] - need
    if not len(starts):
        return np.full(times.shape, math.inf)
    here = np.searchsorted(lasts, times - SLACK_H, side="left")
    if need == 0.0:  # at the very end of a window nobody is there any more
        here = np.searchsorted(lasts, times, side="right")
    found = np.maximum(times, starts[np.minimum(here, len(starts) - 1)])
    return np.where(here < len(starts), found, math.inf)


def _fit_each(windows: Windows, times: Hours, need: Hours) -> Hours:
    """Fit for many lengths: every time walks to the next window until one is long enough."""
    times, need = np.broadcast_arrays(times, need)
    flat, long = times.ravel(), need.ravel()
    found = np.full(flat.shape, math.inf)
    left = np.flatnonzero(np.isfinite(flat) & (long <= windows.longest_h + SLACK_H))
    here = np.searchsorted(windows.end_h, flat[left], side="right")
    while len(left):
        going = here < len(windows.start_h)
        left, here = left[going], here[going]
        begin = np.maximum(flat[left], windows.start_h[here])
        fits = begin + long[left] <= windows.end_h[here] + SLACK_H
        found[left[fits]] = begin[fits]
        left, here = left[~fits], here[~fits] + 1
    return found.reshape(times.shape)
