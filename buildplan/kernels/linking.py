"""Samples on a surface that belong together: near each other, on one facet, or opposite."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

NOT_OPPOSED = -0.5
"""Samples whose normals' product is below this are on opposite sides: only a contact joins them."""

ALIKE, STACKED = 0.7, 0.5
VERY_ALIKE, STACKED_CLOSE = 0.95, 0.2
"""Samples whose normals are alike lie one behind the other, on two walls, where the way from one to
the other runs along the normal by more than such a share; on a bent wall it is less than sin of
half the angle between them, 0.38 and 0.16."""

SPARSE = 3.0
"""Samples in a row on a narrow facet belong together up to so many mean distances."""

MOST_PAIRS = 4096
"""Pairs of samples on two neighbouring facets that are compared, at most."""


@kernel
def _root(parent: NDArray[np.int64], item: int) -> int:
    while parent[item] != item:
        parent[item] = parent[parent[item]]
        item = parent[item]
    return item


@kernel
def _join(parent: NDArray[np.int64], one: int, other: int) -> None:
    """Make two sets one; the lower number stays the root."""
    a = _root(parent, one)
    b = _root(parent, other)
    if a < b:
        parent[b] = a
    else:
        parent[a] = b


@kernel
def _normal_class(normals: NDArray[np.float64], f: int) -> int:
    """0 to 5: the axis, and the way along it, that a normal is closest to."""
    x = abs(normals[f, 0])
    y = abs(normals[f, 1])
    z = abs(normals[f, 2])
    if x >= y and x >= z:
        return 0 if normals[f, 0] >= 0.0 else 1
    if y >= z:
        return 2 if normals[f, 1] >= 0.0 else 3
    return 4 if normals[f, 2] >= 0.0 else 5


@kernel
def grid_groups(
    points: NDArray[np.float64],
    facet: NDArray[np.int64],
    normals: NDArray[np.float64],
    low: NDArray[np.float64],
    cell: float,
    counts: NDArray[np.int64],
) -> NDArray[np.int64]:
    """(k,) number of the grid cell and the normal's class of each sample.

    The number is ((ix * ny + iy) * nz + iz) * 6 + class, so that cells of a row follow each other.
    """
    code = np.empty(len(points), np.int64)
    for i in range(len(points)):
        ix = int((points[i, 0] - low[0]) / cell)
        iy = int((points[i, 1] - low[1]) / cell)
        iz = int((points[i, 2] - low[2]) / cell)
        code[i] = ((ix * counts[1] + iy) * counts[2] + iz) * 6 + _normal_class(normals, facet[i])
    return code


@kernel
def _belong(
    points: NDArray[np.float64],
    facet: NDArray[np.int64],
    normals: NDArray[np.float64],
    i: int,
    j: int,
    reach: float,
) -> bool:
    """Whether two samples are near each other on one side of one wall."""
    dx = points[i, 0] - points[j, 0]
    dy = points[i, 1] - points[j, 1]
    dz = points[i, 2] - points[j, 2]
    distance2 = dx * dx + dy * dy + dz * dz
    if distance2 > reach * reach:
        return False
    one = facet[i]
    other = facet[j]
    product = (
        normals[one, 0] * normals[other, 0]
        + normals[one, 1] * normals[other, 1]
        + normals[one, 2] * normals[other, 2]
    )
    if product <= ALIKE:
        beside: bool = product > NOT_OPPOSED
        return beside
    along = dx * normals[one, 0] + dy * normals[one, 1] + dz * normals[one, 2]
    most = STACKED_CLOSE if product > VERY_ALIKE else STACKED
    level: bool = along * along <= most * most * distance2
    return level


@kernel
def _join_groups(
    parent: NDArray[np.int64],
    points: NDArray[np.float64],
    facet: NDArray[np.int64],
    normals: NDArray[np.float64],
    order: NDArray[np.int64],
    group_off: NDArray[np.int64],
    one: int,
    other: int,
    reach: float,
) -> None:
    """Join each sample of one group with the first of another one that it belongs to."""
    for s in range(group_off[one], group_off[one + 1]):
        root = _root(parent, order[s])
        for t in range(group_off[other], group_off[other + 1]):
            if _root(parent, order[t]) == root:
                break
            if _belong(points, facet, normals, order[s], order[t], reach):
                _join(parent, order[s], order[t])
                break


