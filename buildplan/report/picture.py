"""A first picture of a part: lit softly from above, on nothing but its shadow.

The background is clear and the shadow is an alpha, so one picture suits light and dark pages.
"""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels.raster import draw_facets, draw_slivers, look_along
from buildplan.kernels.shade import add_light, compose, corner_normals, edge_lines, surface_points
from buildplan.part.model import Part

Vector = NDArray[np.float64]
Point = Sequence[float] | Vector
PictureKind = Literal["webp", "png"]

VIEW_DEG = (34.0, 27.0)
"""From the front, round to the right, and up."""
COLOUR = "#c3bbae"
SMOOTH_UP_TO_DEG = 30.0
SIZE_PX = (16, 1600)
"""Least and most pixels each way: the most takes about 450 MB while it is drawn."""

_FINER = 2  # pixels drawn for one shown, each way
_EYE_DISTANCE = 3.4  # in radii of the part
_MARGINS = (0.07, 0.07, 0.07, 0.10)  # free share left, right, top, bottom
_SHADOW_SIZE = 400  # pixels each way of a shadow map
_SUN = (-0.62, 0.42, 0.95)  # from the viewer's upper left: to the right, toward, up
_SUN_RADIUS_DEG = 11.0
_SUN_POINTS, _SKY_POINTS = 24, 28  # both multiples of four: each pixel of four sees a quarter
_SKY_SHARE = 0.52
_SHADOW_REACH = 1.3  # in heights of the part


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Where a picture is seen from, and where a point of the part falls on it.

    Attributes:
        right: Unit vector to the right on the picture; likewise up, and toward the viewer.
        centre_mm: Middle of the part's bounds.
        radius_mm: From there to the farthest vertex; the unit of the drawing.
        zoom_frac: Width that one radius takes at a distance of one radius, as a share of the width.
        axis_frac: Where the line of sight meets the picture, from left and from top.
    """

    right: tuple[float, float, float]
    up: tuple[float, float, float]
    toward: tuple[float, float, float]
    centre_mm: tuple[float, float, float]
    radius_mm: float
    zoom_frac: float
    axis_frac: tuple[float, float]
    width_px: int
    height_px: int

    def across(self, points_mm: Vector) -> tuple[Vector, Vector, Vector]:
        """x, y in pixels and nearness 1 / distance of points (n, 3) on the picture."""
        points = (points_mm - np.asarray(self.centre_mm)) / self.radius_mm
        away = _EYE_DISTANCE - points @ np.asarray(self.toward)
        zoom_px = self.zoom_frac * self.width_px
        x = self.axis_frac[0] * self.width_px + zoom_px * (points @ np.asarray(self.right)) / away
        y = self.axis_frac[1] * self.height_px - zoom_px * (points @ np.asarray(self.up)) / away
        return x, y, 1.0 / away

    def at(self, point_mm: Point) -> tuple[float, float]:
        """Place of a point on the picture, as fractions from the left and from the top."""
        point = (np.asarray(point_mm, dtype=float) - self.centre_mm) / self.radius_mm
        away = _EYE_DISTANCE - point @ np.asarray(self.toward)
        across, along = point @ np.asarray(self.right) / away, point @ np.asarray(self.up) / away
        shape = self.width_px / self.height_px
        return (
            float(self.axis_frac[0] + self.zoom_frac * across),
            float(self.axis_frac[1] - self.zoom_frac * shape * along),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture file with the camera that took it.

    Attributes:
        data: Bytes of the file.
        kind: "webp" or "png".
        camera: Where points of the part fall.
    """

    data: bytes
    kind: PictureKind
    camera: Camera

    def at(self, point_mm: Point) -> tuple[float, float]:
        """Place of a point on the picture, as fractions from the left and from the top."""
        return self.camera.at(point_mm)


