"""The true outline of a part seen from above: overhangs, supports and margin beads included."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.packing.model import PackRequest, Rings
from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.cache import cached
from buildplan.process.estimate.stages import content_of, layers_of
from buildplan.process.paths.margin import lay_margin
from buildplan.process.supports import plan_supports
from buildplan.tables.recipe import ExtrusionRecipe, VatRecipe

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FACETS_AT_ONCE = 1000
"""Facets whose shadows are united in one go where a surface encloses no solid."""

STRIPS = 12
"""Strips of neighbouring facets that are united first."""

MOST_POINTS = 1500
"""An outline of more points is replaced by a simpler one around it."""

AROUND_MM = 0.02
"""That one lies outside the true outline everywhere, and nowhere by more than twice this."""

LEAST_ISLAND_MM2 = 1e-6
"""Smaller pieces of a shadow are rounding."""


def silhouette(part: Part) -> "BaseGeometry":
    """Shadow of a part on the platform under light from straight above, in the file's x and y.

    The shadow of a closed solid comes from manifold3d's projection, any other surface's from the
    union of the shadows of its facets. Both are exact but for rounding up to MOST_POINTS points;
    past that the outline is up to 2 AROUND_MM larger, never smaller.

    Raises:
        InputError: The part has no area seen from above.
    """
    found = cached(("silhouette", content_of(part)), lambda: _simpler(_project(part)))
    if found.is_empty:
        raise InputError(
            f"{part.name}: seen from above it covers 0 mm2, more is needed to give it a place; "
            "check the file's unit and that it is a solid"
        )
    return found


def _project(part: Part) -> "BaseGeometry":
    import shapely
    from manifold3d import Error, Manifold, Mesh64

    if part.closed:
        solid = Manifold(
            Mesh64(
                np.array(part.vertices_mm, dtype=np.float64, order="C"),
                np.array(part.facets, dtype=np.uint64, order="C"),
            )
        )
        if solid.status() == Error.NoError and solid.volume() > 0.0:
            return _even_odd(solid.project().to_polygons())
    corners = part.vertices_mm[part.facets][:, :, :2]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    corners = corners[twice > LEAST_ISLAND_MM2]
    middle = corners.mean(axis=1)
    strip = np.ptp(middle, axis=0).max() / STRIPS if len(middle) else 1.0
    # neighbours are united first: their common shadow has far fewer corners
    order = np.lexsort((middle[:, 1], np.floor(middle[:, 0] / strip)))
    shadows = shapely.polygons(corners[order])
    pieces = [
        shapely.union_all(shadows[k : k + FACETS_AT_ONCE])
        for k in range(0, len(shadows), FACETS_AT_ONCE)
    ]
    return _areas_of(shapely.union_all(pieces))


def _simpler(shape: "BaseGeometry") -> "BaseGeometry":
    """The shape itself, or one of fewer points that holds it."""
    import shapely

    if shapely.get_num_coordinates(shape) <= MOST_POINTS:
        return shape
    around = shapely.simplify(shapely.buffer(shape, AROUND_MM, quad_segs=2), 0.9 * AROUND_MM)
    # a corner of the buffer is cut by less than a tenth of its width, so this holds the shape
    return _areas_of(around) if shapely.contains(around, shape) else shape


def _even_odd(rings: list[NDArray[np.float64]]) -> "BaseGeometry":
    """Area inside an odd number of rings that do not cross."""
    import shapely

    loops = [np.asarray(ring, dtype=np.float64) for ring in rings if len(ring) >= 3]
    solids = [shapely.Polygon(loop) for loop in loops if _signed_mm2(loop) > LEAST_ISLAND_MM2]
    holes = [shapely.Polygon(loop) for loop in loops if _signed_mm2(loop) < -LEAST_ISLAND_MM2]
    whole = shapely.union_all([shapely.make_valid(shape) for shape in solids])
    empty = shapely.union_all([shapely.make_valid(shape) for shape in holes])
    return _areas_of(shapely.difference(whole, empty))


def _signed_mm2(ring: NDArray[np.float64]) -> float:
    x, y = (ring - ring[0]).T
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _areas_of(shape: "BaseGeometry") -> "BaseGeometry":
    """The polygons of a shape, without lines, points and crumbs."""
    import shapely

    parts = [
        piece
        for piece in shapely.get_parts(shapely.get_parts(shapely.make_valid(shape)))
        if piece.geom_type == "Polygon" and piece.area > LEAST_ISLAND_MM2
    ]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def outline_of(request: PackRequest) -> "BaseGeometry":
    """Silhouette of a part with what stands around it: supports, margin beads, tips.

    Args:
        request: Supports and margin beads count where it carries a recipe. Support beads of an
            extrusion print are taken where they lie; the columns of a vat print stand straight
            under the part, so its silhouette grows by half a column.
    """
    import shapely

    shape = silhouette(request.part)
    recipe, estimate = request.recipe, request.estimate
    if recipe is None:
        return shape
    if isinstance(recipe, VatRecipe):
        if estimate is not None and estimate.support_mass_g > 0.0:
            return _areas_of(shapely.buffer(shape, 0.5 * recipe.column_mm))
        return shape
    around = cached(
        ("supports and margin", content_of(request.part), _footprint_key(recipe)),
        lambda: _laid_around(request.part, recipe),
    )
    if not around:
        return shape
    return _without_slits(_areas_of(shapely.union_all([shape, *around])), recipe.bead_mm)


def _without_slits(shape: "BaseGeometry", half_mm: float) -> "BaseGeometry":
    """Holes narrower than twice half_mm filled: gaps between beads, where nothing can stand."""
    import shapely

    islands = []
    for island in shapely.get_parts(shape):
        holes = [
            ring
            for ring in island.interiors
            if not shapely.is_empty(shapely.buffer(shapely.Polygon(ring), -half_mm))
        ]
        islands.append(shapely.Polygon(island.exterior, holes))
    return islands[0] if len(islands) == 1 else shapely.MultiPolygon(islands)


def _footprint_key(recipe: ExtrusionRecipe) -> tuple[object, ...]:
    return (
        recipe.layer_mm,
        recipe.bead_mm,
        recipe.margin_beads,
        recipe.supports,
        recipe.overhang_limit_deg,
        recipe.bridge_limit_mm,
        recipe.support_gap_layers,
        recipe.support_clearance_mm,
        recipe.support_face_layers,
        recipe.support_least_mm2,
    )


def _laid_around(part: Part, recipe: ExtrusionRecipe) -> list["BaseGeometry"]:
    """Areas of support beads and of margin beads, in the part file's x and y."""
    import shapely
    from shapely import affinity

    if not (recipe.supports or recipe.margin_beads):
        return []
    layers = layers_of(part, recipe.layer_mm)
    laid: list[BaseGeometry] = []
    if recipe.supports:
        supports = plan_supports(layers, recipe)
        counts = np.diff(supports.line_off)
        line = np.repeat(np.arange(len(counts)) % max(supports.n_lines, 1), counts)
        spans = _merged(line, supports.span_mm)
        if len(spans):
            y = (supports.first_line + spans[:, 0]) * supports.pitch_mm
            boxes = shapely.box(spans[:, 1], y, spans[:, 2], y + supports.pitch_mm)
            laid.append(shapely.union_all(boxes))
    loops = lay_margin(layers, recipe.margin_beads, recipe.bead_mm)
    if loops:
        rings = [shapely.LinearRing(loop) for loop in loops]
        laid.append(shapely.union_all(shapely.buffer(rings, 0.5 * recipe.bead_mm)))
    dx, dy = float(layers.origin_mm[0]), float(layers.origin_mm[1])
    return [affinity.translate(shape, dx, dy) for shape in laid]


