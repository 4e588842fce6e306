"""Health: what the reader found wrong with the mesh, with the facets it can be shown on."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import NO_FACETS, Mark
from buildplan.findings import Finding
from buildplan.part.model import Grade, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthCheck:
    """The reader's findings as marks.

    Attributes:
        grade: "exact", "repaired" or "estimate", as in Health.
        searched: "full", or "quick" when crossings were not looked for.
        open_facets: Facets with an edge that has no partner.
        crossing_facets: Facets that pass through a facet of their own shell.
        marks: One for each finding of the reader, in its order; those about open edges and about
            crossings carry their facets.
    """

    grade: Grade
    searched: Literal["full", "quick"]
    open_facets: NDArray[np.int64]
    crossing_facets: NDArray[np.int64]
    marks: tuple[Mark, ...]


def check_health(part: Part) -> HealthCheck:
    """The reader's findings (unit, repairs, holes, crossings), with facets where they have any.

    Nothing is judged anew. Facets are looked up only where the reader counted open edges or
    crossings, so a sound part costs nothing.
    """
    open_facets = _open_facets(part) if part.health.open_edges and not part.closed else NO_FACETS
    crossing = _crossing_facets(part) if part.health.self_intersections else NO_FACETS
    marks = tuple(
        Mark(finding=finding, facets=_facets_of(finding, open_facets, crossing))
        for finding in part.findings
    )
    return HealthCheck(
        grade=part.health.grade,
        searched=part.health.searched,
        open_facets=open_facets,
        crossing_facets=crossing,
        marks=marks,
    )


def _facets_of(
    finding: Finding, open_facets: NDArray[np.int64], crossing: NDArray[np.int64]
) -> NDArray[np.int64]:
    """The facets that one of the reader's findings is about."""
    if finding.check != "health":
        return NO_FACETS
    if "pass through" in finding.what:
        return crossing
    return open_facets if finding.what.startswith("the part is open") else NO_FACETS


def _open_facets(part: Part) -> NDArray[np.int64]:
    from buildplan.part.surface import match_edges

    twin = match_edges(part.vertices_mm, part.facets).twin
    return _read_only(np.unique(np.flatnonzero(twin < 0) // 3))


def _crossing_facets(part: Part) -> NDArray[np.int64]:
    from buildplan.part.shells import search_crossings
    from buildplan.part.surface import match_edges, shells_of

    surface = match_edges(part.vertices_mm, part.facets)
    shell, shells = shells_of(surface)
    return _read_only(search_crossings(surface, shell, shells).own_facets)


def _read_only(numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    numbers = np.ascontiguousarray(numbers, dtype=np.int64)
    numbers.flags.writeable = False
    return numbers
