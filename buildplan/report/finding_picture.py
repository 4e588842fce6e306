"""The picture of a finding: a close view from where its facets are seen best, painted."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.findings import Severity
from buildplan.kernels.raster import draw_facets
from buildplan.part.model import Part
from buildplan.report.cut_open import cut_open
from buildplan.report.picture import VIEW_DEG, Camera, Picture, aim_camera, draw_part
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

UNUSUAL_FRAC = 0.7
"""A pixel seen from behind or below counts this much: one knows the part from the front."""

LOOK_PX = 160
"""Pixels each way of the trial view."""

LEAST_SHARE = 0.12
"""A close view shows at least this share of the part's size, so that one knows where it is."""

LEAST_SEEN_PX = 12
"""A large place that shows no more than that in any trial view lies inside: the part is opened."""

SMALL_SPOT = 0.3
"""A painted place of less than this share of such a view gets a ring around it."""

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
    """Close picture of the facets of a mark, or None where it has none.

    All facets of the mark are painted; the view is that of the place that the finding names, where
    it names one.
    """
    if not len(mark.facets):
        return None
    shown = _facets_of_place(part, mark)
    view, seen = _best_view(part, shown)
    around = _around(part, shown)
    if seen < LEAST_SEEN_PX and not _is_small(part, shown):
        toward = np.array(aim_camera(part, view_deg=view).toward)
        part, facets = cut_open(part, mark.facets, toward)
        mark, around = replace(mark, facets=facets), _around(part, facets)
    return draw_part(
        part,
        width_px=width_px,
        height_px=height_px,
        painted=paint_marks((mark,)),
        view_deg=view,
        around_mm=around,
    )


def spot_of(part: Part, mark: Mark, picture: Picture) -> tuple[float, float] | None:
    """Where a small painted place is on its close picture; None where one sees it anyway."""
    shown = _facets_of_place(part, mark)
    own = part.vertices_mm[part.facets[shown]].reshape(-1, 3)
    low, high = own.min(axis=0), own.max(axis=0)
    return picture.at((low + high) / 2) if _is_small(part, shown) else None


def seen_from(part: Part, facets: NDArray[np.int64], camera: Camera) -> bool:
    """Whether some facets show on the picture that a camera takes."""
    shown = np.zeros(len(part.facets), np.bool_)
    shown[facets] = True
    trial = replace(camera, width_px=camera.width_px // 4, height_px=camera.height_px // 4)
    return _pixels_seen(part, np.array(part.facets, dtype=np.int64), shown, trial) > 0


def _is_small(part: Part, facets: NDArray[np.int64]) -> bool:
    own = part.vertices_mm[part.facets[facets]].reshape(-1, 3)
    extent = float(np.ptp(own, axis=0).max())
    return extent <= SMALL_SPOT * LEAST_SHARE * max(part.size_mm)


def _facets_of_place(part: Part, mark: Mark) -> NDArray[np.int64]:
    """The facets of a mark in the box that its finding names; all of them where there are none."""
    box = np.array(mark.finding.where.box_mm)
    if not len(box):
        return mark.facets
    middles = part.vertices_mm[part.facets[mark.facets]].mean(axis=1)
    room = 0.5 + 0.02 * float((box[3:] - box[:3]).max())
    inside = ((middles >= box[:3] - room) & (middles <= box[3:] + room)).all(axis=1)
    return mark.facets[inside] if inside.any() else mark.facets


def best_view(part: Part, facets: NDArray[np.int64]) -> tuple[float, float]:
    """The tried view (azimuth, elevation) that shows most of some facets, not hidden by others."""
    return _best_view(part, facets)[0]


def _best_view(part: Part, facets: NDArray[np.int64]) -> tuple[tuple[float, float], float]:
    """The best view and the pixels seen in it, weighed."""
    shown = np.zeros(len(part.facets), np.bool_)
    shown[facets] = True
    corners = np.array(part.facets, dtype=np.int64)
    around = _around(part, facets)
    best, most = VIEW_DEG, -1.0
    for elevation in ELEVATIONS_DEG:
        for azimuth in AZIMUTHS_DEG:
            camera = aim_camera(
                part,
                width_px=LOOK_PX,
                height_px=LOOK_PX,
                view_deg=(azimuth, elevation),
                around_mm=around,
            )
            seen = _pixels_seen(part, corners, shown, camera)
            # a view from below or behind must show clearly more to be taken
            usual = 1.0 if elevation > 0.0 and abs(azimuth) < 90.0 else UNUSUAL_FRAC
            if seen * usual > most:
                best, most = (azimuth, elevation), seen * usual
    return best, most


def _pixels_seen(
    part: Part, corners: NDArray[np.int64], shown: NDArray[np.bool_], camera: Camera
) -> int:
    """Pixels of some facets in a trial view, without those hidden by others."""
    points = np.column_stack(camera.across(part.vertices_mm))
    size = camera.height_px, camera.width_px
    nearness = np.full(size, -np.inf, dtype=np.float32)
    nearest = np.full(size, -1, dtype=np.int32)
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
