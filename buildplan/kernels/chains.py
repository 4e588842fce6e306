"""Spans of neighbouring lines joined into chains that are laid to and fro without a break."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

WAVE_STEPS = 32
"""Points laid per wave length."""


@kernel
def chain_spans(
    span: NDArray[np.float64],
    line: NDArray[np.int64],
    layer_off: NDArray[np.int64],
    widest_step: int,
) -> tuple[
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.int64],
]:
    """Link spans one to one with an overlapping span of the next line, layer by layer.

    Args:
        span: (n, 2) from and to along the lines, sorted by layer, line and place.
        line: (n,) index of the span's line.
        layer_off: (n_layers + 1,) spans of a layer.
        widest_step: Lines at most this far apart are neighbours.

    Returns:
        next_span (n,) index of the next span in the chain or -1; head and tail (n_chains,) first
        and last span of a chain; chain_off (n_layers + 1,) chains of a layer.
    """
    n = len(span)
    n_layers = len(layer_off) - 1
    next_span = np.full(n, -1, np.int64)
    linked = np.zeros(n, np.uint8)
    head = np.empty(n, np.int64)
    tail = np.empty(n, np.int64)
    chain_off = np.zeros(n_layers + 1, np.int64)
    chains = 0
    for layer in range(n_layers):
        end = layer_off[layer + 1]
        before = layer_off[layer]
        before_end = before
        q = before
        while q < end:
            line_end = q
            while line_end < end and line[line_end] == line[q]:
                line_end += 1
            if before_end > before and line[q] - line[before] <= widest_step:
                p = before
                for s in range(q, line_end):
                    while p < before_end and span[p, 1] < span[s, 0]:
                        p += 1
                    if p < before_end and span[p, 0] < span[s, 1]:
                        next_span[p] = s
                        linked[s] = 1
                        p += 1
            before = q
            before_end = line_end
            q = line_end
        for s in range(layer_off[layer], end):
            if linked[s] == 0:
                last = s
                while next_span[last] >= 0:
                    last = next_span[last]
                head[chains] = s
                tail[chains] = last
                chains += 1
        chain_off[layer + 1] = chains
    return next_span, head[:chains].copy(), tail[:chains].copy(), chain_off


@kernel_inline
def wave_points(start: float, end: float, wave_mm: float, wavelength_mm: float) -> int:
    """Points laid strictly between the ends of a span: none on a straight line."""
    if wave_mm == 0.0:
        return 0
    step = wavelength_mm / WAVE_STEPS
    return max(0, math.ceil(end / step) - math.floor(start / step) - 1)


@kernel
def span_length(start: float, end: float, wave_mm: float, wavelength_mm: float) -> float:
    """Length of the line that is laid along a span."""
    inside = wave_points(start, end, wave_mm, wavelength_mm)
    if inside == 0 and wave_mm == 0.0:
        return end - start
    step = wavelength_mm / WAVE_STEPS
    turn = 2.0 * math.pi / wavelength_mm
    first = math.floor(start / step) + 1
    total = 0.0
    u = start
    v = wave_mm * math.sin(turn * u)
    for i in range(inside + 1):
        u_next = end if i == inside else (first + i) * step
        v_next = wave_mm * math.sin(turn * u_next)
        total += math.sqrt((u_next - u) ** 2 + (v_next - v) ** 2)
        u = u_next
        v = v_next
    return total


@kernel_inline
def wave_turn(family_wave: NDArray[np.float64], family: int) -> float:
    """Angle by which a family's wave turns per length along its lines; 0 for straight lines."""
    if family_wave[family, 0] == 0.0:
        return 0.0
    return float(2.0 * math.pi / family_wave[family, 1])


@kernel_inline
def line_point(
    u: float, y: float, cosine: float, sine: float, wave: float, turn: float
) -> tuple[float, float]:
    """Point at u along the line y of a turned frame, on the wave where there is one."""
    v = y
    if wave != 0.0:
        v += wave * math.sin(turn * u)
    return cosine * u - sine * v, sine * u + cosine * v


@kernel_inline
def turn_chain(first: int, next_span: NDArray[np.int64]) -> int:
    """Turn the chain that begins with span `first` round in next_span; gives its new first."""
    behind = -1
    s = first
    while s >= 0:
        ahead = next_span[s]
        next_span[s] = behind
        behind = s
        s = ahead
    return behind


