"""The findings on trapped liquid and islands, in words."""

import math

import numpy as np

from buildplan.checks.marks import Mark
from buildplan.checks.trapped.model import DrainHole, Island, Pocket
from buildplan.errors import TableError
from buildplan.findings import Finding, Place, Severity
from buildplan.tables import source_of
from buildplan.tables.recipe import VatRecipe
from buildplan.tables.rules import VatRules

MOST = 4
"""Places of one kind that get a finding each; the others are summed up in the last of them."""

LOW_FRAC, LOW_MM = 1.0, 10.0
"""A bore that begins on the platform is only noted while it is lower than this and than so many
times the root of its section: ours, for its walls are stiff then and close to what holds them."""

SHALLOW_FRAC, SHALLOW_MM = 0.33, 5.0
"""A cup lower than this and than so many times the root of its section is only noted: ours, for
the film lets go of a shallow dish from its rim."""

ML_FROM_MM3 = 1000.0
"""From here on a volume is given in millilitres."""


def marks_of(
    islands: tuple[Island, ...], pockets: tuple[Pocket, ...], recipe: VatRecipe, rules: VatRules
) -> tuple[Mark, ...]:
    """A mark for all islands, and one for each pocket worth a word."""
    marks = [_on_islands(islands, recipe)] if islands else []
    low = [pocket for pocket in pockets if matters(pocket, rules) and _is_low_bore(pocket)]
    for kind, write in (
        ("closed", _on_closed),
        ("narrow", _on_narrow),
        ("cup", _on_cup),
        ("pool", _on_pool),
    ):
        of_kind = [
            pocket
            for pocket in pockets
            if pocket.kind == kind and matters(pocket, rules) and not _is_low_bore(pocket)
        ]
        for number, pocket in enumerate(of_kind[:MOST]):
            more = len(of_kind) - MOST if number == MOST - 1 else 0
            marks.append(Mark(finding=write(pocket, rules, more), facets=pocket.facets))
    if low:
        marks.append(_on_low_bores(low, rules))
    return tuple(marks)


def _is_low_bore(pocket: Pocket) -> bool:
    """Whether it is a bore or a window right through a low part that stands on the platform."""
    through = pocket.kind == "cup" and pocket.by_platform and pocket.pooled_mm3 == 0.0
    return through and _is_flat(pocket, LOW_FRAC, LOW_MM)


def _is_flat(pocket: Pocket, most_frac: float, most_mm: float) -> bool:
    """Whether it pulls over a height below most_mm, and most_frac of the root of its section."""
    rise = pocket.suction_high_mm - pocket.suction_low_mm
    return rise < min(most_mm, most_frac * math.sqrt(pocket.suction_area_mm2))


def matters(pocket: Pocket, rules: VatRules) -> bool:
    """Whether a pocket is worth a word."""
    if pocket.kind == "pool":
        return pocket.volume_mm3 >= rules.pooled_least_mm3
    if pocket.kind == "cup":
        return (
            pocket.suction_area_mm2 >= rules.suction_least_mm2
            or pocket.pooled_mm3 >= rules.pooled_least_mm3
        )
    return pocket.volume_mm3 >= rules.trapped_least_mm3


def _amount(volume_mm3: float) -> str:
    if volume_mm3 >= ML_FROM_MM3:
        return f"{volume_mm3 / 1000.0:.1f} ml"
    return f"{volume_mm3:.0f} mm3"


def _at(point: tuple[float, float, float]) -> str:
    return f"({point[0]:.1f}, {point[1]:.1f}, {point[2]:.1f}) mm"


def _place(pocket: Pocket, more: int) -> Place:
    text = f"near {_at(pocket.point_mm)}"
    if more > 0:
        text += f", and {more} smaller place{'s' if more > 1 else ''}"
    return Place(text=text, point_mm=pocket.point_mm, box_mm=pocket.box_mm)


def _source(rules: VatRules, field: str) -> str:
    try:
        return f"rule {rules.key}, {field}: {source_of('rule', rules.key, field)}"
    except TableError:
        return f"rule {rules.key} of the build file, {field}"


def _way(direction: tuple[float, float, float]) -> str:
    """The nearest axis in words."""
    axis = max(range(3), key=lambda index: abs(direction[index]))
    return f"along {'-' if direction[axis] < 0 else '+'}{'xyz'[axis]}"


def _hole(hole: DrainHole) -> str:
    return f"at {_at(hole.point_mm)} {_way(hole.direction)} through {hole.wall_mm:.1f} mm of wall"


def _drill(pocket: Pocket) -> str:
    """Which holes to add, in one clause."""
    if not pocket.holes:
        return "open the space to the outside"
    wide = f"{pocket.holes[0].diameter_mm:g} mm"
    if len(pocket.holes) == 1:
        return f"add a hole of {wide} {_hole(pocket.holes[0])}"
    each = [f"for {hole.purpose} {_hole(hole)}" for hole in pocket.holes[:MOST]]
    more = f", and {len(pocket.holes) - MOST} more" if len(pocket.holes) > MOST else ""
    return f"add {len(pocket.holes)} holes of {wide}: {', '.join(each)}{more}"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:] + "."


def _pull(pocket: Pocket) -> str:
    return (
        f"{pocket.suction_area_mm2:.0f} mm2 from {pocket.suction_low_mm:.1f} to "
        f"{pocket.suction_high_mm:.1f} mm above the platform"
    )


