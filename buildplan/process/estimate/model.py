"""The answer for one part: hours, feedstock, energy and money, by role and by layer."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding, Spread


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleShare:
    """What one role of bead takes of a print.

    Attributes:
        role: A role of bead, "travel", "layer_change", "warm_up" or "purge"; for vat
            "exposure", "lift", "rest", ... The hours of all shares add up to the print's.
        length_m: Length of path (of beads or travel), not of strand.
    """

    role: str
    time_h: float
    length_m: float
    mass_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Prices that are the user's own, in the build's one currency.

    The defaults are there so that a first answer needs no typing (PRICE_SOURCES).
    """

    energy_cost_kwh: float = 0.30
    own_time_cost_h: float = 15.0


PRICE_SOURCES = {
    "energy_cost_kwh": "common practice, no source: a usual household price in EUR, set your own",
    "own_time_cost_h": "common practice, no source: what an hour is worth to you, set your own",
}
"""Source of every default of Prices."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintEstimate:
    """What one copy of a part takes on one printer, in one feedstock, by one recipe.

    Attributes:
        time_h: Likely hours of the machine, warm-up included.
        mass_g: Feedstock that one copy takes, supports, margin and losses included.
        length_m: Strand length for extrusion, 0 for vat.
        volume_ml: Feedstock volume (liquid for vat).
        support_mass_g, support_time_h: Share of supports in the two above.
        own_time_h: Own time to set up, clear, wash, cure.
        by_role: Every role that occurs (extrusion); exposure, lift, rest for vat.
        layer_z_mm, layer_time_s, layer_mass_g: (n_layers,) arrays; warm-up and losses are in no
            layer.
        total_cost: feedstock_cost + energy_cost + machine_cost + own_time_cost.
        findings: From the part, the paths and the process.
    """

    part: str
    process: Literal["extrusion", "vat"]
    printer: str
    feedstock: str
    recipe: str
    grade: str
    time_h: float
    time_spread_h: Spread
    mass_g: float
    mass_spread_g: Spread
    length_m: float
    volume_ml: float
    layers: int
    by_role: tuple[RoleShare, ...]
    support_mass_g: float
    support_time_h: float
    own_time_h: float
    energy_kwh: float
    feedstock_cost: float
    energy_cost: float
    machine_cost: float
    own_time_cost: float
    total_cost: float
    layer_z_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    layer_mass_g: NDArray[np.float64]
    findings: tuple[Finding, ...]
