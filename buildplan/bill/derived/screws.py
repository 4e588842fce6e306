"""Which standard screw length a stack wants: enough thread, and no bottoming out."""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from buildplan.errors import InputError

_NAMED = re.compile(r"\b(m\d+(?:\.\d+)?)\s*x\s*(\d+(?:\.\d+)?)\b")

Into = Literal["insert", "plastic", "metal", "nut", "lock nut"]

LENGTHS_MM: dict[str, tuple[float, ...]] = {
    "M2": (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0),
    "M2.5": (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0),
    "M3": (5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0),
    "M4": (6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0),
    "M5": (8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0),
    "M6": (10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0),
}
"""Lengths on sale by thread: ISO 4762:2004, table 1 (ranges from memory)."""

ENGAGE_DIAMETERS: dict[Into, float] = {
    "insert": 1.5,
    "metal": 1.5,
    "plastic": 2.0,
    "nut": 0.0,
    "lock nut": 0.0,
}
"""Least thread in diameters: as the notes of screws.toml (common practice, no source)."""

LEAST_DIAMETERS = 1.0
"""Less thread than one diameter does not hold (common practice, no source)."""

LONGER_DIAMETERS = 2.0
"""A screw that is bought anyway may stand out by so much more (ours)."""

TIP_MM = 0.5
"""Air left in front of a screw in a blind hole (common practice, no source)."""

NUT_MM: dict[str, float] = {
    "M2": 1.6, "M2.5": 2.0, "M3": 2.4, "M4": 3.2, "M5": 4.7, "M6": 5.2,
}  # fmt: skip
"""Height of a hexagon nut: ISO 4032, largest (from memory)."""

LOCK_NUT_MM: dict[str, float] = {
    "M2": 2.8, "M2.5": 3.8, "M3": 4.0, "M4": 5.0, "M5": 5.0, "M6": 6.0,
}  # fmt: skip
"""Height of a nut with a nylon ring, usual trade sizes (from memory)."""