def _on_closed(pocket: Pocket, rules: VatRules, more: int) -> Finding:
    return Finding(
        check="trapped",
        severity="stop",
        what=f"a closed cavity keeps {_amount(pocket.volume_mm3)} of uncured liquid for good",
        where=_place(pocket, more),
        measured=f"{_amount(pocket.volume_mm3)}, no way out",
        required=f"a way out at least {rules.drain_least_mm:g} mm wide",
        remedy=_capital(_drill(pocket)),
        source=_source(rules, "drain_least_mm"),
    )


def _on_narrow(pocket: Pocket, rules: VatRules, more: int) -> Finding:
    return Finding(
        check="trapped",
        severity="caution",
        what=(
            f"{_amount(pocket.volume_mm3)} can leave only through an opening {pocket.vent_mm:.1f} "
            "mm wide"
        ),
        where=_place(pocket, more),
        measured=f"{pocket.vent_mm:.1f} mm",
        required=f"at least {rules.drain_least_mm:g} mm",
        remedy=_capital(f"widen the opening to {rules.drain_least_mm:g} mm, or {_drill(pocket)}"),
        source=_source(rules, "drain_least_mm"),
    )


def _on_cup(pocket: Pocket, rules: VatRules, more: int) -> Finding:
    pulls = pocket.suction_area_mm2 >= rules.suction_least_mm2
    if not pulls:
        return _on_pool(pocket, rules, more)
    shut = "the platform shuts" if pocket.by_platform else "the part shuts"
    raise_it = "raise the part on supports, or " if pocket.by_platform else ""
    return Finding(
        check="trapped",
        severity="note" if _is_flat(pocket, SHALLOW_FRAC, SHALLOW_MM) else "caution",
        what=(
            f"a suction cup: {shut} {_amount(pocket.volume_mm3)} against the film, which pulls at "
            f"every lift on {_pull(pocket)}"
        ),
        where=_place(pocket, more),
        measured=f"{pocket.suction_area_mm2:.0f} mm2 pull without a vent",
        required=f"less than {rules.suction_least_mm2:g} mm2",
        remedy=_capital(f"{raise_it}{_drill(pocket)}, or turn the part so that it opens sideways"),
        source=_source(rules, "suction_least_mm2"),
    )


def _on_low_bores(pockets: list[Pocket], rules: VatRules) -> Mark:
    """One note for all low bores that begin on the platform, at the largest."""
    worst = max(pockets, key=lambda pocket: pocket.suction_area_mm2)
    many = len(pockets)
    facets = np.unique(np.concatenate([pocket.facets for pocket in pockets]))
    facets.flags.writeable = False
    return Mark(
        finding=Finding(
            check="trapped",
            severity="note",
            what=(
                f"{many} openings begin on the platform, which shuts them against the film: up to "
                f"{_pull(worst)}"
                if many > 1
                else "an opening begins on the platform, which shuts it against the film: "
                f"{_pull(worst)}"
            ),
            where=_place(worst, many - 1),
            measured=f"{worst.suction_area_mm2:.0f} mm2 pull without a vent",
            required=f"less than {rules.suction_least_mm2:g} mm2",
            remedy=(
                "Leave it where the walls around are sturdy, else raise the part on supports or "
                "turn it."
            ),
            source=_source(rules, "suction_least_mm2"),
        ),
        facets=facets,
    )


def _on_pool(pocket: Pocket, rules: VatRules, more: int) -> Finding:
    return Finding(
        check="trapped",
        severity="note",
        what=f"a bowl keeps {_amount(pocket.pooled_mm3)} of liquid as the part hangs",
        where=_place(pocket, more),
        measured=_amount(pocket.pooled_mm3),
        required=f"less than {_amount(rules.pooled_least_mm3)}",
        remedy=_capital(f"pour it back before washing, or {_drill(pocket)}"),
        source=_source(rules, "pooled_least_mm3"),
    )


def _on_islands(islands: tuple[Island, ...], recipe: VatRecipe) -> Mark:
    """One mark for all islands, at the deepest one; worded as in the vat estimate."""
    many = len(islands)
    worst = max(islands, key=lambda island: island.depth_mm)
    facets = np.unique(np.concatenate([island.facets for island in islands]))
    facets.flags.writeable = False
    severity: Severity = "note" if recipe.supports else "stop"
    held = "; each gets a support tip" if recipe.supports else " and nothing holds it"
    points = np.array([island.point_mm for island in islands])
    box = (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())
    finding = Finding(
        check="islands",
        severity=severity,
        what=f"{many} island{'s begin' if many > 1 else ' begins'} in mid-air{held}",
        where=Place(text=f"near {_at(worst.point_mm)}", point_mm=worst.point_mm, box_mm=box),
        measured=f"{many}" + (f", up to {_deepest(islands)}" if many else ""),
        required="0 without supports",
        remedy="Turn the part so that it grows from one place, or keep supports on.",
        source="geometry: a low place of the surface with nothing below it",
    )
    return Mark(finding=finding, facets=facets)


def _deepest(islands: tuple[Island, ...]) -> str:
    deepest = max(island.depth_mm for island in islands)
    if not math.isfinite(deepest):
        return "loose from all else"
    return f"{deepest:.1f} mm before it meets the rest"
