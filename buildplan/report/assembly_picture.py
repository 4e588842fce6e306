"""The assembly sketch: the pieces moved apart, each joint numbered in the order of assembly."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.raster import draw_facets, look_along
from buildplan.part.make import part_from_mesh
from buildplan.part.model import Part
from buildplan.report.picture import Picture, PictureKind, draw_part
from buildplan.segments.assembly import AssemblyStep, assembly_steps
from buildplan.segments.model import SegmentPlan
from buildplan.segments.solid import solid_of

if TYPE_CHECKING:
    from manifold3d import Manifold
    from PIL.ImageDraw import ImageDraw

PIECE_COLOURS = (
    "#c3bbae",
    "#8fb8d0",
    "#e0b878",
    "#93c2a5",
    "#d3a0a0",
    "#b3a7cf",
    "#a9b4bb",
    "#d6c98a",
)
"""Soft tints, each with its own lightness; the label on every piece says which is which."""

LOOK_PX = 240
"""Pixels each way of the trial view that finds places for the labels."""

APART_FRAC = 0.16
"""How far a joint is opened, as a share of the part's largest size."""

VIEW_DEG = (34.0, 33.0)
INK = (29, 33, 37, 255)
PAPER = (253, 252, 250, 255)
ACCENT = (0, 114, 178, 255)
FINER = 3
"""Marks are drawn so many times as large and shrunk, so that their edges are smooth."""

PROBE_MM = 30.0
"""How far around a point of a joint its piece is looked for."""

