"""Strips along the cut face: loose splines in two grooves, tongue and groove, overlapping lip."""

from typing import TYPE_CHECKING, Any

from buildplan.errors import NoPlanError
from buildplan.segments.joints.draft import Draft, Halves
from buildplan.segments.joints.model import LEAK_MM3, BoughtPiece, JointSpec
from buildplan.segments.joints.region import (
    as_section,
    inscribed_radius,
    opened,
    polygons_of,
    shrink,
)
from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import Manifold

END_MM = 0.3
"""Free room at the bottom of a groove (ours)."""

SLIVER_MM = 0.05
"""Strips are opened by this, so that no slivers are left."""

SHORTEST = 3.0
"""A strip shorter than so many of its thicknesses is left out (ours)."""

THINNER_FRAC = 0.95
"""A strip may be thinner than asked by this share at most."""

THINNEST_MM = 0.8
"""Thinner strips are not worth printing (common practice, no source: two beads)."""

HULL_FILLED_FRAC = 0.6
"""A section that fills less of its hull is open to one side; its outer face is the hull's."""

GUARD_SLACK_MM = 2e-3
"""Guards are drawn this much smaller than the wall asks: round corners are polygons."""

ROOT_MM = 0.01
"""A tongue begins this much inside the piece it belongs to."""

GLUE_ML_MM2 = 2e-4
"""Glue of a joint face: a film of 0.2 mm (common practice, no source)."""


def draft_spline(halves: Halves, spec: JointSpec) -> Draft:
    """The same groove in both faces and a loose strip that fills both, printed flat.

    Raises:
        NoPlanError: No strip has room.
    """
    reach = spec.depth_mm + END_MM + spec.wall_mm
    outline = halves.safe(reach, reach)
    strip = _band(outline, halves, spec)
    groove = shrink(strip, -spec.clearance_mm)
    deep = spec.depth_mm + END_MM
    cut = _column(groove, -deep, deep)
    spline = _column(strip, -spec.depth_mm, spec.depth_mm)
    guard = _column(
        shrink(groove, -(spec.wall_mm - GUARD_SLACK_MM)), -deep - spec.wall_mm, deep + spec.wall_mm
    )
    flat = tuple(_column(piece, 0.0, 2.0 * spec.depth_mm) for piece in polygons_of(strip))
    return Draft(
        above=checked(halves.above - cut, halves.name),
        below=checked(halves.below - cut, halves.name),
        put_in=(spline,),
        guards=(guard,),
        material=halves.near,
        leak_limit_mm3=LEAK_MM3,
        removed_mm3=checked(cut ^ halves.near, halves.name).volume(),
        added_mm3=0.0,
        clearance_mm=spec.clearance_mm,
        points=_middles(strip),
        loose=flat,
        bought=(glue_for(halves),),
        added=None,
    )


def draft_tongue(halves: Halves, spec: JointSpec) -> Draft:
    """A tongue on the upper piece and a groove for it in the lower one.

    Raises:
        NoPlanError: No tongue has room.
    """
    outline = halves.safe(spec.depth_mm + END_MM + spec.wall_mm, ROOT_MM)
    strip = _band(outline, halves, spec)
    groove = shrink(strip, -spec.clearance_mm)
    deep = spec.depth_mm + END_MM
    tongue = _column(strip, -spec.depth_mm, 0.0)
    rooted = _column(strip, -spec.depth_mm, ROOT_MM)
    cut = _column(groove, -deep, 0.0)
    guard = _column(shrink(groove, -(spec.wall_mm - GUARD_SLACK_MM)), -deep - spec.wall_mm, 0.0)
    return Draft(
        above=checked(halves.above + rooted, halves.name),
        below=checked(halves.below - cut, halves.name),
        put_in=(tongue,),
        guards=(guard,),
        material=halves.near,
        leak_limit_mm3=LEAK_MM3,
        removed_mm3=checked(cut ^ halves.near, halves.name).volume(),
        added_mm3=tongue.volume(),
        clearance_mm=spec.clearance_mm,
        points=_middles(strip),
        loose=(),
        bought=(glue_for(halves),),
        added=None,
    )


