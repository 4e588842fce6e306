"""The repair ladder: each rung is kept only if it helps, and says what it did.

finite and welded -> collapsed and repeated facets dropped -> coarser weld of open edges -> facets
turned alike -> small openings patched -> shells turned outwards, empty ones dropped -> overlapping
shells united. What is still open is an estimate where the gaps are small, and refused otherwise.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError, MeshError
from buildplan.findings import Finding
from buildplan.kernels.mesh_measure import bound_points
from buildplan.part.facing import change_of_volume, face_outwards, refuse_flat, search_shells
from buildplan.part.holes import Opening, find_openings, patch_openings
from buildplan.part.model import Grade, Health
from buildplan.part.repair_log import (
    RepairLog,
    dropped_empty,
    estimate_only,
    places_of,
    plural,
    round_up,
)
from buildplan.part.surface import (
    Surface,
    diagonal_of,
    drop_collapsed,
    drop_repeated,
    ends_of_lone_edges,
    facet_areas,
    match_edges,
    signed_volume,
    turn_facets_alike,
    weld_lone_edges,
)

WELD_FRACS = (1e-6, 1e-5, 1e-4)
"""Reaches of the coarser weld over the diagonal (our choice, findings on a jittered mesh)."""

PATCH_SPAN_FRAC = 0.05
"""Widest opening that is patched without being asked, over the diagonal (our choice)."""

ESTIMATE_SPAN_FRAC, ESTIMATE_AREA_FRAC = 0.25, 0.05
"""Widest opening over the diagonal, and largest patch over the area, that an estimate may have."""

FARTHEST_MM = 1e12
MOST_OPEN_EDGES = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Wholeness:
    """How a mesh is to be made whole.

    Attributes:
        search: "full" looks for overlapping shells and self-intersections too.
        fill_holes_mm: Widest opening to patch; None takes 5 % of the diagonal.
    """

    search: Literal["full", "quick"] = "full"
    fill_holes_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse an unknown depth of search and a width that is no length."""
        if self.search not in ("full", "quick"):
            raise InputError(f"health {self.search!r} is not known; allowed: 'full', 'quick'")
        width = self.fill_holes_mm
        if width is not None and not (math.isfinite(width) and width >= 0.0):
            raise InputError(f"fill_holes_mm is {width}; a length of 0 mm or more is needed")


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeMesh:
    """A mesh after the ladder.

    Attributes:
        volume_mm3: Of the solid; of an estimate, with its openings closed in thought.
    """

    vertices: NDArray[np.float64]
    facets: NDArray[np.int64]
    volume_mm3: float
    closed: bool
    shells: int
    health: Health
    findings: tuple[Finding, ...]


def make_whole(
    name: str, vertices: NDArray[np.float64], facets: NDArray[np.int64], how: Wholeness
) -> WholeMesh:
    """The mesh as a closed, outward-facing body, with a record of what was done to it.

    Args:
        name: Shown in messages.
        vertices: (n, 3) in millimetres, finite, equal ones already one.
        facets: (m, 3).
        how: Depth of the search and size of the openings to patch.

    Raises:
        MeshError: when the mesh encloses no volume or stays open.
    """
    log = RepairLog()
    _refuse_far(name, vertices)
    kept = drop_collapsed(facets)
    log.degenerate = len(facets) - len(kept)
    if not len(kept):
        raise MeshError(
            f"{name}: all {len(facets)} triangles have no area (their corners coincide); export "
            "the part as a mesh again"
        )
    if log.degenerate:
        log.findings.append(dropped_empty(log.degenerate, len(facets)))
    surface = match_edges(vertices, kept)
    if surface.crowded_edges:
        surface = _without_repeats(surface, log)
    if surface.open_edges:
        surface = _close(name, surface, how, log)
    surface, shells = face_outwards(name, surface, log)
    if how.search == "full":
        surface, shells = search_shells(surface, shells, log)
    volume = signed_volume(surface.vertices, surface.facets)
    volume = log.volume if log.volume is not None else volume
    refuse_flat(name, surface, volume)
    change = _change_since(vertices, kept, volume) if log.repairs else 0.0
    log.sum_up(change)
    return WholeMesh(
        vertices=surface.vertices,
        facets=surface.facets,
        volume_mm3=volume,
        closed=surface.open_edges == 0,
        shells=shells,
        health=_health(log, how, change),
        findings=tuple(log.findings),
    )