MOST_LINES = 8
"""Dashed lines shown for one joint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joint:
    """A joint in the picture: both ends of each of its dashed lines, in millimetres."""

    number: int
    ends_mm: tuple[tuple[NDArray[np.float64], NDArray[np.float64]], ...]


def draw_assembly(
    plan: SegmentPlan, *, width_px: int = 1100, height_px: int = 800, kind: PictureKind = "png"
) -> Picture:
    """Exploded picture: every piece with its name, every joint with its number and dashed lines.

    Args:
        plan: A plan with at least one joint.
        width_px: Width of the picture.
        height_px: Height of the picture.
        kind: "webp" or "png".

    Raises:
        InputError: The size is impossible.
    """
    steps = assembly_steps(plan)
    shifts = piece_shifts(plan, steps)
    merged, painted = _merged(plan, shifts)
    drawn = draw_part(
        merged,
        width_px=width_px,
        height_px=height_px,
        painted=painted,
        view_deg=VIEW_DEG,
        kind="png",
    )
    spots = _label_points(merged, [facets for _, facets in painted])
    return replace(drawn, data=_with_marks(plan, shifts, steps, drawn, spots, kind), kind=kind)


def piece_shifts(
    plan: SegmentPlan, steps: Sequence[AssemblyStep]
) -> dict[str, NDArray[np.float64]]:
    """How far each piece is moved (3,), by its name: every joint opens along its normal."""
    size = max(
        float(np.ptp(np.concatenate([p.part.vertices_mm for p in plan.pieces]), axis=0).max()), 1.0
    )
    shifts = {piece.name: np.zeros(3) for piece in plan.pieces}
    for step in steps:
        apart = APART_FRAC * size * np.array(plan.joints[step.index].plane.normal)
        for name in step.first:
            shifts[name] = shifts[name] + apart / 2.0
        for name in step.second:
            shifts[name] = shifts[name] - apart / 2.0
    return shifts


def _merged(
    plan: SegmentPlan, shifts: dict[str, NDArray[np.float64]]
) -> tuple[Part, list[tuple[str, NDArray[np.int64]]]]:
    """All pieces in one mesh, moved apart, and the facets of each with its colour."""
    vertices, facets, painted = [], [], []
    points = count = 0
    for number, piece in enumerate(plan.pieces):
        vertices.append(piece.part.vertices_mm + shifts[piece.name])
        facets.append(piece.part.facets + points)
        own = np.arange(count, count + len(piece.part.facets))
        painted.append((PIECE_COLOURS[number % len(PIECE_COLOURS)], own))
        points += len(piece.part.vertices_mm)
        count += len(own)
    merged = part_from_mesh(
        np.concatenate(vertices), np.concatenate(facets), name=plan.part, health="quick"
    )
    return merged, painted


def _label_points(merged: Part, owned: Sequence[NDArray[np.int64]]) -> list[NDArray[np.float64]]:
    """A point of each piece where its label covers most of it and nothing else, as far as seen.

    That is the place farthest from the edge of what is seen of the piece; a piece that is hidden
    gets its middle.
    """
    from scipy.ndimage import distance_transform_edt

    turn, lift = (math.radians(angle) for angle in VIEW_DEG)
    toward = np.array(
        [math.cos(lift) * math.sin(turn), -math.cos(lift) * math.cos(turn), math.sin(lift)]
    )
    right = np.array([math.cos(turn), math.sin(turn), 0.0])
    points = np.empty_like(merged.vertices_mm)
    look_along(
        np.array(merged.vertices_mm),
        np.array([right, np.cross(toward, right), toward]),
        LOOK_PX,
        points,
    )
    nearness = np.full((LOOK_PX, LOOK_PX), -np.inf, dtype=np.float32)
    nearest = np.full((LOOK_PX, LOOK_PX), -1, dtype=np.int32)
    draw_facets(points, np.array(merged.facets, dtype=np.int64), nearness, nearest)
    owner = np.full(len(merged.facets) + 1, -1)
    for number, facets in enumerate(owned):
        owner[facets] = number
    seen = owner[nearest]
    found = []
    for number, facets in enumerate(owned):
        mask = np.pad(seen == number, 1)
        inner = distance_transform_edt(mask)[1:-1, 1:-1]
        at = np.unravel_index(int(inner.argmax()), inner.shape)
        shown = np.array([nearest[at]]) if inner[at] > 0.0 else facets
        found.append(merged.vertices_mm[merged.facets[shown]].reshape(-1, 3).mean(axis=0))
    return found


def _joints(
    plan: SegmentPlan, shifts: dict[str, NDArray[np.float64]], steps: Sequence[AssemblyStep]
) -> list[_Joint]:
    found = []
    solids = {piece.name: solid_of(piece.part) for piece in plan.pieces}
    for step in steps:
        joint = plan.joints[step.index]
        points = np.array(joint.at_mm).reshape(-1, 3)
        if not len(points):
            vertices = plan.pieces[0].part.vertices_mm
            middle = (vertices.min(axis=0) + vertices.max(axis=0)) / 2.0
            normal = np.array(joint.plane.normal)
            points = (middle + normal * (joint.plane.offset_mm - middle @ normal))[None, :]
        every = max(1, math.ceil(len(points) / MOST_LINES))
        ends = tuple(
            (
                point + shifts[_nearest(point, step.first, solids)],
                point + shifts[_nearest(point, step.second, solids)],
            )
            for point in points[::every]
        )
        found.append(_Joint(number=step.joint, ends_mm=ends))
    return found


def _nearest(
    point: NDArray[np.float64], names: Sequence[str], solids: "dict[str, Manifold]"
) -> str:
    """The piece that a point of a joint belongs to: the one with material nearest to it."""
    from manifold3d import Manifold

    if len(names) == 1:
        return names[0]
    probe = Manifold.sphere(0.05, 8).translate(tuple(point))
    gaps = [round(float(probe.min_gap(solids[name], PROBE_MM)), 6) for name in names]
    return names[int(np.argmin(gaps))]


def _with_marks(
    plan: SegmentPlan,
    shifts: dict[str, NDArray[np.float64]],
    steps: Sequence[AssemblyStep],
    drawn: Picture,
    label_points: Sequence[NDArray[np.float64]],
    kind: PictureKind,
) -> bytes:
    """The picture with dashed lines, numbers of joints and names of pieces over it."""
    from PIL import Image, ImageDraw

    image = Image.open(io.BytesIO(drawn.data)).convert("RGBA")
    width, height = image.size
    marks = Image.new("RGBA", (width * FINER, height * FINER), (0, 0, 0, 0))
    pen = ImageDraw.Draw(marks)
    taken: list[tuple[float, float]] = []

    def at(point: NDArray[np.float64]) -> tuple[float, float]:
        x, y = drawn.at(point)
        return x * width * FINER, y * height * FINER

    joints = _joints(plan, shifts, steps)
    for joint in joints:
        for one, other in joint.ends_mm:
            _dashed(pen, at(one), at(other))
    for number, piece in enumerate(plan.pieces, 1):
        spot = _free(at(label_points[number - 1]), taken)
        _label(pen, spot, piece.name.removeprefix(plan.part).strip() or str(number))
        taken.append(spot)
    for joint in joints:
        spots = [
            tuple((a + b) / 2.0 for a, b in zip(at(one), at(other), strict=True))
            for one, other in joint.ends_mm
        ]
        # the line nearest to the viewer is the lowest on the picture
        spot = _free(max(spots, key=lambda p: p[1]), taken)
        _disc(pen, spot, str(joint.number))
        taken.append(spot)
    image.alpha_composite(marks.resize((width, height), Image.Resampling.LANCZOS))
    file = io.BytesIO()
    if kind == "png":
        image.save(file, "PNG", optimize=False, compress_level=6)
    else:
        image.save(file, "WEBP", quality=90, alpha_quality=92, method=4, exact=False)
    return file.getvalue()


def _free(spot: tuple[float, ...], taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The spot, moved down until it covers no other mark."""
    x, y = float(spot[0]), float(spot[1])
    room = 34.0 * FINER
    while any(math.hypot(x - a, y - b) < room for a, b in taken):
        y += room / 4.0
    return x, y