def draft_lip(halves: Halves, spec: JointSpec) -> Draft:
    """The outer part of the wall belongs to the upper piece over the depth, the inner to the lower.

    The wall is shared out from its outer face: size_mm of it overlaps, then comes the gap, and what
    is left belongs to the lower piece, at least wall_mm everywhere.

    Raises:
        NoPlanError: The wall is too thin for both cheeks.
    """
    import shapely

    deep = spec.depth_mm + spec.clearance_mm
    outline = halves.safe(deep + spec.wall_mm, ROOT_MM)
    filled = _filled(outline)
    cheek = opened(outline.difference(shrink(filled, spec.size_mm)), SLIVER_MM)
    freed = outline.difference(shrink(filled, spec.size_mm + spec.clearance_mm))
    inner = outline.difference(freed)
    least = 2.0 * inscribed_radius(outline)
    need = spec.size_mm + spec.clearance_mm + spec.wall_mm
    if cheek.is_empty or inner.is_empty or least < need - GUARD_SLACK_MM:
        raise NoPlanError(
            f"{halves.name}: the wall at the cut is {least:.2f} mm thick, a lip needs {need:.2f} "
            f"mm ({spec.size_mm:g} outside, {spec.clearance_mm:g} of gap, {spec.wall_mm:g} inside)"
            f"; a lip of {max(0.0, (least - spec.clearance_mm) / 2.0):.2f} mm is the most"
        )
    half = (spec.wall_mm - GUARD_SLACK_MM) / 2.0
    # grown back by half as much again, so that corners are not called thin
    thin = opened(inner.difference(shrink(shrink(inner, half), -1.5 * half)), SLIVER_MM)
    guard = _column(thin, -deep, 0.0)
    lip = _column(cheek, -spec.depth_mm, 0.0)
    rooted = _column(cheek, -spec.depth_mm, ROOT_MM)
    # all that lies outside the inner cheek goes, whatever its shape further down
    x0, y0, x1, y1 = halves.body.bounding_box()[0:2] + halves.body.bounding_box()[3:5]
    around = shapely.box(x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)
    cut = _column(around.difference(shrink(filled, spec.size_mm + spec.clearance_mm)), -deep, 0.0)
    return Draft(
        above=checked(halves.above + rooted, halves.name),
        below=checked(halves.below - cut, halves.name),
        put_in=(lip,),
        guards=(guard,),
        # the guard is what is too thin: none of it may be there
        material=guard - guard,
        leak_limit_mm3=LEAK_MM3,
        removed_mm3=checked(cut ^ halves.near, halves.name).volume(),
        added_mm3=lip.volume(),
        clearance_mm=spec.clearance_mm,
        points=_middles(cheek),
        loose=(),
        bought=(glue_for(halves),),
        added=None,
    )


def draft_glue(halves: Halves, spec: JointSpec) -> Draft:
    """Plain faces, glued."""
    return Draft(
        above=halves.above,
        below=halves.below,
        put_in=(),
        guards=(),
        material=halves.near,
        leak_limit_mm3=LEAK_MM3,
        removed_mm3=0.0,
        added_mm3=0.0,
        clearance_mm=-1.0,
        points=(),
        loose=(),
        bought=(glue_for(halves),),
        added=None,
    )


def glue_for(halves: Halves) -> BoughtPiece:
    """Glue for the cut face."""
    area = halves.section().area
    return BoughtPiece(item="two-part epoxy glue", quantity=round(area * GLUE_ML_MM2, 2), unit="ml")


def _filled(outline: Any) -> Any:
    """The outline with its voids filled: what its outer face encloses."""
    import shapely

    filled = shapely.union_all([shapely.Polygon(p.exterior) for p in polygons_of(outline)])
    hull = filled.convex_hull
    return hull if filled.area < HULL_FILLED_FRAC * hull.area else filled


def _band(outline: Any, halves: Halves, spec: JointSpec) -> Any:
    """The strip of size_mm along the outline, wall and gap away from its edge."""
    import shapely

    edge = spec.wall_mm + spec.clearance_mm
    # what a ring of the strip would leave inside must be a wall too, else the strip is filled there
    core = opened(shrink(outline, edge + spec.size_mm), spec.wall_mm / 2.0 + spec.clearance_mm)
    band = shrink(outline, edge).difference(core)
    long: list[Any] = []
    for piece in polygons_of(opened(band, SLIVER_MM)):
        wide = 2.0 * piece.area / piece.length  # of a strip: its area is width times length
        if wide < THINNER_FRAC * spec.size_mm:
            continue
        # a wall that is wider than the strip and too thin for a ring of it gets it in its middle
        middle = opened(shrink(piece, max(0.0, (wide - spec.size_mm) / 2.0)), SLIVER_MM)
        least = SHORTEST * spec.size_mm * spec.size_mm
        long.extend(part for part in polygons_of(middle) if part.area >= least)
    long = _kept_apart(long, spec)
    if not long:
        widest = 2.0 * inscribed_radius(outline)
        need = spec.size_mm + 2.0 * edge
        room = widest - 2.0 * edge
        advice = (
            f"make it {room:.1f} mm thin"
            if room >= THINNEST_MM
            else "glue plain faces or bolt inner tabs"
        )
        raise NoPlanError(
            f"{halves.name}: the wall at the cut keeps {widest:.2f} mm over the depth of the "
            f"joint, this one needs {need:.2f} mm ({spec.size_mm:g} + 2 x {spec.clearance_mm:g} of "
            f"gap + 2 x {spec.wall_mm:g} of wall); {advice}"
        )
    return shapely.union_all(long)


def _kept_apart(strips: list[Any], spec: JointSpec) -> list[Any]:
    """Strips, the largest first, each shortened where its groove would come near another one."""
    import shapely

    kept: list[Any] = []
    apart = spec.wall_mm + 2.0 * spec.clearance_mm
    least = SHORTEST * spec.size_mm * spec.size_mm
    for strip in sorted(strips, key=lambda piece: -round(piece.area, 6)):
        near = [other for other in kept if strip.distance(other) < apart]
        left = strip.difference(shrink(shapely.union_all(near), -apart)) if near else strip
        kept.extend(part for part in polygons_of(opened(left, SLIVER_MM)) if part.area >= least)
    return kept


def _column(outline: Any, low: float, high: float) -> "Manifold":
    from manifold3d import Manifold

    section = as_section(outline)
    if section.is_empty() or high <= low:
        return Manifold()
    return section.extrude(high - low).translate((0.0, 0.0, low))


def _middles(strip: Any) -> tuple[tuple[float, float], ...]:
    """A point inside every piece of a strip."""
    points = [piece.representative_point() for piece in polygons_of(strip)]
    return tuple((float(point.x), float(point.y)) for point in points)