def _health(log: RepairLog, how: Wholeness, change: float) -> Health:
    grade: Grade = "estimate" if log.volume is not None else "repaired" if log.repairs else "exact"
    return Health(
        grade=grade,
        searched=how.search,
        open_edges=log.open_edges,
        holes=log.holes,
        flipped_facets=log.flipped,
        duplicate_facets=log.duplicate,
        degenerate_facets=log.degenerate,
        overlapping_shells=log.overlapping,
        self_intersections=log.crossing,
        repairs=tuple(log.repairs),
        volume_change_frac=change,
        patched_frac=log.patched_frac,
    )


def _change_since(vertices: NDArray[np.float64], facets: NDArray[np.int64], volume: float) -> float:
    """Volume now over the volume of the mesh as read, minus 1."""
    as_read = abs(signed_volume(vertices, facets))
    return volume / as_read - 1.0 if as_read > 0.0 else 0.0


def _refuse_far(name: str, vertices: NDArray[np.float64]) -> None:
    reach = float(np.abs(bound_points(vertices)).max())
    if not reach <= FARTHEST_MM:
        raise MeshError(
            f"{name}: its coordinates reach {reach:.3g} mm, at most {FARTHEST_MM:g} mm can be "
            "reckoned with; export it again, or say the unit"
        )


def _close(name: str, surface: Surface, how: Wholeness, log: RepairLog) -> Surface:
    """Climb the ladder until no edge is open, or as far as it goes."""
    surface = _welded_wider(surface, log)
    surface = _without_repeats(surface, log)
    surface = _turned_alike(surface, log)
    surface = _without_slivers(surface, log)
    if surface.open_edges:
        surface = _patched(name, surface, how, log)
    return surface


def _without_repeats(surface: Surface, log: RepairLog) -> Surface:
    facets = drop_repeated(surface.facets)
    dropped = len(surface.facets) - len(facets)
    if not dropped:
        return surface
    better = match_edges(surface.vertices, facets)
    if better.open_edges >= surface.open_edges and better.open_edges:
        return surface
    log.duplicate += dropped
    log.repaired(
        f"{plural(dropped, 'facet')} that stood twice dropped", change_of_volume(surface, better)
    )
    return better


def _welded_wider(surface: Surface, log: RepairLog) -> Surface:
    """Without gaps between vertices that should be one, where that halves the open edges."""
    if not surface.open_edges:
        return surface
    diagonal = diagonal_of(surface.vertices)
    ends = ends_of_lone_edges(surface)
    best, reach = surface, 0.0
    for frac in WELD_FRACS:
        trial = weld_lone_edges(surface, ends, frac * diagonal)
        if len(trial.facets) and 2 * trial.open_edges <= best.open_edges:
            best, reach = trial, frac * diagonal
        if not best.open_edges:
            break
    if best is not surface:
        log.degenerate += len(surface.facets) - len(best.facets)
        joined = len(surface.vertices) - len(best.vertices)
        log.repaired(
            f"{plural(joined, 'corner point')} joined to a neighbour within {reach:.2g} mm",
            change_of_volume(surface, best),
        )
    return best


def _turned_alike(surface: Surface, log: RepairLog) -> Surface:
    if not surface.open_edges:
        return surface
    better, turned = turn_facets_alike(surface)
    if better.open_edges >= surface.open_edges:
        return surface
    log.flipped += turned
    log.unsure = True
    log.repaired(
        f"{turned} of {len(surface.facets)} facets faced the wrong way, now turned over",
        change_of_volume(surface, better),
    )
    return better


