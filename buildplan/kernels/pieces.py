"""Spans gathered to connected pieces of a surface."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def _root(parent: NDArray[np.int64], item: int) -> int:
    """Representative of an item's group, halving the way to it."""
    while parent[item] != item:
        parent[item] = parent[parent[item]]
        item = parent[item]
    return item


@kernel
def _link(
    parent: NDArray[np.int64],
    layer: NDArray[np.int64],
    span: NDArray[np.float64],
    a_items: NDArray[np.int64],
    b_items: NDArray[np.int64],
    touch: float,
    layers_apart: int,
) -> None:
    """Join the groups of spans (each list sorted by start) that touch and lie close in height."""
    start = 0
    for a in a_items:
        low = span[2 * a] - touch
        high = span[2 * a + 1] + touch
        # a long span early in the list may still reach: step only over what ends before for good
        while start < len(b_items) and span[2 * b_items[start] + 1] < low:
            start += 1
        t = start
        while t < len(b_items) and span[2 * b_items[t]] <= high:
            b = b_items[t]
            t += 1
            if abs(layer[a] - layer[b]) > layers_apart or span[2 * b + 1] < low:
                continue
            ra = _root(parent, a)
            rb = _root(parent, b)
            if ra != rb:
                parent[max(ra, rb)] = min(ra, rb)


@kernel
def drop_small(
    line_off: NDArray[np.int64],
    span: NDArray[np.float64],
    row_layer: NDArray[np.int64],
    n_lines: int,
    pitch: float,
    least_area: float,
    layers_apart: int,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Take out the pieces of hanging surface whose plan area is too small.

    A leaning surface is one thin strip a layer, so a piece is gathered in the plan view over
    neighbouring layers: spans belong together when they lie on the same or on neighbouring lines,
    touch within one pitch, and are not more than ``layers_apart`` layers apart.

    Returns:
        Span table without the small pieces.
    """
    n_rows = len(row_layer)
    n = len(span) // 2
    layer = np.empty(n, np.int64)
    line_of = np.empty(n, np.int64)
    for row in range(n_rows):
        for line in range(n_lines):
            cell = row * n_lines + line
            for s in range(line_off[cell] // 2, line_off[cell + 1] // 2):
                layer[s] = row_layer[row]
                line_of[s] = line
    by_line = np.zeros(n_lines + 1, np.int64)
    for s in range(n):
        by_line[line_of[s] + 1] += 1
    for line in range(n_lines):
        by_line[line + 1] += by_line[line]
    place = by_line[:-1].copy()
    items = np.empty(n, np.int64)
    for s in range(n):
        items[place[line_of[s]]] = s
        place[line_of[s]] += 1
    for line in range(n_lines):
        own = items[by_line[line] : by_line[line + 1]]
        own[:] = own[np.argsort(span[2 * own], kind="mergesort")]
    parent = np.arange(n)
    for line in range(n_lines):
        own = items[by_line[line] : by_line[line + 1]]
        _link(parent, layer, span, own, own, pitch, layers_apart)
        if line + 1 < n_lines:
            above = items[by_line[line + 1] : by_line[line + 2]]
            _link(parent, layer, span, own, above, pitch, layers_apart)
    area = np.zeros(n)
    for s in range(n):
        area[_root(parent, s)] += (span[2 * s + 1] - span[2 * s]) * pitch
    out_off = np.zeros_like(line_off)
    out = np.empty_like(span)
    at = 0
    for cell in range(len(line_off) - 1):
        for s in range(line_off[cell] // 2, line_off[cell + 1] // 2):
            if area[_root(parent, s)] >= least_area:
                out[at] = span[2 * s]
                out[at + 1] = span[2 * s + 1]
                at += 2
        out_off[cell + 1] = at
    return out_off, out[:at].copy()
