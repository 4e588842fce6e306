"""Material extrusion: strand length, mass and its spread, energy."""

import math

from buildplan.errors import InputError
from buildplan.findings import Spread
from buildplan.tables.feedstock import ExtrusionFeedstock
from buildplan.tables.printer import ExtrusionPrinter

PURGE_STRAND_MM = 80.0
"""Strand spent before the first bead: priming line and wiping.

Source: common practice, no source: 50 to 150 mm of strand.
"""

STRAND_TOLERANCE_MM = 0.02
"""Tolerance of the strand's diameter, taken as the 10 % and 90 % ends.

Source: reference_values.toml, filament_diameter_tolerance_effect (a usual promise of strand makers;
on a 1.75 mm strand it is 2.3 % of the mass).
"""

DENSITY_SPREAD_FRAC = 0.02
"""Spread of the density around the table's value.

Source: data sheets give 1.24 to 1.26 for PLA and 1.03 to 1.07 g/cm3 for ABS (reference_values.toml,
density_PLA, density_ABS).
"""


def strand_length_m(volume_mm3: float, strand_mm: float) -> float:
    """Length of strand that holds a volume: L = V / (pi d^2 / 4).

    Args:
        volume_mm3: Extruded volume.
        strand_mm: Diameter of the strand.

    Raises:
        InputError: The diameter is not above 0.
    """
    if not strand_mm > 0.0:
        raise InputError(f"the strand's diameter must be above 0 mm, found {strand_mm:g}")
    return volume_mm3 / (math.pi * strand_mm * strand_mm / 4.0) / 1000.0


def strand_mass_g(length_m: float, strand_mm: float, density_g_cm3: float) -> float:
    """Mass of a length of strand: m = rho L pi d^2 / 4."""
    return density_g_cm3 * length_m * math.pi * strand_mm * strand_mm / 4.0


def purge_mm3(printer: ExtrusionPrinter) -> float:
    """Volume spent before the first bead."""
    return PURGE_STRAND_MM * math.pi * printer.reel_diameter_mm**2 / 4.0


def mass_spread_g(mass_g: float, strand_mm: float, grade_spread_frac: float) -> Spread:
    """Mass with its 10 % and 90 % ends.

    Three independent causes, added as squares: the strand's diameter (the machine feeds a length,
    so the mass goes with d^2), the density, and the mesh's grade.
    """
    strand = (1.0 + STRAND_TOLERANCE_MM / strand_mm) ** 2 - 1.0
    share = math.sqrt(strand**2 + DENSITY_SPREAD_FRAC**2 + grade_spread_frac**2)
    return around(mass_g, share)


def around(likely: float, share: float) -> Spread:
    """A spread of the same share to both sides, never below zero."""
    return Spread(low=likely * max(0.0, 1.0 - share), likely=likely, high=likely * (1.0 + share))


def energy_kwh(printer: ExtrusionPrinter, time_h: float, warm_up_h: float) -> float:
    """Electrical energy of a print: warm-up, then holding the heat and moving.

    E = P_warm t_warm + (P_hold + P_motion) (t - t_warm).
    """
    printing_h = time_h - warm_up_h
    watt_hours = printer.warm_up_w * warm_up_h + (printer.hold_w + printer.motion_w) * printing_h
    return watt_hours / 1000.0


def why_not(printer: ExtrusionPrinter, feedstock: ExtrusionFeedstock) -> str:
    """Why a printer cannot run a feedstock at all, in words; empty where it can."""
    if feedstock.nozzle_low_c > printer.nozzle_max_c:
        return (
            f"needs a nozzle of at least {feedstock.nozzle_low_c:.0f} °C, "
            f"this one reaches {printer.nozzle_max_c:.0f} °C"
        )
    if feedstock.platform_c > printer.platform_max_c:
        return (
            f"needs a platform of {feedstock.platform_c:.0f} °C, "
            f"this one reaches {printer.platform_max_c:.0f} °C"
        )
    if feedstock.needs_enclosure and not printer.enclosed:
        return "needs a closed, warm chamber: large parts warp or crack in an open frame"
    return ""
