"""How much support a way up really asks for: rays from what hangs, down and to the sides."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.first_hit import first_hits
from buildplan.tables.recipe import ExtrusionRecipe, Recipe

NEAREST_FRAC = 1e-6
"""A ray does not see facets closer than this share of the part's size: the one it starts on."""

PLASTIC = 1.324_717_957_244_746
"""Real root of x^3 = x + 1: its powers give points that fill a square evenly.

Source: Roberts, M. (2018), The unreasonable effectiveness of quasirandom sequences (web article).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    """A part's facets, ready for rays."""

    vertices: NDArray[np.float64]
    facets: NDArray[np.int64]
    table: NDArray[np.float64]
    sorted_corners: NDArray[np.float64]
    boxes: NDArray[np.float64]
    leaves: int
    size_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """What hangs and is not bridged, and the space under it.

    Attributes:
        supported_mm2: Its area on the part; plan_mm2 as seen from above.
        support_mm3: Down to the platform or the part.
        on_part_frac: Share of the plan area with part below.
    """

    supported_mm2: float
    plan_mm2: float
    support_mm3: float
    on_part_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How a recipe lays support.

    Attributes:
        step_mm: Layer thickness.
        bridge_limit_mm: Longest span that holds by itself, 0 where nothing bridges.
        gap_mm: Height left free between a support and the part above it.
        clearance_mm: Distance left free sideways.
    """

    step_mm: float
    bridge_limit_mm: float
    gap_mm: float
    clearance_mm: float


def habits_of(recipe: Recipe) -> Habits:
    """How a recipe lays support; tips of vat photopolymerization touch the part."""
    if isinstance(recipe, ExtrusionRecipe):
        return Habits(
            step_mm=recipe.layer_mm,
            bridge_limit_mm=recipe.bridge_limit_mm,
            gap_mm=recipe.support_gap_layers * recipe.layer_mm,
            clearance_mm=recipe.support_clearance_mm,
        )
    return Habits(step_mm=recipe.layer_mm, bridge_limit_mm=0.0, gap_mm=0.0, clearance_mm=0.0)


NO_SUPPORT = Support(supported_mm2=0.0, plan_mm2=0.0, support_mm3=0.0, on_part_frac=0.0)


def plant_tree(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], table: NDArray[np.float64]
) -> Tree:
    """The tree of a part's facets."""
    _, sorted_corners, boxes, leaves = build_facet_tree(vertices[facets])
    return Tree(
        table=table,
        vertices=vertices,
        facets=facets,
        sorted_corners=sorted_corners,
        boxes=boxes,
        leaves=leaves,
        size_mm=float(np.ptp(vertices, axis=0).max()),
    )


def measure_support(
    tree: Tree,
    turn: NDArray[np.float64],
    lowest_mm: float,
    hanging: tuple[NDArray[np.int64], NDArray[np.float64]],
    *,
    samples: int,
    habits: Habits,
) -> Support:
    """Support under facets that hang, from points spread evenly over their plan area.

    From each point a ray goes down to the part or to the platform. Where rays to both sides, one
    layer below, meet the part within the bridge limit, along x or along y of the platform, the
    point lies on a span that holds by itself. A column ends below the gap, and below a leaning
    face by clearance * cot(lean) more, since it keeps away sideways; where nothing is left of it,
    the point gets no support.

    Args:
        tree: The part.
        turn: (3, 3) rotation to the platform.
        lowest_mm: Least height of the part, seen along the turned z.
        hanging: Facets that hang and how far each faces down, of list_hanging.
        samples: Points.
        habits: How the recipe lays support.
    """
    facets, downward = hanging
    if not len(facets):
        return NO_SUPPORT
    across, along, up = turn
    plan = tree.table[3, facets] * downward
    owner = _share_out(plan, samples)
    lean = downward[owner]
    points = _spread_points(tree.vertices[tree.facets[facets[owner]]])
    height = points @ up - lowest_mm
    reach = _hits(tree, points, -up, float(height.max()) + 1.0)
    lands = reach < height - habits.step_mm
    slope = np.sqrt(np.maximum(0.0, 1.0 - lean**2)) / lean
    column = np.minimum(reach, height) - habits.gap_mm - habits.clearance_mm * slope
    needs = column > 0.0
    if habits.bridge_limit_mm > 0.0:
        lower = points - habits.step_mm * up
        for side in (across, along):
            span = _hits(tree, lower, side, habits.bridge_limit_mm)
            span += _hits(tree, lower, -side, habits.bridge_limit_mm)
            needs &= ~(span <= habits.bridge_limit_mm)
    share = float(plan.sum()) / len(points)
    carried = int(needs.sum())
    return Support(
        supported_mm2=float((needs / lean).sum()) * share,
        plan_mm2=carried * share,
        support_mm3=float(column[needs].sum()) * share,
        on_part_frac=float(lands[needs].sum()) / carried if carried else 0.0,
    )


def _share_out(weight: NDArray[np.float64], count: int) -> NDArray[np.int64]:
    """The entry (count,) that each of so many equal shares of the weight falls to."""
    ends = np.cumsum(weight)
    places = (np.arange(count) + 0.5) / count * ends[-1]
    owner: NDArray[np.int64] = np.searchsorted(ends, places, side="right").astype(np.int64)
    return np.minimum(owner, len(weight) - 1)


def _spread_points(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """A point (n, 3) on each of n facets (n, 3, 3), evenly spread where a facet comes again."""
    i = np.arange(1, len(corners) + 1)
    s = (0.5 + i / PLASTIC) % 1.0
    t = (0.5 + i / PLASTIC**2) % 1.0
    root = np.sqrt(s)  # even over a triangle
    shares = np.stack([1.0 - root, root * (1.0 - t), root * t], axis=1)
    return np.ascontiguousarray(np.einsum("ij,ijk->ik", shares, corners))


def _hits(
    tree: Tree, points: NDArray[np.float64], direction: NDArray[np.float64], farthest_mm: float
) -> NDArray[np.float64]:
    return first_hits(
        tree.sorted_corners,
        tree.boxes,
        tree.leaves,
        points,
        np.tile(direction, (len(points), 1)),
        NEAREST_FRAC * tree.size_mm,
        farthest_mm,
    )


def lean_limit(overhang_limit_deg: float, slack_frac: float) -> float:
    """Sine of the lean from the vertical that holds, with the slack that its tangent gets."""
    return math.sin(math.atan(math.tan(math.radians(overhang_limit_deg)) * (1.0 + slack_frac)))
