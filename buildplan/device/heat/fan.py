"""A fan against the openings of a box, and a sunny chamber that a lid airs."""

import math
from collections.abc import Sequence

from buildplan.device.heat.air import GRAVITY_M_S2, HEAT_J_KGK, KELVIN, air_at
from buildplan.device.heat.shape import Chamber
from buildplan.errors import InputError

DENSITY_KG_M3 = 1.15
"""Of air near 35 C, for a fan's flow."""

SINGLE_DISCHARGE_FRAC = 0.6
"""Of a large opening with air going in below and out above (0.4 to 0.6: ASHRAE, from memory)."""


def fan_flow_m3_s(
    *,
    free_m3_s: float,
    shut_pa: float,
    openings_mm2: Sequence[float],
    discharge_frac: float = 0.65,
) -> float:
    """Where a fan's straight line meets the loss of the openings in its way.

    shut (1 - Q / free) = rho / 2 sum (Q / (C A))^2, a quadratic in Q.

    Raises:
        InputError: A number is not above 0.

    Source: orifice equation; a small fan's line is taken as straight (common practice).
    """
    if not 0.0 < discharge_frac <= 1.0:
        raise InputError(
            f"fan: discharge_frac is {discharge_frac:g}; more than 0 and at most 1 is needed"
        )
    if not (free_m3_s > 0.0 and shut_pa > 0.0 and openings_mm2 and min(openings_mm2) > 0.0):
        raise InputError(
            f"fan: free flow {free_m3_s:g} m3/s, shut-off {shut_pa:g} Pa, openings "
            f"{', '.join(f'{area:g}' for area in openings_mm2) or 'none'} mm2; each must be above 0"
        )
    loss = sum(DENSITY_KG_M3 / 2.0 / (discharge_frac * area * 1e-6) ** 2 for area in openings_mm2)
    slope = shut_pa / free_m3_s
    return (math.sqrt(slope * slope + 4.0 * loss * shut_pa) - slope) / (2.0 * loss)


def chamber_c(chamber: Chamber, angle_deg: float, ambient_c: float) -> float:
    """Temperature of a sunny chamber whose lid stands open at an angle.

    Sun = loss d + rho c C A / 3 sqrt(g H d / T) d, with d inside less outside, H the height of the
    gap and A its area with both flanks, at most that of the hole under it.

    Raises:
        InputError: The angle is below 0 or above 180.

    Source: exchange flow through one opening, Q = C A / 3 sqrt(g H dT / T) (Brown and Solvason
    1962; constants from memory).
    """
    from scipy.optimize import brentq

    if not 0.0 <= angle_deg <= 180.0:
        raise InputError(f"chamber: lid at {angle_deg:g} degrees; 0 to 180 is allowed")
    turn = math.radians(angle_deg)
    high_m = 2.0 * chamber.reach_mm * math.sin(turn / 2.0) * 1e-3
    flanks = chamber.reach_mm**2 * abs(math.sin(turn)) * 1e-6
    area = min(high_m * chamber.wide_mm * 1e-3 + flanks, chamber.hole_mm2 * 1e-6)
    density = float(air_at(ambient_c).density_kg_m3)

    def left_w(rise: float) -> float:
        warm = ambient_c + KELVIN + rise / 2.0
        flow = SINGLE_DISCHARGE_FRAC * area / 3.0 * math.sqrt(GRAVITY_M_S2 * high_m * rise / warm)
        return chamber.loss_w_k * rise + density * HEAT_J_KGK * flow * rise - chamber.sun_w

    if not chamber.sun_w > 0.0:
        return ambient_c
    return ambient_c + float(brentq(left_w, 0.0, chamber.sun_w / chamber.loss_w_k + 1e-9))


def travel_for(chamber: Chamber, ambient_c: float, *, most_deg: float = 180.0) -> float:
    """How far a lid must open so that its chamber stays below its limit; inf where it cannot.

    Raises:
        InputError: As chamber_c.
    """
    from scipy.optimize import brentq

    def over(angle: float) -> float:
        return chamber_c(chamber, angle, ambient_c) - chamber.most_c

    if over(0.0) <= 0.0:
        return 0.0
    if over(most_deg) > 0.0:
        return math.inf
    return float(brentq(over, 0.0, most_deg, xtol=1e-3))
