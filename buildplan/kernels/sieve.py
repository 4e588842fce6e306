"""A quick sieve: which layers may hang free over the layer below.

Most layers of most parts do not; the exact and dearer work of `kernels.hanging` is for the rest.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.hanging import SLIVER_MM
from buildplan.kernels.jit import kernel


@kernel
def _free_across(
    cross: NDArray[np.float64],
    start: int,
    end: int,
    below_start: int,
    below_end: int,
    y: float,
    reach: float,
) -> bool:
    """Whether the uncovered span around y on a cross line goes beyond the reach of its ends."""
    for q in range(start, end - 1, 2):
        if not cross[q] <= y <= cross[q + 1]:
            continue
        low = cross[q]
        high = cross[q + 1]
        left = 0.0
        right = 0.0
        for t in range(below_start, below_end - 1, 2):
            if cross[t] <= y <= cross[t + 1]:
                return False
            if low <= cross[t + 1] < y:
                low = cross[t + 1]
                left = reach
            elif y < cross[t] <= high:
                high = cross[t]
                right = reach
                break
        free: bool = high - low > left + right + SLIVER_MM
        return free
    return True


@kernel
def _near_border(
    cross: NDArray[np.float64],
    start: int,
    end: int,
    low: float,
    high: float,
    far: float,
    pitch: float,
    reach: float,
) -> bool:
    """Whether a point past an end of a span lies within reach of the border to a next line's span.

    The border of the layer below runs straight from the end of its span low .. high, past which the
    point at far lies, to the same end of a span on the next line that overlaps it.
    """
    for t in range(start, end - 1, 2):
        if cross[t] >= high or cross[t + 1] <= low:
            continue
        if far > high:
            out = cross[t + 1] - high
            past = far - high
        else:
            out = low - cross[t]
            past = low - far
        square = out * out + pitch * pitch
        if out > 0.0 and past * out <= square and past * pitch <= reach * math.sqrt(square):
            return True
    return False


@kernel
def _held_at_border(
    off: NDArray[np.int64],
    cross: NDArray[np.float64],
    cell: int,
    line: int,
    n_lines: int,
    after: int,
    low: float,
    high: float,
    pitch: float,
    reach: float,
) -> bool:
    """Whether low .. high lies within reach of the border at a span of the layer below.

    The span before ``after`` counts where low is its grown end, the span at ``after`` where high
    is its grown start; ``cell`` is the line in the layer below.
    """
    for side in range(2):
        s = after - 2 + 2 * side
        if s < off[cell] or s + 1 >= off[cell + 1]:
            continue
        if side == 0 and low > cross[s + 1] + reach + SLIVER_MM:
            continue
        if side == 1 and high < cross[s] - reach - SLIVER_MM:
            continue
        far = low if side else high
        for turn in range(-1, 2, 2):
            if 0 <= line + turn < n_lines and _near_border(
                cross,
                off[cell + turn],
                off[cell + turn + 1],
                cross[s],
                cross[s + 1],
                far,
                pitch,
                reach,
            ):
                return True
    return False


@kernel
def hanging_rows(
    x_off: NDArray[np.int64],
    x_cross: NDArray[np.float64],
    row_layer: NDArray[np.int64],
    n_lines: int,
    first_line: int,
    y_off: NDArray[np.int64],
    y_cross: NDArray[np.float64],
    row_own: NDArray[np.int64],
    n_columns: int,
    last_column: int,
    pitch: float,
    reach: NDArray[np.float64],
) -> NDArray[np.uint8]:
    """Rows that may hang; a row given as 0 does not (a quick sieve, as fine as the grid).

    Three tests clear a piece of a span, each only where the one before did not: it lies within
    reach along x of a span of the layer below; it lies within reach of that layer's border between
    the end of such a span and the next line's; the lines along y that cross it find the layer below
    within reach along y. With n_columns = 0 the last test is left out.

    Args:
        x_off: (n_layers * n_lines + 1,) span table of the layers along x.
        x_cross: (n,).
        row_layer: (n_rows,) layer of a row.
        n_lines: Lines per layer.
        first_line: Index of line 0.
        y_off: (n_taken * n_columns + 1,) span table along y of some layers, as in
            `join_directions`.
        y_cross: (m,).
        row_own: (n_rows,) the row's layer in that table; the layer below stands right before it.
        n_columns: Lines along y per layer.
        last_column: As in `join_directions`.
        pitch: Distance of neighbouring lines.
        reach: (n_layers,) how far a layer may lean over the one below.

    Returns:
        (n_rows,) 1 where the row may hang.
    """
    n_rows = len(row_layer)
    hangs = np.zeros(n_rows, np.uint8)
    for row in range(n_rows):
        layer = row_layer[row]
        grow = reach[layer]
        top = row_own[row] * n_columns
        for line in range(n_lines):
            cell = layer * n_lines + line
            y = (first_line + line + 0.5) * pitch
            p = x_off[cell - n_lines]
            p_end = x_off[cell - n_lines + 1]
            for q in range(x_off[cell], x_off[cell + 1] - 1, 2):
                low = x_cross[q]
                high = x_cross[q + 1]
                while p + 1 < p_end and x_cross[p + 1] + grow < low:
                    p += 2
                t = p
                while low < high - SLIVER_MM and not hangs[row]:
                    # from low to the next grown span nothing holds along x
                    stop = high
                    if t + 1 < p_end:
                        stop = min(high, x_cross[t] - grow)
                    if stop > low + SLIVER_MM and not _held_at_border(
                        x_off, x_cross, cell - n_lines, line, n_lines, t, low, stop, pitch, grow
                    ):
                        from_ = math.ceil(low / pitch - 0.5)
                        to = math.floor(stop / pitch - 0.5)
                        if to < from_:
                            hangs[row] = 1
                        for index in range(from_, to + 1):
                            column = last_column - index
                            if column < 0 or column >= n_columns:
                                hangs[row] = 1
                                break
                            there = top + column
                            if _free_across(
                                y_cross,
                                y_off[there],
                                y_off[there + 1],
                                y_off[there - n_columns],
                                y_off[there - n_columns + 1],
                                y,
                                grow,
                            ):
                                hangs[row] = 1
                                break
                    if t + 1 >= p_end:
                        break
                    low = max(low, x_cross[t + 1] + grow)
                    t += 2
                if hangs[row]:
                    break
            if hangs[row]:
                break
    return hangs
