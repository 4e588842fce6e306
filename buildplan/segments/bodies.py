"""Separate bodies of a solid in a fixed order, and boxes that a plane would cut."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from buildplan.segments.model import SplitLimits
from buildplan.segments.planes import Plane

if TYPE_CHECKING:
    from manifold3d import Manifold


def bodies_of(half: "Manifold") -> list["Manifold"]:
    """The separate bodies of a solid, ordered by where they are."""
    return sorted(
        half.decompose(), key=lambda body: tuple(round(x, 3) for x in body.bounding_box())
    )


def keep_in_the_way(plane: Plane, box_mm: Sequence[float], limits: SplitLimits) -> str:
    """Name of a box to be left whole that a plane would cut, or an empty text.

    The boxes are clipped to the piece, so a plane beside a hinge is fine on the half without it.

    Args:
        plane: The cut.
        box_mm: (x0, y0, z0, x1, y1, z1) around the piece that is cut.
        limits: The boxes and their names.
    """
    if not len(limits.keep):
        return ""
    box = np.asarray(box_mm)
    low, high = np.maximum(limits.keep[:, :3], box[:3]), np.minimum(limits.keep[:, 3:], box[3:])
    normal = np.array(plane.normal)
    off = np.abs((low + high) / 2.0 @ normal - plane.offset_mm)
    cut = (low < high).all(axis=1) & (off < (high - low) / 2.0 @ np.abs(normal) - 1e-9)
    return limits.keep_names[int(np.argmax(cut))] if cut.any() else ""
