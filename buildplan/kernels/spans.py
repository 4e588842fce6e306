"""Sorted 1-D spans: intersect, subtract, unite; on one line, and on whole span tables.

Spans of a line are a slice of a flat array of pairs: from, to, from, to, ...; sorted, disjoint.
A span table (line_off, cross) is described in `kernels.scan`.
"""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def intersect_spans(
    a: NDArray[np.float64],
    a_start: int,
    a_end: int,
    b: NDArray[np.float64],
    b_start: int,
    b_end: int,
    out: NDArray[np.float64],
    start: int,
) -> int:
    """Write the spans of a[a_start:a_end] AND b[b_start:b_end] to out[start:]; give their end.

    `out` needs room for (a_end - a_start) + (b_end - b_start) numbers and is neither a nor b.
    """
    w = start
    i = a_start
    p = b_start
    while i + 1 < a_end and p + 1 < b_end:
        low = max(a[i], b[p])
        high = min(a[i + 1], b[p + 1])
        if high > low:
            out[w] = low
            out[w + 1] = high
            w += 2
        if a[i + 1] < b[p + 1]:
            i += 2
        else:
            p += 2
    return w


@kernel
def subtract_spans(
    a: NDArray[np.float64],
    a_start: int,
    a_end: int,
    b: NDArray[np.float64],
    b_start: int,
    b_end: int,
    out: NDArray[np.float64],
    start: int,
) -> int:
    """Write the spans of a[a_start:a_end] outside b[b_start:b_end] to out[start:]; give the end.

    `out` needs room for (a_end - a_start) + (b_end - b_start) numbers and is neither a nor b.
    """
    w = start
    p = b_start
    for i in range(a_start, a_end - 1, 2):
        low = a[i]
        high = a[i + 1]
        while p + 1 < b_end and b[p + 1] <= low:
            p += 2
        q = p
        while q + 1 < b_end and b[q] < high:
            if b[q] > low:
                out[w] = low
                out[w + 1] = b[q]
                w += 2
            low = max(low, b[q + 1])
            q += 2
        if high > low:
            out[w] = low
            out[w + 1] = high
            w += 2
    return w


@kernel
def unite_spans(
    a: NDArray[np.float64],
    a_start: int,
    a_end: int,
    b: NDArray[np.float64],
    b_start: int,
    b_end: int,
    out: NDArray[np.float64],
    start: int,
) -> int:
    """Write the spans of a[a_start:a_end] OR b[b_start:b_end] to out[start:]; give their end.

    `out` needs room for (a_end - a_start) + (b_end - b_start) numbers and is neither a nor b.
    """
    w = start
    i = a_start
    p = b_start
    while i + 1 < a_end or p + 1 < b_end:
        if p + 1 >= b_end or (i + 1 < a_end and a[i] <= b[p]):
            low = a[i]
            high = a[i + 1]
            i += 2
        else:
            low = b[p]
            high = b[p + 1]
            p += 2
        if w > start and low <= out[w - 1]:
            out[w - 1] = max(out[w - 1], high)
        else:
            out[w] = low
            out[w + 1] = high
            w += 2
    return w


