"""check_beads: places whose sections are narrower than one bead, from layer to layer."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.beads.model import NARROWEST_BEADS, BeadCheck, BeadPlace
from buildplan.checks.beads.pieces import Pieces, find_pieces
from buildplan.checks.beads.words import bead_marks
from buildplan.process.layers import Layers
from buildplan.process.walls import Walls, plan_walls
from buildplan.tables.recipe import ExtrusionRecipe
from buildplan.tables.rules import Rules

CRUMB_BEADS3 = 1.0
"""Places of less volume than this, in cubed beads, are crumbs (ours)."""

SURE_BEADS = 2.0
"""An island is not opened where its wall beads found nothing thinner than this, in beads: they
look at the middle of edges up to 4.5 beads long, which at a tip that leaves more than a crumb is
less than 1.2 beads thick (ours)."""

CREST_BEADS = 1.0
"""Places less high than this, in beads, are crests of rounds and ridges, carried by what is below
(ours)."""


def check_beads(
    layers: Layers,
    recipe: ExtrusionRecipe,
    rules: Rules,
    *,
    walls: Walls | None = None,
    told_mm: Sequence[Sequence[float]] = (),
    workers: int = 1,
) -> BeadCheck:
    """Places where a section is narrower than one bead, from layer to layer.

    thin = P - grow(shrink(P, w / 2), 1.5 w / 2) in every layer P, with bead width w. Pieces that
    lie within one bead of each other, in one layer or in neighbouring ones, are one place.

    Args:
        layers: Sections of the part.
        recipe: bead_mm is used, and what plan_walls uses.
        rules: wall_structural_mm is named in the advice.
        walls: Of plan_walls with this recipe, if at hand: they tell which islands are sound.
        told_mm: Boxes (x0, y0, z0, x1, y1, z1) on the part of thin walls that another check has
            told already: places whose narrowest point lies in one are listed but get no mark.
        workers: Threads; the outcome does not depend on it.

    Source: opening by a disc, Serra, "Image Analysis and Mathematical Morphology", 1982.
    """
    bead_mm = recipe.bead_mm
    if walls is None:
        walls = plan_walls(layers, recipe, workers=workers)
    doubtful = (walls.thin_mm < SURE_BEADS * bead_mm) | (walls.fallback != 0)
    pieces = find_pieces(layers, doubtful, bead_mm, workers)
    places, rows = _gather(layers, pieces, bead_mm)
    volume = float((layers.area_mm2 * layers.thickness_mm).sum())
    thin_mm3 = float(sum(place.volume_mm3 for place in places))
    return BeadCheck(
        bead_mm=bead_mm,
        thin_mm3=thin_mm3,
        thin_frac=thin_mm3 / volume if volume > 0.0 else 0.0,
        thin_layers=_count_layers(pieces, rows),
        places=places,
        marks=bead_marks(_untold(places, told_mm, bead_mm), bead_mm, rules),
    )


def _link(pieces: Pieces, bead_mm: float) -> tuple[int, NDArray[np.int64]]:
    """Number of places, and the place of every piece."""
    import shapely
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(pieces.shape)
    # every level has its own strip of the plane, so one tree asks for neighbours in one layer only
    bounds = shapely.total_bounds(pieces.shape)
    step = float(bounds[2] - bounds[0]) + 10.0 * bead_mm

    def shifted(shift: NDArray[np.int64]) -> NDArray[Any]:
        points = shapely.get_coordinates(pieces.shape)
        move = np.repeat(shift * step, shapely.get_num_coordinates(pieces.shape))
        points[:, 0] += move
        moved: NDArray[Any] = shapely.set_coordinates(pieces.shape.copy(), points)
        return moved

    own = shifted(pieces.level)
    tree = shapely.STRtree(own)
    same = tree.query(own, predicate="dwithin", distance=bead_mm)
    above = tree.query(shifted(pieces.level + 1), predicate="dwithin", distance=bead_mm)
    pairs = np.concatenate([same, above], axis=1)
    graph = coo_matrix((np.ones(pairs.shape[1], np.int8), pairs), (count, count))
    places, label = connected_components(graph, directed=False)
    return int(places), label.astype(np.int64)


def _gather(
    layers: Layers, pieces: Pieces, bead_mm: float
) -> tuple[tuple[BeadPlace, ...], NDArray[np.int64]]:
    """Places of the part, largest first, and the rows of all their pieces."""
    if len(pieces.shape) == 0:
        return (), np.zeros(0, np.int64)
    count, label = _link(pieces, bead_mm)
    run = np.concatenate([[0.0], np.cumsum(layers.thickness_mm)])
    volume = pieces.area_mm2 * (run[pieces.last + 1] - run[pieces.first])
    totals = np.bincount(label, volume, count)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, label, run[pieces.first])
    np.maximum.at(high, label, run[pieces.last + 1])
    real = (totals >= CRUMB_BEADS3 * bead_mm**3) & (high - low >= CREST_BEADS * bead_mm)
    order = np.argsort(label, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(label, minlength=count))])
    kept = np.flatnonzero(real)
    kept = kept[np.argsort(-totals[kept], kind="stable")]
    places = tuple(
        _place(layers, pieces, volume, order[starts[k] : starts[k + 1]], run, bead_mm)
        for k in kept.tolist()
    )
    return places, np.flatnonzero(real[label])


def _place(
    layers: Layers,
    pieces: Pieces,
    volume: NDArray[np.float64],
    rows: NDArray[np.int64],
    run: NDArray[np.float64],
    bead_mm: float,
) -> BeadPlace:
    import shapely

    x0, y0, x1, y1 = shapely.total_bounds(pieces.shape[rows])
    low, high = float(run[pieces.first[rows].min()]), float(run[pieces.last[rows].max() + 1])
    thinnest = rows[np.argmin(pieces.width_mm[rows])]
    inside = shapely.point_on_surface(pieces.shape[thinnest])
    middle = 0.5 * (run[pieces.first[thinnest]] + run[pieces.last[thinnest] + 1])
    origin = np.array(layers.origin_mm)
    too_narrow = pieces.width_mm[rows] < NARROWEST_BEADS * bead_mm
    corners = np.tile(origin, 2) + np.array([x0, y0, low, x1, y1, high])
    point = origin + np.array([inside.x, inside.y, middle])
    return BeadPlace(
        volume_mm3=float(volume[rows].sum()),
        width_mm=float(pieces.width_mm[thinnest]),
        low_mm=low,
        high_mm=high,
        length_mm=float(pieces.length_mm[rows].max()),
        layers=_count_layers(pieces, rows),
        point_mm=tuple(round(float(value), 3) for value in point),
        box_mm=tuple(round(float(value), 3) for value in corners),
        lost=bool(volume[rows][too_narrow].sum() > 0.5 * volume[rows].sum()),
    )


def _count_layers(pieces: Pieces, rows: NDArray[np.int64]) -> int:
    """Number of layers that some pieces are in; a piece stands for a run of equal layers."""
    if len(rows) == 0:
        return 0
    ends = np.zeros(int(pieces.last[rows].max()) + 2, np.int64)
    np.add.at(ends, pieces.first[rows], 1)
    np.add.at(ends, pieces.last[rows] + 1, -1)
    return int((np.cumsum(ends) > 0).sum())


def _untold(
    places: tuple[BeadPlace, ...], told_mm: Sequence[Sequence[float]], bead_mm: float
) -> list[BeadPlace]:
    """Places whose narrowest point lies in none of the boxes grown by one bead."""
    if not len(told_mm):
        return list(places)
    boxes = np.array(told_mm, np.float64)
    low, high = boxes[:, :3] - bead_mm, boxes[:, 3:] + bead_mm
    return [
        place
        for place in places
        if not ((low <= place.point_mm) & (high >= place.point_mm)).all(axis=1).any()
    ]
