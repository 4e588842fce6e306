"""Cutting a part into layers."""

import hashlib
import math

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.layers.model import Layers
from buildplan.process.layers.trace import Traced, prepare_walk, run_slabs, trace_rings
from buildplan.process.layers.unite import unite_overlaps

LAYER_MIN_MM = 0.01
LAYER_MAX_MM = 2.0
LAYERS_MAX = 100_000

KEPT_SHARE_MIN = 0.8
"""Share of the traced points below which the kept ones are copied, so that the rest is freed."""


def cut_layers(
    part: Part, layer_mm: float, *, simplify_mm: float = 0.005, workers: int = 1
) -> Layers:
    """Sections of a part at the middle of every layer, as oriented rings grouped into islands.

    The number of layers is floor(height / layer_mm + 1/2), at least 1; the last layer takes what
    is left of the height. Open meshes are traced with their gaps bridged within the layer
    (``gap_mm``); overlapping or self-crossing rings are united by positive winding (``united``).
    They are looked for wherever a full health search did not rule them out and there is more than
    one shell, an open edge, or a known self-intersection.

    Args:
        part: The solid body; its own coordinates may lie anywhere.
        layer_mm: 0.01 to 2.
        simplify_mm: Ring points that lie within this distance of the simplified ring are dropped;
            0 keeps every point.
        workers: Threads; the outcome is the same bytes whatever their number.

    Raises:
        InputError: A number is out of its range, or there would be too many layers or points.
        MeshError: The mesh is so open that a layer falls into thousands of loose pieces.
    """
    _check_inputs(part, layer_mm, simplify_mm, workers)
    x, y, z = part.vertices_mm.T
    origin = np.array([0.5 * (x.min() + x.max()), 0.5 * (y.min() + y.max()), z.min()])
    height_mm = float(z.max() - z.min())
    planes, thickness = section_planes(part.name, height_mm, layer_mm)
    corners = np.array(part.facets, dtype=np.int32).reshape(-1)
    walk = prepare_walk(part.name, part.vertices_mm - origin, corners, planes, workers)
    traced = trace_rings(walk, simplify_mm, workers)
    united = np.zeros(len(planes), np.bool_)
    overlaps_sought = walk.is_open or _may_overlap(part)
    if overlaps_sought:
        traced = unite_overlaps(walk, traced, simplify_mm, workers, united)
    arrays = _pack(traced, workers, united=bool(united.any()))
    xy, ring_off, island_off, layer_off, ring_area, ring_box = arrays
    figures = (traced.figures.area, traced.figures.perimeter, traced.figures.gap)
    for array in (*arrays, planes, thickness, *figures, united):
        array.setflags(write=False)
    # parts of one mesh may differ in their health, and so in whether rings were united
    content = (
        f"layers of {part.key} at {layer_mm!r}, simplified {simplify_mm!r}, "
        f"overlaps sought {overlaps_sought}"
    )
    return Layers(
        key=hashlib.sha256(content.encode()).hexdigest(),
        part_name=part.name,
        grade=part.health.grade,
        layer_mm=layer_mm,
        height_mm=height_mm,
        volume_mm3=part.volume_mm3,
        surface_mm2=part.area_mm2,
        origin_mm=(float(origin[0]), float(origin[1]), float(origin[2])),
        thickness_mm=thickness,
        z_mm=planes,
        xy_mm=xy,
        ring_off=ring_off,
        island_off=island_off,
        layer_off=layer_off,
        ring_area_mm2=ring_area,
        ring_box_mm=ring_box,
        area_mm2=traced.figures.area,
        perimeter_mm=traced.figures.perimeter,
        gap_mm=traced.figures.gap,
        united=united,
    )


def _check_inputs(part: Part, layer_mm: float, simplify_mm: float, workers: int) -> None:
    if not (math.isfinite(layer_mm) and LAYER_MIN_MM <= layer_mm <= LAYER_MAX_MM):
        raise InputError(
            f"layer_mm for part {part.name!r} is {layer_mm!r}, allowed are {LAYER_MIN_MM:g} to "
            f"{LAYER_MAX_MM:g} mm; give the thickness of one layer in mm"
        )
    if not (math.isfinite(simplify_mm) and 0.0 <= simplify_mm <= layer_mm):
        raise InputError(
            f"simplify_mm for part {part.name!r} is {simplify_mm!r}, allowed are 0 to layer_mm "
            f"({layer_mm:g} mm); 0 keeps every point, 0.005 is the default"
        )
    if workers < 1:
        raise InputError(f"workers is {workers!r}, allowed is 1 or more; give a number of threads")


def section_planes(
    name: str, height_mm: float, layer_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Heights of the section planes and thickness of the layers; the last takes what is left."""
    count = max(1, math.floor(height_mm / layer_mm + 0.5))
    if count > LAYERS_MAX:
        raise InputError(
            f"part {name!r} is {height_mm:g} mm tall and would have {count} layers of "
            f"{layer_mm:g} mm, allowed are {LAYERS_MAX}; take thicker layers, or check the unit "
            f"of its file"
        )
    bottom = np.arange(count) * layer_mm
    thickness = np.full(count, layer_mm)
    thickness[-1] = height_mm - bottom[-1]
    return bottom + 0.5 * thickness, thickness


def _may_overlap(part: Part) -> bool:
    """Whether rings of a layer might overlap, as far as the health search tells."""
    health = part.health
    if health.overlapping_shells or health.self_intersections or not part.closed:
        return True
    return part.shells > 1 and health.searched != "full"


def _pack(
    traced: Traced, workers: int, *, united: bool
) -> tuple[
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.float64],
]:
    """Rings grouped into islands, in flat arrays without gaps (see kernels.rings.pack)."""
    from buildplan.kernels.rings import count_placed, group_islands, pack

    n_layers = len(traced.slot_begin)
    order = np.zeros(len(traced.ring_begin), np.int64)
    head = np.zeros(len(traced.ring_begin), np.uint8)
    placed = np.zeros(n_layers, np.int64)

    def run(begin: int, end: int) -> None:
        group_islands(
            traced.xy,
            traced.ring_begin,
            traced.ring_end,
            traced.ring_area,
            traced.ring_box,
            traced.slot_begin,
            traced.figures.ring_count,
            begin,
            end,
            order,
            head,
            placed,
        )

    run_slabs(run, np.arange(n_layers + 1), workers)
    n_points, n_rings, n_islands = count_placed(
        traced.ring_begin, traced.ring_end, traced.slot_begin, placed, order, head
    )
    # rings that were united stand behind all others, so they cannot be packed in place
    xy = np.empty((n_points, 2)) if united else traced.xy
    packed = (
        np.empty(n_rings + 1, np.int64),
        np.empty(n_islands + 1, np.int64),
        np.empty(n_layers + 1, np.int64),
        np.empty(n_rings),
        np.empty((n_rings, 4)),
    )
    pack(
        traced.xy,
        traced.ring_begin,
        traced.ring_end,
        traced.ring_area,
        traced.ring_box,
        traced.slot_begin,
        placed,
        order,
        head,
        xy,
        *packed,
    )
    wasteful = n_points < KEPT_SHARE_MIN * len(xy)
    return (xy[:n_points].copy() if wasteful else xy[:n_points], *packed)
