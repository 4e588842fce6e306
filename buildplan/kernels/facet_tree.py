"""A tree of boxes over facets, for rays and for pairs of facets that may meet."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

LEAF = 4
"""Facets in one leaf."""


@kernel_inline
def _spread_bits(value: int) -> int:
    """Put two empty bits between the 21 low bits of a value."""
    value = (value | (value << 32)) & 0x1F00000000FFFF
    value = (value | (value << 16)) & 0x1F0000FF0000FF
    value = (value | (value << 8)) & 0x100F00F00F00F00F
    value = (value | (value << 4)) & 0x10C30C30C30C30C3
    return (value | (value << 2)) & 0x1249249249249249


@kernel
def _code_centres(corners: NDArray[np.float64]) -> NDArray[np.int64]:
    """Place of every facet's centre along the curve: (m, 3, 3) in, (m,) out."""
    count = len(corners)
    low = np.full(3, np.inf)
    high = np.full(3, -np.inf)
    for f in range(count):
        for axis in range(3):
            centre = corners[f, 0, axis] + corners[f, 1, axis] + corners[f, 2, axis]
            low[axis] = min(low[axis], centre)
            high[axis] = max(high[axis], centre)
    size = max(high[0] - low[0], high[1] - low[1], high[2] - low[2], 1e-300)
    scale = (2**21 - 1) / size
    code = np.empty(count, np.int64)
    for f in range(count):
        place = 0
        for axis in range(3):
            centre = corners[f, 0, axis] + corners[f, 1, axis] + corners[f, 2, axis]
            place |= _spread_bits(int((centre - low[axis]) * scale)) << axis
        code[f] = place
    return code


@kernel
def _bound_leaves(corners: NDArray[np.float64], leaves: int) -> NDArray[np.float64]:
    """Boxes of all nodes, from the leaves up to the root: (2 leaves, 6)."""
    boxes = np.empty((2 * leaves, 6))
    boxes[:, :3] = np.inf
    boxes[:, 3:] = -np.inf
    for f in range(len(corners)):
        node = leaves + f // LEAF
        for corner in range(3):
            for axis in range(3):
                value = corners[f, corner, axis]
                boxes[node, axis] = min(boxes[node, axis], value)
                boxes[node, 3 + axis] = max(boxes[node, 3 + axis], value)
    for node in range(leaves - 1, 0, -1):
        for axis in range(3):
            boxes[node, axis] = min(boxes[2 * node, axis], boxes[2 * node + 1, axis])
            boxes[node, 3 + axis] = max(boxes[2 * node, 3 + axis], boxes[2 * node + 1, 3 + axis])
    return boxes


def build_facet_tree(
    corners: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], int]:
    """Facets sorted along a space-filling curve, and a box for every node of an implicit heap.

    Node 1 is the root, the children of node k are 2 k and 2 k + 1, leaf i is node leaves + i and
    holds the sorted facets LEAF i to LEAF (i + 1).

    Args:
        corners: (m, 3, 3) corner points of the facets, m >= 1.

    Returns:
        order: (m,) facet number at each place.
        sorted_corners: (m, 3, 3).
        boxes: (2 leaves, 6) least x y z, greatest x y z; an empty node has least > greatest.
        leaves: A power of two.

    Source: Morton, "A computer oriented geodetic data base", 1966 (the curve); Lauterbach et al.,
        "Fast BVH construction on GPUs", 2009 (the tree).
    """
    order = np.argsort(_code_centres(corners), kind="stable")
    sorted_corners = corners[order]
    groups = -(-len(order) // LEAF)
    leaves = 1 << max(0, (groups - 1).bit_length())
    return order, sorted_corners, _bound_leaves(sorted_corners, leaves), leaves