@kernel
def intersect_tables(
    a_off: NDArray[np.int64],
    a: NDArray[np.float64],
    b_off: NDArray[np.int64],
    b: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Line by line a AND b of two span tables with the same lines, as a span table."""
    out = np.empty(len(a) + len(b), np.float64)
    off = np.zeros(len(a_off), np.int64)
    for i in range(len(a_off) - 1):
        off[i + 1] = intersect_spans(
            a, a_off[i], a_off[i + 1], b, b_off[i], b_off[i + 1], out, off[i]
        )
    return off, out[: off[-1]].copy()


@kernel
def subtract_tables(
    a_off: NDArray[np.int64],
    a: NDArray[np.float64],
    b_off: NDArray[np.int64],
    b: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Line by line a without b of two span tables with the same lines, as a span table."""
    out = np.empty(len(a) + len(b), np.float64)
    off = np.zeros(len(a_off), np.int64)
    for i in range(len(a_off) - 1):
        off[i + 1] = subtract_spans(
            a, a_off[i], a_off[i + 1], b, b_off[i], b_off[i + 1], out, off[i]
        )
    return off, out[: off[-1]].copy()


@kernel
def unite_tables(
    a_off: NDArray[np.int64],
    a: NDArray[np.float64],
    b_off: NDArray[np.int64],
    b: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Line by line a OR b of two span tables with the same lines, as a span table."""
    out = np.empty(len(a) + len(b), np.float64)
    off = np.zeros(len(a_off), np.int64)
    for i in range(len(a_off) - 1):
        off[i + 1] = unite_spans(a, a_off[i], a_off[i + 1], b, b_off[i], b_off[i + 1], out, off[i])
    return off, out[: off[-1]].copy()


@kernel
def group_lengths(
    line_off: NDArray[np.int64], cross: NDArray[np.float64], n_lines: int
) -> NDArray[np.float64]:
    """Total span length of every group (n_groups,) of a span table."""
    n_groups = (len(line_off) - 1) // n_lines if n_lines > 0 else 0
    total = np.zeros(n_groups, np.float64)
    for group in range(n_groups):
        length = 0.0
        for q in range(line_off[group * n_lines], line_off[(group + 1) * n_lines] - 1, 2):
            length += cross[q + 1] - cross[q]
        total[group] = length
    return total


@kernel
def split_lines(
    border_off: NDArray[np.int64],
    border: NDArray[np.float64],
    cover_off: NDArray[np.int64],
    cover: NDArray[np.float64],
    layers: NDArray[np.int64],
    n_layers: int,
    n_lines: int,
    below: int,
    above: int,
    least_mm: float,
    inner: bool,
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Part of the border's spans that neighbour layers cover on both sides, or the rest of it.

    Covered is what lies inside `cover` in each of the `below` layers under a layer and each of
    the `above` layers over it; past the first and the last layer nothing is covered.

    Args:
        border_off: Span table of what is to be filled, layer by layer.
        border: Its crossings.
        cover_off: Span table of the outlines along the same lines.
        cover: Its crossings.
        layers: The layers to split; the others stay empty.
        n_layers: Layers in both tables.
        n_lines: Lines per layer in both tables.
        below: Layers below that must cover.
        above: Layers above that must cover.
        least_mm: Spans no longer than this are left out.
        inner: True gives border AND covered (infill), False border without covered (floor, roof).

    Returns:
        span (n, 2), line (n,) and layer_off (n_layers + 1,) of the spans found.
    """
    layer_off = np.zeros(n_layers + 1, np.int64)
    out = np.empty(2 * len(border) + 64, np.float64)
    line_of = np.empty(len(out) // 2, np.int64)
    widest = 0
    for slot in range(len(cover_off) - 1):
        widest = max(widest, cover_off[slot + 1] - cover_off[slot])
    most = 0
    for slot in range(len(border_off) - 1):
        most = max(most, border_off[slot + 1] - border_off[slot])
    # two halves of one array take turns: what is held now, and what it is cut down to
    half = most + (below + above) * widest + 2
    work = np.empty(2 * half, np.float64)
    used = 0
    done = 0
    for index in range(len(layers)):
        layer = layers[index]
        while done < layer:
            done += 1
            layer_off[done] = used // 2
        closed_off = layer - below < 0 or layer + above >= n_layers
        for line in range(n_lines):
            start = border_off[layer * n_lines + line]
            end = border_off[layer * n_lines + line + 1]
            if end - start < 2:
                continue
            now = 0
            held = 0
            cut = closed_off
            if not closed_off:
                for q in range(start, end):
                    work[held] = border[q]
                    held += 1
                for step in range(-below, above + 1):
                    if step == 0:
                        continue
                    slot = (layer + step) * n_lines + line
                    # most often every span lies whole inside one of the neighbour's
                    p = cover_off[slot]
                    stop = cover_off[slot + 1] - 1
                    whole = True
                    for q in range(now, now + held, 2):
                        while p < stop and cover[p + 1] < work[q + 1]:
                            p += 2
                        if p >= stop or cover[p] > work[q]:
                            whole = False
                            break
                    if whole:
                        continue
                    cut = True
                    then = half - now
                    held = (
                        intersect_spans(
                            work,
                            now,
                            now + held,
                            cover,
                            cover_off[slot],
                            cover_off[slot + 1],
                            work,
                            then,
                        )
                        - then
                    )
                    now = then
                    if held == 0:
                        break
            if not inner and not cut:
                continue
            if used + held + end - start > len(out):
                larger = np.empty(2 * len(out) + held + end - start, np.float64)
                larger[:used] = out[:used]
                out = larger
                more = np.empty(len(out) // 2 + 1, np.int64)
                more[: used // 2] = line_of[: used // 2]
                line_of = more
            first = used
            if inner:
                for q in range(now, now + held):
                    out[used] = work[q]
                    used += 1
            else:
                used = subtract_spans(border, start, end, work, now, now + held, out, used)
            kept = first
            for q in range(first, used - 1, 2):
                if out[q + 1] - out[q] > least_mm:
                    out[kept] = out[q]
                    out[kept + 1] = out[q + 1]
                    line_of[kept // 2] = line
                    kept += 2
            used = kept
    while done < n_layers:
        done += 1
        layer_off[done] = used // 2
    return out[:used].copy().reshape(-1, 2), line_of[: used // 2].copy(), layer_off
