"""What kind of overhang a region is, how far it spans or reaches, and whether it holds."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.overhangs.limits import Limits
from buildplan.checks.overhangs.model import OverhangKind, OverhangRegion
from buildplan.checks.overhangs.surface import FLAT_LAYERS, ISLAND_LAYERS, Low, Steep
from buildplan.kernels.overhangs import REACH_OF_ALL, REACH_OF_REST, lay_strips, try_directions

LEVEL_DOWN_FRAC = 1.0 / math.hypot(1.0, 1.0 / 20.0)
"""A face flatter than 1 in 20 is level: it is printed in a few layers (ours)."""

LEVEL_SHARE_FRAC = 0.5
"""A region whose plan is level to this share is a bridge or a cantilever, else it leans (ours)."""

BRIDGE_SHARE_FRAC = 0.6
"""A region is a bridge where strips from hold to hold carry this share of its plan (ours)."""

LEDGE_FACTOR = 4.0
"""A ledge whose strips are longer than this times its depth is a cantilever, unless they hold."""

REST_SHARE_FRAC = 0.51
"""Of a bridge only what reaches farther than this share of its span hangs free (ours)."""

EVEN_TURNS = 24
"""Strip directions tried over half a turn, counted from the longest held edge."""

EDGE_TURNS = 12
"""Directions of held edges tried on top, the commonest first, and across them."""

SAME_SHARE_FRAC = 0.02
"""Directions that carry so nearly alike are told apart by their longest strip."""

MOST_SLABS = 300
"""Slabs that a plan is cut into; plans of fewer corners are measured exactly (ours)."""

MOST_STEPS = 5_000_000
"""Slabs times edges times directions: what the choice of a direction may cost (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strips:
    """What strips carry: share of the plan, longest strip, how far the rest and the whole reach."""

    carried_frac: float
    span_mm: float
    rest_mm: float
    whole_mm: float


def judge_regions(
    steep: Steep, lows: list[Low], limits: Limits, shift_mm: NDArray[np.float64]
) -> tuple[OverhangRegion, ...]:
    """All regions that are more than specks, largest plan first; islands of their own included.

    Args:
        steep: Regions and borders.
        lows: Places where solid begins in mid-air.
        limits: What holds.
        shift_mm: (3,) from the heights used here to the part as given.
    """
    region_of_low: dict[int, Low] = {}
    alone: list[Low] = []
    for low in lows:
        near = np.unique(steep.label[low.facets])
        own = [int(r) for r in near if r >= 0 and steep.wanted[r] and not _is_held(steep, int(r))]
        for region in own:
            region_of_low[region] = low
        if not own:
            alone.append(low)
    found = [
        _judge(steep, int(r), int(r) in region_of_low, limits, shift_mm)
        for r in np.flatnonzero(steep.wanted)
    ]
    found += [
        _lone_island(steep, low, limits, shift_mm)
        for low in alone
        if not _is_speck(steep, low, limits)
    ]
    return tuple(sorted(found, key=lambda r: (-r.plan_mm2, r.low_mm, r.point_mm)))


def _facets_of(steep: Steep, region: int) -> NDArray[np.int64]:
    return steep.order[steep.order_off[region] : steep.order_off[region + 1]]


def _is_held(steep: Steep, region: int) -> bool:
    return bool(steep.held[steep.edge_off[region] : steep.edge_off[region + 1]].any())


def _judge(
    steep: Steep, region: int, is_low: bool, limits: Limits, shift_mm: NDArray[np.float64]
) -> OverhangRegion:
    facets = _facets_of(steep, region)
    edges, held, anchored = _outline(steep, region, facets, limits)
    plan = float(steep.plan_mm2[region])
    down = steep.down_frac[facets]
    level = (steep.area_mm2[facets] * down)[down >= LEVEL_DOWN_FRAC].sum()
    leans = bool(level < LEVEL_SHARE_FRAC * plan)
    strips = measure_strips(edges, held, leans=leans)
    kind: OverhangKind
    span = strips.span_mm
    is_bridge = strips.carried_frac >= BRIDGE_SHARE_FRAC
    spans = is_bridge and span <= limits.bridge_mm
    if is_low and not anchored:
        kind, reach, needs = "island", 0.0, True
    elif leans:
        kind, reach = "leaning", strips.whole_mm
        needs = reach > limits.slight_mm and not spans
    elif is_bridge and (spans or span <= LEDGE_FACTOR * strips.whole_mm):
        # what lies no farther out than the middle of the strips is held along with them
        kind = "bridge"
        reach = strips.rest_mm if strips.rest_mm > REST_SHARE_FRAC * span else 0.0
        needs = strips.whole_mm > limits.cantilever_mm and (
            not spans or reach > limits.cantilever_mm
        )
    else:
        kind, reach = "cantilever", strips.whole_mm if is_bridge else strips.rest_mm
        needs = reach > limits.cantilever_mm
    return _record(
        steep,
        facets,
        shift_mm,
        kind=kind,
        span_mm=span,
        carried_frac=strips.carried_frac,
        reach_mm=reach,
        needs_support=needs,
    )


def _outline(
    steep: Steep, region: int, facets: NDArray[np.int64], limits: Limits
) -> tuple[NDArray[np.float64], NDArray[np.uint8], bool]:
    """Border edges with what holds them, points on the platform added; whether anything holds.

    Where nothing does, the lowest point stands for it: the layers begin there.
    """
    rows = slice(steep.edge_off[region], steep.edge_off[region + 1])
    edges, held = steep.edges_mm[rows], steep.held[rows]
    corners = np.unique(steep.facets[facets])
    height = steep.vertices_mm[corners, 2]
    points = corners[height <= FLAT_LAYERS * limits.layer_mm]
    anchored = bool(held.any()) or len(points) > 0
    if not anchored:
        points = corners[height <= height.min()][:1]
    if not held.any():
        xy = steep.vertices_mm[points, :2]
        edges = np.concatenate([edges, np.concatenate([xy, xy], axis=1)])
        held = np.concatenate([held, np.ones(len(points), np.uint8)])
    return np.ascontiguousarray(edges), np.ascontiguousarray(held), anchored


def measure_strips(edges: NDArray[np.float64], held: NDArray[np.uint8], *, leans: bool) -> _Strips:
    """The direction of strips that carries most of a plan, at the shortest span.

    Args:
        edges: (k, 4) border edges x0, y0, x1, y1.
        held: (k,) 1 where an edge is held from below.
        leans: Whether only the reach of the whole is asked for; of the rest it is given alike.
    """
    middle = edges[0, :2].copy()
    edges = edges - np.concatenate([middle, middle])
    angles = _angles(edges, held)
    slabs = int(min(MOST_SLABS, max(32, MOST_STEPS // (len(edges) * len(angles)))))
    found = try_directions(edges, held, angles, slabs)
    share, span = found[:, 0], found[:, 1]
    alike = np.flatnonzero(share >= share.max() - SAME_SHARE_FRAC)
    best = angles[alike[np.lexsort((-share[alike], np.round(span[alike], 6)))[0]]]
    turn = math.cos(best), math.sin(best)
    first = REACH_OF_ALL if leans else REACH_OF_REST
    whole, carried, longest, rest = lay_strips(edges, held, *turn, MOST_SLABS, first)
    reach = rest
    if not leans and carried >= BRIDGE_SHARE_FRAC * whole:
        reach = lay_strips(edges, held, *turn, MOST_SLABS, REACH_OF_ALL)[3]
    return _Strips(
        carried_frac=carried / whole if whole > 0.0 else 0.0,
        span_mm=longest,
        rest_mm=max(rest, 0.0) if math.isfinite(rest) else 0.0,
        whole_mm=max(reach, 0.0) if math.isfinite(reach) else 0.0,
    )


def _angles(edges: NDArray[np.float64], held: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Directions to try: even turns from the longest held edge, the held edges' own, across."""
    along = edges[held == 1, 2:] - edges[held == 1, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    if len(length) == 0 or length.max() == 0.0:
        return np.zeros(1)
    angle = np.arctan2(along[:, 1], along[:, 0]) % math.pi
    first = float(angle[length.argmax()])
    even = first + np.arange(EVEN_TURNS) * math.pi / EVEN_TURNS
    if len(length) <= EDGE_TURNS:
        own = angle
    else:
        degree = np.round(np.degrees((angle - first) % math.pi)).astype(np.int64) % 180
        weight = np.bincount(degree, length, minlength=180)
        common = np.argsort(-weight, kind="stable")[:EDGE_TURNS]
        # the exact angle of the longest edge near each common one
        own = np.array(
            [angle[degree == d][length[degree == d].argmax()] for d in common[weight[common] > 0.0]]
        )
    return np.concatenate([even, own, own + 0.5 * math.pi])


def _lone_island(
    steep: Steep, low: Low, limits: Limits, shift_mm: NDArray[np.float64]
) -> OverhangRegion:
    """An island that is no region of its own: a pointed tip, or a bump of a ceiling.

    Its area is that of its first layer.
    """
    return _record(
        steep,
        low.facets,
        shift_mm,
        share_frac=_share_of_tip(steep, low, limits.layer_mm),
        kind="island",
        span_mm=0.0,
        carried_frac=0.0,
        reach_mm=0.0,
        needs_support=True,
    )


def _is_speck(steep: Steep, low: Low, limits: Limits) -> bool:
    """Whether a tip is too small to be printed at all: narrow after its first layers, and short."""
    share = _share_of_tip(steep, low, ISLAND_LAYERS * limits.layer_mm)
    down = np.maximum(steep.down_frac[low.facets], 0.0)
    plan = float((steep.area_mm2[low.facets] * down * share).sum())
    return plan < limits.speck_mm2 and low.depth_mm < limits.speck_depth_mm


def _share_of_tip(steep: Steep, low: Low, height_mm: float) -> NDArray[np.float64]:
    """Share of the facets around a tip that lies within a height above its lowest vertex."""
    z = np.sort(steep.vertices_mm[steep.facets[low.facets], 2], axis=1)
    return _share_below(z, float(steep.vertices_mm[low.vertex, 2]) + height_mm)


def _share_below(z_mm: NDArray[np.float64], top_mm: float) -> NDArray[np.float64]:
    """Share of triangles below a height, by the heights (n, 3) of their corners, ascending."""
    low, middle, high = z_mm.T
    tiny = 1e-300
    rising = np.maximum(top_mm - low, 0.0) ** 2 / np.maximum((middle - low) * (high - low), tiny)
    falling = 1.0 - np.maximum(high - top_mm, 0.0) ** 2 / np.maximum(
        (high - middle) * (high - low), tiny
    )
    share: NDArray[np.float64] = np.where(
        top_mm >= high, 1.0, np.where(top_mm <= middle, rising, falling)
    )
    return np.clip(share, 0.0, 1.0)


def _record(  # noqa: PLR0913 - one argument for each number of the record
    steep: Steep,
    facets: NDArray[np.int64],
    shift_mm: NDArray[np.float64],
    *,
    kind: OverhangKind,
    span_mm: float,
    carried_frac: float,
    reach_mm: float,
    needs_support: bool,
    share_frac: NDArray[np.float64] | None = None,
) -> OverhangRegion:
    corners = steep.vertices_mm[np.unique(steep.facets[facets])]
    low, high = corners.min(axis=0), corners.max(axis=0)
    area = steep.area_mm2[facets] * (1.0 if share_frac is None else share_frac)
    down = np.clip(steep.down_frac[facets], 0.0, 1.0)
    lean = np.degrees(np.arcsin(down))
    lowest = corners[corners[:, 2].argmin()] + shift_mm
    numbers = np.sort(facets)
    numbers.flags.writeable = False
    box = [*(low + shift_mm), *(high + shift_mm)]
    return OverhangRegion(
        kind=kind,
        area_mm2=float(area.sum()),
        plan_mm2=float((area * down).sum()),
        span_mm=span_mm,
        carried_frac=carried_frac,
        reach_mm=reach_mm,
        lean_deg=float((area * lean).sum() / max(area.sum(), 1e-300)),
        low_mm=float(low[2]),
        high_mm=float(high[2]),
        needs_support=needs_support,
        point_mm=(float(lowest[0]), float(lowest[1]), float(lowest[2])),
        box_mm=(
            float(box[0]),
            float(box[1]),
            float(box[2]),
            float(box[3]),
            float(box[4]),
            float(box[5]),
        ),
        facets=numbers,
    )
