"""Needs of fixings: screws by length, inserts, nuts, standoffs; and what is wrong with a grip."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from buildplan.bill.derived.model import (
    Need,
    exact,
    listed,
    mark_of_rows,
    pack_for,
    stem_of,
    whole,
)
from buildplan.bill.derived.screws import (
    LENGTHS_MM,
    Grip,
    ScrewChoice,
    choose_screw,
    insert_name,
    nut_name,
    screw_name,
    usual_packs,
)
from buildplan.bill.derived.shape import FixingTable
from buildplan.bill.derived.stacks import Fixing
from buildplan.findings import Finding, Place
from buildplan.tables.hardware import Insert, Screw

ENOUGH_FRAC = 0.9
"""So much of the thread wanted is near enough for a note (ours)."""

SOURCE = "ISO 4762 lengths; engagement by common practice (screws.toml)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Screws of one kind with their length.

    Attributes:
        where: Where its thread is; ``used_in`` the parts that it holds, both in words.
        count: How many of them.
        insert: Thread of the insert, or empty; ``bore_mm`` the depth of its bore.
        standoff_mm: Of the standoff under what is clamped; 0 for none.
        assumed: Whether the stack is that of a usual board.
        asks: What asks for it: holes or a table.
    """

    where: str
    used_in: str
    count: int
    grip: Grip
    choice: ScrewChoice
    insert: str
    bore_mm: float
    standoff_mm: float
    assumed: bool
    asks: tuple[object, ...]


Judge = Callable[[Sequence[Sized]], Finding | None]
Choose = Callable[[Grip], ScrewChoice]


def size_fixings(
    fixings: Iterable[Fixing],
    tables: Iterable[FixingTable],
    *,
    screws: Mapping[str, Screw],
    inserts: Mapping[str, Insert],
    at_hand_mm: Mapping[str, Sequence[float]] | None = None,
) -> tuple[Sized, ...]:
    """The length of every screw; those that clamp alike at one place make one row.

    Args:
        fixings: Found in the holes.
        tables: Typed in.
        screws: Rows by thread.
        inserts: Rows by thread.
        at_hand_mm: Lengths that the shopping list has, by thread.
    """
    alike: dict[tuple[object, ...], list[Fixing]] = {}
    for one in fixings:
        key = (stem_of(one.where), one.clamps, one.grip, one.insert, one.bore_mm)
        alike.setdefault(key, []).append(one)
    choose = partial(_choose, screws=screws, at_hand_mm=at_hand_mm or {})
    rows = [_from_holes(group, choose) for group in alike.values()]
    return (*rows, *(_from_table(table, choose, inserts) for table in tables))


def _from_holes(group: Sequence[Fixing], choose: Choose) -> Sized:
    first = group[0]
    place = listed(one.where.replace("_", " ") for one in group)
    clamped = listed(name.replace("_", " ") for name in first.clamps)
    return Sized(
        where=place,
        used_in=f"{place} with {clamped}" if first.insert and clamped else place,
        count=len(group),
        grip=first.grip,
        choice=choose(first.grip),
        insert=first.grip.screw if first.insert else "",
        bore_mm=first.bore_mm,
        standoff_mm=0.0,
        assumed=first.seat_of == "a board",
        asks=tuple(hole for one in group for hole in one.holes),
    )


def _from_table(table: FixingTable, choose: Choose, inserts: Mapping[str, Insert]) -> Sized:
    insert = inserts.get(table.screw) if table.into == "insert" else None
    grip = Grip(
        screw=table.screw,
        stack_mm=table.stack_mm + table.standoff_mm,
        into=table.into,
        room_mm=table.room_mm if table.room_mm > 0.0 else math.inf,
        thread_mm=insert.length_mm if insert else math.inf,
    )
    return Sized(
        where=table.name,
        used_in=table.used_in or table.name,
        count=table.count,
        grip=grip,
        choice=choose(grip),
        insert=table.screw if table.into == "insert" else "",
        bore_mm=table.room_mm if table.into == "insert" else 0.0,
        standoff_mm=table.standoff_mm,
        assumed=False,
        asks=(table,),
    )


