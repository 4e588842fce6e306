"""Cross-talk: light of an emitter that a cover pane throws straight back into the receiver."""

import math
from dataclasses import dataclass

from buildplan.device.view.aims import half_tan
from buildplan.device.view.shape import Window
from buildplan.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossTalk:
    """One bounce from emitter to receiver off each face of a pane.

    Attributes:
        near_deg: Angle from the look at which the bounce off the near face runs.
        far_deg: Likewise for the bounce off the far face, in the air below the pane.
        near_reaches: Whether both cones hold that ray.
        far_reaches: Likewise.
        reflected_frac: Share of the light that the faces with a reaching bounce throw back.
        gap_allowed_mm: Greatest air gap without any such bounce; 0 or less means that this pane
            is too thick for any gap.
        thick_allowed_mm: Greatest thickness without one, at the gap that there is; 0 or less
            means that the gap alone is too wide.
        false_mm: Distance that the bounce alone reads as (half its way), 0 where none reaches.
    """

    near_deg: float
    far_deg: float
    near_reaches: bool
    far_reaches: bool
    reflected_frac: float
    gap_allowed_mm: float
    thick_allowed_mm: float
    false_mm: float

    @property
    def reaches(self) -> bool:
        """Whether any bounce reaches the receiver."""
        return self.near_reaches or self.far_reaches


def window_cross_talk(window: Window, cone_deg: float) -> CrossTalk:
    """Whether a flat pane over emitter and receiver sends light across, by mirror images.

    A ray at angle t off the near face lands 2 gap tan t aside, off the far face
    2 gap tan t + 2 thick tan t', sin t = n sin t'. It is taken up when some ray between the
    facing rims of the two apertures stays within both cones. The share thrown back is that of the
    faces at the angles found; scatter on dust and scratches comes on top and is not reckoned.

    Args:
        window: Gap, thickness, distance apart, apertures.
        cone_deg: Full angle of the receiver, and of the emitter where the window names none.

    Raises:
        InputError: no distance between emitter and receiver, or a cone outside 0 to 170 deg.

    Source: Snell's law; Fresnel's equations for light of no polarization (Hecht, Optics, ch. 4.6).
    """
    slope = half_tan(min(cone_deg, window.emit_deg or cone_deg), "the sensor's cone")
    way = window.apart_mm - window.aperture_mm  # between the facing rims
    if way <= 0.0:
        raise InputError(
            f"window: emitter and receiver are {window.apart_mm:g} mm apart with apertures of "
            f"{window.aperture_mm:g} mm, so they overlap; apart_mm must be larger than aperture_mm"
        )
    index = window.refraction_frac
    widest = math.atan(slope)
    inner = math.asin(math.sin(widest) / index)
    pane_way = 2.0 * window.thick_mm * math.tan(inner)
    near_angle = math.atan2(way, 2.0 * window.gap_mm)
    far_angle = _far_angle(way, window.gap_mm, window.thick_mm, index)
    near_reaches, far_reaches = near_angle <= widest, far_angle <= widest
    back = reflected_share(near_angle, index) if near_reaches else 0.0
    if far_reaches:
        through = (1.0 - reflected_share(far_angle, index)) ** 2
        back += through * reflected_share(far_angle, index)
    return CrossTalk(
        near_deg=math.degrees(near_angle),
        far_deg=math.degrees(far_angle),
        near_reaches=near_reaches,
        far_reaches=far_reaches,
        reflected_frac=back,
        gap_allowed_mm=(way - pane_way) / (2.0 * slope),
        thick_allowed_mm=(way - 2.0 * window.gap_mm * slope) / (2.0 * math.tan(inner)),
        false_mm=_false_reading(window, way, near_reaches, far_reaches),
    )


def reflected_share(angle_rad: float, index: float) -> float:
    """Share of light of no polarization that one face of a pane throws back.

    Args:
        angle_rad: Between ray and normal, in air.
        index: Refractive index of the pane over that of air.

    Source: Fresnel's equations: (sin(t - t') / sin(t + t'))^2 and (tan(t - t') / tan(t + t'))^2,
        the mean of both; ((n - 1) / (n + 1))^2 at 0.
    """
    if angle_rad < 1e-6:
        return ((index - 1.0) / (index + 1.0)) ** 2
    inner = math.asin(math.sin(angle_rad) / index)
    square = (math.sin(angle_rad - inner) / math.sin(angle_rad + inner)) ** 2
    level = (math.tan(angle_rad - inner) / math.tan(angle_rad + inner)) ** 2
    return (square + level) / 2.0


def _far_angle(way: float, gap: float, thick: float, index: float) -> float:
    """Angle in air of the ray off the far face that lands ``way`` aside (halving, 1e-12 rad)."""
    if thick <= 0.0 and gap <= 0.0:
        return math.pi / 2.0
    low, high = 0.0, math.pi / 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        inner = math.asin(math.sin(middle) / index)
        lands = 2.0 * gap * math.tan(middle) + 2.0 * thick * math.tan(inner)
        low, high = (middle, high) if lands < way else (low, middle)
    return high


def _false_reading(window: Window, way: float, near: bool, far: bool) -> float:
    """Half the optical way of the shortest bounce that reaches."""
    if near:
        return math.hypot(window.gap_mm, way / 2.0)
    if not far:
        return 0.0
    angle = _far_angle(way, window.gap_mm, window.thick_mm, window.refraction_frac)
    inner = math.asin(math.sin(angle) / window.refraction_frac)
    return window.gap_mm / math.cos(angle) + window.refraction_frac * window.thick_mm / math.cos(
        inner
    )
