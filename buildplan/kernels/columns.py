"""Columns that grow down from what hangs, line by line."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.spans import intersect_spans, subtract_spans, unite_spans


@kernel
def grow_columns(
    hang_off: NDArray[np.int64],
    hang: NDArray[np.float64],
    part_off: NDArray[np.int64],
    part: NDArray[np.float64],
    block_off: NDArray[np.int64],
    block: NDArray[np.float64],
    n_layers: int,
    n_lines: int,
    line_from: int,
    line_to: int,
    gap_layers: int,
    face_layers: int,
    laid: NDArray[np.uint8],
    least_span: float,
    room: int,
) -> tuple[
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.uint8],
    NDArray[np.int64],
]:
    """Columns of the lines line_from .. line_to - 1, from the top layer down to the platform.

    On every line T_k = (T_{k+1} or H_{k+1+gap}) without P_k: what hangs in the layer above the gap
    joins, what the part takes is cut away. So columns end on the part where there is part below,
    and on the platform elsewhere. What stands there is S_k = T_k without B_k, the part grown by the
    clearance: under a leaning face a column begins where it has come away from the face.

    Args:
        hang_off: (n_layers * n_lines + 1,) span table of what hangs.
        hang: (n,).
        part_off: (n_layers * n_lines + 1,) span table of the part.
        part: (p,).
        block_off: (n_layers * n_lines + 1,) span table of the part grown by the clearance.
        block: (m,).
        n_layers: Layers.
        n_lines: Lines per layer.
        line_from: First line to grow.
        line_to: One past the last line to grow.
        gap_layers: Empty layers between a column and what it carries.
        face_layers: Layers at the top of a column that are laid full.
        laid: (n_lines,) 1 where a bead of the sparse part of a column runs.
        least_span: Shorter spans are not laid (they still count as space).
        room: Numbers that the spans of one line, summed over all layers, never exceed.

    Returns:
        (n_layers,) span length of the columns; of their full part; (n_layers,) length that ends on
        the part; (s, 2) spans of the beads; (s,) 1 for the full part; (s,) cell of a span, which is
        layer * n_lines + line.
    """
    length = np.zeros(n_layers)
    face_length = np.zeros(n_layers)
    landed = np.zeros(n_layers)
    spans = np.empty((1024, 2))
    full = np.empty(1024, np.uint8)
    cell_of = np.empty(1024, np.int64)
    made = 0
    reach = np.empty(room)
    alive = np.empty(room)
    other = np.empty(room)
    face = np.empty(room)
    spare = np.empty(room)
    hangs = np.zeros(n_layers, np.uint8)
    for layer in range(n_layers):
        if hang_off[(layer + 1) * n_lines] > hang_off[layer * n_lines]:
            hangs[layer] = 1
    for line in range(line_from, line_to):
        go = 0
        total = 0.0
        for layer in range(n_layers - 1, -1, -1):
            cell = layer * n_lines + line
            b_start = block_off[cell]
            b_end = block_off[cell + 1]
            p_start = part_off[cell]
            p_end = part_off[cell + 1]
            if go > 0 and p_end > p_start:
                go = subtract_spans(reach, 0, go, part, p_start, p_end, other, 0)
                reach, other = other, reach
                left = 0.0
                for q in range(0, go, 2):
                    left += reach[q + 1] - reach[q]
                landed[layer] += total - left
                total = left
            above = layer + 1 + gap_layers
            if above < n_layers and hangs[above]:
                h_start = hang_off[above * n_lines + line]
                h_end = hang_off[above * n_lines + line + 1]
                if h_end > h_start:
                    m = subtract_spans(hang, h_start, h_end, part, p_start, p_end, face, 0)
                    go = unite_spans(reach, 0, go, face, 0, m, other, 0)
                    reach, other = other, reach
                    total = 0.0
                    for q in range(0, go, 2):
                        total += reach[q + 1] - reach[q]
            if go == 0:
                continue
            n = subtract_spans(reach, 0, go, block, b_start, b_end, alive, 0)
            stands = 0.0
            for q in range(0, n, 2):
                stands += alive[q + 1] - alive[q]
            length[layer] += stands
            # the full part: what one of the next layers above the gap asks for
            m = 0
            for above in range(
                layer + 1 + gap_layers, min(layer + 1 + gap_layers + face_layers, n_layers)
            ):
                if not hangs[above]:
                    continue
                h_start = hang_off[above * n_lines + line]
                h_end = hang_off[above * n_lines + line + 1]
                if h_end > h_start:
                    m = unite_spans(face, 0, m, hang, h_start, h_end, spare, 0)
                    face, spare = spare, face
            if m > 0:
                m = intersect_spans(alive, 0, n, face, 0, m, spare, 0)
                face, spare = spare, face
                for q in range(0, m, 2):
                    face_length[layer] += face[q + 1] - face[q]
            r = 0
            if laid[line]:
                if m > 0:
                    r = subtract_spans(alive, 0, n, face, 0, m, other, 0)
                else:
                    r = n
                    other[:n] = alive[:n]
            if made + (r + m) // 2 > len(full):
                size = 2 * len(full) + r + m
                longer_spans = np.empty((size, 2))
                longer_spans[:made] = spans[:made]
                spans = longer_spans
                longer_full = np.empty(size, np.uint8)
                longer_full[:made] = full[:made]
                full = longer_full
                longer_cell = np.empty(size, np.int64)
                longer_cell[:made] = cell_of[:made]
                cell_of = longer_cell
            i = 0
            t = 0
            while i < r or t < m:
                if t >= m or (i < r and other[i] <= face[t]):
                    low = other[i]
                    high = other[i + 1]
                    kind = 0
                    i += 2
                else:
                    low = face[t]
                    high = face[t + 1]
                    kind = 1
                    t += 2
                if high - low >= least_span:
                    spans[made, 0] = low
                    spans[made, 1] = high
                    full[made] = kind
                    cell_of[made] = cell
                    made += 1
    return length, face_length, landed, spans[:made], full[:made], cell_of[:made]


@kernel
def sort_by_cell(
    spans: NDArray[np.float64],
    full: NDArray[np.uint8],
    cell_of: NDArray[np.int64],
    n_cells: int,
) -> tuple[NDArray[np.float64], NDArray[np.uint8], NDArray[np.int64]]:
    """Spans (s, 2) in the order of their cells, kept in order inside a cell, and cell offsets."""
    off = np.zeros(n_cells + 1, np.int64)
    for i in range(len(cell_of)):
        off[cell_of[i] + 1] += 1
    for cell in range(n_cells):
        off[cell + 1] += off[cell]
    place = off[:-1].copy()
    out = np.empty_like(spans)
    out_full = np.empty_like(full)
    for i in range(len(cell_of)):
        p = place[cell_of[i]]
        place[cell_of[i]] = p + 1
        out[p, 0] = spans[i, 0]
        out[p, 1] = spans[i, 1]
        out_full[p] = full[i]
    return out, out_full, off


@kernel
def find_landings(
    line_off: NDArray[np.int64],
    cross: NDArray[np.float64],
    n_lines: int,
    layer: NDArray[np.int64],
    line: NDArray[np.int64],
    x: NDArray[np.float64],
) -> NDArray[np.int64]:
    """The layer on which a straight column below each point lands, -1 for the platform.

    Args:
        line_off: (n_layers * n_lines + 1,) span table of the layers.
        cross: (n,).
        n_lines: Lines per layer.
        layer: (n_points,) layer of the point, which hangs.
        line: (n_points,) line of the point.
        x: (n_points,) place on the line.

    Returns:
        (n_points,).
    """
    landing = np.full(len(layer), -1, np.int64)
    for point in range(len(layer)):
        for below in range(layer[point] - 1, -1, -1):
            cell = below * n_lines + line[point]
            hit = False
            for q in range(line_off[cell], line_off[cell + 1] - 1, 2):
                if cross[q] <= x[point] < cross[q + 1]:
                    hit = True
                    break
            if hit:
                landing[point] = below
                break
    return landing