@kernel_inline
def chain_points(
    first: int,
    span: NDArray[np.float64],
    next_span: NDArray[np.int64],
    family_wave: NDArray[np.float64],
    family: int,
) -> tuple[int, int]:
    """Spans of the chain that begins with span `first`, and the points it takes once begun.

    They are the end of every span, what a wave lays inside it, and the link to the next span.
    """
    spans = 0
    inside = 0
    s = first
    while s >= 0:
        spans += 1
        inside += wave_points(
            span[s, 0], span[s, 1], family_wave[family, 0], family_wave[family, 1]
        )
        s = next_span[s]
    return spans, inside + 2 * spans - 1


@kernel
def layer_lengths(
    span: NDArray[np.float64],
    layer_off: NDArray[np.int64],
    wave_mm: float,
    wavelength_mm: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Length along the frame, length laid, and points laid by the spans of every layer."""
    n_layers = len(layer_off) - 1
    flat = np.zeros(n_layers, np.float64)
    laid = np.zeros(n_layers, np.float64)
    points = np.zeros(n_layers, np.int64)
    for layer in range(n_layers):
        for s in range(layer_off[layer], layer_off[layer + 1]):
            start = span[s, 0]
            end = span[s, 1]
            flat[layer] += end - start
            if wave_mm == 0.0:
                continue
            laid[layer] += span_length(start, end, wave_mm, wavelength_mm)
            points[layer] += wave_points(start, end, wave_mm, wavelength_mm)
        points[layer] += 2 * (layer_off[layer + 1] - layer_off[layer])
        if wave_mm == 0.0:
            laid[layer] = flat[layer]
    return flat, laid, points


@kernel
def path_figures(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    closed: NDArray[np.uint8],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Area that every path lays (length times width) and the points it takes (with the travel).

    The width of a segment stands at its first point on a closed path, at its last on an open one.
    """
    n_paths = len(path_off) - 1
    area = np.zeros(n_paths, np.float64)
    points = np.zeros(n_paths, np.int64)
    for path in range(n_paths):
        start = path_off[path]
        end = path_off[path + 1]
        total = 0.0
        for q in range(start + 1, end):
            length = math.sqrt((x[q] - x[q - 1]) ** 2 + (y[q] - y[q - 1]) ** 2)
            total += length * (width[q - 1] if closed[path] else width[q])
        points[path] = end - start
        if closed[path] and end > start:
            length = math.sqrt((x[start] - x[end - 1]) ** 2 + (y[start] - y[end - 1]) ** 2)
            total += length * width[end - 1]
            points[path] += 1
        area[path] = total
    return area, points


@kernel
def warp_points(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    cosine: float,
    sine: float,
    wave_mm: float,
    wavelength_mm: float,
    longest_mm: float,
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Rings in the turned frame with the wave taken out: (x', y' - wave sin(2 pi x' / length)).

    A wave becomes a straight line there; areas stay what they were. Edges are cut into pieces of
    at most longest_mm first, so that they may bend.

    Returns:
        Points (m, 2) and ring_off (n_rings + 1,) of the warped rings.
    """
    n_rings = len(ring_off) - 1
    off = np.zeros(n_rings + 1, np.int64)
    turn = 2.0 * math.pi / wavelength_mm
    for ring in range(n_rings):
        start = ring_off[ring]
        end = ring_off[ring + 1]
        total = 0
        for q in range(start, end):
            z = q + 1 if q + 1 < end else start
            length = math.hypot(xy[z, 0] - xy[q, 0], xy[z, 1] - xy[q, 1])
            total += max(1, math.ceil(length / longest_mm))
        off[ring + 1] = off[ring] + total
    out = np.empty((off[n_rings], 2), np.float64)
    w = 0
    for ring in range(n_rings):
        start = ring_off[ring]
        end = ring_off[ring + 1]
        for q in range(start, end):
            z = q + 1 if q + 1 < end else start
            length = math.hypot(xy[z, 0] - xy[q, 0], xy[z, 1] - xy[q, 1])
            pieces = max(1, math.ceil(length / longest_mm))
            for piece in range(pieces):
                share = piece / pieces
                px = xy[q, 0] + share * (xy[z, 0] - xy[q, 0])
                py = xy[q, 1] + share * (xy[z, 1] - xy[q, 1])
                u = cosine * px + sine * py
                out[w, 0] = u
                out[w, 1] = cosine * py - sine * px - wave_mm * math.sin(turn * u)
                w += 1
    return out, off
