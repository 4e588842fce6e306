"""What a maker says about a camera and a distance sensor: one dataclass a table of `[view]`.

The same records are made in Python from a ruler and the page that came with the sensor::

    Camera(
        point_mm=(0.0, 0.0, 200.0), look=(0.0, 0.0, -1.0), wide_deg=66.0, high_deg=52.0,
        target_mm=((-90.0, -70.0, 0.0), (90.0, -70.0, 0.0), (90.0, 70.0, 0.0), (-90.0, 70.0, 0.0)),
    )
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from buildplan.tables.limits import Within
from buildplan.tables.strict import Fault, Path, read_record
from buildplan.tables.wording import not_known, show

Sensor = TypeVar("Sensor")
Point = tuple[float, float, float]
ViewAngle = Annotated[float, Within(0.5, 170.0)]
Pixels = Annotated[int, Within(0, 100_000)]
Length = Annotated[float, Within(0.0, 10_000.0)]
SmallLength = Annotated[float, Within(0.0, 500.0)]

WIDEST_DEG = 170.0
"""A flat picture of 180 deg would be endless; lenses that wide bend straight lines instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """`[view.camera]`: where the camera is, where it looks, and what it must see.

    Attributes:
        point_mm: Middle of its entrance pupil, in the device with every moving part at rest.
        look: The way it looks, of any length.
        wide_deg: Full angle of view across the picture.
        high_deg: Full angle of view from the bottom to the top of the picture.
        target_mm: Three or more corners of the flat area that it must see, in order.
        up: The way that the top of the picture points, as near as the look allows.
        pixels_wide: Pixels across the picture; 0 where not known.
        pupil_mm: Diameter of the entrance pupil (2 for a small module: common practice, no source).
        opening_mm: Diameter of the hole in front of it; 0 where there is none.
        opening_depth_mm: From the pupil to the far edge of that hole.
    """

    point_mm: Point
    look: Point
    wide_deg: ViewAngle
    high_deg: ViewAngle
    target_mm: tuple[Point, ...]
    up: Point = (0.0, 0.0, 1.0)
    pixels_wide: Pixels = 0
    pupil_mm: SmallLength = 2.0
    opening_mm: SmallLength = 0.0
    opening_depth_mm: SmallLength = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """`[[view.distance_sensor.window]]`: the pane in front of an emitter and its receiver.

    Attributes:
        gap_mm: Air between the sensor's top and the pane.
        thick_mm: Of the pane.
        apart_mm: From the middle of the emitter to the middle of the receiver.
        aperture_mm: Diameter of each of the two.
        emit_deg: Full angle of the emitted cone; 0 takes the sensor's cone.
        refraction_frac: Refractive index of the pane (1.49 acrylic, 1.52 glass: handbook values).
    """

    gap_mm: SmallLength
    thick_mm: SmallLength
    apart_mm: SmallLength
    aperture_mm: SmallLength = 0.5
    emit_deg: Annotated[float, Within(0.0, 170.0)] = 0.0
    refraction_frac: Annotated[float, Within(1.0, 3.0)] = 1.49


@dataclass(frozen=True, slots=True, kw_only=True)
class DistanceSensor:
    """`[view.distance_sensor]`: where it is, where it points, and what it can measure.

    Attributes:
        point_mm: Middle of its face, in the device with every moving part at rest.
        look: The way it points, of any length.
        cone_deg: Full angle of its cone.
        near_mm: Least distance that it can measure.
        far_mm: Greatest distance that it can measure.
        soil_z_mm: Height of the level ground whose distance it measures.
        window: One pane in front of it, or none.
    """

    point_mm: Point
    look: Point
    cone_deg: ViewAngle
    near_mm: Length = 0.0
    far_mm: Length
    soil_z_mm: Annotated[float, Within(-100_000.0, 100_000.0)]
    window: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Views:
    """The whole `[view]` table; either half may be missing."""

    camera: Camera | None = None
    distance_sensor: DistanceSensor | None = None


def read_views(data: Mapping[str, Any], path: Path = ("view",)) -> tuple[Views, tuple[Fault, ...]]:
    """The `[view]` table of a build file and every fault in it.

    Args:
        data: The table as tomllib gives it.
        path: Where it stands in its file.
    """
    allowed = ("camera", "distance_sensor")
    faults = [
        Fault(path=(*path, key), text=not_known("the key", key, allowed))
        for key in data
        if key not in allowed
    ]
    camera = _read(Camera, data.get("camera"), (*path, "camera"), faults)
    sensor = _read(DistanceSensor, data.get("distance_sensor"), (*path, "distance_sensor"), faults)
    return Views(camera=camera, distance_sensor=sensor), tuple(faults)


def _read(record: type[Sensor], table: object, path: Path, faults: list[Fault]) -> Sensor | None:
    """One table, None where it is missing or wrong; its faults are added."""
    if table is None:
        return None
    if not isinstance(table, Mapping):
        faults.append(Fault(path=path, text=f"{path[-1]} must be a table, found {show(table)}"))
        return None
    found, wrong = read_record(record, table, path)
    faults.extend(wrong)
    return found
