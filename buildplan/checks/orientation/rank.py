"""Every direction weighed, the best few looked at closely: rank_orientations."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.orientation.candidates import spread_axes
from buildplan.checks.orientation.costing import Costs, cost_ways
from buildplan.checks.orientation.listing import (
    calibrate,
    estimate_in_full,
    estimate_way,
    make_check,
    sorted_ways,
)
from buildplan.checks.orientation.model import (
    DEFAULT_WEIGHTS,
    OrientationCheck,
    OrientationWeights,
)
from buildplan.checks.orientation.place import TOLERANCE_MM, fit_turn, turn_up
from buildplan.checks.orientation.scene import (
    Scene,
    Way,
    coarse_geometry,
    finished_way,
    geometry_of,
    make_job,
    measured_way,
    order_ways,
    rows_of,
    set_scene,
)
from buildplan.errors import InputError
from buildplan.part.feature import Feature
from buildplan.part.model import Part
from buildplan.process.estimate import PrintEstimate
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

Matrix = NDArray[np.float64]

APART_DEG = 15.0
"""Two ways up that are listed differ by at least this."""

NEAR_FRAC = 0.95
"""A way up closer than that to as placed replaces it only where it costs less than this share."""

FINALISTS = 48
"""Ways up whose support is measured by rays."""

BEST = 5
"""Ways up that are listed."""

OUTERMOST = 500
"""Directions whose outermost vertices tell quickly that a part cannot fit."""


def rank_orientations(  # noqa: PLR0913 - the four rows of a print, and what may be left out
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    features: Sequence[Feature] = (),
    count: int = 2000,
    weights: OrientationWeights = DEFAULT_WEIGHTS,
    estimate: PrintEstimate | None = None,
    exact: bool = False,
    workers: int = 1,
) -> OrientationCheck:
    """The best ways up for a part, with the reason in words, against the part as placed.

    1. ``count`` directions all round, the part's flat faces, its axes and as placed are weighed
       over all facets: height, contact, overhang, support columns; each costs what
       OrientationWeights says, hours by a simple model (costing.py).
    2. The cheapest that fit the printer, 15 degrees apart, are looked at closely: support that
       ends on the part, spans that bridge (support.py).
    3. The best five are listed. With ``exact`` their hours and support come from the full estimate.

    All are weighed with supports on, whatever the recipe says.

    Args:
        part: The part, as it is to be compared with.
        printer: The machine.
        feedstock: What the part is made of.
        recipe: Process settings.
        features: Named regions, in the part's coordinates.
        count: Directions all round, at least 2.
        weights: What counts.
        estimate: Of the part as placed, where it is at hand: it calibrates the hours.
        exact: Whether to estimate the listed ways in full.
        workers: Threads; the result does not depend on it.

    Raises:
        InputError: Printer, feedstock and recipe are not for one process, or count is too small.
    """
    if not printer.process == feedstock.process == recipe.process:
        raise InputError(
            f"part {part.name!r}: printer {printer.key!r} is for {printer.process}, feedstock "
            f"{feedstock.key!r} for {feedstock.process}, recipe {recipe.key!r} for "
            f"{recipe.process}; all three must be for one process"
        )
    if count < 2:
        raise InputError(f"part {part.name!r}: {count} directions asked for; at least 2 are needed")
    job = make_job(part, printer, feedstock, recipe, features, weights)
    scene = set_scene(part, job, count, workers)
    if exact and estimate is None:
        estimate = estimate_way(scene, np.eye(3), workers)
    if estimate is not None:
        scene = calibrate(scene, estimate)
    listed = _list_best(scene)
    if exact:
        listed = estimate_in_full(scene, listed, workers)
    return make_check(scene, listed, exact)


def _list_best(scene: Scene) -> tuple[tuple[Way, ...], Costs]:
    """As placed, then the best that fit, the cheapest first, and what they cost."""
    ways = _finalists(scene)
    geometry = geometry_of(scene, ways)
    cost, up = cost_ways(scene.job, geometry).total_cost, geometry.up
    kept: list[int] = []
    for k in order_ways(scene, rows_of(ways), geometry, cost).tolist():
        near_placed = k and ways[0].fits and _is_near(up[k], up[:1])
        if not ways[k].fits or (near_placed and cost[k] > NEAR_FRAC * cost[0]):
            continue
        if not _is_near(up[k], up[kept]):
            kept.append(k)
        if len(kept) == BEST:
            break
    listed = tuple(finished_way(scene, ways[k]) for k in [0, *kept])
    return sorted_ways(scene, listed, cost_ways(scene.job, geometry_of(scene, listed)))


def _finalists(scene: Scene) -> tuple[Way, ...]:
    """As placed, then the cheapest ways by the columns down to the platform, that fit."""
    weighed, job, vertices = scene.weighed, scene.job, scene.part.vertices_mm
    coarse = coarse_geometry(weighed)
    cost = cost_ways(job, coarse).total_cost
    outermost = _outermost(scene)
    placed = fit_turn(vertices, np.eye(3), job.printer)
    fits = placed is not None
    ways = [measured_way(scene, 0, np.eye(3) if placed is None else placed, fits=fits)]
    kept: list[int] = []
    for row in order_ways(scene, np.arange(len(cost)), coarse, cost).tolist():
        if len(kept) == FINALISTS:
            break
        up = weighed.up[row]
        near_placed = fits and _is_near(up, weighed.up[:1])
        if row == 0 or (near_placed and cost[row] > NEAR_FRAC * cost[0]):
            continue
        too_tall = weighed.height_mm[row] > job.printer.height_mm + TOLERANCE_MM
        if too_tall or _is_near(up, weighed.up[kept]):
            continue
        turn = turn_up(up)
        if fit_turn(outermost, turn, job.printer) is None:
            continue
        found = fit_turn(vertices, turn, job.printer)
        if found is not None:
            kept.append(row)
            ways.append(measured_way(scene, row, found, fits=True))
    return tuple(ways)


def _outermost(scene: Scene) -> Matrix:
    """Some vertices on the outside: what does not fit with them does not fit with all."""
    from buildplan.kernels.rotations import outermost_points

    vertices = scene.part.vertices_mm
    if len(vertices) <= 4 * OUTERMOST:
        return vertices
    axes = spread_axes(OUTERMOST)
    numbers = outermost_points(vertices - vertices[0], np.vstack([axes, -axes]))
    return np.ascontiguousarray(vertices[np.unique(numbers)])


def _is_near(up: Matrix, others: Matrix) -> bool:
    return bool((others @ up > math.cos(math.radians(APART_DEG)) + 1e-9).any())