def aim_camera(
    part: Part,
    *,
    width_px: int = 640,
    height_px: int = 480,
    view_deg: tuple[float, float] = VIEW_DEG,
    around_mm: Vector | None = None,
) -> Camera:
    """Camera that shows the whole part with room for its shadow, or a close view of some points.

    Args:
        part: The part, as its file places it.
        width_px: Width of the picture.
        height_px: Height of the picture.
        view_deg: (azimuth, elevation): 0, 0 looks from the front, 90, 0 from the right.
        around_mm: (n, 3) points that fill the picture instead of the whole part.

    Raises:
        InputError: The picture has an impossible size, or the view is straight up or down.
    """
    least, most = SIZE_PX
    if not least <= min(width_px, height_px) <= max(width_px, height_px) <= most:
        raise InputError(
            f"a picture of {width_px} x {height_px} pixels was asked for; {least} to {most} "
            "each way is allowed; choose a size between"
        )
    azimuth, elevation = (math.radians(angle) for angle in view_deg)
    if not math.isfinite(azimuth):
        raise InputError(
            f"the view is turned by {view_deg[0]:g} deg; a finite angle is needed; choose one"
        )
    if not abs(view_deg[1]) <= 89.0:
        raise InputError(
            f"the view is {view_deg[1]:g} deg up; -89 to 89 deg is allowed; choose an angle between"
        )
    toward = np.array(
        [
            math.cos(elevation) * math.sin(azimuth),
            -math.cos(elevation) * math.cos(azimuth),
            math.sin(elevation),
        ]
    )
    right = np.array([math.cos(azimuth), math.sin(azimuth), 0.0])
    up = np.cross(toward, right)
    low, high = part.vertices_mm.min(axis=0), part.vertices_mm.max(axis=0)
    centre = (low + high) / 2
    offsets = part.vertices_mm - centre
    radius = float(np.sqrt((offsets**2).sum(axis=1).max()))
    radius = radius if radius > 0.0 else 1.0
    if around_mm is not None:
        offsets = around_mm - centre
    away = _EYE_DISTANCE - offsets @ toward / radius
    across, along = offsets @ right / radius / away, offsets @ up / radius / away
    left, right_free, top, bottom = _MARGINS
    wide, tall = float(np.ptp(across)), float(np.ptp(along))
    shape = width_px / height_px
    zoom = min(
        (1 - left - right_free) / max(wide, 1e-9), (1 - top - bottom) / max(tall * shape, 1e-9)
    )
    middle_x = (1 + left - right_free) / 2 - zoom * (across.max() + across.min()) / 2
    middle_y = (1 + top - bottom) / 2 + zoom * shape * (along.max() + along.min()) / 2
    return Camera(
        right=_triple(right),
        up=_triple(up),
        toward=_triple(toward),
        centre_mm=_triple(centre),
        radius_mm=radius,
        zoom_frac=float(zoom),
        axis_frac=(float(middle_x), float(middle_y)),
        width_px=width_px,
        height_px=height_px,
    )


def draw_part(  # noqa: PLR0913 - each argument is one choice of the picture
    part: Part,
    *,
    width_px: int = 640,
    height_px: int = 480,
    colour: str = COLOUR,
    painted: Sequence[tuple[str, NDArray[np.int64]]] = (),
    view_deg: tuple[float, float] = VIEW_DEG,
    around_mm: Vector | None = None,
    kind: PictureKind = "webp",
) -> Picture:
    """Picture of a part; equal parts and settings give equal bytes.

    The light comes from many directions of the sky, most of it from the upper left, each with its
    own shadow map; so hollows are darker and the shadow on the ground is soft.

    Args:
        part: The part, as its file places it.
        width_px: Width of the picture.
        height_px: Height of the picture.
        colour: Of the part, "#rrggbb".
        painted: Facets in other colours as (colour, facet numbers); the first of two wins.
        view_deg: (azimuth, elevation) as in ``aim_camera``.
        around_mm: Points to look at, as in ``aim_camera``.
        kind: "webp" or "png".

    Raises:
        InputError: The size, the view or the colour is impossible.
    """
    from PIL import Image

    palette = np.array([_linear(code) for code in (colour, *(code for code, _ in painted))])
    paint = np.zeros(len(part.facets), np.uint8)
    for dye, (_, facets) in reversed(list(enumerate(painted, 1))):
        paint[facets] = dye
    camera = aim_camera(
        part, width_px=width_px, height_px=height_px, view_deg=view_deg, around_mm=around_mm
    )
    image = Image.fromarray(_render(part, camera, palette, paint), "RGBA")
    file = io.BytesIO()
    if kind == "png":
        image.save(file, "PNG", optimize=False, compress_level=6)
    else:
        image.save(file, "WEBP", quality=86, alpha_quality=90, method=4, exact=False)
    return Picture(data=file.getvalue(), kind=kind, camera=camera)


