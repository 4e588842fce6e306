"""Whether a rod buckles before it pushes the lid."""

import math

STEEL_MPA = 200_000.0
"""Young's modulus of steel wire (common practice)."""


def rod_buckling_n(*, rod_mm: float, wire_mm: float, modulus_mpa: float = STEEL_MPA) -> float:
    """Force at which a round rod between two pins bows out: pi^2 E I / rod^2, I = pi d^4 / 64.

    Valid for slender rods (rod / wire over about 25 in steel).

    Source: Euler (1744), pinned ends.
    """
    inertia_mm4 = math.pi * wire_mm**4 / 64.0
    return math.pi**2 * modulus_mpa * inertia_mm4 / rod_mm**2
