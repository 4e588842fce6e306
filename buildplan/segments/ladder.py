"""Ladder coupons: one feature in small steps, printed once to learn what a printer really does.

The clearance ladder is a bar with a row of holes, each a little wider than the pin that is printed
with it. The wall ladder is a base with a row of walls, each a little thicker. Notches at the edge
count the rungs (a wide notch is five), so that no lettering has to print well.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.segments.solid import checked, part_of
from buildplan.tables.hardware import JointFit
from buildplan.tables.recipe import ExtrusionRecipe

if TYPE_CHECKING:
    from manifold3d import Manifold

CLEARANCES_MM = (0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
"""Gaps on each side of the pin that the ladder offers (ours)."""

WALLS_BEADS = (0.8, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0)
"""Walls of the wall ladder, in beads (ours)."""

FITS = ("press", "sliding", "free")
ROUND = 96
NOTCH_MM = 0.9
WIDE_NOTCH_MM = 2.6
"""Notches wide enough to stay open (ours); a wide one counts five."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """A ladder coupon.

    Attributes:
        parts: What to print together: the bar and its pin, or the base with its walls.
        rungs_mm: The step of every rung, in the order of the notches (one notch is the first).
        how: What to do with it, in words.
    """

    name: str
    parts: tuple[Part, ...]
    rungs_mm: tuple[float, ...]
    how: str


def clearance_ladder(
    *,
    pin_mm: float = 6.0,
    depth_mm: float = 8.0,
    clearances_mm: Sequence[float] = CLEARANCES_MM,
) -> Ladder:
    """A bar with upright holes of pin_mm + 2 clearance, and a pin to try them with.

    Args:
        pin_mm: Diameter of the pin as drawn.
        depth_mm: Thickness of the bar.
        clearances_mm: Gap on each side, rising; at most 12.

    Raises:
        InputError: A number is impossible, or the steps do not rise.
    """
    from manifold3d import Manifold

    steps = _rising("clearances_mm", clearances_mm)
    if not (1.0 <= pin_mm <= 50.0 and 2.0 <= depth_mm <= 50.0):
        raise InputError(
            f"clearance ladder: pin {pin_mm} mm and depth {depth_mm} mm found; 1 to 50 mm and 2 to "
            "50 mm are allowed"
        )
    pitch = pin_mm + 2.0 * steps[-1] + 4.0
    width = pitch + 4.0
    bar = Manifold.cube((pitch * len(steps) + 2.0, width, depth_mm))
    for rung, clearance in enumerate(steps):
        x = 1.0 + pitch * (rung + 0.5)
        radius = pin_mm / 2.0 + clearance
        hole = Manifold.cylinder(depth_mm + 2.0, radius, radius, ROUND)
        bar = bar - hole.translate((x, width / 2.0 + 1.0, -1.0))
        bar = bar - _notches(rung + 1, x, depth_mm)
    pin = Manifold.cylinder(depth_mm + 10.0, pin_mm / 2.0, pin_mm / 2.0, ROUND)
    grip = Manifold.cylinder(4.0, pin_mm / 2.0 + 3.0, pin_mm / 2.0 + 3.0, 6)
    handle = (pin + grip).translate((pin_mm, -pin_mm - 6.0, 0.0))
    return Ladder(
        name="clearance ladder",
        parts=(
            part_of(checked(bar, "clearance ladder"), name="clearance ladder bar"),
            part_of(checked(handle, "clearance ladder"), name="clearance ladder pin"),
        ),
        rungs_mm=steps,
        how=(
            "Print both as they lie, let them cool, and try the pin in every hole. Count the "
            "notches (a wide one is five) of the first hole it can be tapped into, of the first it "
            "slides into by hand, and of the first it turns in freely."
        ),
    )


def wall_ladder(
    recipe: ExtrusionRecipe,
    *,
    height_mm: float = 12.0,
    length_mm: float = 20.0,
    walls_beads: Sequence[float] = WALLS_BEADS,
) -> Ladder:
    """A base with free walls of so many beads of the recipe.

    Args:
        recipe: Its bead is the unit.
        height_mm: Of the walls.
        length_mm: Of the walls.
        walls_beads: Thickness of each wall in beads, rising; at most 12.

    Raises:
        InputError: A number is impossible, or the steps do not rise.
    """
    from manifold3d import Manifold

    beads = _rising("walls_beads", walls_beads)
    if not (beads[0] > 0.0 and 1.0 <= height_mm <= 200.0 and 5.0 <= length_mm <= 200.0):
        raise InputError(
            f"wall ladder: {beads[0]:g} beads, height {height_mm} mm, length {length_mm} mm found; "
            "more than 0 beads, 1 to 200 mm and 5 to 200 mm are allowed"
        )
    walls = tuple(recipe.bead_mm * count for count in beads)
    pitch = walls[-1] + 8.0
    thick = max(1.2, 4.0 * recipe.layer_mm)
    base = Manifold.cube((pitch * len(walls) + 4.0, length_mm + 8.0, thick))
    for rung, wall in enumerate(walls):
        x = 2.0 + pitch * (rung + 0.5)
        sheet = Manifold.cube((wall, length_mm, height_mm + thick))
        base = base + sheet.translate((x - wall / 2.0, 6.0, 0.0))
        base = base - _notches(rung + 1, x, thick)
    return Ladder(
        name="wall ladder",
        parts=(part_of(checked(base, "wall ladder"), name="wall ladder"),),
        rungs_mm=walls,
        how=(
            "Print it as it lies. Count the notches (a wide one is five) of the first wall that "
            "stands, of the first without gaps against the light, and of the first that does not "
            "bend under a thumb."
        ),
    )


def fits_from_ladder(
    ladder: Ladder, *, press: int, sliding: int, free: int
) -> tuple[JointFit, ...]:
    """Your own fits, as read off a printed clearance ladder: rows for the build file.

    Args:
        ladder: The ladder that was printed.
        press: Notches of the first hole that the pin can be tapped into; 1 is the tightest.
        sliding: Likewise the first it slides into by hand.
        free: Likewise the first it turns in freely.

    Raises:
        InputError: A hole has no such number, or the three do not rise.
    """
    chosen = dict(zip(FITS, (press, sliding, free), strict=True))
    most = len(ladder.rungs_mm)
    for name, rung in chosen.items():
        if not 1 <= rung <= most:
            raise InputError(
                f"clearance ladder: {name} says hole {rung}; it has holes 1 to {most}: count the "
                "notches again"
            )
    if not press <= sliding <= free:
        raise InputError(
            f"clearance ladder: press {press}, sliding {sliding}, free {free} found; a looser fit "
            "cannot need a tighter hole: count the notches again"
        )
    return tuple(
        JointFit(
            key=name,
            name=f"{name} fit",
            clearance_mm=ladder.rungs_mm[rung - 1],
            note=f"measured on your printer: hole {rung} of the clearance ladder",
        )
        for name, rung in chosen.items()
    )


def _notches(count: int, x: float, depth_mm: float) -> "Manifold":
    """Notches in the front edge around x that count to a number: a wide one is five."""
    from manifold3d import Manifold

    fives, ones = divmod(count, 5)
    widths = [WIDE_NOTCH_MM] * fives + [NOTCH_MM] * ones
    at = x - (sum(widths) + NOTCH_MM * (len(widths) - 1)) / 2.0
    cut = Manifold()
    for width in widths:
        notch = Manifold.cube((width, NOTCH_MM + 0.5, depth_mm + 2.0))
        cut = cut + notch.translate((at, -0.5, -1.0))
        at += width + NOTCH_MM
    return cut


def _rising(name: str, values: Sequence[float]) -> tuple[float, ...]:
    steps = tuple(float(value) for value in values)
    rises = all(a < b for a, b in pairwise(steps))
    if not (1 <= len(steps) <= 12 and rises and steps[0] >= 0.0 and steps[-1] <= 100.0):
        raise InputError(
            f"ladder: {name} holds {steps}; 1 to 12 numbers from 0 upward, each larger than the "
            "one before, are needed"
        )
    return steps