def _choose(
    grip: Grip, *, screws: Mapping[str, Screw], at_hand_mm: Mapping[str, Sequence[float]]
) -> ScrewChoice:
    row = screws[grip.screw]
    return choose_screw(
        grip,
        thread_mm=row.thread_mm,
        pitch_mm=row.pitch_mm,
        at_hand_mm=at_hand_mm.get(grip.screw, ()),
    )


def fixing_needs(sized: Sequence[Sized]) -> tuple[Need, ...]:
    """Screws by length, inserts, nuts and standoffs, one need an item."""
    rows: dict[str, list[Sized]] = {}
    for one in sized:
        for item in _items(one):
            rows.setdefault(item, []).append(one)
    return tuple(_need(item, group) for item, group in sorted(rows.items(), key=_order))


def _items(one: Sized) -> list[str]:
    """What one row takes; a screw that serves nowhere is not bought."""
    found = []
    if one.choice.serves:
        found.append(screw_name(one.grip.screw, one.choice.length_mm))
    if one.insert:
        found.append(insert_name(one.insert))
    if one.grip.into in ("nut", "lock nut"):
        found.append(nut_name(one.grip.screw, one.grip.into))
    if one.standoff_mm > 0.0:
        found.append(f"standoff {one.grip.screw} x {one.standoff_mm:g}, hollow")
    return found


def _order(pair: tuple[str, list[Sized]]) -> tuple[bool, str, float, str]:
    item, group = pair
    screw = item.startswith("screw")
    return not screw, group[0].grip.screw, group[0].choice.length_mm if screw else 0.0, item


def _need(item: str, group: Sequence[Sized]) -> Need:
    count = exact(sum(one.count for one in group))
    return Need(
        kind="joint",
        item=item,
        quantity=count,
        low=count,
        high=count,
        unit="piece",
        pack=pack_for(count, usual_packs()),
        used_in=listed(one.used_in for one in group),
        asked_by=mark_of_rows(row for one in group for row in one.asks),
        why="; ".join(_why(one) for one in group),
        source=SOURCE,
    )


def _why(one: Sized) -> str:
    room = f", {whole(one.grip.room_mm)} mm deep" if math.isfinite(one.grip.room_mm) else ""
    guess = " (a usual board)" if one.assumed else ""
    return (
        f"{one.count} at {one.where}: stack {whole(one.grip.stack_mm)} mm{guess} into "
        f"{_thing(one)}{room}, holds {whole(one.choice.engaged_mm)} mm"
    )


def _thing(one: Sized) -> str:
    words = {"insert": "an insert", "metal": "a cut thread", "plastic": "plastic"}
    return words.get(one.grip.into, f"a {one.grip.into}")


def fixing_findings(
    sized: Iterable[Sized],
    *,
    inserts: Mapping[str, Insert],
    at_hand_mm: Mapping[str, Sequence[float]] | None = None,
) -> tuple[Finding, ...]:
    """Screws that bottom out or hold too little, inserts that their bore is too short for.

    What is wrong in the same way at several places is one finding. A length that would bottom out
    and is on the shopping list is a caution.
    """
    rows = list(sized)
    judge = partial(_grip_finding, at_hand_mm=at_hand_mm or {})
    return (*_grouped(rows, judge), *_grouped(rows, _bore_finding(inserts)))


def _grouped(rows: Sequence[Sized], judge: Judge) -> list[Finding]:
    alike: dict[tuple[object, ...], list[Sized]] = {}
    for one in rows:
        alike.setdefault((one.grip, one.insert, one.bore_mm), []).append(one)
    return [finding for group in alike.values() if (finding := judge(group)) is not None]


