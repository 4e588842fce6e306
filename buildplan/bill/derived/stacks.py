"""Which screws a device's holes ask for: inserts in blind bores, bolts through holes in line."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from buildplan.bill.derived.screws import Grip, Into
from buildplan.tables.hardware import Insert, Screw

Vector = tuple[float, float, float]

SAME_AXIS_MM = 0.6
"""Axes of holes that one screw goes through lie this close (ours: half the room of a hole)."""

SAME_WAY = math.cos(math.radians(2.0))
"""Axes of holes that one screw goes through point the same way to within 2 degrees (ours)."""

NEAR_MM = 1.0
"""Parts that one screw holds lie this close: air between a rod and its arm, a gasket (ours)."""

PRINTED_MM = 0.15
"""A hole may be drawn smaller or larger than its table by this (ours)."""

BOARD_MM = 1.6
"""Usual thickness of a printed circuit board (common practice)."""

SeatOf = Literal["typed in", "alike", "the holes", "a board"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One round hole of one copy of a part, in the device's frame.

    Attributes:
        owner: The copy; ``part`` the part.
        feature: Named region that it is in, or empty; ``boss`` whether that is a boss.
        group: Moving group of its part, or empty.
        frame: Copies that stand in one frame have the same: empty for the device's; a copy that is
            placed nowhere has one of its own.
        start_mm, end_mm: Middle of either end, and whether a floor shuts it.
    """

    owner: str
    part: str
    feature: str
    boss: bool
    group: str
    start_mm: Vector
    end_mm: Vector
    diameter_mm: float
    start_shut: bool
    end_shut: bool
    frame: str = ""

    @property
    def depth_mm(self) -> float:
        """Distance between its ends."""
        return math.dist(self.start_mm, self.end_mm)

    @property
    def blind(self) -> bool:
        """Whether exactly one end is shut."""
        return self.start_shut != self.end_shut

    @property
    def through(self) -> bool:
        """Whether neither end is shut."""
        return not (self.start_shut or self.end_shut)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """Where the head of a screw sits: `[[device.screw]]`."""

    name: str
    screw: str
    seat_mm: Vector
    axis: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixing:
    """One screw with what it clamps.

    Attributes:
        where: The feature or part with its thread; ``clamps`` the parts that it holds.
        grip: Stack, thread and room.
        insert: Key of the insert, or empty.
        bore_mm: Depth of the insert's bore.
        seat_of: How the stack is known.
        moves: Whether the parts that it joins move against each other.
        holes: The holes that ask for it.
    """

    where: str
    clamps: tuple[str, ...]
    grip: Grip
    insert: str
    bore_mm: float
    seat_of: SeatOf
    moves: bool
    holes: tuple[Hole, ...]


def find_fixings(
    holes: Sequence[Hole],
    seats: Iterable[Seat] = (),
    *,
    screws: Mapping[str, Screw],
    inserts: Mapping[str, Insert],
) -> tuple[Fixing, ...]:
    """Every screw that the holes ask for.

    A blind bore as wide as an insert wants takes one, if its region is a boss or a hole for the
    insert's screw in another part lies in line before its mouth. Its stack is that of the holes in
    line, up to the seat of a typed-in screw where there is one; a bore with nothing before it holds
    a board. Holes for one screw in line through two parts or more take a bolt and a nut.
    """
    seats = tuple(seats)
    through = [hole for hole in holes if hole.through]
    used: set[int] = set()
    found: list[Fixing] = []
    for hole in holes:
        insert = _insert_for(hole, screws, inserts)
        if insert is None:
            continue
        lines = {m: _line_from(hole, m, screws[insert.screw], through) for m in _mouths(hole)}
        mouth = max(lines, key=lambda m: len(lines[m]))
        if not (hole.boss or lines[mouth]):
            continue
        used.update(id(one) for one in (hole, *lines[mouth]))
        own_seats = seats if not hole.frame else ()
        found.append(_into_insert((hole, mouth), lines[mouth], insert, own_seats))
    rest = [hole for hole in through if id(hole) not in used]
    return (*_like_the_others(found), *_bolts(rest, screws))


