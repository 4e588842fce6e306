"""Overlapping rings of a layer, found by a winding certificate and united by positive winding."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.process.layers.trace import Traced, Walk, run_slabs, trace_slab

LOST_FRAC, LOST_MM2 = 1e-9, 1e-9
"""Areas of the same rings summed in another order differ by less."""


def unite_overlaps(
    walk: Walk, traced: Traced, simplify_mm: float, workers: int, united: NDArray[np.bool_]
) -> Traced:
    """Rings with the overlaps of the layers that need it united; marks those layers in united.

    A layer is left alone when no two edges of its rings meet (other than neighbours), the solid is
    wound exactly once on the left of every ring, and no ring was so small that simplification
    took it: such a crumb may lie inside another ring. Otherwise it is traced again without
    simplification, and what is wound at least once becomes its section.

    Args:
        walk: The mesh and its planes.
        traced: Rings of every layer.
        simplify_mm: Simplification of the united rings.
        workers: Threads that look for overlaps.
        united: (n_layers,) written.
    """
    from buildplan.kernels.windings import find_overlaps

    n_layers = len(walk.planes)

    def run(begin: int, end: int) -> None:
        find_overlaps(
            traced.xy,
            traced.ring_begin,
            traced.ring_end,
            traced.ring_box,
            traced.slot_begin,
            traced.figures.ring_count,
            begin,
            end,
            united,
        )

    run_slabs(run, np.arange(n_layers + 1), workers)
    united |= _lost_rings(traced)
    layers = np.flatnonzero(united)
    if len(layers) == 0:
        return traced
    sections = [_positive_rings(walk, traced, k) for k in layers.tolist()]
    return _append(traced, layers, sections, simplify_mm)


def _lost_rings(traced: Traced) -> NDArray[np.bool_]:
    """Layers whose kept rings have another area than all that were traced, (n_layers,)."""
    counts = traced.figures.ring_count
    layer = np.repeat(np.arange(len(counts)), counts)
    first = np.repeat(traced.slot_begin - np.cumsum(counts) + counts, counts)
    kept = np.bincount(
        layer, weights=traced.ring_area[first + np.arange(len(layer))], minlength=len(counts)
    )
    area = traced.figures.area
    lost: NDArray[np.bool_] = np.abs(kept - area) > LOST_FRAC * np.abs(area) + LOST_MM2
    return lost


def _positive_rings(walk: Walk, traced: Traced, layer: int) -> list[NDArray[np.float64]]:
    """Rings around what a layer's unsimplified rings wind at least once."""
    from manifold3d import CrossSection, FillRule

    room = int(walk.point_off[layer + 1] - walk.point_off[layer])
    xy = np.empty((room, 2))
    begins, ends, _, _ = trace_slab(walk, traced.figures, layer, layer + 1, 0.0, xy, 0)
    if len(begins) == 0:
        return []
    rings = [xy[begin:end] for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)]
    section = CrossSection(rings, FillRule.Positive)
    return [np.asarray(ring, dtype=np.float64) for ring in section.to_polygons()]


def _append(
    traced: Traced,
    layers: NDArray[np.int64],
    sections: list[list[NDArray[np.float64]]],
    simplify_mm: float,
) -> Traced:
    """Rings in new slots behind the old ones for some layers."""
    from buildplan.kernels.rings import keep_ring, measure_ring

    n_points = sum(len(ring) for rings in sections for ring in rings)
    n_slots = sum(len(rings) for rings in sections)
    xy = np.concatenate([traced.xy, np.empty((n_points, 2))])
    ring_begin = np.concatenate([traced.ring_begin, np.zeros(n_slots, np.int64)])
    ring_end = np.concatenate([traced.ring_end, np.zeros(n_slots, np.int64)])
    ring_area = np.concatenate([traced.ring_area, np.zeros(n_slots)])
    ring_box = np.concatenate([traced.ring_box, np.zeros((n_slots, 4))])
    slot_begin = traced.slot_begin.copy()
    figures = traced.figures
    write = len(traced.xy)
    slot = len(traced.ring_begin)
    for k, rings in zip(layers.tolist(), sections, strict=True):
        slot_begin[k] = slot
        figures.area[k] = 0.0
        figures.perimeter[k] = 0.0
        for ring in rings:
            end = write + len(ring)
            xy[write:end] = ring
            area, length = measure_ring(xy, write, end)
            write, kept = keep_ring(
                xy, write, end, simplify_mm, area, slot, ring_begin, ring_end, ring_area, ring_box
            )
            slot += kept
            figures.area[k] += area
            figures.perimeter[k] += length
        figures.ring_count[k] = slot - slot_begin[k]
    return replace(
        traced,
        xy=xy,
        ring_begin=ring_begin,
        ring_end=ring_end,
        ring_area=ring_area,
        ring_box=ring_box,
        slot_begin=slot_begin,
    )
