"""Shading a picture from its depth buffer: smooth normals, soft light with shadows, lines, colour.

Coordinates and pictures as in ``raster``.

Source: light from many directions, each with its own shadow map (Williams 1978), added up.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

FAN_LIMIT = 64  # a vertex with more facets than this keeps flat normals (time grows with square)


@kernel
def corner_normals(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], least_cosine: float
) -> NDArray[np.float32]:
    """Normals (m, 3, 3) of every facet's corners, smooth over edges that turn less than a limit.

    A corner's normal is the sum, weighted by area, of the facets around its vertex whose normal
    turns by less than the limit from the facet's own.
    """
    count = facets.shape[0]
    area_normal = np.zeros((count, 3))
    unit = np.zeros((count, 3))
    start = np.zeros(vertices.shape[0] + 1, dtype=np.int64)
    for facet in range(count):
        a, b, c = facets[facet, 0], facets[facet, 1], facets[facet, 2]
        ux, uy, uz = vertices[b] - vertices[a]
        vx, vy, vz = vertices[c] - vertices[a]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        length = math.sqrt(nx * nx + ny * ny + nz * nz)
        area_normal[facet] = nx, ny, nz
        if length > 0.0:
            unit[facet] = nx / length, ny / length, nz / length
        for corner in range(3):
            start[facets[facet, corner] + 1] += 1
    for vertex in range(vertices.shape[0]):
        start[vertex + 1] += start[vertex]
    around = np.empty(3 * count, dtype=np.int64)
    filled = start[:-1].copy()
    for facet in range(count):
        for corner in range(3):
            vertex = facets[facet, corner]
            around[filled[vertex]] = facet
            filled[vertex] += 1
    normals = np.empty((count, 3, 3), dtype=np.float32)
    for facet in range(count):
        ux, uy, uz = unit[facet]
        for corner in range(3):
            vertex = facets[facet, corner]
            sx, sy, sz = 0.0, 0.0, 0.0
            if start[vertex + 1] - start[vertex] <= FAN_LIMIT:
                for at in range(start[vertex], start[vertex + 1]):
                    other = around[at]
                    turn = ux * unit[other, 0] + uy * unit[other, 1] + uz * unit[other, 2]
                    if turn >= least_cosine:
                        sx += area_normal[other, 0]
                        sy += area_normal[other, 1]
                        sz += area_normal[other, 2]
            length = math.sqrt(sx * sx + sy * sy + sz * sz)
            if length > 0.0:
                normals[facet, corner] = sx / length, sy / length, sz / length
            else:
                normals[facet, corner] = ux, uy, uz
    return normals


@kernel_inline
def ground_distance(x: float, y: float, ground: NDArray[np.float64]) -> float:
    """Distance from the part's bounds seen from above, as a share of the shadow's reach."""
    beside = max(ground[1] - x, x - ground[3], 0.0)
    before = max(ground[2] - y, y - ground[4], 0.0)
    distance: float = math.hypot(beside, before) / ground[5]
    return distance


@kernel
def surface_points(
    nearness: NDArray[np.float32],
    nearest: NDArray[np.int32],
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    normals: NDArray[np.float32],
    frame: NDArray[np.float64],
    lens: NDArray[np.float64],
    ground: NDArray[np.float64],
    place: NDArray[np.float32],
    facing: NDArray[np.float32],
) -> None:
    """Find the point and the normal seen at every pixel, on a facet or on the ground.

    From below the ground is not seen.

    Args:
        nearness: (rows, columns) one over the distance along the view.
        nearest: (rows, columns) facet seen; pixels that see the ground become -2.
        vertices: (n, 3).
        facets: (m, 3).
        normals: (m, 3, 3) of the facets' corners.
        frame: (4, 3) right, up, toward the viewer, and the eye's place.
        lens: (3,) pixels a unit at distance 1, column and row of the axis.
        ground: (6,) its height, the part's bounds (x0, y0, x1, y1), how far its shadow reaches.
        place: (rows, columns, 3), filled here.
        facing: (rows, columns, 3) normals turned toward the viewer, filled here.
    """
    rows, columns = nearness.shape
    for row in range(rows):
        for column in range(columns):
            across = (column + 0.5 - lens[1]) / lens[0]
            along = -(row + 0.5 - lens[2]) / lens[0]
            rx = across * frame[0, 0] + along * frame[1, 0] - frame[2, 0]
            ry = across * frame[0, 1] + along * frame[1, 1] - frame[2, 1]
            rz = across * frame[0, 2] + along * frame[1, 2] - frame[2, 2]
            facet = nearest[row, column]
            if facet < 0:
                distance = (ground[0] - frame[3, 2]) / rz if rz != 0.0 else -1.0
                x, y = frame[3, 0] + distance * rx, frame[3, 1] + distance * ry
                below = frame[3, 2] <= ground[0]
                if below or distance <= 0.0 or ground_distance(x, y, ground) >= 1.0:
                    continue
                nearest[row, column] = -2
                facing[row, column, 2] = 1.0
            else:
                distance = 1.0 / nearness[row, column]
            px = frame[3, 0] + distance * rx
            py = frame[3, 1] + distance * ry
            pz = frame[3, 2] + distance * rz
            place[row, column] = px, py, pz
            if facet < 0:
                continue
            a, b, c = facets[facet, 0], facets[facet, 1], facets[facet, 2]
            ux, uy, uz = vertices[b] - vertices[a]
            vx, vy, vz = vertices[c] - vertices[a]
            wx, wy, wz = px - vertices[a, 0], py - vertices[a, 1], pz - vertices[a, 2]
            uu, uv = ux * ux + uy * uy + uz * uz, ux * vx + uy * vy + uz * vz
            vv = vx * vx + vy * vy + vz * vz
            wu, wv = wx * ux + wy * uy + wz * uz, wx * vx + wy * vy + wz * vz
            whole = uu * vv - uv * uv
            share_b, share_c = 0.0, 0.0
            if whole > 0.0:
                share_b = min(max((vv * wu - uv * wv) / whole, 0.0), 1.0)
                share_c = min(max((uu * wv - uv * wu) / whole, 0.0), 1.0 - share_b)
            share_a = 1.0 - share_b - share_c
            nx = share_a * normals[facet, 0, 0]
            nx += share_b * normals[facet, 1, 0] + share_c * normals[facet, 2, 0]
            ny = share_a * normals[facet, 0, 1]
            ny += share_b * normals[facet, 1, 1] + share_c * normals[facet, 2, 1]
            nz = share_a * normals[facet, 0, 2]
            nz += share_b * normals[facet, 1, 2] + share_c * normals[facet, 2, 2]
            length = math.sqrt(nx * nx + ny * ny + nz * nz)
            if length == 0.0:
                nx, ny, nz, length = -rx, -ry, -rz, math.sqrt(rx * rx + ry * ry + rz * rz)
            if nx * rx + ny * ry + nz * rz > 0.0:
                length = -length
            facing[row, column] = nx / length, ny / length, nz / length


@kernel
def add_light(
    nearest: NDArray[np.int32],
    place: NDArray[np.float32],
    facing: NDArray[np.float32],
    shadow: NDArray[np.float32],
    frame: NDArray[np.float64],
    lens: NDArray[np.float64],
    strength: float,
    phase: int,
    light: NDArray[np.float32],
    open_light: NDArray[np.float32],
) -> None:
    """Add one direction's light to a quarter of the pixels, less where its shadow map says so.

    Of every two by two pixels one takes part (``phase`` 0..3): four directions in turn serve the
    four, and their mean sees them all.

    Args:
        nearest: (rows, columns) facet, -2 for the ground, -1 for nothing.
        place: (rows, columns, 3).
        facing: (rows, columns, 3).
        shadow: (size, size) nearness to the light of the facet nearest to it.
        frame: (3, 3) right, up, toward the light.
        lens: (4,) pixels of the map a unit, its middle column and row, the offset that keeps a
            facet from shadowing itself.
        strength: Of this direction.
        phase: Which of every four pixels.
        light: (rows, columns) light that arrives; changed in place.
        open_light: (rows, columns) the same without shadows; changed in place.
    """
    rows, columns = nearest.shape
    size = shadow.shape[0]
    for row in range(phase // 2, rows, 2):
        for column in range(phase % 2, columns, 2):
            if nearest[row, column] == -1:
                continue
            nx, ny, nz = facing[row, column]
            tilt = nx * frame[2, 0] + ny * frame[2, 1] + nz * frame[2, 2]
            if tilt <= 0.0:
                continue
            full = strength * tilt
            open_light[row, column] += full
            x = place[row, column, 0] + lens[3] * nx
            y = place[row, column, 1] + lens[3] * ny
            z = place[row, column, 2] + lens[3] * nz
            u = lens[1] + lens[0] * (x * frame[0, 0] + y * frame[0, 1] + z * frame[0, 2]) - 0.5
            v = lens[2] - lens[0] * (x * frame[1, 0] + y * frame[1, 1] + z * frame[1, 2]) - 0.5
            if u < 0.0 or v < 0.0 or u >= size - 1 or v >= size - 1:
                light[row, column] += full
                continue
            near = x * frame[2, 0] + y * frame[2, 1] + z * frame[2, 2]
            i, k = int(v), int(u)
            fi, fk = v - i, u - k
            seen = 0.0
            if shadow[i, k] <= near:
                seen += (1.0 - fi) * (1.0 - fk)
            if shadow[i, k + 1] <= near:
                seen += (1.0 - fi) * fk
            if shadow[i + 1, k] <= near:
                seen += fi * (1.0 - fk)
            if shadow[i + 1, k + 1] <= near:
                seen += fi * fk
            light[row, column] += full * seen


@kernel
def edge_lines(
    nearest: NDArray[np.int32],
    place: NDArray[np.float32],
    facing: NDArray[np.float32],
    pixel: float,
) -> NDArray[np.float32]:
    """Strength (rows, columns) of the dark line at creases, steps and the outline, 0..1.

    Two neighbours are parted by a crease where their normals turn, and by a step where each lies
    well off the other's plane. ``pixel`` is the width that one pixel shows.
    """
    rows, columns = nearest.shape
    lines = np.zeros((rows, columns), dtype=np.float32)
    for row in range(rows - 1):
        for column in range(columns - 1):
            here = nearest[row, column]
            for way in range(2):
                other_row, other_column = row + way, column + 1 - way
                there = nearest[other_row, other_column]
                if here < 0 and there < 0:
                    continue
                strength = 0.0
                if here < 0 or there < 0:
                    strength = 0.8
                else:
                    n, m = facing[row, column], facing[other_row, other_column]
                    step = place[other_row, other_column] - place[row, column]
                    turn = 1.0 - (n[0] * m[0] + n[1] * m[1] + n[2] * m[2])
                    strength = min(max((turn - 0.08) * 1.6, 0.0), 0.55)
                    off = abs(n[0] * step[0] + n[1] * step[1] + n[2] * step[2])
                    back = abs(m[0] * step[0] + m[1] * step[1] + m[2] * step[2])
                    if min(off, back) > 2.5 * pixel:
                        strength = max(strength, 0.75)
                if here >= 0:
                    lines[row, column] = max(lines[row, column], strength)
                if there >= 0:
                    lines[other_row, other_column] = max(lines[other_row, other_column], strength)
    return lines


@kernel
def compose(
    nearest: NDArray[np.int32],
    place: NDArray[np.float32],
    facing: NDArray[np.float32],
    light: NDArray[np.float32],
    open_light: NDArray[np.float32],
    lines: NDArray[np.float32],
    palette: NDArray[np.float64],
    paint: NDArray[np.uint8],
    toward: NDArray[np.float64],
    full_light: float,
    ground: NDArray[np.float64],
) -> NDArray[np.uint8]:
    """Picture (rows / 2, columns / 2, 4) of straight red, green, blue and alpha in sRGB.

    Every two by two pixels make one. The ground shows as a soft shadow only: dark, with the alpha
    of the light that is missing, fading out with distance and toward the border.

    Args:
        nearest: (rows, columns).
        place: (rows, columns, 3).
        facing: (rows, columns, 3).
        light: (rows, columns).
        open_light: (rows, columns).
        lines: (rows, columns).
        palette: (k, 3) colours, linear, 0..1.
        paint: (m,) place in the palette of every facet.
        toward: (3,) unit vector toward the viewer.
        full_light: Light on a surface that squarely faces the brightest part of the sky.
        ground: (6,) as in ``surface_points``.
    """
    rows, columns = nearest.shape
    picture = np.zeros((rows // 2, columns // 2, 4), dtype=np.uint8)
    border = 0.09 * min(rows, columns)
    for row in range(rows // 2):
        for column in range(columns // 2):
            red, green, blue, alpha = 0.0, 0.0, 0.0, 0.0
            open_ground, lit_ground, grounds, away = 0.0, 0.0, 0, 0.0
            for part in range(4):
                i, k = 2 * row + part // 2, 2 * column + part % 2
                facet = nearest[i, k]
                if facet == -1:
                    continue
                if facet == -2:
                    open_ground += open_light[i, k]
                    lit_ground += light[i, k]
                    grounds += 1
                    away = ground_distance(place[i, k, 0], place[i, k, 1], ground)
                    continue
                nz = facing[i, k, 2]
                front = facing[i, k, 0] * toward[0] + facing[i, k, 1] * toward[1] + nz * toward[2]
                sky = light[i, k] / full_light
                bounce = 0.05 + 0.05 * (1.0 - nz) + 0.08 * max(front, 0.0)
                shade = (1.12 * sky + bounce) * (1.0 - 0.62 * lines[i, k])
                warm = 0.5 + 0.5 * min(sky, 1.0)
                dye = paint[facet]
                red += palette[dye, 0] * shade * (0.975 + 0.03 * warm)
                green += palette[dye, 1] * shade
                blue += palette[dye, 2] * shade * (1.035 - 0.045 * warm)
                alpha += 1.0
            if grounds > 0 and open_ground > 0.0:
                missing = 1.0 - lit_ground / open_ground
                edge = min(2 * row, rows - 2 - 2 * row, 2 * column, columns - 2 - 2 * column)
                fade = min(edge / border, 1.0)
                fade = fade * fade * (3.0 - 2.0 * fade) * (1.0 - away * away) ** 2
                dark = 0.80 * max(missing, 0.0) ** 1.5 * fade * grounds
                alpha += dark
                red += 0.006 * dark
                green += 0.006 * dark
                blue += 0.008 * dark
            if alpha < 0.004:
                continue
            for channel in range(3):
                value = (red, green, blue)[channel] / alpha
                if value > 0.75:
                    value = 1.0 - 0.25 * math.exp(-(value - 0.75) / 0.25)
                if value <= 0.0031308:
                    value = 12.92 * value
                else:
                    value = 1.055 * value ** (1.0 / 2.4) - 0.055
                picture[row, column, channel] = int(255.0 * min(max(value, 0.0), 1.0) + 0.5)
            picture[row, column, 3] = int(255.0 * min(alpha / 4.0, 1.0) + 0.5)
    return picture