@kernel
def join_near(
    parent: NDArray[np.int64],
    points: NDArray[np.float64],
    facet: NDArray[np.int64],
    normals: NDArray[np.float64],
    order: NDArray[np.int64],
    group_off: NDArray[np.int64],
    group_code: NDArray[np.int64],
    counts: NDArray[np.int64],
    reach: float,
) -> None:
    """Join samples closer than ``reach`` that are not on opposite sides.

    A cell's side is reach / sqrt(3), so all samples of one group are that close, and what is near
    one of them is at most two cells away.

    Args:
        parent: (k,) changed: the sets, each named by its lowest member.
        points: (k, 3).
        facet: (k,) row of ``normals`` of each sample.
        normals: (m, 3).
        order: (k,) samples by group.
        group_off: (g + 1,) samples of a group.
        group_code: (g,) ascending, of grid_groups.
        counts: (3,) cells along x, y, z.
        reach: Distance.
    """
    n_groups = len(group_code)
    depth = counts[2] * 6
    rows = counts[0] * counts[1]
    row_off = np.zeros(rows + 1, np.int64)
    for g in range(n_groups):
        row_off[group_code[g] // depth + 1] += 1
        for s in range(group_off[g] + 1, group_off[g + 1]):
            for t in range(s - 1, group_off[g] - 1, -1):
                if _belong(points, facet, normals, order[s], order[t], reach):
                    _join(parent, order[s], order[t])
                    break
    for row in range(rows):
        row_off[row + 1] += row_off[row]
    for row in range(rows):
        if row_off[row] == row_off[row + 1]:
            continue
        x = row // counts[1]
        y = row % counts[1]
        for dx in range(3):
            for dy in range(-2, 3):
                if (dx == 0 and dy < 0) or x + dx >= counts[0] or not 0 <= y + dy < counts[1]:
                    continue
                other_row = row + dx * counts[1] + dy
                start = row_off[other_row]
                for g in range(row_off[row], row_off[row + 1]):
                    level = (group_code[g] % depth) // 6
                    while (
                        start < row_off[other_row + 1]
                        and (group_code[start] % depth) // 6 < level - 2
                    ):
                        start += 1
                    h = max(start, g + 1)
                    while h < row_off[other_row + 1] and (group_code[h] % depth) // 6 <= level + 2:
                        _join_groups(parent, points, facet, normals, order, group_off, g, h, reach)
                        h += 1


@kernel
def _join_row(
    parent: NDArray[np.int64],
    points: NDArray[np.float64],
    corners: NDArray[np.float64],
    f: int,
    first: int,
    last: int,
    reach: float,
) -> None:
    """Join samples first to last - 1 of a narrow facet that follow each other closely."""
    best = -1.0
    begin = 0
    for corner in range(3):
        length = 0.0
        for axis in range(3):
            length += (corners[f, (corner + 1) % 3, axis] - corners[f, corner, axis]) ** 2
        if length > best:
            best = length
            begin = corner
    along = np.empty(last - first)
    for i in range(first, last):
        along[i - first] = 0.0
        for axis in range(3):
            step = corners[f, (begin + 1) % 3, axis] - corners[f, begin, axis]
            along[i - first] += (points[i, axis] - corners[f, begin, axis]) * step
    length = math.sqrt(best)
    placed = np.argsort(along)
    for s in range(1, len(placed)):
        if along[placed[s]] - along[placed[s - 1]] <= reach * length:
            _join(parent, first + placed[s - 1], first + placed[s])


@kernel
def join_on_facets(
    parent: NDArray[np.int64],
    points: NDArray[np.float64],
    corners: NDArray[np.float64],
    first: NDArray[np.int64],
    whole: NDArray[np.bool_],
    total: NDArray[np.int64],
    twin: NDArray[np.int32],
    pitch: float,
) -> None:
    """Join samples on one facet and on neighbouring facets.

    All samples of a facet that lies wholly in the set belong together, and so do two such
    neighbours. On a narrow facet, whose samples lie far apart in a row, those belong together that
    follow each other; so do the closest ones on two neighbours.

    Args:
        parent: (k,) changed.
        points: (k, 3), those of one facet follow each other.
        corners: (m, 3, 3).
        first: (m + 1,) samples of each facet.
        whole: (m,) facets of which every sample is there.
        total: (m,) samples that a facet has, chosen or not.
        twin: (3 m,) half-edge on the other side of each, -1 where none.
        pitch: Usual distance of samples.
    """
    count = len(whole)
    gap = np.empty(count)
    for f in range(count):
        length = 0.0
        for corner in range(3):
            edge = 0.0
            for axis in range(3):
                edge += (corners[f, (corner + 1) % 3, axis] - corners[f, corner, axis]) ** 2
            length = max(length, edge)
        gap[f] = math.sqrt(length) / total[f]
        if whole[f]:
            for i in range(first[f] + 1, first[f + 1]):
                _join(parent, first[f], i)
        elif gap[f] > pitch:
            _join_row(parent, points, corners, f, first[f], first[f + 1], SPARSE * gap[f])
    for half in range(3 * count):
        f = half // 3
        g = twin[half] // 3
        if twin[half] < 0 or g < f:
            continue
        if whole[f] and whole[g]:
            _join(parent, first[f], first[g])
            continue
        reach = SPARSE * max(gap[f], gap[g])
        pairs = (first[f + 1] - first[f]) * (first[g + 1] - first[g])
        if reach <= pitch or pairs > MOST_PAIRS:
            continue
        for i in range(first[f], first[f + 1]):
            for j in range(first[g], first[g + 1]):
                distance = 0.0
                for axis in range(3):
                    distance += (points[i, axis] - points[j, axis]) ** 2
                if distance <= reach * reach:
                    _join(parent, i, j)


@kernel
def join_opposed(
    parent: NDArray[np.int64],
    points: NDArray[np.float64],
    facet: NDArray[np.int64],
    contact: NDArray[np.int64],
    touched: NDArray[np.float64],
    normals: NDArray[np.float64],
    first: NDArray[np.int64],
    whole: NDArray[np.bool_],
    order: NDArray[np.int64],
    group_off: NDArray[np.int64],
    group_code: NDArray[np.int64],
    low: NDArray[np.float64],
    cell: float,
    counts: NDArray[np.int64],
) -> None:
    """Join each sample with those around the place that its ball touches on the other side.

    Args:
        parent: (k,) changed.
        points: (k, 3).
        facet: (k,).
        contact: (k,) facet touched, -1 where it has no sample in the set.
        touched: (k, 3) place touched.
        normals: (m, 3).
        first: (m + 1,) samples of each facet.
        whole: (m,) facets of which every sample is there.
        order: (k,) samples by group.
        group_off: (g + 1,) samples of a group.
        group_code: (g,) ascending, of grid_groups.
        low: (3,) corner of the grid.
        cell: Side of a cell.
        counts: (3,) cells along x, y, z.
    """
    depth = counts[2] * 6
    for i in range(len(points)):
        other = contact[i]
        if other < 0:
            continue
        if whole[other]:
            _join(parent, i, first[other])
            continue
        x = int((touched[i, 0] - low[0]) / cell)
        y = int((touched[i, 1] - low[1]) / cell)
        z = int((touched[i, 2] - low[2]) / cell)
        best = 3.0 * cell * cell
        chosen = -1
        for ix in range(max(0, x - 1), min(counts[0], x + 2)):
            for iy in range(max(0, y - 1), min(counts[1], y + 2)):
                row = (ix * counts[1] + iy) * depth
                begin = row + max(0, z - 1) * 6
                end = row + min(counts[2], z + 2) * 6
                g = np.searchsorted(group_code, begin)
                while g < len(group_code) and group_code[g] < end:
                    for s in range(group_off[g], group_off[g + 1]):
                        j = order[s]
                        distance = 0.0
                        product = 0.0
                        for axis in range(3):
                            distance += (points[j, axis] - touched[i, axis]) ** 2
                            product += normals[facet[i], axis] * normals[facet[j], axis]
                        if distance < best and product < NOT_OPPOSED:
                            best = distance
                            chosen = j
                    g += 1
        if chosen >= 0:
            _join(parent, i, chosen)


@kernel
def closest_points(
    corners: NDArray[np.float64],
    normals: NDArray[np.float64],
    facet: NDArray[np.int64],
    contact: NDArray[np.int64],
    points: NDArray[np.float64],
    width: NDArray[np.float64],
    side: float,
) -> NDArray[np.float64]:
    """(k, 3) where the ball of each sample meets the plane of the facet it touches, about."""
    touched = np.empty((len(points), 3))
    for i in range(len(points)):
        other = contact[i]
        if other < 0:
            touched[i] = points[i]
            continue
        height = 0.0
        for axis in range(3):
            touched[i, axis] = points[i, axis] + side * 0.5 * width[i] * normals[facet[i], axis]
            height += (touched[i, axis] - corners[other, 0, axis]) * normals[other, axis]
        for axis in range(3):
            touched[i, axis] -= height * normals[other, axis]
    return touched


@kernel
def name_sets(parent: NDArray[np.int64]) -> tuple[NDArray[np.int64], int]:
    """(k,) number 0, 1, ... of the set of each sample by its lowest member, and how many."""
    number = np.empty(len(parent), np.int64)
    sets = 0
    for i in range(len(parent)):
        root = _root(parent, i)
        if root == i:
            number[i] = sets
            sets += 1
        else:
            number[i] = number[root]
    return number, sets
