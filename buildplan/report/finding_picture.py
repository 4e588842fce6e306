"""The picture of a finding: a close view from where its facets are seen best, painted."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.findings import Severity
from buildplan.kernels.raster import draw_facets, look_along
from buildplan.part.model import Part
from buildplan.report.picture import VIEW_DEG, Picture, draw_part
from buildplan.report.style import TOKENS

PAINT: dict[Severity, str] = {
    "stop": TOKENS["vermilion"][0],
    "caution": TOKENS["orange"][0],
    "note": TOKENS["blue"][1],
}
"""Colour of the facets by severity; the sign beside the picture says it again in a shape."""

AZIMUTHS_DEG = (34.0, -34.0, 80.0, -80.0, 146.0, -146.0)
ELEVATIONS_DEG = (27.0, 62.0, -32.0)
"""Views that are tried: the usual one first, so that it wins a tie."""

LOOK_PX = 160
"""Pixels each way of the trial view."""

LEAST_SHARE = 0.22
"""A close view shows at least this share of the part's size, so that one knows where it is."""

ROOM = 1.7
"""A close view is this much wider than what it shows."""


def paint_marks(marks: tuple[Mark, ...]) -> tuple[tuple[str, NDArray[np.int64]], ...]:
    """Colours and facets of marks as ``draw_part`` takes them; the gravest wins a facet."""
    grave_first = sorted(marks, key=lambda mark: list(PAINT).index(mark.finding.severity))
    return tuple(
        (PAINT[mark.finding.severity], mark.facets) for mark in grave_first if len(mark.facets)
    )


def draw_finding(
    part: Part, mark: Mark, *, width_px: int = 300, height_px: int = 220
) -> Picture | None:
    """Close picture of the facets of a mark, or None where it has none."""
    if not len(mark.facets):
        return None
    return draw_part(
        part,
        width_px=width_px,
        height_px=height_px,
        painted=paint_marks((mark,)),
        view_deg=best_view(part, mark.facets),
        around_mm=_around(part, mark.facets),
    )


def best_view(part: Part, facets: NDArray[np.int64]) -> tuple[float, float]:
    """The tried view (azimuth, elevation) that shows most of some facets, not hidden by others."""
    shown = np.zeros(len(part.facets), np.bool_)
    shown[facets] = True
    corners = np.array(part.facets, dtype=np.int64)
    best, most = VIEW_DEG, -1
    for elevation in ELEVATIONS_DEG:
        for azimuth in AZIMUTHS_DEG:
            seen = _pixels_seen(part, corners, shown, azimuth, elevation)
            # a view from below or behind must show clearly more to be taken
            usual = 1.0 if elevation > 0.0 and abs(azimuth) < 90.0 else 0.7
            if seen * usual > most:
                best, most = (azimuth, elevation), int(seen * usual)
    return best


def _pixels_seen(
    part: Part,
    corners: NDArray[np.int64],
    shown: NDArray[np.bool_],
    azimuth_deg: float,
    elevation_deg: float,
) -> int:
    turn, lift = math.radians(azimuth_deg), math.radians(elevation_deg)
    toward = np.array(
        [math.cos(lift) * math.sin(turn), -math.cos(lift) * math.cos(turn), math.sin(lift)]
    )
    right = np.array([math.cos(turn), math.sin(turn), 0.0])
    axes = np.array([right, np.cross(toward, right), toward])
    points = np.empty_like(part.vertices_mm)
    look_along(np.array(part.vertices_mm), axes, LOOK_PX, points)
    nearness = np.full((LOOK_PX, LOOK_PX), -np.inf, dtype=np.float32)
    nearest = np.full((LOOK_PX, LOOK_PX), -1, dtype=np.int32)
    draw_facets(points, corners, nearness, nearest)
    return int(shown[nearest[nearest >= 0]].sum())


def _around(part: Part, facets: NDArray[np.int64]) -> NDArray[np.float64]:
    """Corners of the box that a close view of some facets fills with."""
    own = part.vertices_mm[part.facets[facets]].reshape(-1, 3)
    low, high = own.min(axis=0), own.max(axis=0)
    middle = (low + high) / 2
    reach = np.maximum((high - low) * ROOM, LEAST_SHARE * max(part.size_mm)) / 2
    ends = np.stack([middle - reach, middle + reach])
    corners: NDArray[np.float64] = np.stack(np.meshgrid(*ends.T, indexing="ij"), axis=-1).reshape(
        -1, 3
    )
    return corners