def _dashed(pen: "ImageDraw", one: tuple[float, float], other: tuple[float, float]) -> None:
    length = math.hypot(other[0] - one[0], other[1] - one[1])
    dash = 6.0 * FINER
    for step in range(int(length // dash) + 1):
        if step % 2:
            continue
        ends = [min(1.0, (step + k) * dash / max(length, 1e-9)) for k in (0, 1)]
        pen.line(
            [(one[0] + t * (other[0] - one[0]), one[1] + t * (other[1] - one[1])) for t in ends],
            fill=INK,
            width=round(1.6 * FINER),
        )
    for x, y in (one, other):
        r = 2.6 * FINER
        pen.ellipse((x - r, y - r, x + r, y + r), fill=INK)


def _disc(pen: "ImageDraw", spot: tuple[float, float], text: str) -> None:
    """The number of a joint in a disc."""
    x, y = spot
    r = 15.0 * FINER
    pen.ellipse((x - r, y - r, x + r, y + r), fill=ACCENT, outline=PAPER, width=2 * FINER)
    pen.text((x, y), text, fill=PAPER, font=_font(18 * FINER), anchor="mm")


def _label(pen: "ImageDraw", spot: tuple[float, float], text: str) -> None:
    """The name of a piece on a tag."""
    x, y = spot
    font = _font(17 * FINER)
    left, top, right, bottom = pen.textbbox((x, y), text, font=font, anchor="mm")
    room = 7.0 * FINER
    box = (left - 1.4 * room, top - room, right + 1.4 * room, bottom + room)
    pen.rounded_rectangle(box, radius=5 * FINER, fill=PAPER, outline=INK, width=FINER)
    pen.text((x, y), text, fill=INK, font=font, anchor="mm")


def _font(size: int) -> Any:
    from PIL import ImageFont

    return ImageFont.load_default(size)
