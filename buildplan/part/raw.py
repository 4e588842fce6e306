"""What a file reader hands on: arrays and the unit the file states, nothing judged yet."""

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.findings import Finding

DECIMAL = re.compile(rb"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_NOT_FINITE = re.compile(rb"[+-]?(nan|inf|infinity|1\.#\w+)(\(\w*\))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class RawMesh:
    """Vertices and facets as the file holds them, in the file's unit.

    Attributes:
        vertices: (n, 3) float64.
        facets: (m, 3) int64.
        unit: Unit that the file states, or None where the format has none.
        welded: True when equal vertices already share one number.
        findings: Oddities of the file that do not hinder reading it.
    """

    vertices: NDArray[np.float64]
    facets: NDArray[np.int64]
    unit: str | None
    welded: bool
    findings: tuple[Finding, ...]


def line_of(data: bytes, at: int) -> int:
    """Number of the line (from 1) that byte ``at`` stands in."""
    return data.count(b"\n", 0, at) + 1


def word_at(data: bytes, at: int, end: int | None = None) -> str:
    """The word at byte ``at`` as it may be shown in a message."""
    words = data[at : end if end is not None else at + 40].split(None, 1)
    word = words[0][:24] if words else b""
    return word.decode("ascii", "replace").replace("\ufffd", "?")


def strict_float(word: str) -> float:
    """A decimal number as a file may spell it; "nan" and "inf" give NaN.

    Raises:
        ValueError: when the word is neither (Python alone would take "1_0" or other digits).
    """
    spelt = word.strip().encode("utf-8", "replace")
    if DECIMAL.fullmatch(spelt):
        return float(spelt)
    if _NOT_FINITE.fullmatch(spelt):
        return math.nan
    raise ValueError(f"{word[:24]!r} is no decimal number")


def fill_in_numbers(
    file: str, data: bytes, values: NDArray[np.float64], later: NDArray[np.int64]
) -> None:
    """Read the numbers that a kernel left to Python into their slots of ``values`` (flat).

    Raises:
        MeshError: when a word is no number, or a number is not finite.
    """
    for slot, start, stop in later.tolist():
        word = data[start:stop]
        if _NOT_FINITE.fullmatch(word):
            raise MeshError(
                f"{file}: line {line_of(data, start)} holds {word_at(data, start, stop)!r}, "
                "which is not a finite number; export it again"
            )
        value = float(word) if len(word) < 400 and DECIMAL.fullmatch(word) else math.nan
        if not math.isfinite(value):
            raise MeshError(
                f"{file}: line {line_of(data, start)} holds {word_at(data, start, stop)!r} where "
                "a finite number belongs; export it again"
            )
        values[slot] = value


def check_indices(file: str, facets: NDArray[np.int64], vertices: int) -> None:
    """Refuse facets that name a vertex that is not there.

    Raises:
        MeshError: when an index is below 0 or at or past ``vertices``.
    """
    if not len(facets):
        return
    low, high = int(facets.min()), int(facets.max())
    if low < 0 or high >= vertices:
        wrong = low if low < 0 else high
        facet = int(np.nonzero((facets == wrong).any(axis=1))[0][0])
        raise MeshError(
            f"{file}: facet {facet + 1} names vertex {wrong}, the file holds vertices 0 to "
            f"{vertices - 1}; export it again"
        )


def check_finite(file: str, vertices: NDArray[np.float64]) -> None:
    """Refuse coordinates that are not finite.

    Raises:
        MeshError: when a coordinate is not a finite number.
    """
    from buildplan.kernels.mesh_measure import bound_points

    if len(vertices) and not np.isfinite(bound_points(vertices)).all():
        wrong = np.nonzero(~np.isfinite(vertices).all(axis=1))[0]
        raise MeshError(
            f"{file}: {len(wrong)} of {len(vertices)} corner points are not finite numbers (the "
            f"first is point {int(wrong[0]) + 1}); export it again"
        )


def check_triangles(file: str, found: int, allowed: int) -> None:
    """Refuse a mesh without facets, or with more than the limit.

    Raises:
        MeshError: when there are none or too many.
    """
    if found == 0:
        raise MeshError(f"{file}: the file holds 0 triangles; export the part as a mesh again")
    if found > allowed:
        raise MeshError(
            f"{file}: the file holds {found} triangles, at most {allowed} are allowed; export a "
            "coarser mesh or raise Limits(triangles=)"
        )
