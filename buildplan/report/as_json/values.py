"""Numbers, money, places and findings as JSON holds them."""

import json
import math
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from buildplan.findings import Finding, Spread


def number(value: float, digits: int = 6) -> float:
    """A finite number, rounded so that the same run prints the same text everywhere."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot stand in JSON")
    return round(float(value), digits) + 0.0


def number_or_none(value: float, digits: int = 6) -> float | None:
    """The same, and null for what is infinite: there is none."""
    return number(value, digits) if math.isfinite(value) else None


def numbers_of(values: Iterable[float], digits: int = 3) -> list[float]:
    """A point, a box or a matrix."""
    return [number(value, digits) for value in values]


def money(amount: Decimal) -> str:
    """Money of the bill as text with two decimals, so that no cent is lost."""
    return f"{amount:.2f}"


def spread_of(spread: Spread) -> dict[str, float]:
    """An uncertain number."""
    return {
        "low": number(spread.low),
        "likely": number(spread.likely),
        "high": number(spread.high),
    }


def finding_object(finding: Finding) -> dict[str, Any]:
    """A finding with its place in words and, where there is one, in millimetres."""
    return {
        "check": finding.check,
        "severity": finding.severity,
        "what": finding.what,
        "where": {
            "text": finding.where.text,
            "point_mm": numbers_of(finding.where.point_mm),
            "box_mm": numbers_of(finding.where.box_mm),
        },
        "measured": finding.measured,
        "required": finding.required,
        "remedy": finding.remedy,
        "source": finding.source,
    }


def dump(thing: dict[str, Any]) -> str:
    """JSON text: two spaces, keys in the order made, no number that JSON does not know."""
    return json.dumps(thing, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
