"""Loose splines are printed together, flat: laid out side by side on as few platforms as needed."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.fit import check_fit
from buildplan.part.make import part_from_mesh
from buildplan.part.model import Part
from buildplan.part.turn import AS_PLACED
from buildplan.segments.cut import Printing, estimate_piece
from buildplan.segments.model import Piece

Mesh = tuple[NDArray[np.float64], NDArray[np.int64]]
"""Vertices (n, 3) and facets (m, 3)."""

APART_MM = 3.0
"""Free room between two splines (ours)."""

TURNED = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])


def lay_splines(splines: Sequence[Part], printing: Printing, *, name: str) -> tuple[Piece, ...]:
    """Prints of all splines together, each the real estimate of what lies on one platform.

    The splines stand in rows, the deepest first, each along its longer side.

    Args:
        splines: Flat, as the joints give them.
        printing: Printer, feedstock, recipe, prices.
        name: Of the part.
    """
    prints = []
    for number, group in enumerate(_platforms(splines, printing), 1):
        title = f"{name} splines" + (f" {number}" if number > 1 else "")
        vertices = np.concatenate([points for points, _ in group])
        counts = np.cumsum([0, *(len(points) for points, _ in group)])
        facets = np.concatenate(
            [facets + first for (_, facets), first in zip(group, counts[:-1], strict=True)]
        )
        part = part_from_mesh(vertices, facets, name=title, health="quick")
        prints.append(
            Piece(
                name=title,
                part=part,
                laid="flat",
                orientation=AS_PLACED,
                estimate=estimate_piece(part, printing),
                fit=check_fit(part, printing.printer),
            )
        )
    return tuple(prints)


def _platforms(splines: Sequence[Part], printing: Printing) -> list[list[Mesh]]:
    """Splines moved to their places, one list for each platform."""
    printer = printing.printer
    side = 0.7 if printer.platform == "round" else 1.0  # the square in a circle
    room = [
        side * full - 2.0 * printer.platform_margin_mm
        for full in (printer.width_mm, printer.depth_mm)
    ]
    laid: list[Mesh] = []
    for spline in splines:
        points = np.array(spline.vertices_mm)
        if spline.size_mm[1] > spline.size_mm[0]:
            points = points @ TURNED.T
        laid.append((points - points.min(axis=0), np.array(spline.facets)))
    laid.sort(key=lambda mesh: -round(float(mesh[0][:, 1].max()), 6))
    platforms: list[list[Mesh]] = []
    x = y = deep = 0.0
    for points, facets in laid:
        width, depth, _ = points.max(axis=0).tolist()
        if platforms and x > 0.0 and x + width > room[0]:
            x, y, deep = 0.0, y + deep + APART_MM, 0.0
        if not platforms or y + depth > room[1]:
            platforms.append([])
            x = y = deep = 0.0
        platforms[-1].append((points + np.array([x, y, 0.0]), facets))
        x, deep = x + width + APART_MM, max(deep, depth)
    return platforms
