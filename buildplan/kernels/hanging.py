"""What hangs free over the layer below, in spans along parallel lines.

Span tables are as in `kernels.scan`. A *row* here is one layer that may hang (the hanging layers
are few); the layer below it stands in the tables of the "below" arguments. Lines along x carry the
answer; lines along y (turned by a quarter) tell what x lines cannot see: ledges that run along x,
and bridges that run along y.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.spans import intersect_spans, subtract_spans

SLIVER_MM = 1e-9
"""Spans shorter than this are rounding, not geometry."""


@kernel
def split_uncovered(
    line_off: NDArray[np.int64],
    cross: NDArray[np.float64],
    row_layer: NDArray[np.int64],
    held_off: NDArray[np.int64],
    held: NDArray[np.float64],
    n_lines: int,
    strip: float,
    bridge_limit: float,
) -> tuple[
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.uint8],
    NDArray[np.int64],
    NDArray[np.float64],
]:
    """Per line of every row: what the layer below leaves uncovered, and the free strips in it.

    Args:
        line_off: (n_layers * n_lines + 1,) span table of the layers.
        cross: (n,).
        row_layer: (n_rows,) index of the row's layer in that table; the layer below stands right
            before it.
        held_off: (n_rows * n_lines + 1,) span table of the layer below grown by what may lean.
        held: (n,).
        n_lines: Lines per row.
        strip: How far a free piece takes the uncovered span around it along.
        bridge_limit: Longest uncovered span between two anchors that holds by itself.

    Returns:
        Span table of the uncovered spans (offsets, spans), (n_spans,) 1 where such a span is
        anchored at both ends and short enough, span table of the free strips.
    """
    n_rows = len(row_layer)
    room = 0
    for row in range(n_rows):
        layer = row_layer[row]
        room += line_off[(layer + 1) * n_lines] - line_off[(layer - 1) * n_lines]
    open_off = np.zeros(n_rows * n_lines + 1, np.int64)
    open_span = np.empty(room + 2)
    anchored = np.zeros(room // 2 + 1, np.uint8)
    free_off = np.zeros(n_rows * n_lines + 1, np.int64)
    free_span = np.empty(room + len(held) + 2)
    piece = np.empty(room + len(held) + 2)
    at = 0
    free_at = 0
    for row in range(n_rows):
        top = row_layer[row] * n_lines
        for line in range(n_lines):
            cell = row * n_lines + line
            open_off[cell] = at
            free_off[cell] = free_at
            start = line_off[top + line]
            end = line_off[top + line + 1]
            if start == end:
                continue
            b_start = line_off[top - n_lines + line]
            b_end = line_off[top - n_lines + line + 1]
            first = at
            at = subtract_spans(cross, start, end, cross, b_start, b_end, open_span, at)
            h_start = held_off[cell]
            h_end = held_off[cell + 1]
            b = b_start
            for q in range(first, at, 2):
                low = open_span[q]
                high = open_span[q + 1]
                while b < b_end and cross[b] < low:
                    b += 1
                left = b < b_end and cross[b] == low
                right = False
                t = b
                while t < b_end and cross[t] <= high:
                    right = cross[t] == high
                    t += 1
                if left and right and high - low <= bridge_limit:
                    anchored[q // 2] = 1
                n = subtract_spans(open_span, q, q + 2, held, h_start, h_end, piece, 0)
                own = free_at
                for u in range(0, n, 2):
                    if piece[u + 1] - piece[u] < SLIVER_MM:
                        continue
                    from_ = max(low, piece[u] - strip)
                    to = min(high, piece[u + 1] + strip)
                    if free_at > own and from_ <= free_span[free_at - 1]:
                        free_span[free_at - 1] = to
                    else:
                        free_span[free_at] = from_
                        free_span[free_at + 1] = to
                        free_at += 2
    open_off[n_rows * n_lines] = at
    free_off[n_rows * n_lines] = free_at
    return (
        open_off,
        open_span[:at].copy(),
        anchored[: at // 2].copy(),
        free_off,
        free_span[:free_at].copy(),
    )


@kernel
def join_directions(
    x_open_off: NDArray[np.int64],
    x_open: NDArray[np.float64],
    x_anchored: NDArray[np.uint8],
    x_free_off: NDArray[np.int64],
    x_free: NDArray[np.float64],
    y_open_off: NDArray[np.int64],
    y_open: NDArray[np.float64],
    y_anchored: NDArray[np.uint8],
    y_free_off: NDArray[np.int64],
    y_free: NDArray[np.float64],
    n_rows: int,
    n_lines: int,
    first_line: int,
    n_columns: int,
    last_column: int,
    pitch: float,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Spans along x that hang: free along x or along y, and anchored along neither.

    The lines along y stand at x = (last_column - c + 0.5) * pitch for c = 0 .. n_columns - 1; each
    speaks for the cell of one pitch around it.

    Returns:
        (n_rows * n_lines + 1,) and (n,) span table of the hanging spans along x.
    """
    out_off = np.zeros(n_rows * n_lines + 1, np.int64)
    out = np.empty(4096)
    at = 0
    piece = np.empty(len(x_free) + 4)
    cell_span = np.empty(2)
    for row in range(n_rows):
        for line in range(n_lines):
            here = row * n_lines + line
            out_off[here] = at
            own = at
            y = (first_line + line + 0.5) * pitch
            for s in range(x_open_off[here], x_open_off[here + 1], 2):
                if x_anchored[s // 2]:
                    continue
                low = x_open[s]
                high = x_open[s + 1]
                for cell in range(math.floor(low / pitch), math.ceil(high / pitch)):
                    cell_span[0] = max(low, cell * pitch)
                    cell_span[1] = min(high, (cell + 1) * pitch)
                    if cell_span[1] <= cell_span[0]:
                        continue
                    column = last_column - cell
                    free = False
                    if 0 <= column < n_columns:
                        there = row * n_columns + column
                        held = False
                        for t in range(y_open_off[there], y_open_off[there + 1], 2):
                            if y_anchored[t // 2] and y_open[t] <= y <= y_open[t + 1]:
                                held = True
                                break
                        if held:
                            continue
                        for t in range(y_free_off[there], y_free_off[there + 1], 2):
                            if y_free[t] <= y <= y_free[t + 1]:
                                free = True
                                break
                    if free:
                        piece[0] = cell_span[0]
                        piece[1] = cell_span[1]
                        n = 2
                    else:
                        n = intersect_spans(
                            cell_span,
                            0,
                            2,
                            x_free,
                            x_free_off[here],
                            x_free_off[here + 1],
                            piece,
                            0,
                        )
                    if at + n > len(out):
                        longer = np.empty(2 * len(out) + n)
                        longer[:at] = out[:at]
                        out = longer
                    for u in range(0, n, 2):
                        if at > own and piece[u] <= out[at - 1]:
                            out[at - 1] = max(out[at - 1], piece[u + 1])
                        else:
                            out[at] = piece[u]
                            out[at + 1] = piece[u + 1]
                            at += 2
    out_off[n_rows * n_lines] = at
    return out_off, out[:at].copy()
