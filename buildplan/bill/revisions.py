"""What changes between two revisions of a build: parts, hours, grams, money, orders, checks."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from buildplan.errors import InputError

ChangeKind = Literal["added", "removed", "changed", "renamed"]

MARK_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""Letters of a revision mark: none that is mistaken for another when pressed into plastic."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One printed part in a revision, all copies together.

    Attributes:
        mesh: Hash of the mesh as printed; a part of another name with the same mesh is the same.
        how: Printer, feedstock and recipe in words.
        time_h, mass_g, cost: Of all copies.
    """

    name: str
    mesh: str
    quantity: int
    how: str
    time_h: float
    mass_g: float
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """One line of the bill in a revision."""

    item: str
    packs: int
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """A build at one moment, as far as two of them are compared.

    Attributes:
        name: Of the build, with its revision.
        lines_cost: What the bill comes to; its rows add up to it.
        checks: Gravest finding of each part and of the device, in words.
    """

    name: str
    parts: tuple[PartRow, ...]
    lines: tuple[LineRow, ...]
    checks: Mapping[str, str]

    @property
    def time_h(self) -> float:
        """Hours of all parts."""
        return sum(row.time_h for row in self.parts)

    @property
    def mass_g(self) -> float:
        """Grams of all parts."""
        return sum(row.mass_g for row in self.parts)

    @property
    def lines_cost(self) -> Decimal:
        """What the bill comes to."""
        return sum((row.cost for row in self.lines), Decimal("0.00"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChange:
    """What happened to one part: by how much its hours, grams and money moved, and why.

    Attributes:
        name: In the newer revision; in the older one for a removed part.
        was: Its older name where it was renamed.
        differs: What differs: "mesh", "quantity", "how".
    """

    name: str
    was: str
    kind: ChangeKind
    differs: tuple[str, ...]
    time_h: float
    mass_g: float
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """What happened to one line of the bill.

    Attributes:
        packs: More (or fewer) packs to buy.
        cost: By how much its price moved.
    """

    item: str
    kind: ChangeKind
    packs: int
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckChange:
    """A part or the device whose gravest finding is another one now; empty text for none."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """All that differs between two revisions; rows add up to the differences of the totals.

    Attributes:
        reprint_h: Hours of the parts that must be printed anew: mesh or way of printing changed.
    """

    before: str
    after: str
    parts: tuple[PartChange, ...]
    lines: tuple[LineChange, ...]
    checks: tuple[CheckChange, ...]
    time_h: float
    mass_g: float
    lines_cost: Decimal
    reprint_h: float

    @property
    def same(self) -> bool:
        """Whether nothing differs that costs hours, grams or money."""
        moved = [part for part in self.parts if part.kind != "renamed"]
        return not (moved or self.lines or self.checks)


def compare_revisions(before: Revision, after: Revision) -> Changes:
    """Which parts, lines and checks differ, and by how much in hours, grams and money.

    Parts are matched by name, then what is left by mesh: a part that only got another name is
    "renamed" and costs nothing.

    Raises:
        InputError: A name stands twice in one of them.
    """
    for revision in (before, after):
        _each_once(revision.name, [row.name for row in revision.parts])
        _each_once(revision.name, [row.item for row in revision.lines])
    parts = _part_changes(before.parts, after.parts)
    new = {row.name: row for row in after.parts}
    reprinted = [p for p in parts if p.kind == "added" or {"mesh", "how"} & set(p.differs)]
    return Changes(
        before=before.name,
        after=after.name,
        parts=parts,
        lines=_line_changes(before.lines, after.lines),
        checks=_check_changes(before.checks, after.checks),
        time_h=after.time_h - before.time_h,
        mass_g=after.mass_g - before.mass_g,
        lines_cost=after.lines_cost - before.lines_cost,
        reprint_h=sum(new[change.name].time_h for change in reprinted),
    )


def revision_mark(texts: Iterable[str], letters: int = 4) -> str:
    """A short mark to press into a part: the same texts always give the same letters.

    Four letters tell 1 048 576 states apart; two revisions of one build share a mark 1 time in a
    million.

    Args:
        texts: What makes the revision: mesh hashes, recipes.
        letters: 2 to 12.

    Raises:
        InputError: Another number of letters.
    """
    if not 2 <= letters <= 12:
        raise InputError(f"a mark of {letters} letters; 2 to 12 are allowed")
    digest = hashlib.sha256("\0".join(texts).encode()).digest()
    number = int.from_bytes(digest, "big")
    found = []
    for _ in range(letters):
        number, place = divmod(number, len(MARK_LETTERS))
        found.append(MARK_LETTERS[place])
    return "".join(found)


def _each_once(name: str, keys: Sequence[str]) -> None:
    for key in keys:
        if keys.count(key) > 1:
            raise InputError(f"revision {name}: {key!r} stands there twice; give each its own name")


def _part_changes(before: Sequence[PartRow], after: Sequence[PartRow]) -> tuple[PartChange, ...]:
    old, new = {row.name: row for row in before}, {row.name: row for row in after}
    gone = {name: row for name, row in old.items() if name not in new}
    changes = []
    for name, row in new.items():
        was = old.get(name) or _by_mesh(gone, row)
        if was is None:
            changes.append(_added(row))
            continue
        gone.pop(was.name, None)
        differs = [
            key for key in ("mesh", "quantity", "how") if getattr(was, key) != getattr(row, key)
        ]
        moved = row.time_h != was.time_h or row.mass_g != was.mass_g or row.cost != was.cost
        if was.name == name and not differs and not moved:
            continue
        kind: ChangeKind = "changed" if differs or moved else "renamed"
        changes.append(
            PartChange(
                name=name,
                was=was.name if was.name != name else "",
                kind=kind,
                differs=tuple(differs),
                time_h=row.time_h - was.time_h,
                mass_g=row.mass_g - was.mass_g,
                cost=row.cost - was.cost,
            )
        )
    return (*changes, *(_removed(row) for row in gone.values()))


def _by_mesh(gone: Mapping[str, PartRow], row: PartRow) -> PartRow | None:
    return next((other for other in gone.values() if other.mesh == row.mesh), None)


def _added(row: PartRow) -> PartChange:
    return PartChange(
        name=row.name,
        was="",
        kind="added",
        differs=(),
        time_h=row.time_h,
        mass_g=row.mass_g,
        cost=row.cost,
    )


def _removed(row: PartRow) -> PartChange:
    return PartChange(
        name=row.name,
        was="",
        kind="removed",
        differs=(),
        time_h=-row.time_h,
        mass_g=-row.mass_g,
        cost=-row.cost,
    )


def _line_changes(before: Sequence[LineRow], after: Sequence[LineRow]) -> tuple[LineChange, ...]:
    old, new = {row.item: row for row in before}, {row.item: row for row in after}
    nothing = Decimal("0.00")
    changes = []
    for item in (*new, *(name for name in old if name not in new)):
        was, now = old.get(item), new.get(item)
        packs = (now.packs if now else 0) - (was.packs if was else 0)
        cost = (now.cost if now else nothing) - (was.cost if was else nothing)
        kind: ChangeKind = "changed" if was and now else "added" if now else "removed"
        if kind != "changed" or packs or cost:
            changes.append(LineChange(item=item, kind=kind, packs=packs, cost=cost))
    return tuple(changes)


def _check_changes(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[CheckChange, ...]:
    names = (*after, *(name for name in before if name not in after))
    rows = [
        CheckChange(name=name, before=before.get(name, ""), after=after.get(name, ""))
        for name in names
    ]
    return tuple(row for row in rows if row.before != row.after)
