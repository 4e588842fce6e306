"""The moves of beads whose order is known: travel, walls, spans and links, point by point."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import WAVE_STEPS, line_point, wave_points, wave_turn
from buildplan.kernels.crossing import box_edges, crosses_edge, most_boxes
from buildplan.kernels.jit import kernel, kernel_inline

SAME_PLACE_MM = 1e-9
"""Nearer than this is the same place: no travel is written."""


@kernel
def place_items(
    item_off: NDArray[np.int64],
    item: NDArray[np.int64],
    item_xy: NDArray[np.float64],
    start_x: float,
    start_y: float,
    point_off: NDArray[np.int64],
    layer_xy: NDArray[np.float64],
    travel: NDArray[np.uint8],
) -> None:
    """Count the points of every layer: one to start at, then every item with the travel to it.

    Args:
        item_off: (n_layers + 1,) items of a layer.
        item: (n_items, 4) from order_layers.
        item_xy: (n_items, 4) from order_layers.
        start_x: Where the first layer starts.
        start_y: As start_x.
        point_off: (n_layers + 1,) filled with the points of a layer.
        layer_xy: (n_layers, 2) filled with where a layer starts: where the one before ended.
        travel: (n_items,) filled with 1 where an item begins elsewhere than the last one ended.
    """
    x = start_x
    y = start_y
    points = 0
    for layer in range(len(item_off) - 1):
        point_off[layer] = points
        layer_xy[layer, 0] = x
        layer_xy[layer, 1] = y
        points += 1
        for k in range(item_off[layer], item_off[layer + 1]):
            d = math.sqrt((item_xy[k, 0] - x) ** 2 + (item_xy[k, 1] - y) ** 2)
            travel[k] = 1 if d > SAME_PLACE_MM else 0
            points += travel[k] + item[k, 3]
            x = item_xy[k, 2]
            y = item_xy[k, 3]
    point_off[len(item_off) - 1] = points


@kernel_inline
def lay_point(
    w: int,
    x: float,
    y: float,
    role: int,
    retract: bool,
    bead: float,
    out_x: NDArray[np.float64],
    out_y: NDArray[np.float64],
    out_role: NDArray[np.uint8],
    out_retract: NDArray[np.uint8],
    out_bead: NDArray[np.float32],
) -> None:
    """Write point w and the move that ends there."""
    out_x[w] = x
    out_y[w] = y
    out_role[w] = role
    out_retract[w] = 1 if retract else 0
    out_bead[w] = bead


@kernel
def lay_items(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    layer_off: NDArray[np.int64],
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    path_width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_role: NDArray[np.uint8],
    path_closed: NDArray[np.uint8],
    span: NDArray[np.float64],
    span_y: NDArray[np.float64],
    next_span: NDArray[np.int64],
    family_role: NDArray[np.uint8],
    family_frame: NDArray[np.float64],
    family_wave: NDArray[np.float64],
    family_link_mm: NDArray[np.float64],
    family_safe_mm: NDArray[np.float64],
    family_bead: NDArray[np.float64],
    retract_over: float,
    retract_always: float,
    first_layer: int,
    end_layer: int,
    item_off: NDArray[np.int64],
    item: NDArray[np.int64],
    item_xy: NDArray[np.float64],
    point_off: NDArray[np.int64],
    layer_xy: NDArray[np.float64],
    travel: NDArray[np.uint8],
    out_x: NDArray[np.float64],
    out_y: NDArray[np.float64],
    out_role: NDArray[np.uint8],
    out_retract: NDArray[np.uint8],
    out_bead: NDArray[np.float32],
) -> None:
    """Write every move of the layers first_layer .. end_layer - 1.

    Travel longer than retract_over retracts if it crosses an outline or is longer than
    retract_always. The ends of neighbouring spans are linked by a bead where they are near and the
    link crosses no outline.

    Args:
        xy: (n, 2) outline points.
        ring_off: (n_rings + 1,) points of a ring.
        island_off: (n_islands + 1,) rings of an island.
        layer_off: (n_layers + 1,) islands of a layer.
        path_x: Points of all paths.
        path_y: As path_x.
        path_width: As path_x; of the segment that starts at the point on closed paths, of the one
            that ends there on open ones.
        path_off: (n_paths + 1,) points of a path.
        path_role: (n_paths,) role.
        path_closed: (n_paths,) 1 where closed.
        span: (n, 2) from and to along the lines of all families.
        span_y: (n,) y' of the span's line.
        next_span: (n,) next span in the chain or -1.
        family_role: (n_families,) role of the spans.
        family_frame: (n_families, 2) cosine and sine of the lines' frame.
        family_wave: (n_families, 2) wave height (0 for straight lines) and wave length.
        family_link_mm: (n_families,) ends closer than this are linked by a bead.
        family_safe_mm: (n_families,) links shorter than this cannot leave the outline.
        family_bead: (n_families, n_layers) bead width.
        retract_over: Travel longer than this that crosses an outline retracts.
        retract_always: Travel longer than this always retracts.
        first_layer: First layer to be laid.
        end_layer: One past the last.
        item_off: (n_layers + 1,) items of a layer.
        item: (n_items, 4) from order_layers.
        item_xy: (n_items, 4) from order_layers.
        point_off: (n_layers + 1,) from place_items.
        layer_xy: (n_layers, 2) from place_items.
        travel: (n_items,) from place_items.
        out_x: (n_points,) filled.
        out_y: (n_points,) filled.
        out_role: (n_points,) filled with the role of the move that ends at the point.
        out_retract: (n_points,) filled with 1 where that move retracts.
        out_bead: (n_points,) filled with the bead width of that move.
    """
    room = 0
    for layer in range(first_layer, end_layer):
        first_ring = island_off[layer_off[layer]]
        end_ring = island_off[layer_off[layer + 1]]
        room = max(
            room, most_boxes(ring_off[end_ring] - ring_off[first_ring], end_ring - first_ring)
        )
    box = np.empty((room, 4), np.float64)
    node = np.empty((room, 4), np.int64)
    near = np.empty((3, room + 1), np.int64)
    near_box = np.empty((3, 4), np.float64)
    for layer in range(first_layer, end_layer):
        boxes = box_edges(
            xy, ring_off, island_off[layer_off[layer]], island_off[layer_off[layer + 1]], box, node
        )
        near_box[:, 0] = 1e300
        here_x = layer_xy[layer, 0]
        here_y = layer_xy[layer, 1]
        w = point_off[layer]
        lay_point(w, here_x, here_y, 0, False, 0.0, out_x, out_y, out_role, out_retract, out_bead)
        w += 1
        for k in range(item_off[layer], item_off[layer + 1]):
            x = item_xy[k, 0]
            y = item_xy[k, 1]
            if travel[k] == 1:
                d = math.sqrt((x - here_x) ** 2 + (y - here_y) ** 2)
                retract = d > retract_over
                if retract and d <= retract_always:
                    retract = crosses_edge(
                        here_x, here_y, x, y, xy, box, node, boxes, near, near_box, 2
                    )
                lay_point(w, x, y, 0, retract, 0.0, out_x, out_y, out_role, out_retract, out_bead)
                w += 1
            here_x = item_xy[k, 2]
            here_y = item_xy[k, 3]
            family = item[k, 1]
            if family < 0:
                path = item[k, 0]
                a = path_off[path]
                n = path_off[path + 1] - a
                points = item[k, 3]
                at = item[k, 2]
                if path_closed[path] == 1:
                    # on to the last point, then from the first one to where it began
                    tail = n - 1 - at
                    out_x[w : w + tail] = path_x[a + at + 1 : a + n]
                    out_y[w : w + tail] = path_y[a + at + 1 : a + n]
                    out_bead[w : w + tail + 1] = path_width[a + at : a + n]
                    out_x[w + tail : w + n] = path_x[a : a + at + 1]
                    out_y[w + tail : w + n] = path_y[a : a + at + 1]
                    out_bead[w + tail + 1 : w + n] = path_width[a : a + at]
                elif at == 0:
                    for step in range(points):
                        out_x[w + step] = path_x[a + 1 + step]
                        out_y[w + step] = path_y[a + 1 + step]
                        out_bead[w + step] = path_width[a + 1 + step]
                else:
                    for step in range(points):
                        out_x[w + step] = path_x[a + n - 2 - step]
                        out_y[w + step] = path_y[a + n - 2 - step]
                        out_bead[w + step] = path_width[a + n - 1 - step]
                out_role[w : w + points] = path_role[path]
                out_retract[w : w + points] = 0
                w += points
                continue
            # a chain of spans, to and fro
            role = family_role[family]
            bead = family_bead[family, layer]
            cosine = family_frame[family, 0]
            sine = family_frame[family, 1]
            wave = family_wave[family, 0]
            turn = wave_turn(family_wave, family)
            side = item[k, 2]
            s = item[k, 0]
            while s >= 0:
                u = span[s, side]
                u_end = span[s, 1 - side]
                if wave != 0.0:
                    wave_step = family_wave[family, 1] / WAVE_STEPS
                    inside = wave_points(min(u, u_end), max(u, u_end), wave, family_wave[family, 1])
                    low = math.floor(min(u, u_end) / wave_step) + 1
                    for step in range(inside):
                        place = low + step if u_end > u else low + inside - 1 - step
                        x, y = line_point(place * wave_step, span_y[s], cosine, sine, wave, turn)
                        lay_point(
                            w, x, y, role, False, bead,
                            out_x, out_y, out_role, out_retract, out_bead,
                        )  # fmt: skip
                        w += 1
                x, y = line_point(u_end, span_y[s], cosine, sine, wave, turn)
                lay_point(w, x, y, role, False, bead, out_x, out_y, out_role, out_retract, out_bead)
                w += 1
                s = next_span[s]
                side = 1 - side
                if s < 0:
                    break
                # on to the next span: a link, or travel
                x_next, y_next = line_point(span[s, side], span_y[s], cosine, sine, wave, turn)
                d = math.sqrt((x_next - x) ** 2 + (y_next - y) ** 2)
                link = d < family_link_mm[family]
                retract = not link and d > retract_over
                if (link and d > family_safe_mm[family]) or (retract and d <= retract_always):
                    crossing = crosses_edge(
                        x, y, x_next, y_next, xy, box, node, boxes, near, near_box, side
                    )
                    retract = crossing and d > retract_over
                    link = link and not crossing
                role_next = role if link else 0
                bead_next = bead if link else 0.0
                lay_point(
                    w, x_next, y_next, role_next, retract, bead_next,
                    out_x, out_y, out_role, out_retract, out_bead,
                )  # fmt: skip
                w += 1
