"""The picture that stays in a saved notebook where no kernel runs: the same scene, drawn here.

Everything is drawn by this package's own depth buffer: no graphics card, driver or window is asked.
"""

import io
from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Severity
from buildplan.notebook.viewer.colours import COLOURS, NO_VALUE, colour_steps
from buildplan.notebook.viewer.legend import BAR_PX, draw_bar, draw_scale
from buildplan.notebook.viewer.model import Item, Scene, Values
from buildplan.part.model import Part
from buildplan.report.finding_picture import PAINT
from buildplan.report.picture import COLOUR, draw_part
from buildplan.report.style import TOKENS

Painted = list[tuple[str, NDArray[np.int64]]]

PAPER = TOKENS["paper"][0]
PAINTED: tuple[Severity, ...] = ("stop", "caution")
"""Findings whose facets are painted where none is chosen, as in the view; the gravest first."""


def draw_still(
    scene: Scene,
    *,
    width_px: int = 760,
    height_px: int = 500,
    colour_by: int = -1,
    apart_frac: float = 0.0,
    pose: int = 0,
    hidden: Collection[int] = (),
) -> bytes:
    """PNG of a scene from the usual side, with a scale bar; the same bytes for the same scene.

    Args:
        scene: What to show; at least one item.
        width_px: Width of the picture.
        height_px: Height of the picture.
        colour_by: Index of the values that colour the bodies, told by a bar below; -1 for their own
            colours with the findings' facets painted.
        apart_frac: How far the bodies are moved apart, 0..1.
        pose: Index along the travel.
        hidden: Indices of the bodies that are left out.

    Raises:
        InputError: Nothing is shown, or the size is impossible.
    """
    from PIL import Image, ImageDraw

    shown = [k for k in range(len(scene.items)) if k not in hidden]
    if not shown:
        raise InputError(f"{scene.title}: every body is hidden; show at least one")
    whole, starts = _together(scene, shown, apart_frac, pose)
    painted = _findings(scene, starts) if colour_by < 0 else _values(scene, colour_by, starts)
    painted += [
        (scene.items[k].colour, starts[k] + np.arange(len(scene.items[k].part.facets)))
        for k in shown
    ]
    below_px = BAR_PX if colour_by >= 0 else 0
    picture = draw_part(
        whole,
        width_px=width_px,
        height_px=height_px - below_px,
        colour=COLOUR,
        painted=painted,
        kind="png",
    )
    sheet = Image.new("RGBA", (width_px, height_px), PAPER)
    sheet.alpha_composite(Image.open(io.BytesIO(picture.data)).convert("RGBA"))
    pen = ImageDraw.Draw(sheet)
    draw_scale(pen, picture.camera)
    if colour_by >= 0:
        draw_bar(pen, scene.values[colour_by], height_px - below_px, width_px)
    file = io.BytesIO()
    sheet.convert("RGB").save(file, "PNG", optimize=False, compress_level=6)
    return file.getvalue()


def _together(
    scene: Scene, shown: list[int], apart_frac: float, pose: int
) -> tuple[Part, dict[int, int]]:
    """All bodies shown as one mesh, and the number of each body's first facet in it."""
    vertices, facets = [], []
    starts: dict[int, int] = {}
    points = count = 0
    for k in shown:
        item = scene.items[k]
        vertices.append(_placed(scene, item, apart_frac, pose))
        facets.append(item.part.facets + points)
        starts[k] = count
        points += len(item.part.vertices_mm)
        count += len(item.part.facets)
    # only its mesh is drawn: the other fields of the first part stand in for those of the whole
    whole = replace(
        scene.items[shown[0]].part,
        vertices_mm=np.concatenate(vertices),
        facets=np.concatenate(facets),
    )
    return whole, starts


def _placed(scene: Scene, item: Item, apart_frac: float, pose: int) -> NDArray[np.float64]:
    """(n, 3) vertices of a body where it stands."""
    vertices: NDArray[np.float64] = item.part.vertices_mm
    if scene.poses is not None and item.group in scene.poses.matrices:
        matrix = scene.poses.matrices[item.group][pose]
        vertices = vertices @ matrix[:3, :3].T + matrix[:3, 3]
    moved: NDArray[np.float64] = vertices + apart_frac * np.asarray(item.apart_mm)
    return moved


def _findings(scene: Scene, starts: dict[int, int]) -> Painted:
    groups: Painted = []
    for kind, colour in ((kind, PAINT[kind]) for kind in PAINTED):
        own = [
            spot.facets + starts[spot.item]
            for spot in scene.spots
            if spot.kind == kind and len(spot.facets) and spot.item in starts
        ]
        if own:
            groups.append((colour, np.unique(np.concatenate(own))))
    return groups


def _values(scene: Scene, which: int, starts: dict[int, int]) -> Painted:
    values = scene.values[which]
    if values.item not in starts:
        return []
    steps = colour_steps(_per_facet(scene, values), values.low, values.high)
    start = starts[values.item]
    painted = [
        (NO_VALUE if step < 0 else COLOURS[step], start + np.flatnonzero(steps == step))
        for step in np.unique(steps).tolist()
    ]
    # bodies without numbers stand back
    others = [
        start + np.arange(len(scene.items[k].part.facets))
        for k, start in starts.items()
        if k != values.item
    ]
    return painted + [(NO_VALUE, facets) for facets in others]


def _per_facet(scene: Scene, values: Values) -> NDArray[np.float64]:
    if values.per == "facet":
        return values.data
    corners: NDArray[np.float64] = values.data[scene.items[values.item].part.facets].mean(axis=1)
    return corners
