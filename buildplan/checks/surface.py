"""What stands opposite every place of a part's surface: wall thickness inside, gap outside."""

import math
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels.edges import label_shells
from buildplan.kernels.facet_samples import count_samples, spread_samples
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.mesh_measure import bound_points
from buildplan.kernels.nearest_facet import nearest_facets
from buildplan.kernels.opposed_ball import (
    INSIDE,
    OUTSIDE,
    bound_normals,
    opposed_balls,
)
from buildplan.part.model import Part
from buildplan.part.shells import search_crossings, shell_figures, unite_shells
from buildplan.part.surface import match_edges
from buildplan.process.cache import cached
from buildplan.process.supports.hanging import run_side_by_side
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import Rules

SAMPLES = 100_000
"""Samples on the surface that the pitch aims at; every facet has one at least."""

PITCHES_PER_CAP = 8.0
"""The pitch is not finer than this share of the wider cap: it would tell nothing more."""

CAP_SHARE = 1.25
"""The caps over the widest limit that the checks ask for."""

SLAB = 8192
"""Samples that one task measures; fixed, so that no number depends on the number of workers."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """Samples all over a surface, with the thickness below and the gap above each of them.

    Attributes:
        part_key: Of the part that was measured.
        pitch_mm: About the distance between samples.
        inside_cap_mm: Thickness is measured up to this; likewise outside_cap_mm for gaps.
        vertices_mm: (v, 3) of the surface that was measured: the part's own, or the union of its
            shells where these overlap.
        facets: (m, 3) likewise.
        part_facet: (m,) the part's facet that each measured facet lies on.
        normals: (m, 3) outward unit vectors of the measured facets.
        points_mm: (n, 3) samples; those of one facet follow each other.
        facet: (n,) measured facet that a sample lies on.
        weight_mm2: (n,) area that a sample stands for.
        thickness_mm: (n,) diameter of the opposed ball inside, at most the cap.
        thickness_facet: (n,) measured facet that this ball touches, -1 where none.
        gap_mm: (n,) likewise outside; gap_facet the facet touched.
        united: Whether overlapping shells were united first.
    """

    part_key: str
    pitch_mm: float
    inside_cap_mm: float
    outside_cap_mm: float
    vertices_mm: NDArray[np.float64]
    facets: NDArray[np.int64]
    part_facet: NDArray[np.int64]
    normals: NDArray[np.float64]
    points_mm: NDArray[np.float64]
    facet: NDArray[np.int64]
    weight_mm2: NDArray[np.float64]
    thickness_mm: NDArray[np.float64]
    thickness_facet: NDArray[np.int64]
    gap_mm: NDArray[np.float64]
    gap_facet: NDArray[np.int64]
    united: bool


def caps_for(recipe: Recipe, rules: Rules) -> tuple[float, float]:
    """Caps inside and outside that serve the checks of walls and of gaps, in millimetres."""
    wall_mm = rules.wall_structural_mm
    if isinstance(recipe, ExtrusionRecipe):
        wall_mm = max(wall_mm, 2.0 * recipe.bead_mm)
    return CAP_SHARE * wall_mm, CAP_SHARE * rules.gap_moving_mm


def measure_surface(
    part: Part,
    *,
    inside_cap_mm: float,
    outside_cap_mm: float,
    pitch_mm: float | None = None,
    workers: int = 1,
) -> Surface:
    """Thickness and gap all over a part's surface, by the widest ball at each sample.

    Every facet carries ceil(area / pitch^2) samples. A cap is the widest ball of interest; about
    twice the limit is enough, and far more is slow. The same bytes for any number of workers;
    kept in the cache by the part's key, the caps and the pitch.

    Args:
        part: Any mesh; on an open one the numbers near its holes are caps.
        inside_cap_mm: Thickness is measured up to this.
        outside_cap_mm: Gaps are measured up to this.
        pitch_mm: Distance between samples; by itself about 100 000 samples, but no finer than an
            eighth of the wider cap.
        workers: Threads.

    Raises:
        InputError: A cap or the pitch is not positive and finite.
    """
    for name, value in (
        ("inside_cap_mm", inside_cap_mm),
        ("outside_cap_mm", outside_cap_mm),
        ("pitch_mm", 1.0 if pitch_mm is None else pitch_mm),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} is {value:g}; give a length above 0 that is finite")
    if pitch_mm is None:
        pitch_mm = max(
            math.sqrt(part.area_mm2 / SAMPLES), max(inside_cap_mm, outside_cap_mm) / PITCHES_PER_CAP
        )
    key = ("surface", part.key, inside_cap_mm, outside_cap_mm, pitch_mm)
    pitch, caps = pitch_mm, (inside_cap_mm, outside_cap_mm)
    return cached(key, lambda: _measure(part, caps, pitch, workers))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Skin:
    """The surface that is measured, and the part's facet that each of its facets lies on."""

    vertices_mm: NDArray[np.float64]
    facets: NDArray[np.int64]
    part_facet: NDArray[np.int64]
    united: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tree:
    """The facets about their own middle, sorted into boxes."""

    order: NDArray[np.int64]
    corners: NDArray[np.float64]
    boxes: NDArray[np.float64]
    leaves: int
    normals: NDArray[np.float64]
    ranges: NDArray[np.float64]
    areas: NDArray[np.float64]