def _merged(line: NDArray[np.int64], spans: NDArray[np.float64]) -> NDArray[np.float64]:
    """Spans of one line over all layers, united: (n, 3) rows line, from, to."""
    if not len(spans):
        return np.zeros((0, 3))
    order = np.lexsort((spans[:, 0], line))
    line, low, high = line[order], spans[order, 0], spans[order, 1]
    rows: list[list[float]] = []
    for k in range(len(line)):
        if rows and rows[-1][0] == line[k] and low[k] <= rows[-1][2]:
            rows[-1][2] = max(rows[-1][2], float(high[k]))
        else:
            rows.append([float(line[k]), float(low[k]), float(high[k])])
    return np.array(rows)


def rings_of(shape: "BaseGeometry") -> tuple[Rings, ...]:
    """Islands of an outline as read-only rings."""
    import shapely

    islands: list[Rings] = []
    for island in shapely.get_parts(shape):
        rings = []
        for ring in (island.exterior, *island.interiors):
            xy = np.ascontiguousarray(shapely.get_coordinates(ring)[:-1])
            xy.flags.writeable = False
            rings.append(xy)
        islands.append(tuple(rings))
    return tuple(islands)


def polygon_of(outline: tuple[Rings, ...]) -> "BaseGeometry":
    """An outline as one shapely shape."""
    import shapely

    islands = [shapely.Polygon(rings[0], list(rings[1:])) for rings in outline]
    return islands[0] if len(islands) == 1 else shapely.MultiPolygon(islands)
