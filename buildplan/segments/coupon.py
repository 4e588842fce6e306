"""Test coupons: the region around a feature, cut from the real part, to be printed first."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError, NoPlanError
from buildplan.part.feature import Feature
from buildplan.part.model import Part
from buildplan.part.turn import turn_part
from buildplan.process.estimate import PrintEstimate, estimate_print
from buildplan.segments.solid import checked, part_of, solid_of
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

if TYPE_CHECKING:
    from manifold3d import Manifold

MARGIN_MM = 2.0
"""Material kept around the box, so that the feature is held as in the part (ours)."""

FRAGMENT_FRAC = 0.02
"""Loose pieces with a smaller share of the coupon's volume are dropped."""

BASE_MM = 1.2
BASE_RIM_MM = 2.0
BASE_OVERLAP_MM = 0.2
"""A base is this thick, reaches out by this much and overlaps the coupon by this much (ours)."""

FOOT_OF_SHADOW = 0.25
FOOT_OF_HEIGHT = 0.02
"""A base is put under a coupon whose foot covers less than this share of its shadow, or less than
this share of its height squared (ours)."""

FOOT_HEIGHT_MM = 0.1
MARGIN_STEP_MM = 0.1
"""How finely the margin is shrunk to meet a limit of minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupon:
    """A piece of a part that proves a feature before the part is printed.

    Attributes:
        part: The coupon, in the coordinates and the orientation of the part it is cut from.
        of: Name of the part.
        feature: Name of the feature, or an empty text.
        box_mm: The region asked for; inside it the coupon is the part, above its base.
        margin_mm: Material kept around the box.
        dropped_mm3: Volume of loose pieces that were left out, and how many they were.
        has_base: Whether a base was put under it.
        volume_frac: Share of the part's volume.
    """

    part: Part
    of: str
    feature: str
    box_mm: tuple[float, ...]
    margin_mm: float
    dropped_mm3: float
    dropped: int
    has_base: bool
    volume_frac: float


def cut_coupon(
    part: Part,
    feature: Feature | Sequence[float],
    *,
    margin_mm: float = MARGIN_MM,
    name: str = "",
) -> Coupon:
    """The region around a feature, in the orientation in which the part is printed.

    Loose pieces under 2 % of its volume are dropped; a base is put under it where it stands on too
    little or is in several pieces.

    Args:
        part: The part, as it is printed.
        feature: A named feature, or a box (x0, y0, z0, x1, y1, z1).
        margin_mm: Material kept around the box, 0 or more.
        name: Of the coupon; made from the part and the feature where empty.

    Raises:
        InputError: The box is inside out or not finite, or the margin is negative.
        NoPlanError: The box holds nothing of the part.
        MeshError: The part is no closed solid.
    """
    box, label = _box_of(feature)
    if not 0.0 <= margin_mm < float("inf"):
        raise InputError(f"coupon: a margin of {margin_mm} mm found; 0 or more is needed")
    solid = solid_of(part)
    return _cut(part, solid, box, label, margin_mm, name)


def cut_pair(
    first: tuple[Part, Sequence[float]],
    second: tuple[Part, Sequence[float]],
    box_mm: Sequence[float],
    *,
    margin_mm: float = MARGIN_MM,
) -> tuple[Coupon, Coupon]:
    """Coupons of two parts that meet, cut by one box in the place where they stand together.

    Each comes back in the orientation in which its part is printed, so that a hinge can be printed
    in two small pieces and tried.

    Args:
        first: A part as printed, and the pose (16 numbers, row by row) that takes it to its place
            in the device; likewise ``second``.
        second: See ``first``.
        box_mm: (x0, y0, z0, x1, y1, z1) in the device's coordinates.
        margin_mm: Material kept around the box.

    Raises:
        InputError: As ``cut_coupon``, or a pose is no rotation with a translation.
        NoPlanError: The box holds nothing of one of the parts.
        MeshError: A part is no closed solid.
    """
    box, _ = _box_of(box_mm)
    made = []
    for part, pose in (first, second):
        placed = turn_part(part, pose)
        matrix = np.asarray(pose, dtype=np.float64).reshape(4, 4)[:3]
        grown = _grown_box(box, margin_mm)
        piece = checked(_block(grown) ^ solid_of(placed), part.name)
        back = np.linalg.inv(np.vstack([matrix, [0.0, 0.0, 0.0, 1.0]]))[:3]
        printed = checked(piece.transform(back), part.name)
        made.append(_finish(part, printed, tuple(float(x) for x in box), "", margin_mm, ""))
    return made[0], made[1]


def coupon_within(
    part: Part,
    feature: Feature | Sequence[float],
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    limit_min: float,
    margin_mm: float = MARGIN_MM,
) -> tuple[Coupon, PrintEstimate]:
    """A coupon that prints within a limit: its margin is shrunk until the real estimate allows it.

    Args:
        part: The part, as it is printed.
        feature: As in ``cut_coupon``.
        printer: The machine.
        feedstock: What it is made of.
        recipe: Process settings.
        limit_min: Most minutes of the machine, warm-up included.
        margin_mm: Largest margin.

    Raises:
        InputError: As ``cut_coupon``, or the limit is not above 0.
        NoPlanError: Even without margin it takes longer; the message says how long.
        MeshError: The part is no closed solid.
    """
    if not 0.0 < limit_min < float("inf"):
        raise InputError(f"coupon: a limit of {limit_min} minutes found; more than 0 is needed")
    box, label = _box_of(feature)
    solid = solid_of(part)

    def attempt(steps: int) -> tuple[Coupon, PrintEstimate]:
        made = _cut(part, solid, box, label, steps * MARGIN_STEP_MM, "")
        return made, estimate_print(made.part, printer, feedstock, recipe)

    most = round(margin_mm / MARGIN_STEP_MM)
    best = attempt(most)
    if 60.0 * best[1].time_h <= limit_min:
        return best
    best = attempt(0)
    if 60.0 * best[1].time_h > limit_min:
        raise NoPlanError(
            f"{part.name}: a coupon of {label or 'the box'} takes {60.0 * best[1].time_h:.0f} min "
            f"without any margin, {limit_min:g} min are allowed; allow as many, choose a smaller "
            "box or thicker layers"
        )
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        found = attempt(middle)
        if 60.0 * found[1].time_h <= limit_min:
            low, best = middle, found
        else:
            high = middle
    return best


def _box_of(feature: Feature | Sequence[float]) -> tuple[NDArray[np.float64], str]:
    """Box (6,) and name of a feature."""
    name = feature.name if isinstance(feature, Feature) else ""
    numbers = feature.box_mm if isinstance(feature, Feature) else feature
    box = np.asarray(numbers, dtype=np.float64)
    if box.shape != (6,) or not np.isfinite(box).all() or (box[3:] <= box[:3]).any():
        raise InputError(
            f"coupon{f' of {name}' if name else ''}: the box {tuple(np.ravel(box).tolist())} is "
            "none; six finite numbers x0, y0, z0, x1, y1, z1 are needed, each second one larger"
        )
    return box, name


def _grown_box(box: NDArray[np.float64], margin_mm: float) -> NDArray[np.float64]:
    return np.concatenate([box[:3] - margin_mm, box[3:] + margin_mm])


def _block(box: NDArray[np.float64]) -> "Manifold":
    from manifold3d import Manifold

    return Manifold.cube(tuple(box[3:] - box[:3])).translate(tuple(box[:3]))


def _cut(
    part: Part, solid: "Manifold", box: NDArray[np.float64], label: str, margin_mm: float, name: str
) -> Coupon:
    piece = checked(_block(_grown_box(box, margin_mm)) ^ solid, part.name)
    return _finish(part, piece, tuple(float(x) for x in box), label, margin_mm, name)


def _finish(
    part: Part,
    piece: "Manifold",
    box: tuple[float, ...],
    label: str,
    margin_mm: float,
    name: str,
) -> Coupon:
    """Drop fragments, put a base under what stands badly, and make it a part."""
    from manifold3d import Manifold, OpType

    whole = piece.volume()
    if piece.is_empty() or whole <= 0.0:
        low, high = part.vertices_mm.min(axis=0), part.vertices_mm.max(axis=0)
        reach = ", ".join(f"{a:.0f} to {b:.0f}" for a, b in zip(low, high, strict=True))
        raise NoPlanError(
            f"{part.name}: the box {tuple(round(x, 1) for x in box)} holds nothing of it; it "
            f"reaches from {reach} mm in x, y, z: move the box"
        )
    pieces = sorted(piece.decompose(), key=lambda body: -body.volume())
    kept = [body for body in pieces if body.volume() >= FRAGMENT_FRAC * whole]
    solid = kept[0] if len(kept) == 1 else Manifold.batch_boolean(kept, OpType.Add)
    has_base = _needs_base(solid, len(kept))
    if has_base:
        solid = checked(solid + _base(solid), part.name)
    title = name or f"{part.name} coupon{f' {label}' if label else ''}"
    return Coupon(
        part=part_of(solid, name=title, source=part.source),
        of=part.name,
        feature=label,
        box_mm=box,
        margin_mm=margin_mm,
        dropped_mm3=sum(body.volume() for body in pieces[len(kept) :]),
        dropped=len(pieces) - len(kept),
        has_base=has_base,
        volume_frac=solid.volume() / part.volume_mm3,
    )


def _needs_base(solid: "Manifold", pieces: int) -> bool:
    from manifold3d import CrossSection, FillRule

    box = solid.bounding_box()
    height = box[5] - box[2]
    foot = solid.slice(box[2] + min(FOOT_HEIGHT_MM, 0.5 * height)).area()
    shadow = CrossSection(solid.project().to_polygons(), FillRule.Positive).area()
    return bool(
        pieces > 1 or foot < FOOT_OF_SHADOW * shadow or foot < FOOT_OF_HEIGHT * height * height
    )


def _base(solid: "Manifold") -> "Manifold":
    """A slab under the hull of the shadow, one overlap deep in the coupon and not deeper."""
    from manifold3d import CrossSection, FillRule, JoinType

    shadow = CrossSection(solid.project().to_polygons(), FillRule.Positive)
    outline = shadow.hull().offset(BASE_RIM_MM, JoinType.Round, 2.0, 32)
    bottom = solid.bounding_box()[2]
    return outline.extrude(BASE_MM).translate((0.0, 0.0, bottom - BASE_MM + BASE_OVERLAP_MM))