PITCHES_OUT = 1.0
"""A bolt stands out of its nut by at least one pitch (common practice: one to three)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """What a screw clamps and what it goes into.

    Attributes:
        screw: Thread ("M3").
        stack_mm: From the face under the head to the mouth of the thread: all that is clamped.
        into: What holds the thread.
        room_mm: Free depth from the mouth of the thread on; inf where the hole goes through.
        thread_mm: Length of the thread that is there: of the insert or nut; inf in a tapped hole.
    """

    screw: str
    stack_mm: float
    into: Into = "insert"
    room_mm: float = math.inf
    thread_mm: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewChoice:
    """The length for a grip, or why none serves.

    Attributes:
        length_mm: 0 where none serves.
        engaged_mm: Thread that it holds.
        wanted_mm: Thread that it should hold.
        least_mm: Thread below which it does not hold.
        deepest_mm: Longest screw that would not bottom out.
        bottoming_mm: The standard length with all of the thread wanted, where it bottoms out; else
            0.
    """

    length_mm: float
    engaged_mm: float
    wanted_mm: float
    least_mm: float
    deepest_mm: float
    bottoming_mm: float

    @property
    def short(self) -> bool:
        """Whether it holds less thread than wanted."""
        return self.engaged_mm < self.wanted_mm - 1e-9

    @property
    def serves(self) -> bool:
        """Whether there is a length that holds at all."""
        return self.length_mm > 0.0


def engage_mm(grip: Grip, thread_mm: float, pitch_mm: float) -> tuple[float, float]:
    """Thread that a screw should hold, and below which it does not: (wanted, least).

    In a nut all of it and a pitch to spare; else so many diameters, at most what is there.
    """
    if grip.into == "nut":
        held = grip.thread_mm if math.isfinite(grip.thread_mm) else NUT_MM[grip.screw]
        return held + PITCHES_OUT * pitch_mm, held
    if grip.into == "lock nut":
        held = grip.thread_mm if math.isfinite(grip.thread_mm) else LOCK_NUT_MM[grip.screw]
        return held + PITCHES_OUT * pitch_mm, held
    wanted = min(ENGAGE_DIAMETERS[grip.into] * thread_mm, grip.thread_mm)
    return wanted, min(LEAST_DIAMETERS * thread_mm, wanted)


def choose_screw(
    grip: Grip,
    *,
    thread_mm: float,
    pitch_mm: float,
    lengths_mm: Sequence[float] = (),
    at_hand_mm: Sequence[float] = (),
) -> ScrewChoice:
    """The shortest standard screw with the thread wanted that does not bottom out.

    stack + wanted <= length <= stack + room - 0.5 mm; where no length lies between, the longest
    that does not bottom out and still holds. A length that is bought anyway is taken instead where
    it serves as well and is longer by no more than two diameters.

    Args:
        grip: What it clamps.
        thread_mm: Nominal diameter.
        pitch_mm: Of the thread.
        lengths_mm: On sale; the standard ones of the thread where left out.
        at_hand_mm: Lengths of this thread that are bought anyway.

    Raises:
        InputError: A length is negative, or the thread has no standard lengths.

    Source: ISO 4762 lengths; engagement by common practice (screws.toml).
    """
    known = sorted(lengths_mm or LENGTHS_MM.get(grip.screw, ()))
    if not known:
        allowed = ", ".join(LENGTHS_MM)
        raise InputError(
            f"screw {grip.screw!r} has no standard lengths; give lengths_mm or one of {allowed}"
        )
    if not (grip.stack_mm >= 0.0 and grip.room_mm >= 0.0 and grip.thread_mm >= 0.0):
        raise InputError(
            f"screw {grip.screw}: stack {grip.stack_mm:g} mm, room {grip.room_mm:g} mm and thread "
            f"{grip.thread_mm:g} mm must be 0 or more"
        )
    wanted, least = engage_mm(grip, thread_mm, pitch_mm)
    deepest = grip.stack_mm + grip.room_mm - TIP_MM
    whole = next((one for one in known if one >= grip.stack_mm + wanted - 1e-9), 0.0)
    able = [one for one in known if one <= deepest + 1e-9]
    holding = [one for one in able if one >= grip.stack_mm + least - 1e-9]
    chosen = whole if whole in able and whole else max(holding, default=0.0)
    if chosen and chosen == whole:
        most = min(whole + LONGER_DIAMETERS * thread_mm, deepest)
        chosen = min((one for one in at_hand_mm if whole <= one <= most), default=chosen)
    held = wanted if grip.into in ("nut", "lock nut") else grip.thread_mm
    return ScrewChoice(
        length_mm=chosen,
        engaged_mm=max(min(chosen - grip.stack_mm, held), 0.0),
        wanted_mm=wanted,
        least_mm=least,
        deepest_mm=deepest,
        bottoming_mm=whole if whole and whole not in able else 0.0,
    )


def screw_name(screw: str, length_mm: float) -> str:
    """A screw as it stands on a shopping list: "screw M3 x 8"."""
    return f"screw {screw} x {length_mm:g}"


def lengths_named(names: Iterable[str]) -> dict[str, tuple[float, ...]]:
    """Lengths of screws by thread, out of names such as "screw M3 x 8" or "M3x8 pan head"."""
    found: dict[str, set[float]] = {}
    for name in names:
        for thread, length in _NAMED.findall(name.casefold()):
            found.setdefault(thread.upper(), set()).add(float(length))
    return {thread: tuple(sorted(lengths)) for thread, lengths in found.items()}


def insert_name(screw: str) -> str:
    """An insert as it stands on a shopping list."""
    return f"heat-set insert {screw}"


def nut_name(screw: str, into: Into) -> str:
    """A nut as it stands on a shopping list: "lock nut M3"."""
    return f"{into} {screw}"


def usual_packs() -> Iterable[float]:
    """How many screws, nuts or inserts a bag holds (common practice, no source)."""
    return (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
