"""The order in which beads are laid: islands one at a time, walls then fill, nearest start next."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import WAVE_STEPS, wave_points
from buildplan.kernels.crossing import box_edges, crosses_edge
from buildplan.kernels.jit import kernel
from buildplan.kernels.nearest import grid_ends, nearest_end
from buildplan.kernels.starts import (
    box_distance2,
    chain_ends,
    island_at,
    nearest_start,
    path_boxes,
)


@kernel
def order_layers(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    layer_off: NDArray[np.int64],
    ring_box: NDArray[np.float64],
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    path_width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_role: NDArray[np.uint8],
    path_closed: NDArray[np.uint8],
    wall_off: NDArray[np.int64],
    loop_off: NDArray[np.int64],
    first_margin: int,
    span: NDArray[np.float64],
    span_y: NDArray[np.float64],
    next_span: NDArray[np.int64],
    head: NDArray[np.int64],
    tail: NDArray[np.int64],
    chain_off: NDArray[np.int64],
    family_role: NDArray[np.uint8],
    family_frame: NDArray[np.float64],
    family_wave: NDArray[np.float64],
    family_link_mm: NDArray[np.float64],
    family_safe_mm: NDArray[np.float64],
    family_loose: NDArray[np.uint8],
    family_bead: NDArray[np.float64],
    retract_over: float,
    retract_always: float,
    inside_test: bool,
    start_x: float,
    start_y: float,
    point_off: NDArray[np.int64],
    out_x: NDArray[np.float64],
    out_y: NDArray[np.float64],
    out_role: NDArray[np.uint8],
    out_retract: NDArray[np.uint8],
    out_bead: NDArray[np.float32],
) -> int:
    """Lay all layers in sequence and write every move; gives the number of points.

    Islands are finished one after the other: first their wall paths, then their fill (loops and
    chains of spans), always the nearest start next. Loose chains (supports) are one more group; so
    is the margin, which is laid first. A layer begins where the one before ended, so layers are
    taken in sequence and nothing depends on how work is shared out.

    Args:
        xy: (n, 2) outline points.
        ring_off: (n_rings + 1,) points of a ring.
        island_off: (n_islands + 1,) rings of an island.
        layer_off: (n_layers + 1,) islands of a layer.
        ring_box: (n_rings, 4) x0, x1, y0, y1.
        path_x: Points of all paths: walls by island, then infill loops by island, then margin.
        path_y: As path_x.
        path_width: As path_x; of the segment that starts at the point on closed paths, of the one
            that ends there on open ones.
        path_off: (n_paths + 1,) points of a path.
        path_role: (n_paths,) role.
        path_closed: (n_paths,) 1 where closed.
        wall_off: (n_islands + 1,) wall paths of an island.
        loop_off: (n_islands + 1,) infill loops of an island.
        first_margin: Paths from here on are the margin of layer 0.
        span: (n, 2) from and to along the lines of all families.
        span_y: (n,) y' of the span's line.
        next_span: (n,) next span in the chain or -1; chains that are laid backwards are turned
            round in it.
        head: First span of a chain.
        tail: Last span of a chain.
        chain_off: (n_families, n_layers + 1) chains of a layer.
        family_role: (n_families,) role of the spans.
        family_frame: (n_families, 2) cosine and sine of the lines' frame.
        family_wave: (n_families, 2) wave height (0 for straight lines) and wave length.
        family_link_mm: (n_families,) ends closer than this are linked by a bead.
        family_safe_mm: (n_families,) links shorter than this cannot leave the outline.
        family_loose: (n_families,) 1 for supports, which belong to no island.
        family_bead: (n_families, n_layers) bead width.
        retract_over: Travel longer than this that crosses an outline retracts.
        retract_always: Travel longer than this always retracts.
        inside_test: False retracts on every travel longer than retract_over.
        start_x: Where the first layer starts.
        start_y: As start_x.
        point_off: (n_layers + 1,) filled with the points of a layer.
        out_x: Filled, with room for every point; likewise the arrays that follow.
        out_y: See out_x.
        out_role: Role of the move that ends at the point.
        out_retract: 1 where that move retracts.
        out_bead: Bead width of that move.
    """
    n_layers = len(layer_off) - 1
    n_families = len(family_role)
    most_chains = 1
    most_groups = 1
    for layer in range(n_layers):
        total = 0
        for family in range(n_families):
            total += chain_off[family, layer + 1] - chain_off[family, layer]
        most_chains = max(most_chains, total)
        most_groups = max(most_groups, layer_off[layer + 1] - layer_off[layer] + 2)
    box = path_boxes(path_x, path_y, path_off)
    chain_id = np.empty(most_chains, np.int64)
    chain_family = np.empty(most_chains, np.int64)
    chain_group = np.empty(most_chains, np.int64)
    ends = np.empty((most_chains, 8), np.float64)
    chain_list = np.empty(most_chains, np.int64)
    single = np.empty(most_chains, np.uint8)
    done = np.empty(most_chains, np.uint8)
    cell_head = np.empty(4 * most_chains + 1, np.int64)
    entry_next = np.empty(4 * most_chains, np.int64)
    grid_x = 0.0
    grid_y = 0.0
    cell = 1.0
    columns = 1
    rows = 1
    chain_start = np.zeros(most_groups + 1, np.int64)
    # the paths of layer and group that are still to be laid; slot = path number
    left = np.arange(len(path_off) - 1)
    walls_left = np.zeros(most_groups, np.int64)
    loops_left = np.zeros(most_groups, np.int64)
    chains_left = np.zeros(most_groups, np.int64)
    walls_from = np.zeros(most_groups, np.int64)
    loops_from = np.zeros(most_groups, np.int64)
    run_box, run_off = box_edges(xy, ring_off)
    w = 0
    here_x = start_x
    here_y = start_y
    for layer in range(n_layers):
        point_off[layer] = w
        out_x[w] = here_x
        out_y[w] = here_y
        out_role[w] = 0
        out_retract[w] = 0
        out_bead[w] = 0.0
        w += 1
        first = layer_off[layer]
        end = layer_off[layer + 1]
        first_ring = island_off[first]
        end_ring = island_off[end]
        islands = end - first
        loose = islands
        margin = islands + 1
        groups = islands + 2
        # what there is to lay, group by group
        total = 0
        for group in range(islands):
            walls_from[group] = wall_off[first + group]
            walls_left[group] = wall_off[first + group + 1] - wall_off[first + group]
            loops_from[group] = loop_off[first + group]
            loops_left[group] = loop_off[first + group + 1] - loop_off[first + group]
            total += walls_left[group] + loops_left[group]
        for group in range(islands, groups):
            walls_left[group] = 0
            loops_left[group] = 0
        if layer == 0:
            walls_from[margin] = first_margin
            walls_left[margin] = len(path_off) - 1 - first_margin
            total += walls_left[margin]
        chains = 0
        for family in range(n_families):
            for chain in range(chain_off[family, layer], chain_off[family, layer + 1]):
                chain_id[chains] = chain
                chain_family[chains] = family
                chains += 1
        chain_ends(
            span,
            span_y,
            chain_id[:chains],
            head,
            tail,
            chain_family,
            family_frame,
            family_wave,
            ends,
        )
        chains_left[:groups] = 0
        gridded = -1
        gridded_count = 0
        for i in range(chains):
            done[i] = 0
            single[i] = 1 if head[chain_id[i]] == tail[chain_id[i]] else 0
            if family_loose[chain_family[i]] or islands == 0:
                chain_group[i] = loose
            elif islands == 1:
                chain_group[i] = 0
            else:
                chain_group[i] = island_at(
                    0.5 * (ends[i, 0] + ends[i, 2]),
                    0.5 * (ends[i, 1] + ends[i, 3]),
                    xy,
                    ring_off,
                    island_off,
                    first,
                    end,
                    ring_box,
                )
            chains_left[chain_group[i]] += 1
        chain_start[0] = 0
        for group in range(groups):
            chain_start[group + 1] = chain_start[group] + chains_left[group]
            chains_left[group] = 0
        for i in range(chains):
            group = chain_group[i]
            chain_list[chain_start[group] + chains_left[group]] = i
            chains_left[group] += 1
        total += chains
        current = margin if walls_left[margin] > 0 else -1
        while total > 0:
            if current < 0 or (
                walls_left[current] + loops_left[current] + chains_left[current] == 0
            ):
                # the next group: the one with the nearest start
                best = 1e300
                for group in range(groups):
                    if walls_left[group] + loops_left[group] + chains_left[group] == 0:
                        continue
                    if group < islands and (
                        box_distance2(here_x, here_y, ring_box, island_off[first + group]) >= best
                    ):
                        continue
                    for kind in range(2):
                        base = walls_from[group] if kind == 0 else loops_from[group]
                        count = walls_left[group] if kind == 0 else loops_left[group]
                        for slot in range(base, base + count):
                            path = left[slot]
                            if box_distance2(here_x, here_y, box, path) >= best:
                                continue
                            d, _ = nearest_start(
                                here_x,
                                here_y,
                                path_x,
                                path_y,
                                path_off[path],
                                path_off[path + 1],
                                path_closed[path] == 1,
                                False,
                            )
                            if d < best:
                                best = d
                                current = group
                    for slot in range(chain_start[group], chain_start[group + 1]):
                        i = chain_list[slot]
                        if done[i]:
                            continue
                        for corner in range(0, 8, 2):
                            d = (ends[i, corner] - here_x) ** 2 + (
                                ends[i, corner + 1] - here_y
                            ) ** 2
                            if d < best:
                                best = d
                                current = group
            # the nearest item of the group: walls before fill
            best = 1e300
            best_slot = -1
            best_kind = 0
            best_at = 0
            for kind in range(2):
                if kind == 1 and walls_left[current] > 0:
                    break
                base = walls_from[current] if kind == 0 else loops_from[current]
                count = walls_left[current] if kind == 0 else loops_left[current]
                for slot in range(base, base + count):
                    path = left[slot]
                    if box_distance2(here_x, here_y, box, path) >= best:
                        continue
                    d, at = nearest_start(
                        here_x,
                        here_y,
                        path_x,
                        path_y,
                        path_off[path],
                        path_off[path + 1],
                        path_closed[path] == 1,
                        True,
                    )
                    if d < best:
                        best = d
                        best_slot = slot
                        best_kind = kind
                        best_at = at
            if walls_left[current] == 0 and chains_left[current] > 0:
                if gridded != current or 4 * chains_left[current] < gridded_count:
                    gridded = current
                    gridded_count = chains_left[current]
                    grid_x, grid_y, cell, columns, rows = grid_ends(
                        ends,
                        single,
                        done,
                        chain_list[chain_start[current] : chain_start[current + 1]],
                        cell_head,
                        entry_next,
                    )
                d, entry = nearest_end(
                    here_x,
                    here_y,
                    ends,
                    done,
                    cell_head,
                    entry_next,
                    grid_x,
                    grid_y,
                    cell,
                    columns,
                    rows,
                )
                if d < best:
                    best = d
                    best_slot = entry >> 2
                    best_kind = 2
                    best_at = entry & 3
            total -= 1
            if best_kind < 2:
                path = left[best_slot]
                if best_kind == 0:
                    walls_left[current] -= 1
                    last = walls_from[current] + walls_left[current]
                else:
                    loops_left[current] -= 1
                    last = loops_from[current] + loops_left[current]
                left[best_slot] = left[last]
                left[last] = path
                a = path_off[path]
                n = path_off[path + 1] - a
                x = path_x[a + best_at]
                y = path_y[a + best_at]
                d = math.sqrt((x - here_x) ** 2 + (y - here_y) ** 2)
                if d > 1e-9:
                    retract = d > retract_over
                    if retract and inside_test and d <= retract_always:
                        retract = crosses_edge(
                            here_x,
                            here_y,
                            x,
                            y,
                            xy,
                            ring_off,
                            first_ring,
                            end_ring,
                            ring_box,
                            run_box,
                            run_off,
                        )
                    out_x[w] = x
                    out_y[w] = y
                    out_role[w] = 0
                    out_retract[w] = 1 if retract else 0
                    out_bead[w] = 0.0
                    w += 1
                if path_closed[path] == 1:
                    q = a + best_at
                    for _ in range(n):
                        out_bead[w] = path_width[q]
                        q += 1
                        if q == a + n:
                            q = a
                        out_x[w] = path_x[q]
                        out_y[w] = path_y[q]
                        out_role[w] = path_role[path]
                        out_retract[w] = 0
                        w += 1
                else:
                    for step in range(1, n):
                        q = a + step if best_at == 0 else a + n - 1 - step
                        out_x[w] = path_x[q]
                        out_y[w] = path_y[q]
                        out_role[w] = path_role[path]
                        out_retract[w] = 0
                        out_bead[w] = path_width[q] if best_at == 0 else path_width[q + 1]
                        w += 1
                here_x = out_x[w - 1]
                here_y = out_y[w - 1]
                continue
            # a chain of spans, from either end
            i = best_slot
            done[i] = 1
            chains_left[current] -= 1
            family = chain_family[i]
            s = head[chain_id[i]]
            if best_at >= 2 and tail[chain_id[i]] != s:
                behind = -1
                while s >= 0:
                    ahead = next_span[s]
                    next_span[s] = behind
                    behind = s
                    s = ahead
                s = behind
            side = best_at % 2
            cosine = family_frame[family, 0]
            sine = family_frame[family, 1]
            wave = family_wave[family, 0]
            turn = 0.0
            wave_step = 1.0
            if wave != 0.0:
                turn = 2.0 * math.pi / family_wave[family, 1]
                wave_step = family_wave[family, 1] / WAVE_STEPS
            begun = False
            while s >= 0:
                u = span[s, side]
                u_end = span[s, 1 - side]
                v = span_y[s]
                if wave != 0.0:
                    v += wave * math.sin(turn * u)
                x = cosine * u - sine * v
                y = sine * u + cosine * v
                d = math.sqrt((x - here_x) ** 2 + (y - here_y) ** 2)
                if d > 1e-9:
                    link = begun and d < family_link_mm[family]
                    retract = d > retract_over and not link
                    test = (link and d > family_safe_mm[family]) or (
                        retract and inside_test and d <= retract_always
                    )
                    if test:
                        crossing = crosses_edge(
                            here_x,
                            here_y,
                            x,
                            y,
                            xy,
                            ring_off,
                            first_ring,
                            end_ring,
                            ring_box,
                            run_box,
                            run_off,
                        )
                        if link and crossing:
                            link = False
                            retract = d > retract_over
                        elif not link:
                            retract = crossing
                    out_x[w] = x
                    out_y[w] = y
                    out_role[w] = family_role[family] if link else 0
                    out_retract[w] = 1 if retract else 0
                    out_bead[w] = family_bead[family, layer] if link else 0.0
                    w += 1
                if wave != 0.0:
                    inside = wave_points(min(u, u_end), max(u, u_end), wave, family_wave[family, 1])
                    low = math.floor(min(u, u_end) / wave_step) + 1
                    for step in range(inside):
                        place = low + step if u_end > u else low + inside - 1 - step
                        u_here = place * wave_step
                        v = span_y[s] + wave * math.sin(turn * u_here)
                        out_x[w] = cosine * u_here - sine * v
                        out_y[w] = sine * u_here + cosine * v
                        out_role[w] = family_role[family]
                        out_retract[w] = 0
                        out_bead[w] = family_bead[family, layer]
                        w += 1
                v = span_y[s]
                if wave != 0.0:
                    v += wave * math.sin(turn * u_end)
                here_x = cosine * u_end - sine * v
                here_y = sine * u_end + cosine * v
                out_x[w] = here_x
                out_y[w] = here_y
                out_role[w] = family_role[family]
                out_retract[w] = 0
                out_bead[w] = family_bead[family, layer]
                w += 1
                begun = True
                s = next_span[s]
                side = 1 - side
    point_off[n_layers] = w
    return w