def _places(group: Sequence[Sized]) -> Place:
    count = sum(one.count for one in group)
    screws = "screw" if count == 1 else "screws"
    return Place(text=f"{count} {screws}: {listed(one.where for one in group)}")


def _grip_finding(
    group: Sequence[Sized], *, at_hand_mm: Mapping[str, Sequence[float]]
) -> Finding | None:
    one = group[0]
    grip, choice = one.grip, one.choice
    if not choice.serves:
        return _none_holds(group)
    if choice.bottoming_mm:
        deeper = choice.bottoming_mm - choice.deepest_mm
        known = at_hand_mm.get(grip.screw, ())
        on_list = choice.bottoming_mm in known and choice.length_mm not in known
        enough = choice.engaged_mm >= ENOUGH_FRAC * choice.wanted_mm
        said = " as the build file buys it" if on_list else ""
        return Finding(
            check="bill",
            severity="note" if enough and not on_list else "caution",
            what=f"{grip.screw} x {choice.bottoming_mm:g}{said} would bottom out: "
            f"{_stack_words(grip)}",
            where=_places(group),
            measured=f"{grip.screw} x {choice.length_mm:g} holds {whole(choice.engaged_mm)} mm",
            required=f"{whole(choice.wanted_mm)} mm of thread, {whole(choice.least_mm)} mm at "
            f"least; at most {whole(choice.deepest_mm)} mm long",
            remedy=f"Buy {screw_name(grip.screw, choice.length_mm)}, or make the hole "
            f"{whole(deeper)} mm deeper for {grip.screw} x {choice.bottoming_mm:g}.",
            source=SOURCE,
        )
    if choice.short:
        return Finding(
            check="bill",
            severity="caution",
            what=f"the longest standard {grip.screw} screw is short: {_stack_words(grip)}",
            where=_places(group),
            measured=f"holds {whole(choice.engaged_mm)} mm",
            required=f"{whole(choice.wanted_mm)} mm of thread",
            remedy="Make the stack thinner, or take a threaded rod.",
            source=SOURCE,
        )
    return None


def _none_holds(group: Sequence[Sized]) -> Finding:
    """No standard length: all are too short, or those that would hold bottom out."""
    grip, choice = group[0].grip, group[0].choice
    least = grip.stack_mm + choice.least_mm
    longest = min(max(LENGTHS_MM[grip.screw]), choice.deepest_mm)
    return Finding(
        check="bill",
        severity="stop",
        what=f"no standard {grip.screw} screw holds: {_stack_words(grip)}",
        where=_places(group),
        measured=f"at most {whole(longest)} mm long",
        required=f"at least {whole(least)} mm",
        remedy=f"Make the stack thinner or the hole deeper by {whole(least - longest)} mm.",
        source=SOURCE,
    )


def _stack_words(grip: Grip) -> str:
    room = f", hole {whole(grip.room_mm)} mm deep" if math.isfinite(grip.room_mm) else ""
    return f"stack {whole(grip.stack_mm)} mm{room}"


def _bore_finding(inserts: Mapping[str, Insert]) -> Judge:
    def judge(group: Sequence[Sized]) -> Finding | None:
        one = group[0]
        row = inserts.get(one.insert)
        if row is None or one.bore_mm <= 0.0:
            return None
        wanted = row.length_mm + row.depth_extra_mm
        if one.bore_mm >= wanted - 1e-6:
            return None
        return Finding(
            check="bill",
            severity="caution" if one.bore_mm < row.length_mm else "note",
            what=f"the bore for the {row.name} is {whole(one.bore_mm)} mm deep",
            where=_places(group),
            measured=f"{whole(one.bore_mm)} mm",
            required=f"{whole(wanted)} mm for an insert of {whole(row.length_mm)} mm",
            remedy=f"Draw it {whole(wanted - one.bore_mm)} mm deeper, or buy a shorter insert.",
            source="depth beyond the insert: common practice, no source (inserts.toml)",
        )

    return judge
