"""How the numbers of a power budget are worded."""

import math

from buildplan.device.power.model import Case
from buildplan.findings import Finding, Place, Severity

LABEL = "label of the part"


def power_finding(
    severity: Severity, what: str, place: str, numbers: tuple[str, str], rest: tuple[str, str]
) -> Finding:
    """A finding of this check: numbers are measured and required, rest is remedy and source."""
    return Finding(
        check="power",
        severity=severity,
        what=what,
        where=Place(text=place),
        measured=numbers[0],
        required=numbers[1],
        remedy=rest[0],
        source=rest[1],
    )


def pair(found: float, required: float, unit: str) -> tuple[str, str]:
    """Measured and required, as texts."""
    said = "no steady voltage" if math.isnan(found) else f"{found:.2f} {unit}"
    bound = "at most" if unit == "A" else "at least"
    return said, "a steady one" if math.isnan(required) else f"{bound} {required:g} {unit}"


def volts(value: float) -> str:
    """Volts, or that there are none."""
    return "no steady voltage" if math.isnan(value) else f"{value:.2f} V"


def when(case: Case) -> str:
    """A case as the end of a sentence: "in count", "when roof servo starts"."""
    return {"mode": "in ", "event": "when ", "peak": "with "}[case.kind] + case.name


def farads(value_uf: float) -> str:
    """Capacitance in the unit that fits."""
    return f"{value_uf * 1e-6:,.1f} F" if value_uf >= 1e5 else f"{value_uf:,.0f} uF"


def capital(text: str) -> str:
    """A text with its first letter large."""
    return text[:1].upper() + text[1:]
