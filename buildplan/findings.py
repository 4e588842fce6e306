"""The one form of every warning (Finding) and of every uncertain number (Spread)."""

import math
from dataclasses import dataclass
from typing import Literal

from buildplan.errors import InputError

Severity = Literal["stop", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """An uncertain number: 1 time in 10 below ``low``, 1 time in 10 above ``high``."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        """Hold low <= likely <= high, all finite."""
        if not all(math.isfinite(x) for x in (self.low, self.likely, self.high)):
            raise InputError(f"a spread holds finite numbers only, found {self}")
        if not self.low <= self.likely <= self.high:
            raise InputError(
                f"a spread runs low <= likely <= high, found {self.low:g}, "
                f"{self.likely:g}, {self.high:g}; sort the three numbers"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a finding is: always in words, with a point or a box on the part where there is one.

    Attributes:
        text: The place in words ("near (12, 80, 3) mm", "layer 14, 2.9 mm up").
        point_mm: (x, y, z) on the part as its file has it, or empty.
        box_mm: (x0, y0, z0, x1, y1, z1) around the region, or empty.
    """

    text: str
    point_mm: tuple[float, ...] = ()
    box_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Computed, but look: what a check returns. Never raised, never warned.

    Attributes:
        check: Name of the check that found it ("fit", "health", "units", "slit").
        severity: "stop" (do not print as it is), "caution" (look first) or "note" (good to know).
        what: The fact as one short sentence without a full stop, number and unit in it.
        where: The place on the part or in the build.
        measured: What was found, with its unit ("21.8 mm").
        required: What is allowed, with its unit ("at most 15 mm").
        remedy: One sentence on what to do about it.
        source: Whose rule the limit is (a standard, a table row, "common practice, no source").
    """

    check: str
    severity: Severity
    what: str
    where: Place
    measured: str
    required: str
    remedy: str
    source: str

    def __post_init__(self) -> None:
        """Refuse an unknown severity."""
        if self.severity not in SEVERITIES:
            raise InputError(
                f"severity {self.severity!r} is not known; allowed: {', '.join(SEVERITIES)}"
            )


def worst(findings: tuple[Finding, ...]) -> Severity | None:
    """The gravest severity among findings, or None where there are none."""
    for severity in SEVERITIES:
        if any(finding.severity == severity for finding in findings):
            return severity
    return None