def _insert_for(
    hole: Hole, screws: Mapping[str, Screw], inserts: Mapping[str, Insert]
) -> Insert | None:
    """The insert whose hole this is, or None: blind, or through a boss and wide for no screw."""
    passes = hole.through and any(_takes(hole, screw) for screw in screws.values())
    if not hole.blind and (not hole.boss or passes):
        return None
    able = [
        row
        for row in inserts.values()
        if -PRINTED_MM <= hole.diameter_mm - row.hole_mm <= row.hole_tolerance_mm + PRINTED_MM
    ]
    return min(able, key=lambda row: abs(row.hole_mm - hole.diameter_mm), default=None)


def _takes(hole: Hole, screw: Screw) -> bool:
    """Whether a hole is as wide as a screw wants to pass."""
    low, high = screw.hole_fine_mm - PRINTED_MM / 2, screw.hole_coarse_mm + PRINTED_MM / 2
    return low <= hole.diameter_mm <= high


def _line_from(
    hole: Hole, at: tuple[Vector, Vector], screw: Screw, through: Sequence[Hole]
) -> list[Hole]:
    """The holes in line before the mouth of a bore, the nearest first."""
    mouth, out = at
    line: list[Hole] = []
    reached = 0.0
    while True:
        following = [
            one
            for one in through
            if one.owner != hole.owner
            and one.frame == hole.frame
            and one not in line
            and _takes(one, screw)
            and _in_line(mouth, out, one)
            and abs(_span(mouth, out, one)[0] - reached) <= NEAR_MM
        ]
        if not following:
            return line
        nearest = min(following, key=lambda one: _span(mouth, out, one)[0])
        line.append(nearest)
        reached = _span(mouth, out, nearest)[1]


def _into_insert(
    bore: tuple[Hole, tuple[Vector, Vector]],
    line: list[Hole],
    insert: Insert,
    seats: Sequence[Seat],
) -> Fixing:
    hole, (mouth, out) = bore
    seat = _seat_on(mouth, out, seats, insert.screw)
    seat_of: SeatOf = "the holes"
    stack = _span(mouth, out, line[-1])[1] if line else BOARD_MM
    if seat is not None:
        stack, seat_of = seat, "typed in"
    elif not line:
        seat_of = "a board"
    return Fixing(
        where=hole.feature or hole.part,
        clamps=tuple(dict.fromkeys(one.part for one in line)),
        grip=Grip(
            screw=insert.screw,
            stack_mm=round(max(stack, 0.0), 3),
            into="insert",
            room_mm=round(hole.depth_mm, 3) if hole.blind else math.inf,
            thread_mm=insert.length_mm,
        ),
        insert=insert.key,
        bore_mm=round(hole.depth_mm, 3),
        seat_of=seat_of,
        moves=False,
        holes=(hole, *line),
    )


def _like_the_others(fixings: Sequence[Fixing]) -> tuple[Fixing, ...]:
    """Stacks that are not typed in, taken from a typed-in one that clamps alike."""
    known = {_kind(one): one.grip.stack_mm for one in fixings if one.seat_of == "typed in"}
    made: list[Fixing] = []
    for one in fixings:
        stack = known.get(_kind(one))
        if one.seat_of == "typed in" or stack is None:
            made.append(one)
            continue
        grip = replace(one.grip, stack_mm=stack)
        made.append(replace(one, grip=grip, seat_of="alike"))
    return tuple(made)


def _kind(one: Fixing) -> tuple[object, ...]:
    """What fixings share that clamp alike: the parts with their holes, or the boards' bosses."""
    region = "" if one.clamps else one.where
    depths = tuple(round(hole.depth_mm, 1) for hole in one.holes[1:])
    return one.insert, one.clamps, region, depths, one.holes[0].part


def _bolts(holes: Sequence[Hole], screws: Mapping[str, Screw]) -> tuple[Fixing, ...]:
    """A bolt and a nut for holes of one screw in line through two parts or more."""
    left = list(holes)
    found: list[Fixing] = []
    while left:
        first = left.pop(0)
        screw = next((row for row in screws.values() if _takes(first, row)), None)
        if screw is None:
            continue
        chain = _chain(first, left, screw)
        if len({one.owner for one in chain}) < 2:
            continue
        left = [one for one in left if one not in chain]
        found.append(_bolt(chain, screw))
    return tuple(found)