def _render(
    part: Part, camera: Camera, palette: Vector, paint: NDArray[np.uint8]
) -> NDArray[np.uint8]:
    """Picture (height_px, width_px, 4) of straight alpha."""
    vertices = (part.vertices_mm - np.asarray(camera.centre_mm)) / camera.radius_mm
    facets = np.array(part.facets, dtype=np.int64)  # a copy may be written: one kernel type
    frame = np.array([camera.right, camera.up, camera.toward, camera.toward])
    frame[3] *= _EYE_DISTANCE
    columns, rows = camera.width_px * _FINER, camera.height_px * _FINER
    lens = np.array(
        [camera.zoom_frac * columns, camera.axis_frac[0] * columns, camera.axis_frac[1] * rows]
    )
    away = _EYE_DISTANCE - vertices @ frame[2]
    points = np.column_stack(
        [
            lens[1] + lens[0] * (vertices @ frame[0]) / away,
            lens[2] - lens[0] * (vertices @ frame[1]) / away,
            1.0 / away,
        ]
    )
    nearness, nearest = _empty(rows, columns)
    draw_facets(points, facets, nearness, nearest)
    draw_slivers(points, facets, nearness, nearest)
    place = np.zeros((rows, columns, 3), dtype=np.float32)
    facing = np.zeros((rows, columns, 3), dtype=np.float32)
    normals = corner_normals(vertices, facets, math.cos(math.radians(SMOOTH_UP_TO_DEG)))
    (x0, y0, z0), (x1, y1, z1) = vertices.min(axis=0), vertices.max(axis=0)
    ground = np.array([z0, x0, y0, x1, y1, 0.15 + _SHADOW_REACH * (z1 - z0)])
    surface_points(nearness, nearest, vertices, facets, normals, frame, lens, ground, place, facing)
    light, open_light, full_light = _light(vertices, facets, nearest, place, facing, frame)
    lines = edge_lines(nearest, place, facing, _EYE_DISTANCE / lens[0])
    return compose(
        nearest,
        place,
        facing,
        light,
        open_light,
        lines,
        palette,
        paint,
        frame[2],
        full_light,
        ground,
    )


def _light(
    vertices: Vector,
    facets: NDArray[np.int64],
    nearest: NDArray[np.int32],
    place: NDArray[np.float32],
    facing: NDArray[np.float32],
    frame: Vector,
) -> tuple[NDArray[np.float32], NDArray[np.float32], float]:
    """Light at every pixel with and without shadows, and the light square to the sun."""
    level = np.array([frame[2, 0], frame[2, 1], 0.0])
    level /= np.linalg.norm(level)
    sun = _SUN[0] * frame[0] + _SUN[1] * level + np.array([0.0, 0.0, _SUN[2]])
    sun /= np.linalg.norm(sun)
    directions, strengths = _sky(sun)
    light = np.zeros(nearest.shape, dtype=np.float32)
    open_light = np.zeros(nearest.shape, dtype=np.float32)
    points = np.empty_like(vertices)
    for index, (direction, strength) in enumerate(zip(directions, strengths, strict=True)):
        side = np.cross([0.0, 0.0, 1.0], direction)
        side /= np.linalg.norm(side)
        axes = np.array([side, np.cross(direction, side), direction])
        scale, column, row = look_along(vertices, axes, _SHADOW_SIZE, points)
        shadow, unused = _empty(_SHADOW_SIZE, _SHADOW_SIZE)
        draw_facets(points, facets, shadow, unused)
        lens = np.array([scale, column, row, 1.5 / scale])
        add_light(
            nearest, place, facing, shadow, axes, lens, strength, index % 4, light, open_light
        )
    full_light = float((strengths * np.clip(directions @ sun, 0.0, None)).sum()) / 4
    return light, open_light, full_light


def _sky(sun: Vector) -> tuple[Vector, Vector]:
    """Directions (k, 3) and strengths (k,): an even sky, and a wide sun as points of a disc.

    The points lie on golden-angle spirals (Vogel 1979).
    """
    turn = math.pi * (3.0 - math.sqrt(5.0))
    index = np.arange(_SKY_POINTS)
    height = 0.08 + 0.90 * (index + 0.5) / _SKY_POINTS
    level = np.sqrt(1.0 - height**2)
    sky = np.column_stack([level * np.cos(index * turn), level * np.sin(index * turn), height])
    index = np.arange(_SUN_POINTS)
    reach = math.tan(math.radians(_SUN_RADIUS_DEG)) * np.sqrt((index + 0.5) / _SUN_POINTS)
    side = np.cross([0.0, 0.0, 1.0], sun)
    side /= np.linalg.norm(side)
    disc = sun + np.outer(reach * np.cos(index * turn), side)
    disc += np.outer(reach * np.sin(index * turn), np.cross(sun, side))
    disc /= np.linalg.norm(disc, axis=1, keepdims=True)
    strengths = np.repeat(
        [_SKY_SHARE / _SKY_POINTS, (1.0 - _SKY_SHARE) / _SUN_POINTS], [_SKY_POINTS, _SUN_POINTS]
    )
    return np.vstack([sky, disc]), strengths


def _empty(rows: int, columns: int) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """A picture with nothing on it: nearness, nearest facet."""
    nothing = np.full((rows, columns), -np.inf, dtype=np.float32)
    return nothing, np.full((rows, columns), -1, dtype=np.int32)


def _linear(colour: str) -> Vector:
    """Linear red, green, blue of "#rrggbb"."""
    digits = colour.removeprefix("#")
    try:
        if len(digits) != 6 or not colour.startswith("#"):
            raise ValueError
        coded = np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)]) / 255.0
    except ValueError:
        raise InputError(
            f"{colour!r} is not a colour; write it as # and six digits 0..f, as in {COLOUR!r}"
        ) from None
    linear: Vector = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return linear


def _triple(vector: Vector) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
