"""check_gaps: gaps that close up, round holes with the diameter to expect, pins too thin."""

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.gaps.model import Gap, GapCheck, PrintedHole, ThinPin
from buildplan.checks.gaps.rounds import Round, find_rounds
from buildplan.checks.gaps.words import gap_marks, hole_marks, pin_marks
from buildplan.checks.regions import Region, link_regions
from buildplan.checks.surface import Surface, measure_surface
from buildplan.part.model import Part
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules

BELOW = 1.0 - 1e-6
"""What is drawn at a limit exactly is not below it, whatever its last digits."""

CAP_SHARE = 1.25
"""Gaps are measured up to this share of the widest one of interest."""

LYING_COS = 0.8660254037844387
"""Axes that lean by 30 degrees or more from the vertical lie (ours)."""

UPRIGHT_PIN_COS = 0.7071067811865476
"""Pins that lean by less than 45 degrees are held by their layers' bond (ours)."""

SHALLOW_FRAC = 1.0
"""Gaps less deep than this share of gap_moving_mm are scratches and corners of grooves (ours)."""

CREVICE_SHARE = 0.25
TOUCHING_SHARE = 0.6
"""Within one body, a place whose narrowest 5 % of area is below this share of its median closes to
nothing on its own: a round boss beside a wall, the bottom of a groove; TOUCHING_SHARE holds where
its two sides are seen to meet (ours)."""

HOLLOW_DIAMETERS = 0.5
HOLLOW_MM = 1.0
"""Blind holes less deep than either are hollows: dimples, the inside of a raised letter (ours)."""

STUB_DIAMETERS = 1.25
"""Pins shorter than this, in diameters, are knobs, which do not snap (ours)."""


def check_gaps(
    part: Part, recipe: Recipe, rules: Rules, *, surface: Surface | None = None
) -> GapCheck:
    """Gaps narrower than parts need to move, round holes as they will print, pins too thin.

    The printed diameter is the drawn one less hole_shrink_mm, or hole_lying_shrink_mm where the
    axis leans by 30 degrees or more from the vertical; below hole_least_mm a hole closes up.

    Args:
        part: Any mesh.
        recipe: bead_mm is used, where beads are laid.
        rules: Limits of gaps, holes and pins.
        surface: Of measure_surface, if at hand; it is measured anew where its outside cap is
            below gap_moving_mm.
    """
    if surface is None or surface.outside_cap_mm < rules.gap_moving_mm:
        cap_mm = CAP_SHARE * rules.gap_moving_mm
        surface = measure_surface(part, inside_cap_mm=cap_mm, outside_cap_mm=cap_mm)
    bead_mm = recipe.bead_mm if recipe.process == "extrusion" else None
    pin_least_mm = max(rules.pin_least_mm, 0.0 if bead_mm is None else 2.0 * bead_mm)
    widest_hole_mm = max(rules.hole_note_mm, rules.hole_least_mm)
    rounds = find_rounds(
        surface.vertices_mm,
        surface.facets,
        widest_hole_mm=widest_hole_mm,
        widest_pin_mm=pin_least_mm,
    )
    holes = tuple(
        _hole(one, surface, rules)
        for one in rounds
        if one.kind == "hole" and _is_hole(one, recipe.layer_mm)
    )
    pins = tuple(
        _pin(one, surface)
        for one in rounds
        if one.kind == "pin"
        and one.diameter_mm < pin_least_mm * BELOW
        and one.depth_mm >= STUB_DIAMETERS * one.diameter_mm
    )
    gaps = _find_gaps(surface, rounds, rules)
    return GapCheck(
        gaps=gaps,
        holes=holes,
        pins=pins,
        marks=(
            *gap_marks(gaps, rules),
            *hole_marks(holes, rules),
            *pin_marks(pins, bead_mm, rules),
        ),
    )


