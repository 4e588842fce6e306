"""Shut space of random boxes in boxes, against a flood over cells whose sides are the boxes' own.

The oracle knows nothing of meshes: all coordinates are sorted, every cell between neighbouring ones
is solid or empty as a whole, and empty cells are flooded layer by layer.
"""

import numpy as np
import pytest
import solids
from scipy import ndimage

from buildplan.checks.trapped.pockets import find_shut
from buildplan.checks.trapped.sections import cut_sections
from buildplan.part import part_from_mesh

SIDE = 30.0


def random_boxes(rng, count):
    """Boxes (count, 6) from corner to corner, some of which cut through the outer box."""
    low = rng.uniform(-4.0, SIDE - 4.0, (count, 3))
    return np.hstack([low, low + rng.uniform(2.0, 18.0, (count, 3))])


def cells_of(boxes):
    """Which cells are empty, and their sides, in a frame with a margin of empty cells around."""
    outer = np.array([[0.0] * 3, [SIDE] * 3])
    edges = []
    for axis in range(3):
        inner = np.clip(boxes[:, [axis, 3 + axis]].ravel(), 0.0, SIDE)
        edges.append(np.unique(np.concatenate([outer[:, axis], inner])))
    middle = [0.5 * (e[1:] + e[:-1]) for e in edges]
    x, y, z = np.meshgrid(*middle, indexing="ij")
    empty = np.zeros(x.shape, bool)
    for a in boxes:
        empty |= (x > a[0]) & (x < a[3]) & (y > a[1]) & (y < a[4]) & (z > a[2]) & (z < a[5])
    padded = np.pad(empty, ((1, 1), (1, 1), (0, 0)), constant_values=True)
    size = [np.diff(e) for e in edges]
    volume = size[0][:, None, None] * size[1][None, :, None] * size[2][None, None, :]
    return padded, np.pad(volume, ((1, 1), (1, 1), (0, 0)))


def shut_going(empty, volume, *, first_open):
    """Volume that has no way out through the layers up to its own, in order of the last axis."""
    total = 0.0
    for layer in range(empty.shape[2]):
        below = empty[:, :, : layer + 1]
        if first_open:
            below = np.concatenate([np.ones_like(below[:, :, :1]), below], axis=2)
        number, _ = ndimage.label(below)
        shut = below[:, :, -1] & (number[:, :, -1] != number[0, 0, -1])
        total += float(volume[:, :, layer][shut].sum())
    return total


def closed_volume(empty, volume):
    ends = np.ones_like(empty[:, :, :1])
    number, _ = ndimage.label(np.concatenate([ends, empty, ends], axis=2))
    own = number[:, :, 1:-1]
    return float(volume[empty & (own != number[0, 0, 0])].sum())


def compare(seed):
    rng = np.random.default_rng(seed)
    boxes = random_boxes(rng, int(rng.integers(2, 8)))
    solid = solids.box(SIDE, SIDE, SIDE)
    for a in boxes:
        solid -= solids.box(*(a[3:] - a[:3]), tuple(a[:3]))
    # only what stays in one piece of the full height compares with the flood over the outer box
    x0, y0, z0, x1, y1, z1 = solid.bounding_box()
    if (x0, y0, z0, x1, y1, z1) != (0.0, 0.0, 0.0, SIDE, SIDE, SIDE):
        return False
    part = part_from_mesh(*solids.arrays(solid), name=f"seed {seed}", health="quick")
    sections, _ = cut_sections(part)
    shut = find_shut(sections)
    empty, volume = cells_of(boxes)

    def held(chosen):
        return float(shut.volume_mm3[chosen].sum())

    close = {"rel": 1e-6, "abs": 0.05}
    expected = shut_going(empty, volume, first_open=False)
    assert held(shut.pulls) == pytest.approx(expected, **close)
    expected = shut_going(empty, volume, first_open=True)
    assert held(shut.pulls_raised) == pytest.approx(expected, **close)
    expected = shut_going(empty[:, :, ::-1], volume[:, :, ::-1], first_open=True)
    assert held(shut.pools) == pytest.approx(expected, **close)
    assert held(shut.closed) == pytest.approx(closed_volume(empty, volume), **close)
    return True


def test_shut_space_is_what_a_flood_cannot_reach():
    assert sum(compare(seed) for seed in range(30)) >= 20


@pytest.mark.slow
def test_shut_space_is_what_a_flood_cannot_reach_many_times():
    assert sum(compare(seed) for seed in range(30, 500)) >= 300


@pytest.mark.parametrize("seed", range(12))
def test_turning_moving_and_finer_facets_change_no_shut_volume(seed):
    rng = np.random.default_rng(1000 + seed)
    solid = solids.box(SIDE, SIDE, SIDE)
    for a in random_boxes(rng, 5):
        solid -= solids.box(*(a[3:] - a[:3]), tuple(a[:3]))
    found = []
    turned = solid.rotate((0.0, 0.0, float(rng.uniform(5.0, 85.0)))).translate((1e5, 0.0, 0.0))
    for same in (solid, turned, solid.refine(2)):
        part = part_from_mesh(*solids.arrays(same), name="part", health="quick")
        shut = find_shut(cut_sections(part)[0])
        found.append([shut.volume_mm3[c].sum() for c in (shut.closed, shut.pulls, shut.pools)])
    assert found[1] == pytest.approx(found[0], rel=1e-3, abs=0.05)
    assert found[2] == pytest.approx(found[0], rel=1e-6, abs=1e-6)
