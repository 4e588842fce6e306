"""What a mesh would need in support and lie on, for many directions taken as "up"."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

TILE = 128
"""Axes that are worked on together, so that their sums stay in the nearest cache."""

FLAT_COS = 0.999
"""A facet lies on the platform only where its normal points down within 2.6 degrees."""


@kernel
def facet_table(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> NDArray[np.float64]:
    """Unit normal, area and middle of every facet, a row each.

    Args:
        vertices: (n, 3).
        facets: (m, 3) indices into ``vertices``, counter-clockwise seen from outside.

    Returns:
        (7, m): normal x, y, z, area, middle x, y, z; normal and area 0 where a facet has none.
    """
    table = np.zeros((7, len(facets)))
    for f in range(len(facets)):
        a = facets[f, 0]
        b = facets[f, 1]
        c = facets[f, 2]
        ux = vertices[b, 0] - vertices[a, 0]
        uy = vertices[b, 1] - vertices[a, 1]
        uz = vertices[b, 2] - vertices[a, 2]
        vx = vertices[c, 0] - vertices[a, 0]
        vy = vertices[c, 1] - vertices[a, 1]
        vz = vertices[c, 2] - vertices[a, 2]
        nx = uy * vz - uz * vy
        ny = uz * vx - ux * vz
        nz = ux * vy - uy * vx
        twice = np.sqrt(nx * nx + ny * ny + nz * nz)
        if twice > 0.0:
            table[0, f] = nx / twice
            table[1, f] = ny / twice
            table[2, f] = nz / twice
            table[3, f] = 0.5 * twice
        for axis in range(3):
            table[4 + axis, f] = (vertices[a, axis] + vertices[b, axis] + vertices[c, axis]) / 3.0
    return table


@kernel
def reach_along(
    vertices: NDArray[np.float64], axes: NDArray[np.float64], first: int, end: int
) -> NDArray[np.float64]:
    """Least and greatest v . d over all vertices, for the axes first .. end - 1.

    No hull is taken first: for a fine mesh the hull costs more than this pass.

    Args:
        vertices: (n, 3).
        axes: (k, 3).
        first: First axis.
        end: One past the last axis.

    Returns:
        (2, end - first): least, greatest.
    """
    reach = np.empty((2, end - first))
    reach[0, :] = np.inf
    reach[1, :] = -np.inf
    dx = np.zeros(TILE)
    dy = np.zeros(TILE)
    dz = np.zeros(TILE)
    low = np.empty(TILE)
    high = np.empty(TILE)
    for start in range(first, end, TILE):
        count = min(TILE, end - start)
        for k in range(count):
            dx[k] = axes[start + k, 0]
            dy[k] = axes[start + k, 1]
            dz[k] = axes[start + k, 2]
        low[:] = np.inf
        high[:] = -np.inf
        i = 0
        while i + 4 <= len(vertices):
            x0, y0, z0 = vertices[i, 0], vertices[i, 1], vertices[i, 2]
            x1, y1, z1 = vertices[i + 1, 0], vertices[i + 1, 1], vertices[i + 1, 2]
            x2, y2, z2 = vertices[i + 2, 0], vertices[i + 2, 1], vertices[i + 2, 2]
            x3, y3, z3 = vertices[i + 3, 0], vertices[i + 3, 1], vertices[i + 3, 2]
            for k in range(TILE):
                h0 = x0 * dx[k] + y0 * dy[k] + z0 * dz[k]
                h1 = x1 * dx[k] + y1 * dy[k] + z1 * dz[k]
                h2 = x2 * dx[k] + y2 * dy[k] + z2 * dz[k]
                h3 = x3 * dx[k] + y3 * dy[k] + z3 * dz[k]
                low01 = h0 if h0 < h1 else h1
                low23 = h2 if h2 < h3 else h3
                lowest = low01 if low01 < low23 else low23
                low[k] = lowest if lowest < low[k] else low[k]
                high01 = h0 if h0 > h1 else h1
                high23 = h2 if h2 > h3 else h3
                highest = high01 if high01 > high23 else high23
                high[k] = highest if highest > high[k] else high[k]
            i += 4
        while i < len(vertices):
            x0, y0, z0 = vertices[i, 0], vertices[i, 1], vertices[i, 2]
            for k in range(TILE):
                h0 = x0 * dx[k] + y0 * dy[k] + z0 * dz[k]
                low[k] = h0 if h0 < low[k] else low[k]
                high[k] = h0 if h0 > high[k] else high[k]
            i += 1
        for k in range(count):
            reach[0, start - first + k] = low[k]
            reach[1, start - first + k] = high[k]
    return reach


@kernel
def weigh_axes(
    table: NDArray[np.float64],
    axes: NDArray[np.float64],
    reach: NDArray[np.float64],
    first: int,
    end: int,
    limit: float,
    contact_height: float,
) -> NDArray[np.float64]:
    """Overhang, support columns, contact and plan area of the axes first .. end - 1, both ways up.

    With q = n . d and h = c . d - lowest, a facet with q < -limit hangs. Where it also faces down
    (q < -FLAT_COS) with its middle less than ``contact_height`` above the platform, it lies on the
    platform and needs nothing. Each of the others adds its area A to the overhang and A |q| h to
    the columns: h is exact for a flat facet, since its mean height is that of its middle. A column
    runs down to the platform whatever stands in between, so this is the most that is needed.

    The sums run over the facets in their order for every axis alike: the result depends neither on
    the split into slabs nor on the machine's vector length.

    Args:
        table: (7, m) of facet_table.
        axes: (k, 3) unit vectors; "up" is the axis and then its opposite.
        reach: (2, end - first) of reach_along.
        first: First axis.
        end: One past the last axis.
        limit: Sine of the lean from the vertical that holds.
        contact_height: Facets whose middle is lower than this lie on the platform.

    Returns:
        (7, end - first): overhang area, column volume, contact area with the axis up; the same
        three with the axis down; and the plan area sum(A |q|), which counts both sides.
    """
    sums = np.zeros((7, end - first))
    dx = np.zeros(TILE)
    dy = np.zeros(TILE)
    dz = np.zeros(TILE)
    low = np.zeros(TILE)
    high = np.zeros(TILE)
    hang_up = np.empty(TILE)
    column_up = np.empty(TILE)
    contact_up = np.empty(TILE)
    hang_down = np.empty(TILE)
    column_down = np.empty(TILE)
    contact_down = np.empty(TILE)
    plan = np.empty(TILE)
    for start in range(first, end, TILE):
        count = min(TILE, end - start)
        for k in range(count):
            dx[k] = axes[start + k, 0]
            dy[k] = axes[start + k, 1]
            dz[k] = axes[start + k, 2]
            low[k] = reach[0, start - first + k]
            high[k] = reach[1, start - first + k]
        hang_up[:] = 0.0
        column_up[:] = 0.0
        contact_up[:] = 0.0
        hang_down[:] = 0.0
        column_down[:] = 0.0
        contact_down[:] = 0.0
        plan[:] = 0.0
        for f in range(table.shape[1]):
            nx = table[0, f]
            ny = table[1, f]
            nz = table[2, f]
            area = table[3, f]
            cx = table[4, f]
            cy = table[5, f]
            cz = table[6, f]
            for k in range(TILE):
                q = nx * dx[k] + ny * dy[k] + nz * dz[k]
                height = cx * dx[k] + cy * dy[k] + cz * dz[k]
                above = height - low[k]
                below = high[k] - height
                seen = area * abs(q)
                plan[k] += seen
                lies = area if (q < -FLAT_COS) & (above < contact_height) else 0.0
                hangs = (q < -limit) & (lies == 0.0)
                contact_up[k] += lies
                hang_up[k] += area if hangs else 0.0
                column_up[k] += seen * above if hangs else 0.0
                lies = area if (q > FLAT_COS) & (below < contact_height) else 0.0
                hangs = (q > limit) & (lies == 0.0)
                contact_down[k] += lies
                hang_down[k] += area if hangs else 0.0
                column_down[k] += seen * below if hangs else 0.0
        for k in range(count):
            sums[0, start - first + k] = hang_up[k]
            sums[1, start - first + k] = column_up[k]
            sums[2, start - first + k] = contact_up[k]
            sums[3, start - first + k] = hang_down[k]
            sums[4, start - first + k] = column_down[k]
            sums[5, start - first + k] = contact_down[k]
            sums[6, start - first + k] = plan[k]
    return sums


@kernel
def list_hanging(
    table: NDArray[np.float64],
    up: NDArray[np.float64],
    lowest: float,
    limit: float,
    contact_height: float,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Facets that hang with one direction as "up", by the rule of weigh_axes.

    Args:
        table: (7, m) of facet_table.
        up: (3,) unit vector.
        lowest: Least v . up over all vertices.
        limit: As in weigh_axes.
        contact_height: As in weigh_axes.

    Returns:
        (n,) ascending facet numbers; (n,) how far each faces down, -q > limit.
    """
    numbers = np.empty(table.shape[1], np.int64)
    downward = np.empty(table.shape[1])
    found = 0
    for f in range(table.shape[1]):
        q = table[0, f] * up[0] + table[1, f] * up[1] + table[2, f] * up[2]
        if q >= -limit:
            continue
        if q < -FLAT_COS:
            height = table[4, f] * up[0] + table[5, f] * up[1] + table[6, f] * up[2]
            if height - lowest < contact_height:
                continue
        numbers[found] = f
        downward[found] = -q
        found += 1
    return numbers[:found].copy(), downward[:found].copy()
