"""How far a turned point cloud overhangs a box or a cylinder, for one or for many rotations."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline


@kernel_inline
def _circle_of_two(xy: NDArray[np.float64], i: int, j: int) -> tuple[float, float, float]:
    """Centre and squared radius of the circle over two points."""
    x = 0.5 * (xy[i, 0] + xy[j, 0])
    y = 0.5 * (xy[i, 1] + xy[j, 1])
    return x, y, (xy[i, 0] - x) ** 2 + (xy[i, 1] - y) ** 2


@kernel
def _circle_of_three(xy: NDArray[np.float64], i: int, j: int, k: int) -> tuple[float, float, float]:
    """Centre and squared radius of the circle through three points; radius inf on a line."""
    ax = xy[j, 0] - xy[i, 0]
    ay = xy[j, 1] - xy[i, 1]
    bx = xy[k, 0] - xy[i, 0]
    by = xy[k, 1] - xy[i, 1]
    twice = 2.0 * (ax * by - ay * bx)
    if twice == 0.0:
        return 0.0, 0.0, np.inf
    a2 = ax * ax + ay * ay
    b2 = bx * bx + by * by
    ux = (by * a2 - ay * b2) / twice
    uy = (ax * b2 - bx * a2) / twice
    return xy[i, 0] + ux, xy[i, 1] + uy, ux * ux + uy * uy


@kernel
def _least_circle_of_few(
    xy: NDArray[np.float64], few: NDArray[np.int64], n: int
) -> tuple[float, float, float, int, int, int]:
    """Smallest circle around at most four points, and the two or three of them on it (-1: none)."""
    best = np.inf
    best_x = 0.0
    best_y = 0.0
    on = (-1, -1, -1)
    for a in range(n):
        for b in range(a + 1, n):
            for c in range(b, n):
                if c == b:
                    x, y, r2 = _circle_of_two(xy, few[a], few[b])
                else:
                    x, y, r2 = _circle_of_three(xy, few[a], few[b], few[c])
                if r2 >= best:
                    continue
                holds = True
                for i in range(n):
                    d2 = (xy[few[i], 0] - x) ** 2 + (xy[few[i], 1] - y) ** 2
                    if d2 > r2 * (1.0 + 1e-12):
                        holds = False
                        break
                if holds:
                    best = r2
                    best_x = x
                    best_y = y
                    on = (few[a], few[b], few[c] if c != b else -1)
    return best_x, best_y, best, on[0], on[1], on[2]


@kernel
def least_circle(xy: NDArray[np.float64]) -> tuple[float, float, float]:
    """Centre and radius of the smallest circle around points (n, 2), n >= 2.

    The circle over the points that carry it so far is replaced by the smallest one around them and
    the farthest point outside; its radius grows with every step, so the search ends. The radius
    returned is the distance to the farthest point, hence never too small.
    """
    few = np.zeros(4, np.int64)
    far = 0
    for i in range(xy.shape[0]):
        if (xy[i, 0] - xy[0, 0]) ** 2 + (xy[i, 1] - xy[0, 1]) ** 2 > (
            xy[far, 0] - xy[0, 0]
        ) ** 2 + (xy[far, 1] - xy[0, 1]) ** 2:
            far = i
    few[1] = far
    n = 2
    x, y, r2 = _circle_of_two(xy, 0, far)
    farthest = r2
    for _ in range(200):
        far = -1
        farthest = r2 * (1.0 + 1e-12)
        for i in range(xy.shape[0]):
            d2 = (xy[i, 0] - x) ** 2 + (xy[i, 1] - y) ** 2
            if d2 > farthest:
                farthest = d2
                far = i
        if far < 0:
            break
        few[n] = far
        new_x, new_y, new_r2, a, b, c = _least_circle_of_few(xy, few, n + 1)
        if not new_r2 > r2 or new_r2 == np.inf:
            break
        x = new_x
        y = new_y
        r2 = new_r2
        few[0] = a
        few[1] = b
        few[2] = c
        n = 3 if c >= 0 else 2
    worst = 0.0
    for i in range(xy.shape[0]):
        worst = max(worst, (xy[i, 0] - x) ** 2 + (xy[i, 1] - y) ** 2)
    return x, y, math.sqrt(worst)


@kernel
def excess_turned(
    points: NDArray[np.float64], turn: NDArray[np.float64], room: NDArray[np.float64]
) -> float:
    """Overhang over the worst axis of points turned by a rotation; negative where they fit.

    Args:
        points: (n, 3).
        turn: (3, 3), new = turn @ old.
        room: (3,) width, depth, height; a negative depth marks a cylinder of that diameter.
    """
    n = points.shape[0]
    low = np.full(3, np.inf)
    high = np.full(3, -np.inf)
    is_round = room[1] < 0.0
    flat = np.empty((n if is_round else 0, 2), np.float64)
    for i in range(n):
        for a in range(3):
            v = turn[a, 0] * points[i, 0] + turn[a, 1] * points[i, 1] + turn[a, 2] * points[i, 2]
            low[a] = min(low[a], v)
            high[a] = max(high[a], v)
            if is_round and a < 2:
                flat[i, a] = v
    excess = high[2] - low[2] - room[2]
    if is_round:
        _, _, radius = least_circle(flat)
        return float(max(excess, 2.0 * radius - room[0]))
    wide = max(high[0] - low[0] - room[0], high[1] - low[1] - room[1])
    return float(max(excess, wide))


@kernel
def outermost_points(
    points: NDArray[np.float64], directions: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Number of the point (n, 3) that lies farthest along each direction (n_directions, 3)."""
    x_of = directions[:, 0].copy()
    y_of = directions[:, 1].copy()
    z_of = directions[:, 2].copy()
    farthest = np.full(x_of.shape[0], -np.inf)
    number = np.zeros(x_of.shape[0], np.int64)
    for i in range(points.shape[0]):
        x = points[i, 0]
        y = points[i, 1]
        z = points[i, 2]
        for j in range(x_of.shape[0]):
            reach = x * x_of[j] + y * y_of[j] + z * z_of[j]
            if reach > farthest[j]:
                farthest[j] = reach
                number[j] = i
    return number


