"""The last rungs of the repair ladder: which way shells face, and which of them overlap."""

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.kernels.mesh_measure import bound_points
from buildplan.part.repair_log import RepairLog, crosses_itself, not_united, plural, search_stopped
from buildplan.part.shells import (
    count_enclosing,
    keep_shells,
    plant_tree,
    search_crossings,
    shell_figures,
    turn_shells,
    unite_shells,
)
from buildplan.part.surface import Surface, diagonal_of, shells_of, signed_volume

TOUCHING_FRAC = 1e-6
"""Change of volume by a union up to which shells only touched."""

EMPTY_FRAC = 1e-12
"""Volume over the cube of the diagonal below which a part holds nothing."""

FLAT_FRAC = 1e-9
"""Volume of a shell over its area to the power 1.5 below which it is a sheet."""

ROUNDING = 1e-15
"""Share of area times diagonal that rounding alone may leave as a volume."""


def refuse_flat(name: str, surface: Surface, volume: float) -> None:
    """Refuse a surface that encloses no volume.

    Raises:
        MeshError: when ``volume`` is not above nothing.
    """
    box = bound_points(surface.vertices)
    size = box[1] - box[0]
    diagonal = float(np.linalg.norm(size))
    if not volume > EMPTY_FRAC * diagonal**3:
        raise MeshError(
            f"{name}: its {plural(len(surface.facets), 'triangle')} enclose no volume (found "
            f"{volume:.3g} mm3 in a box of {size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm); a "
            "flat sheet is no part, give it a thickness in the design file"
        )


def change_of_volume(before: Surface, after: Surface) -> float:
    """Volume after over volume before, minus 1, whichever way they face."""
    old = abs(signed_volume(before.vertices, before.facets))
    new = abs(signed_volume(after.vertices, after.facets))
    return new / old - 1.0 if old > 0.0 else 0.0


def face_outwards(name: str, surface: Surface, log: RepairLog) -> tuple[Surface, int]:
    """Shells without volume dropped, and the body turned so that it encloses a positive volume."""
    shell, shells = shells_of(surface)
    figures = shell_figures(surface, shell, shells)
    diagonal = diagonal_of(surface.vertices)
    areas = figures[:, 1]
    empty = np.abs(figures[:, 0]) <= areas * np.maximum(
        FLAT_FRAC * np.sqrt(areas), ROUNDING * diagonal
    )
    if empty.all():
        refuse_flat(name, surface, 0.0)
    if empty.any() and not surface.open_edges:
        surface = keep_shells(surface, shell, ~empty)
        log.repaired(f"{plural(int(empty.sum()), 'shell')} without volume dropped", 0.0, lost=True)
        shell, shells = shells_of(surface)
        figures = shell_figures(surface, shell, shells)
    if figures[:, 0].sum() < 0.0:
        surface = turn_shells(surface, shell, np.ones(shells, np.bool_))
        figures[:, 0] *= -1.0
        log.flipped += len(surface.facets)
        log.repaired(f"all {len(surface.facets)} facets faced inwards, now turned over", 0.0)
    if log.unsure and shells > 1 and not surface.open_edges:
        return _faced_by_depth(surface, shell, shells, log), shells
    lone = _outside_all(figures) & (figures[:, 0] < 0.0)
    if lone.any() and not surface.open_edges:
        surface = _turn_shells_noted(surface, shell, lone, log)
    return surface, shells


def _faced_by_depth(
    surface: Surface, shell: NDArray[np.int32], shells: int, log: RepairLog
) -> Surface:
    """Shells of unknown turn: outwards, or inwards where an odd number of others enclose them."""
    inward = shell_figures(surface, shell, shells)[:, 0] < 0.0
    outward = turn_shells(surface, shell, inward)
    cavity = count_enclosing(outward, shell, shells, plant_tree(outward, shell))[0] % 2 == 1
    turned = cavity != inward
    if not turned.any():
        return surface
    faced = turn_shells(outward, shell, cavity)
    log.flipped += int(np.count_nonzero(turned[shell]))
    log.repaired(
        f"{plural(int(turned.sum()), 'shell')} turned over; {plural(int(cavity.sum()), 'shell')} "
        "inside others taken for cavities",
        change_of_volume(surface, faced),
    )
    return faced


def _outside_all(figures: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Shells whose box lies in the box of no outward-facing shell."""
    if len(figures) == 1:
        return np.zeros(1, np.bool_)
    outer = figures[figures[:, 0] > 0.0]
    alone = np.ones(len(figures), np.bool_)
    for number in np.nonzero(figures[:, 0] < 0.0)[0]:
        low, high = figures[number, 2:5], figures[number, 5:8]
        held = (outer[:, 2:5] <= low).all(axis=1) & (outer[:, 5:8] >= high).all(axis=1)
        alone[number] = not held.any()
    return alone


def _turn_shells_noted(
    surface: Surface, shell: NDArray[np.int32], turn: NDArray[np.bool_], log: RepairLog
) -> Surface:
    turned = turn_shells(surface, shell, turn)
    facets = int(np.count_nonzero(turn[shell]))
    log.flipped += facets
    log.repaired(
        f"{plural(int(turn.sum()), 'shell')} ({facets} facets) faced inwards outside any body, now "
        "turned over",
        change_of_volume(surface, turned),
    )
    return turned


def search_shells(surface: Surface, shells: int, log: RepairLog) -> tuple[Surface, int]:
    """Look through all facets for crossings, and unite shells that overlap."""
    shell, shells = shells_of(surface)
    found = search_crossings(surface, shell, shells)
    volumes = shell_figures(surface, shell, shells)[:, 0]
    stray = (volumes < 0.0) & (found.inside < 1)
    stray[list(found.crossed_shells)] = False
    if stray.any() and not surface.open_edges:
        surface = _turn_shells_noted(surface, shell, stray, log)
        volumes = np.where(stray, -volumes, volumes)
    nested = np.nonzero((volumes > 0.0) & (found.inside > 0))[0]
    overlapping = sorted({*found.crossed_shells, *(int(number) for number in nested)})
    log.crossing = found.own
    log.overlapping = len(overlapping)
    if found.own:
        log.findings.append(crosses_itself(found.own, len(surface.facets), found.own_where))
    if not found.finished:
        log.findings.append(search_stopped(len(surface.facets)))
    if overlapping:
        surface, shells = _united(surface, shell, shells, log)
    return surface, shells


def _united(
    surface: Surface, shell: NDArray[np.int32], shells: int, log: RepairLog
) -> tuple[Surface, int]:
    united = None if surface.open_edges else unite_shells(surface, shell, shells)
    if united is None or united.open_edges:
        log.findings.append(not_united(log.overlapping, shells))
        return surface, shells
    change = change_of_volume(surface, united)
    if abs(change) <= TOUCHING_FRAC:
        log.overlapping = 0
        return surface, shells
    log.repaired(
        f"{plural(log.overlapping, 'overlapping shell')} united (the overlap counted twice before)",
        change,
    )
    return united, shells_of(united)[1]
