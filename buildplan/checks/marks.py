"""A finding with the facets it is about: what every check hands on, and what a picture shows."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding

NO_FACETS: NDArray[np.int64] = np.zeros(0, np.int64)
NO_FACETS.flags.writeable = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """A finding and where on the surface it is.

    Attributes:
        facets: Numbers of the part's facets that the finding is about, ascending, read-only; empty
            where it is about no place of the surface.
    """

    finding: Finding
    facets: NDArray[np.int64] = field(default_factory=lambda: NO_FACETS)


def findings_of(marks: Iterable[Mark]) -> tuple[Finding, ...]:
    """The findings of marks, in their order."""
    return tuple(mark.finding for mark in marks)