def _chain(first: Hole, others: Sequence[Hole], screw: Screw) -> list[Hole]:
    """A hole with all that follow it in line on either side."""
    out = _unit(first.start_mm, first.end_mm)
    low, high = _span(first.start_mm, out, first)
    chain = [first]
    grown = True
    while grown:
        grown = False
        for one in others:
            if one in chain or one.frame != first.frame or not _takes(one, screw):
                continue
            if not _in_line(first.start_mm, out, one):
                continue
            begin, end = _span(first.start_mm, out, one)
            if begin - high <= NEAR_MM and low - end <= NEAR_MM:
                chain.append(one)
                low, high, grown = min(low, begin), max(high, end), True
    return sorted(chain, key=lambda one: _span(first.start_mm, out, one))


def _bolt(chain: list[Hole], screw: Screw) -> Fixing:
    out = _unit(chain[0].start_mm, chain[0].end_mm)
    spans = [_span(chain[0].start_mm, out, one) for one in chain]
    stack = max(end for _, end in spans) - min(begin for begin, _ in spans)
    moves = len({one.group for one in chain}) > 1
    into: Into = "lock nut" if moves else "nut"
    parts = tuple(dict.fromkeys(one.part for one in chain))
    return Fixing(
        where=" to ".join(parts) if len(parts) > 1 else parts[0],
        clamps=parts,
        grip=Grip(screw=screw.key, stack_mm=math.ceil(10.0 * stack - 1e-3) / 10.0, into=into),
        insert="",
        bore_mm=0.0,
        seat_of="the holes",
        moves=moves,
        holes=tuple(chain),
    )


def _mouths(hole: Hole) -> list[tuple[Vector, Vector]]:
    """Middle of every open end, and the way out of it."""
    start = (hole.start_mm, _unit(hole.end_mm, hole.start_mm))
    end = (hole.end_mm, _unit(hole.start_mm, hole.end_mm))
    shut = (hole.start_shut, hole.end_shut)
    return [one for one, is_shut in zip((start, end), shut, strict=True) if not is_shut]


def _unit(start: Vector, end: Vector) -> Vector:
    length = math.dist(start, end) or 1.0
    x, y, z = ((b - a) / length for a, b in zip(start, end, strict=True))
    return x, y, z


def _along(point: Vector, way: Vector, other: Vector) -> tuple[float, float]:
    """How far along a line a point lies, and how far beside it."""
    off = [b - a for a, b in zip(point, other, strict=True)]
    along = sum(a * b for a, b in zip(off, way, strict=True))
    square = sum(a * a for a in off) - along * along
    return along, math.sqrt(max(square, 0.0))


def _in_line(point: Vector, way: Vector, hole: Hole) -> bool:
    axis = _unit(hole.start_mm, hole.end_mm)
    if abs(sum(a * b for a, b in zip(axis, way, strict=True))) < SAME_WAY:
        return False
    return all(_along(point, way, end)[1] <= SAME_AXIS_MM for end in (hole.start_mm, hole.end_mm))


def _span(point: Vector, way: Vector, hole: Hole) -> tuple[float, float]:
    """Where a hole begins and ends along a line."""
    ends = sorted(_along(point, way, end)[0] for end in (hole.start_mm, hole.end_mm))
    return ends[0], ends[1]


def _seat_on(mouth: Vector, out: Vector, seats: Iterable[Seat], screw: str) -> float | None:
    """How far before a mouth a typed-in screw of this thread sits, or None."""
    for seat in seats:
        length = math.hypot(*seat.axis)
        way = sum(a * b for a, b in zip(seat.axis, out, strict=True)) / length if length else 0.0
        along, beside = _along(mouth, out, seat.seat_mm)
        if seat.screw == screw and way < -SAME_WAY and beside <= SAME_AXIS_MM and along > -NEAR_MM:
            return along
    return None