def _without_slivers(surface: Surface, log: RepairLog) -> Surface:
    """Without stray facets of no area, where their going closes edges."""
    if not surface.open_edges:
        return surface
    areas = facet_areas(surface.vertices, surface.facets)
    empty = areas <= 1e-14 * diagonal_of(surface.vertices) ** 2
    if not empty.any() or empty.all():
        return surface
    better = match_edges(surface.vertices, surface.facets[~empty])
    if better.open_edges >= surface.open_edges:
        return surface
    dropped = int(empty.sum())
    log.degenerate += dropped
    log.repaired(
        f"{plural(dropped, 'facet')} without area dropped", change_of_volume(surface, better)
    )
    return better


def _patched(name: str, surface: Surface, how: Wholeness, log: RepairLog) -> Surface:
    """Small openings patched; larger ones left for an estimate, or the mesh refused."""
    log.open_edges = surface.open_edges
    if surface.open_edges > MOST_OPEN_EDGES:
        raise MeshError(
            f"{name}: {surface.open_edges} edges of {len(surface.facets)} triangles are open (at "
            f"most {MOST_OPEN_EDGES} can be closed here); the facets do not join, export again"
        )
    openings = find_openings(surface)
    log.holes = tuple(opening.hole for opening in openings)
    diagonal = diagonal_of(surface.vertices)
    widest = PATCH_SPAN_FRAC * diagonal if how.fill_holes_mm is None else how.fill_holes_mm
    small = tuple(opening for opening in openings if opening.hole.span_mm <= widest)
    large = openings[: len(openings) - len(small)]
    whole_area = float(facet_areas(surface.vertices, surface.facets).sum())
    if small:
        before = surface
        surface, area = _with_patches(surface, small)
        log.patched_frac = area / (whole_area + area)
        log.repaired(
            f"{plural(len(small), 'hole')} patched, {100.0 * log.patched_frac:.2g} % of the area",
            change_of_volume(before, surface),
            where=places_of(small),
        )
    if large:
        closed, area = _with_patches(surface, large)
        refuse_flat(name, surface, abs(signed_volume(closed.vertices, closed.facets)))
        _judge_large(name, large, diagonal, area / (whole_area + area))
        log.volume = abs(signed_volume(closed.vertices, closed.facets))
        log.findings.append(estimate_only(large, widest, area / (whole_area + area)))
    elif surface.open_edges:
        raise MeshError(_still_open(name, surface, openings))
    return surface


def _with_patches(surface: Surface, openings: tuple[Opening, ...]) -> tuple[Surface, float]:
    extra, facets, area = patch_openings(surface.vertices, openings)
    vertices = np.vstack([surface.vertices, extra]) if len(extra) else surface.vertices
    return match_edges(vertices, np.vstack([surface.facets, facets])), area


def _judge_large(name: str, large: tuple[Opening, ...], diagonal: float, patch_frac: float) -> None:
    span = large[0].hole.span_mm
    if span <= ESTIMATE_SPAN_FRAC * diagonal and patch_frac <= ESTIMATE_AREA_FRAC:
        return
    raise MeshError(
        f"{name}: the part is not a closed solid: {plural(len(large), 'hole')}, the largest "
        f"{span:.4g} mm wide with {large[0].hole.edges} edges, {places_of(large)}; even an "
        f"estimate allows at most {ESTIMATE_SPAN_FRAC * diagonal:.4g} mm and "
        f"{100.0 * ESTIMATE_AREA_FRAC:g} % of the surface (found {100.0 * patch_frac:.2g} %); "
        "close it in the design file, or allow filling "
        f"with --fill-holes {round_up(span):g} (in Python fill_holes_mm={round_up(span):g})"
    )


def _still_open(name: str, surface: Surface, openings: tuple[Opening, ...]) -> str:
    return (
        f"{name}: {surface.open_edges} edges stay open and {surface.crowded_edges} edges are "
        f"shared by more than two facets after {plural(len(openings), 'hole')} "
        f"{places_of(openings)} were patched; mend the part in the design file"
    )
