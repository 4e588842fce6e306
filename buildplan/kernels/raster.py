"""Drawing facets with a depth buffer: which facet is nearest at each pixel, and how near.

Coordinates are the caller's; it scales a part to about one unit across first. Pictures are indexed
(row from the top, column from the left); the centre of pixel (0, 0) lies at (0.5, 0.5). A point's
*nearness* is any number that is linear on the picture and grows toward the viewer: the negative
distance without perspective, one over the distance with it.

Source: scan conversion by edge functions (Pineda 1988), row by row.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def look_along(
    vertices: NDArray[np.float64],
    frame: NDArray[np.float64],
    size: int,
    points: NDArray[np.float64],
) -> tuple[float, float, float]:
    """Project vertices along a direction so that they fill a square picture.

    Args:
        vertices: (n, 3).
        frame: (3, 3) right, up, toward the viewer.
        size: Rows and columns of the picture; a margin of two pixels stays free.
        points: (n, 3) column, row and nearness, filled here.

    Returns:
        Pixels a unit, and the column and row that the origin falls on.
    """
    low_x, high_x, low_y, high_y = np.inf, -np.inf, np.inf, -np.inf
    for vertex in range(vertices.shape[0]):
        x, y, z = vertices[vertex]
        across = x * frame[0, 0] + y * frame[0, 1] + z * frame[0, 2]
        along = x * frame[1, 0] + y * frame[1, 1] + z * frame[1, 2]
        points[vertex, 0] = across
        points[vertex, 1] = along
        points[vertex, 2] = x * frame[2, 0] + y * frame[2, 1] + z * frame[2, 2]
        low_x, high_x = min(low_x, across), max(high_x, across)
        low_y, high_y = min(low_y, along), max(high_y, along)
    scale = (size - 4.0) / max(high_x - low_x, high_y - low_y, 1e-9)
    column = size / 2.0 - scale * (low_x + high_x) / 2.0
    row = size / 2.0 + scale * (low_y + high_y) / 2.0
    for vertex in range(vertices.shape[0]):
        points[vertex, 0] = column + scale * points[vertex, 0]
        points[vertex, 1] = row - scale * points[vertex, 1]
    return scale, column, row


@kernel
def draw_facets(
    points: NDArray[np.float64],
    facets: NDArray[np.int64],
    nearness: NDArray[np.float32],
    nearest: NDArray[np.int32],
) -> None:
    """Draw facets into ``nearness`` and ``nearest``, keeping the nearest one at each pixel.

    Args:
        points: (n, 3) column, row and nearness of every vertex.
        facets: (m, 3) indices into points.
        nearness: (rows, columns), filled with -inf before the first call; changed in place.
        nearest: (rows, columns) index of the facet, -1 where there is none; changed in place.
    """
    rows, columns = nearness.shape
    for facet in range(facets.shape[0]):
        x0, y0, n0 = points[facets[facet, 0]]
        x1, y1, n1 = points[facets[facet, 1]]
        x2, y2, n2 = points[facets[facet, 2]]
        twice_area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        if twice_area < 0.0:
            x1, y1, n1, x2, y2, n2 = x2, y2, n2, x1, y1, n1
            twice_area = -twice_area
        if twice_area < 1e-12:
            continue
        slope_x = ((n1 - n0) * (y2 - y0) - (n2 - n0) * (y1 - y0)) / twice_area
        slope_y = ((n2 - n0) * (x1 - x0) - (n1 - n0) * (x2 - x0)) / twice_area
        least, most = min(n0, n1, n2), max(n0, n1, n2)
        first_row = max(math.ceil(min(y0, y1, y2) - 0.5), 0)
        last_row = min(math.floor(max(y0, y1, y2) - 0.5), rows - 1)
        for row in range(first_row, last_row + 1):
            y = row + 0.5
            left, right = 0.0, float(columns)
            for side in range(3):
                if side == 0:
                    xa, ya, xb, yb = x0, y0, x1, y1
                elif side == 1:
                    xa, ya, xb, yb = x1, y1, x2, y2
                else:
                    xa, ya, xb, yb = x2, y2, x0, y0
                if ya > yb:
                    left = max(left, xa + (y - ya) * (xb - xa) / (yb - ya))
                elif ya < yb:
                    right = min(right, xa + (y - ya) * (xb - xa) / (yb - ya))
            first = max(math.ceil(left - 0.5 - 1e-7), 0)
            last = min(math.floor(right - 0.5 + 1e-7), columns - 1)
            value = n0 + slope_x * (first + 0.5 - x0) + slope_y * (y - y0)
            for column in range(first, last + 1):
                kept = np.float32(min(max(value, least), most))
                if kept > nearness[row, column]:
                    nearness[row, column] = kept
                    nearest[row, column] = facet
                value += slope_x


@kernel
def draw_slivers(
    points: NDArray[np.float64],
    facets: NDArray[np.int64],
    nearness: NDArray[np.float32],
    nearest: NDArray[np.int32],
) -> None:
    """Mark facets narrower than a pixel along their longest side, on empty pixels only.

    Without this a needle thinner than a pixel would vanish. Arguments as in ``draw_facets``.
    """
    rows, columns = nearness.shape
    for facet in range(facets.shape[0]):
        start, end, longest = 0, 0, -1.0
        for side in range(3):
            a, b = facets[facet, side], facets[facet, (side + 1) % 3]
            length = math.hypot(points[b, 0] - points[a, 0], points[b, 1] - points[a, 1])
            if length > longest:
                start, end, longest = a, b, length
        a, b, c = facets[facet, 0], facets[facet, 1], facets[facet, 2]
        twice_area = abs(
            (points[b, 0] - points[a, 0]) * (points[c, 1] - points[a, 1])
            - (points[c, 0] - points[a, 0]) * (points[b, 1] - points[a, 1])
        )
        if twice_area > longest and longest > 0.0:
            continue
        steps = math.ceil(longest) + 1
        for step in range(steps + 1):
            share = step / steps
            column = int(points[start, 0] + share * (points[end, 0] - points[start, 0]))
            row = int(points[start, 1] + share * (points[end, 1] - points[start, 1]))
            if 0 <= row < rows and 0 <= column < columns and nearest[row, column] < 0:
                value = points[start, 2] + share * (points[end, 2] - points[start, 2])
                nearness[row, column] = value
                nearest[row, column] = facet
