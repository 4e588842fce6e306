"""Paths made by hand for tests of motion: polylines, one a layer."""

import numpy as np
from rows import recipe as make_recipe

from buildplan.process.layers import Layers
from buildplan.process.paths.model import Paths
from buildplan.process.roles import ROLE_COUNT, Role

BEAD_MM = 0.45


def layers_by_hand(count, layer_mm=0.2, grade="exact", thickness_mm=None):
    """Layers without any rings: motion asks them only for their thickness."""
    thickness = np.full(count, layer_mm) if thickness_mm is None else np.array(thickness_mm)
    nothing = np.zeros(0)
    return Layers(
        key=f"by hand {count} {thickness.tolist()}",
        part_name="by hand",
        grade=grade,
        layer_mm=layer_mm,
        height_mm=float(thickness.sum()),
        volume_mm3=0.0,
        surface_mm2=0.0,
        origin_mm=(0.0, 0.0, 0.0),
        thickness_mm=thickness,
        z_mm=np.cumsum(thickness) - thickness / 2,
        xy_mm=np.zeros((0, 2)),
        ring_off=np.zeros(1, np.int64),
        island_off=np.zeros(1, np.int64),
        layer_off=np.zeros(count + 1, np.int64),
        ring_area_mm2=nothing,
        ring_box_mm=np.zeros((0, 4)),
        area_mm2=np.zeros(count),
        perimeter_mm=np.zeros(count),
        gap_mm=np.zeros(count),
        united=np.zeros(count, np.bool_),
    )


def paths_by_hand(lines, *, roles=None, retracts=None, beads=None, recipe=None, layers=None):
    """Paths with one polyline a layer.

    ``lines`` is a list of (n, 2) points; ``roles``, ``retracts`` and ``beads`` are lists of (n,)
    arrays or one value for all (of the move that ends at the point).
    """
    recipe = recipe if recipe is not None else make_recipe(layer_time_least_s=0.0)
    lines = [np.asarray(line, dtype=np.float64).reshape(-1, 2) for line in lines]
    lengths = [len(line) for line in lines]

    def spread(values, default, kind):
        if values is None:
            values = default
        if np.isscalar(values) or isinstance(values, Role):
            return np.full(sum(lengths), int(values) if kind == np.uint8 else values, kind)
        return np.concatenate([np.asarray(v, dtype=kind) for v in values])

    xy = np.concatenate(lines) if lines else np.zeros((0, 2))
    role = spread(roles, Role.INFILL, np.uint8)
    bead = spread(beads, BEAD_MM, np.float32)
    bead[role == Role.TRAVEL] = 0.0
    off = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    layers = layers if layers is not None else layers_by_hand(len(lines), recipe.layer_mm)
    volume = np.zeros((len(lines), ROLE_COUNT))
    for k, line in enumerate(lines):
        step = np.hypot(*np.diff(line, axis=0).T)
        for i, length in enumerate(step, start=off[k] + 1):
            volume[k, role[i]] += length * bead[i] * layers.thickness_mm[k]
    return Paths(
        key="by hand",
        layers=layers,
        recipe=recipe,
        x_mm=np.ascontiguousarray(xy[:, 0]),
        y_mm=np.ascontiguousarray(xy[:, 1]),
        role=role,
        retract=spread(retracts, 0, np.uint8),
        bead_mm=bead,
        point_off=off,
        volume_mm3=volume,
        slit_share=np.zeros(len(lines)),
        slit_advice=(),
        support_column_mm3=0.0,
        support_on_part_mm2=0.0,
        findings=(),
    )
