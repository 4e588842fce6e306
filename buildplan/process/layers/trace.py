"""From a mesh to the measured, simplified rings of every layer."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError, MeshError

if TYPE_CHECKING:
    from buildplan.kernels.rings import Rings

POINTS_MAX = 100_000_000
LOOSE_PIECES_MAX = 3_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """A mesh that stands on the platform, ready to be walked along its section planes.

    Attributes:
        vertices: (n, 3), lowest point at z = 0.
        corners: (3 m,) int32, vertex of each corner of each facet.
        planes: (n_layers,) heights.
        twin: (3 m,) of each half-edge, -1 where there is none.
        is_open: Whether any half-edge lacks its twin.
        layer_off: (n_layers + 1,) facets of a layer in crossing.
        crossing: Facets that meet each plane.
        point_off: (n_layers + 1,) room for the points of a layer; the same as layer_off for closed
            meshes.
    """

    vertices: NDArray[np.float64]
    corners: NDArray[np.int32]
    planes: NDArray[np.float64]
    twin: NDArray[np.int32]
    is_open: bool
    layer_off: NDArray[np.int64]
    crossing: NDArray[np.int32]
    point_off: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerFigures:
    """Figures of every layer (n_layers,): rings; area, perimeter (before simplification); gap."""

    ring_count: NDArray[np.int64]
    area: NDArray[np.float64]
    perimeter: NDArray[np.float64]
    gap: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """Rings as they were traced, before they are grouped and packed.

    Attributes:
        xy: (n, 2) points, with unused room in between.
        ring_begin: (n_rings,) first point of each ring; ring_end likewise.
        ring_area: (n_rings,) signed; ring_box: (n_rings, 4) x0, x1, y0, y1.
        slot_begin: (n_layers,) first ring of a layer.
        figures: Figures of the layers.
    """

    xy: NDArray[np.float64]
    ring_begin: NDArray[np.int64]
    ring_end: NDArray[np.int64]
    ring_area: NDArray[np.float64]
    ring_box: NDArray[np.float64]
    slot_begin: NDArray[np.int64]
    figures: LayerFigures


Result = TypeVar("Result")


def run_slabs(
    run: Callable[[int, int], Result], work_off: NDArray[np.int64], workers: int
) -> list[Result]:
    """What run(begin, end) gives for contiguous slabs of layers that carry about equal work."""
    n_layers = len(work_off) - 1
    slabs = min(workers, n_layers)
    if slabs == 1:
        return [run(0, n_layers)]
    share = np.arange(1, slabs) * (int(work_off[-1]) / slabs)
    cuts = [0, *np.searchsorted(work_off, share).tolist(), n_layers]
    with ThreadPoolExecutor(slabs) as pool:
        return list(pool.map(run, cuts[:-1], cuts[1:]))


def prepare_walk(
    name: str,
    vertices: NDArray[np.float64],
    corners: NDArray[np.int32],
    planes: NDArray[np.float64],
    workers: int,
) -> Walk:
    """Twins of a mesh and the facets that meet each plane; with two workers side by side.

    Raises:
        InputError: The layers would hold more points than POINTS_MAX.
        MeshError: A layer of an open mesh falls into more loose pieces than LOOSE_PIECES_MAX.
    """
    from buildplan.kernels.halfedges import find_twins
    from buildplan.kernels.sections import bucket, crossing_ranges

    with ThreadPoolExecutor(1) as pool:
        facets = corners.reshape(-1, 3)
        twins = pool.submit(find_twins, facets, len(vertices)) if workers > 1 else None
        first, after, layer_off = crossing_ranges(vertices, corners, planes)
        n_points = int(layer_off[-1])
        if n_points > POINTS_MAX:
            raise InputError(
                f"the layers of part {name!r} would hold {n_points} points, allowed are "
                f"{POINTS_MAX}; take thicker layers or a mesh of fewer facets than "
                f"{len(facets)}"
            )
        crossing = np.empty(n_points, np.int32)
        bucket(first, after, layer_off, crossing)
        twin, n_open, _ = twins.result() if twins else find_twins(facets, len(vertices))
    walk = Walk(
        vertices=vertices,
        corners=corners,
        planes=planes,
        twin=twin,
        is_open=n_open > 0,
        layer_off=layer_off,
        crossing=crossing,
        point_off=layer_off,
    )
    return replace(walk, point_off=_room_for_loose_pieces(name, walk)) if n_open else walk


def _room_for_loose_pieces(name: str, walk: Walk) -> NDArray[np.int64]:
    """Offsets of the points of every layer of an open mesh: one more for every loose piece."""
    from buildplan.kernels.open_sections import count_loose_starts

    loose = count_loose_starts(
        walk.vertices, walk.corners, walk.twin, walk.planes, walk.layer_off, walk.crossing
    )
    worst = int(loose.argmax())
    if loose[worst] > LOOSE_PIECES_MAX:
        raise MeshError(
            f"part {name!r} falls into {loose[worst]} loose pieces {walk.planes[worst]:.2f} mm "
            f"above its lowest point, allowed are {LOOSE_PIECES_MAX}; close the mesh (its facets "
            f"share no vertices there) before cutting it into layers"
        )
    point_off = np.zeros(len(walk.planes) + 1, np.int64)
    np.cumsum(np.diff(walk.layer_off) + loose, out=point_off[1:])
    return point_off


def trace_rings(walk: Walk, simplify_mm: float, workers: int) -> Traced:
    """Rings of every layer, measured and simplified."""
    n_layers = len(walk.planes)
    xy = np.empty((int(walk.point_off[-1]), 2))
    figures = LayerFigures(
        ring_count=np.zeros(n_layers, np.int64),
        area=np.zeros(n_layers),
        perimeter=np.zeros(n_layers),
        gap=np.zeros(n_layers),
    )

    def run(begin: int, end: int) -> "Rings":
        write = int(walk.point_off[begin])
        return trace_slab(walk, figures, begin, end, simplify_mm, xy, write)

    slabs = run_slabs(run, walk.layer_off, workers)
    return Traced(
        xy=xy,
        ring_begin=np.concatenate([slab[0] for slab in slabs]),
        ring_end=np.concatenate([slab[1] for slab in slabs]),
        ring_area=np.concatenate([slab[2] for slab in slabs]),
        ring_box=np.concatenate([slab[3] for slab in slabs]),
        slot_begin=np.cumsum(figures.ring_count) - figures.ring_count,
        figures=figures,
    )


def trace_slab(
    walk: Walk,
    figures: LayerFigures,
    begin: int,
    end: int,
    simplify_mm: float,
    xy: NDArray[np.float64],
    write: int,
) -> "Rings":
    """Trace the layers begin..end into xy from point write on; writes their figures."""
    from buildplan.kernels.open_sections import trace_open
    from buildplan.kernels.sections import trace_closed

    if walk.is_open:
        return trace_open(
            walk.vertices,
            walk.corners,
            walk.twin,
            walk.planes,
            walk.layer_off,
            walk.crossing,
            begin,
            end,
            simplify_mm,
            xy,
            write,
            figures.ring_count,
            figures.area,
            figures.perimeter,
            figures.gap,
        )
    return trace_closed(
        walk.vertices,
        walk.corners,
        walk.twin,
        walk.planes,
        walk.layer_off,
        walk.crossing,
        begin,
        end,
        simplify_mm,
        xy,
        write,
        figures.ring_count,
        figures.area,
        figures.perimeter,
    )