@kernel
def search_rotations(
    points: NDArray[np.float64],
    up: NDArray[np.float64],
    cosines: NDArray[np.float64],
    sines: NDArray[np.float64],
    room: NDArray[np.float64],
    keep: int,
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Least overhang for many up directions over all in-plane angles of a grid.

    The width across angle j + half a turn of the grid is the depth of angle j, so the angles must
    cover half a turn evenly and be even in number. A direction whose height alone is worse than
    the best ``keep`` directions so far is given up at once, with that as its overhang.

    Args:
        points: (n, 3).
        up: (n_up, 3) unit vectors.
        cosines: (n_angles,) over [0, pi).
        sines: (n_angles,).
        room: (3,) as for excess_turned.
        keep: How many directions must be searched rightly.

    Returns:
        Overhang (n_up,), number of the best angle (n_up,), and the two unit vectors across each
        direction (n_up, 3), (n_up, 3) from which the angles are counted.
    """
    n = points.shape[0]
    n_up = up.shape[0]
    n_angles = cosines.shape[0]
    is_round = room[1] < 0.0
    excess = np.full(n_up, np.inf)
    angle = np.zeros(n_up, np.int64)
    across = np.empty((n_up, 3), np.float64)
    along = np.empty((n_up, 3), np.float64)
    best = np.full(keep, np.inf)
    flat = np.empty((n, 2), np.float64)
    low = np.empty(n_angles, np.float64)
    high = np.empty(n_angles, np.float64)
    for k in range(n_up):
        ux = up[k, 0]
        uy = up[k, 1]
        uz = up[k, 2]
        # any vector across: up x (the axis it leans least to)
        if abs(ux) < 0.9:
            ax, ay, az = 0.0, uz, -uy
        else:
            ax, ay, az = -uz, 0.0, ux
        scale = 1.0 / math.sqrt(ax * ax + ay * ay + az * az)
        ax *= scale
        ay *= scale
        az *= scale
        bx = uy * az - uz * ay
        by = uz * ax - ux * az
        bz = ux * ay - uy * ax
        across[k, 0], across[k, 1], across[k, 2] = ax, ay, az
        along[k, 0], along[k, 1], along[k, 2] = bx, by, bz
        bottom = np.inf
        top = -np.inf
        for i in range(n):
            z = points[i, 0] * ux + points[i, 1] * uy + points[i, 2] * uz
            bottom = min(bottom, z)
            top = max(top, z)
            flat[i, 0] = points[i, 0] * ax + points[i, 1] * ay + points[i, 2] * az
            flat[i, 1] = points[i, 0] * bx + points[i, 1] * by + points[i, 2] * bz
        too_tall = top - bottom - room[2]
        excess[k] = too_tall
        if too_tall >= best[keep - 1]:
            continue
        if is_round:
            _, _, radius = least_circle(flat)
            excess[k] = max(too_tall, 2.0 * radius - room[0])
        else:
            low[:] = np.inf
            high[:] = -np.inf
            for i in range(n):
                x = flat[i, 0]
                y = flat[i, 1]
                for j in range(n_angles):
                    v = x * cosines[j] + y * sines[j]
                    low[j] = min(low[j], v)
                    high[j] = max(high[j], v)
            least = np.inf
            for j in range(n_angles):
                turned = j + n_angles // 2
                if turned >= n_angles:
                    turned -= n_angles
                wide = max(high[j] - low[j] - room[0], high[turned] - low[turned] - room[1])
                if wide < least:
                    least = wide
                    angle[k] = j
            excess[k] = max(too_tall, least)
        if excess[k] < best[keep - 1]:
            i = keep - 1
            while i > 0 and best[i - 1] > excess[k]:
                best[i] = best[i - 1]
                i -= 1
            best[i] = excess[k]
    return excess, angle, across, along