def _find_gaps(surface: Surface, rounds: tuple[Round, ...], rules: Rules) -> tuple[Gap, ...]:
    """Gaps below gap_moving_mm, largest area first; the insides of round holes are none."""
    if not (surface.gap_mm < rules.gap_moving_mm).any():
        return ()
    in_hole = np.zeros(len(surface.facets), np.bool_)
    for one in rounds:
        if one.kind == "hole":
            in_hole[one.facets] = True
    contact = surface.gap_facet
    across = in_hole[surface.facet] & in_hole[np.maximum(contact, 0)] & (contact >= 0)
    regions = link_regions(surface, "gap", rules.gap_moving_mm * BELOW, chosen=~across)
    if not regions:
        return ()
    shell = _shells(surface)
    gaps = [(_gap(region, surface, shell, rules), region) for region in regions]
    deep_mm = SHALLOW_FRAC * rules.gap_moving_mm
    return tuple(
        gap
        for gap, region in gaps
        if gap.depth_mm >= deep_mm and (gap.two_bodies or not _is_crevice(gap, region, surface))
    )


def _shells(surface: Surface) -> NDArray[np.int32]:
    """Number of the shell of every measured facet."""
    from buildplan.kernels.edges import label_shells
    from buildplan.kernels.halfedges import find_twins

    twin, _, _ = find_twins(surface.facets, len(surface.vertices_mm))
    shell: NDArray[np.int32] = label_shells(twin)[0]
    return shell


def _is_crevice(gap: Gap, region: Region, surface: Surface) -> bool:
    """Whether the two sides of a place run into each other."""
    contact = surface.gap_facet[region.samples]
    own = surface.facets[surface.facet[region.samples][contact >= 0]]
    other = surface.facets[contact[contact >= 0]]
    meet = bool((own[:, :, None] == other[:, None, :]).any())
    return gap.low_mm < (TOUCHING_SHARE if meet else CREVICE_SHARE) * gap.median_mm


def _gap(region: Region, surface: Surface, shell: NDArray[np.int32], rules: Rules) -> Gap:
    rows = region.samples
    contact = surface.gap_facet[rows]
    touching = contact >= 0
    weight = surface.weight_mm2[rows]
    other = touching & (shell[surface.facet[rows]] != shell[np.maximum(contact, 0)])
    corners = np.array(region.box_mm)
    extent = float(np.linalg.norm(corners[3:] - corners[:3]))
    return Gap(
        area_mm2=region.area_mm2,
        least_mm=region.least_mm,
        low_mm=region.low_mm,
        median_mm=region.median_mm,
        depth_mm=0.5 * region.area_mm2 / max(extent, 1e-9),
        fused=region.low_mm < rules.gap_fused_mm * BELOW,
        two_bodies=bool(weight[other].sum() > 0.5 * weight.sum()),
        point_mm=_rounded(region.point_mm),
        box_mm=_rounded(region.box_mm),
        facets=region.facets,
    )


def _is_hole(one: Round, layer_mm: float) -> bool:
    if one.open_ends == 2:
        return one.depth_mm >= layer_mm
    deep_mm = max(HOLLOW_MM, HOLLOW_DIAMETERS * one.diameter_mm)
    return one.open_ends == 1 and one.depth_mm >= deep_mm


def _hole(one: Round, surface: Surface, rules: Rules) -> PrintedHole:
    upright = abs(one.axis[2]) > LYING_COS
    shrink_mm = rules.hole_shrink_mm if upright else rules.hole_lying_shrink_mm
    printed_mm = one.diameter_mm - shrink_mm
    closes = one.diameter_mm < rules.hole_least_mm * BELOW or printed_mm <= 0.0
    return PrintedHole(
        drawn_mm=one.diameter_mm,
        printed_mm=0.0 if closes else printed_mm,
        depth_mm=one.depth_mm,
        upright=upright,
        through=one.open_ends == 2,
        axis=one.axis,
        point_mm=_rounded(one.point_mm),
        box_mm=_rounded(one.box_mm),
        facets=_part_facets(one, surface),
    )


def _pin(one: Round, surface: Surface) -> ThinPin:
    return ThinPin(
        diameter_mm=one.diameter_mm,
        length_mm=one.depth_mm,
        upright=abs(one.axis[2]) > UPRIGHT_PIN_COS,
        axis=one.axis,
        point_mm=_rounded(one.point_mm),
        box_mm=_rounded(one.box_mm),
        facets=_part_facets(one, surface),
    )


def _part_facets(one: Round, surface: Surface) -> NDArray[np.int64]:
    facets = np.unique(surface.part_facet[one.facets])
    facets.flags.writeable = False
    return facets


def _rounded(values: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(round(value, 3) for value in values)
