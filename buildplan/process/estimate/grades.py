"""How much wider a spread gets where the mesh is not exact."""

import math

from buildplan.part.model import Health

REPAIRED_SPREAD_FRAC = 0.02
"""Added to hours and mass of a repaired mesh, besides the volume that the repair changed.

Source: our choice: the repair closes what the file left open, with a guess of its shape.
"""

ESTIMATE_SPREAD_FRAC = 0.15
"""Added to hours and mass of a mesh that stays open.

Source: our choice: gaps are bridged layer by layer, so a missing face may add or hide a wall.
"""


def grade_spread_frac(health: Health) -> float:
    """One-sided spread that a mesh's health adds to hours and mass."""
    if health.grade == "exact":
        return 0.0
    usual = REPAIRED_SPREAD_FRAC if health.grade == "repaired" else ESTIMATE_SPREAD_FRAC
    return usual + abs(health.volume_change_frac)


def joined_spread_frac(*shares: float) -> float:
    """Spread of independent causes: the root of the sum of squares."""
    return math.sqrt(sum(share * share for share in shares))