def _plant(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], middle: NDArray[np.float64]
) -> _Tree:
    """The tree about a middle: far from the origin the last digits of products would be lost."""
    order, corners, boxes, leaves = build_facet_tree((vertices - middle)[facets])
    normals, ranges, areas = bound_normals(corners, leaves)
    return _Tree(
        order=order,
        corners=corners,
        boxes=boxes,
        leaves=leaves,
        normals=normals,
        ranges=ranges,
        areas=areas,
    )


def _middle(vertices: NDArray[np.float64]) -> NDArray[np.float64]:
    middle: NDArray[np.float64] = bound_points(vertices).mean(axis=0)
    return middle


def _measure(part: Part, caps: tuple[float, float], pitch_mm: float, workers: int) -> Surface:
    skin = _skin_of(part)
    middle = _middle(skin.vertices_mm)
    tree = _plant(skin.vertices_mm, skin.facets, middle)
    first = count_samples(tree.areas, pitch_mm)
    points, own = spread_samples(tree.corners, first)
    weight = (tree.areas / np.maximum(1, np.diff(first)))[own]
    thickness, thickness_place = _balls(tree, points, own, (INSIDE, caps[0]), workers)
    gap, gap_place = _balls(tree, points, own, (OUTSIDE, caps[1]), workers)
    normals = np.empty_like(tree.normals)
    normals[tree.order] = tree.normals
    number = np.append(tree.order, -1)
    points += middle
    surface = Surface(
        part_key=part.key,
        pitch_mm=pitch_mm,
        inside_cap_mm=caps[0],
        outside_cap_mm=caps[1],
        vertices_mm=skin.vertices_mm,
        facets=skin.facets,
        part_facet=skin.part_facet,
        normals=normals,
        points_mm=points,
        facet=tree.order[own],
        weight_mm2=weight,
        thickness_mm=thickness,
        thickness_facet=number[thickness_place],
        gap_mm=gap,
        gap_facet=number[gap_place],
        united=skin.united,
    )
    return _closed_to_writing(surface)


def _balls(
    tree: _Tree,
    points: NDArray[np.float64],
    own: NDArray[np.int64],
    side_and_cap: tuple[float, float],
    workers: int,
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Width at each sample on one side, and the place of the facet touched."""
    width = np.empty(len(points))
    contact = np.empty(len(points), np.int64)
    slabs = list(pairwise([*range(0, len(points), SLAB), len(points)]))

    def run(slab: tuple[int, int]) -> None:
        here = slice(*slab)
        opposed_balls(
            tree.corners,
            tree.normals,
            tree.boxes,
            tree.ranges,
            tree.leaves,
            points[here],
            own[here],
            *side_and_cap,
            width[here],
            contact[here],
        )

    run_side_by_side(run, slabs, workers)
    return width, contact


def _skin_of(part: Part) -> _Skin:
    """The part's own surface, or the union of its shells where these overlap.

    A full search at reading has united them already. Where the union fails the part's own
    surface is measured; the reader's findings tell about the overlap.
    """
    own = _Skin(
        vertices_mm=part.vertices_mm,
        facets=part.facets,
        part_facet=np.arange(len(part.facets)),
        united=False,
    )
    if part.shells < 2 or not part.closed or part.health.searched == "full":
        return own
    whole = match_edges(part.vertices_mm, part.facets)
    shell, shells = label_shells(whole.twin)
    crossings = search_crossings(whole, shell, shells)
    outward = shell_figures(whole, shell, shells)[:, 0] > 0.0
    swallowed = outward & (crossings.inside % 2 == 1)
    if not crossings.crossed_shells and not swallowed.any():
        return own
    united = unite_shells(whole, shell, shells)
    if united is None:
        return own
    middle = _middle(part.vertices_mm)
    tree = _plant(part.vertices_mm, part.facets, middle)
    corners = united.vertices[united.facets] - middle
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(across, axis=1, keepdims=True)
    nearest = nearest_facets(
        tree.corners,
        tree.normals,
        tree.boxes,
        tree.leaves,
        corners.mean(axis=1),
        across / np.where(length > 0.0, length, 1.0),
    )
    return _Skin(
        vertices_mm=united.vertices,
        facets=united.facets,
        part_facet=tree.order[np.maximum(nearest, 0)],
        united=True,
    )


def _closed_to_writing(surface: Surface) -> Surface:
    for field in fields(surface):
        value = getattr(surface, field.name)
        if isinstance(value, np.ndarray):
            value.flags.writeable = False
    return surface
