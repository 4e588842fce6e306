"""The order in which beads are laid: islands one at a time, walls then fill, nearest start next."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import chain_points, turn_chain
from buildplan.kernels.jit import kernel
from buildplan.kernels.nearest import grid_ends, nearest_end, nearest_of_few
from buildplan.kernels.starts import (
    box_distance2,
    chain_ends,
    island_at,
    nearest_path,
)

BLOCK_LAYERS = 64
"""Layers that are put in order one after the other; each block begins by itself, at a corner."""

FEW_CHAINS = 12
"""So few chains are searched one by one, without a grid."""


@kernel
def order_layers(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    layer_off: NDArray[np.int64],
    ring_box: NDArray[np.float64],
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    path_off: NDArray[np.int64],
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
    family_frame: NDArray[np.float64],
    family_wave: NDArray[np.float64],
    family_loose: NDArray[np.uint8],
    start_x: float,
    start_y: float,
    first_layer: int,
    end_layer: int,
    item_off: NDArray[np.int64],
    left: NDArray[np.int64],
    path_box: NDArray[np.float64],
    item: NDArray[np.int64],
    item_xy: NDArray[np.float64],
) -> None:
    """Put what the layers first_layer .. end_layer - 1 lay in order: paths and chains of spans.

    Islands are finished one after the other: first their wall paths, then their fill (loops and
    chains of spans), always the nearest start next. Loose chains (supports) are one more group; so
    is the margin, which is laid first. The first layer of the block begins nearest to (start_x,
    start_y), every other where the one before ended; so blocks are independent of each other.

    Args:
        xy: (n, 2) outline points.
        ring_off: (n_rings + 1,) points of a ring.
        island_off: (n_islands + 1,) rings of an island.
        layer_off: (n_layers + 1,) islands of a layer.
        ring_box: (n_rings, 4) x0, x1, y0, y1.
        path_x: Points of all paths: walls by island, then infill loops by island, then margin.
        path_y: As path_x.
        path_off: (n_paths + 1,) points of a path.
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
        family_frame: (n_families, 2) cosine and sine of the lines' frame.
        family_wave: (n_families, 2) wave height (0 for straight lines) and wave length.
        family_loose: (n_families,) 1 for supports, which belong to no island.
        start_x: Where the block starts.
        start_y: As start_x.
        first_layer: First layer of the block.
        end_layer: One past its last layer.
        item_off: (n_layers + 1,) items of a layer: its paths and chains.
        left: (n_paths,) room: the paths that are still to be laid.
        path_box: (n_paths, 4) x0, x1, y0, y1 of every path.
        item: (n_items, 4) filled: the path, or the first span of the chain in the order in which
            it is laid; the chain's family, -1 for a path; the point where the path begins, or the
            side from which the first span is laid; the points that it takes.
        item_xy: (n_items, 4) filled: x and y where the item begins, x and y where it ends.
    """
    n_families = len(family_loose)
    most_chains = 1
    most_groups = 1
    for layer in range(first_layer, end_layer):
        count = 0
        for family in range(n_families):
            count += chain_off[family, layer + 1] - chain_off[family, layer]
        most_chains = max(most_chains, count)
        most_groups = max(most_groups, layer_off[layer + 1] - layer_off[layer] + 2)
    chain_id = np.empty(most_chains, np.int64)
    chain_family = np.empty(most_chains, np.int64)
    chain_group = np.empty(most_chains, np.int64)
    chain_list = np.empty(most_chains, np.int64)
    chain_ends_xy = np.empty((most_chains, 8), np.float64)
    single = np.empty(most_chains, np.uint8)
    done = np.empty(most_chains, np.uint8)
    cell_head = np.empty(4 * most_chains + 1, np.int64)
    entry_next = np.empty(4 * most_chains, np.int64)
    grid_x = 0.0
    grid_y = 0.0
    cell = 1.0
    columns = 1
    rows = 1
    # of every group: where its walls, loops and chains stand, and how many are still to be laid
    walls_from = np.zeros(most_groups, np.int64)
    loops_from = np.zeros(most_groups, np.int64)
    chains_from = np.zeros(most_groups + 1, np.int64)
    walls_left = np.zeros(most_groups, np.int64)
    loops_left = np.zeros(most_groups, np.int64)
    chains_left = np.zeros(most_groups, np.int64)
    listed = np.zeros(most_groups, np.int64)
    here_x = start_x
    here_y = start_y
    for layer in range(first_layer, end_layer):
        first = layer_off[layer]
        end = layer_off[layer + 1]
        islands = end - first
        loose = islands
        margin = islands + 1
        groups = islands + 2
        # what there is to lay, group by group
        for group in range(islands):
            walls_from[group] = wall_off[first + group]
            walls_left[group] = wall_off[first + group + 1] - wall_off[first + group]
            loops_from[group] = loop_off[first + group]
            loops_left[group] = loop_off[first + group + 1] - loop_off[first + group]
        for group in range(islands, groups):
            walls_left[group] = 0
            loops_left[group] = 0
        for path in range(wall_off[first], wall_off[end]):
            left[path] = path
        for path in range(loop_off[first], loop_off[end]):
            left[path] = path
        if layer == 0:
            walls_from[margin] = first_margin
            walls_left[margin] = len(path_off) - 1 - first_margin
            for path in range(first_margin, len(path_off) - 1):
                left[path] = path
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
            chain_ends_xy,
        )
        # the chains of every group, side by side in chain_list
        chains_left[:groups] = 0
        for i in range(chains):
            done[i] = 0
            single[i] = 1 if head[chain_id[i]] == tail[chain_id[i]] else 0
            if family_loose[chain_family[i]] or islands == 0:
                chain_group[i] = loose
            elif islands == 1:
                chain_group[i] = 0
            else:
                chain_group[i] = island_at(
                    0.5 * (chain_ends_xy[i, 0] + chain_ends_xy[i, 2]),
                    0.5 * (chain_ends_xy[i, 1] + chain_ends_xy[i, 3]),
                    xy,
                    ring_off,
                    island_off,
                    first,
                    end,
                    ring_box,
                )
            chains_left[chain_group[i]] += 1
        chains_from[0] = 0
        for group in range(groups):
            chains_from[group + 1] = chains_from[group] + chains_left[group]
            chains_left[group] = 0
        for i in range(chains):
            group = chain_group[i]
            chain_list[chains_from[group] + chains_left[group]] = i
            chains_left[group] += 1
        listed[:groups] = chains_left[:groups]
        open_groups = 0
        for group in range(groups):
            if walls_left[group] + loops_left[group] + chains_left[group] > 0:
                open_groups += 1
        current = margin if walls_left[margin] > 0 else -1
        gridded = -1
        gridded_count = 0
        for w in range(item_off[layer], item_off[layer + 1]):
            if current < 0:
                # the next group: the one with the nearest start
                best = 1e300
                for group in range(groups):
                    if walls_left[group] + loops_left[group] + chains_left[group] == 0:
                        continue
                    if open_groups == 1:
                        current = group
                        break
                    if group < islands and (
                        box_distance2(here_x, here_y, ring_box, island_off[first + group]) >= best
                    ):
                        continue
                    for kind in range(2):
                        base = walls_from[group] if kind == 0 else loops_from[group]
                        count = walls_left[group] if kind == 0 else loops_left[group]
                        if count == 0:
                            continue
                        best, slot, _ = nearest_path(
                            here_x,
                            here_y,
                            path_x,
                            path_y,
                            path_off,
                            path_closed,
                            path_box,
                            left,
                            base,
                            count,
                            best,
                            False,
                        )
                        if slot >= 0:
                            current = group
                    # none of the group's chains is laid yet
                    for slot in range(chains_from[group], chains_from[group + 1]):
                        i = chain_list[slot]
                        for end_at in range(2 if single[i] else 4):
                            dx = chain_ends_xy[i, 2 * end_at] - here_x
                            dy = chain_ends_xy[i, 2 * end_at + 1] - here_y
                            if dx * dx + dy * dy < best:
                                best = dx * dx + dy * dy
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
                if count == 0:
                    continue
                best, slot, at = nearest_path(
                    here_x,
                    here_y,
                    path_x,
                    path_y,
                    path_off,
                    path_closed,
                    path_box,
                    left,
                    base,
                    count,
                    best,
                    True,
                )
                if slot >= 0:
                    best_slot = slot
                    best_kind = kind
                    best_at = at
            if walls_left[current] == 0 and chains_left[current] > 0:
                base = chains_from[current]
                if chains_left[current] <= FEW_CHAINS:
                    d, entry, listed[current] = nearest_of_few(
                        here_x,
                        here_y,
                        chain_ends_xy,
                        single,
                        done,
                        chain_list[base : base + listed[current]],
                    )
                else:
                    if gridded != current or 4 * chains_left[current] < gridded_count:
                        gridded = current
                        gridded_count = chains_left[current]
                        grid_x, grid_y, cell, columns, rows = grid_ends(
                            chain_ends_xy,
                            single,
                            done,
                            chain_list[base : base + listed[current]],
                            cell_head,
                            entry_next,
                        )
                    d, entry = nearest_end(
                        here_x,
                        here_y,
                        chain_ends_xy,
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
                n = path_off[path + 1] - path_off[path]
                begin = path_off[path] + best_at
                finish = begin
                if path_closed[path] == 0:
                    finish = path_off[path] + n - 1 - best_at
                item[w, 0] = path
                item[w, 1] = -1
                item[w, 2] = best_at
                item[w, 3] = n if path_closed[path] == 1 else n - 1
                item_xy[w, 0] = path_x[begin]
                item_xy[w, 1] = path_y[begin]
                item_xy[w, 2] = path_x[finish]
                item_xy[w, 3] = path_y[finish]
            else:
                # a chain of spans, from either end
                i = best_slot
                done[i] = 1
                chains_left[current] -= 1
                s = head[chain_id[i]]
                far = 2
                if best_at >= 2:
                    s = turn_chain(s, next_span)
                    far = 0
                elif single[i]:
                    far = 0
                side = best_at % 2
                spans, points = chain_points(s, span, next_span, family_wave, chain_family[i])
                far += (side + spans) % 2
                item[w, 0] = s
                item[w, 1] = chain_family[i]
                item[w, 2] = side
                item[w, 3] = points
                item_xy[w, 0] = chain_ends_xy[i, 2 * best_at]
                item_xy[w, 1] = chain_ends_xy[i, 2 * best_at + 1]
                item_xy[w, 2] = chain_ends_xy[i, 2 * far]
                item_xy[w, 3] = chain_ends_xy[i, 2 * far + 1]
            here_x = item_xy[w, 2]
            here_y = item_xy[w, 3]
            if walls_left[current] + loops_left[current] + chains_left[current] == 0:
                current = -1
                open_groups -= 1
