"""Dry air and its films: how much heat leaves a surface by itself, by a fan, by radiation."""

from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Face = Literal["up", "down", "side"]

KELVIN = 273.15
SIGMA_W_M2K4 = 5.670374419e-8
"""Stefan-Boltzmann constant (CODATA 2018, exact)."""

GRAVITY_M_S2 = 9.80665
"""Standard gravity (ISO 80000-3)."""

HEAT_J_KGK = 1006.5
"""Of dry air at constant pressure near 300 K (handbook value)."""

LEAST_RAYLEIGH = 1e-30


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Properties of dry air; arrays of one shape, or plain numbers."""

    conductivity_w_mk: Floats
    viscosity_m2_s: Floats
    prandtl: Floats
    density_kg_m3: Floats


def air_at(temp_c: ArrayLike) -> Air:
    """Dry air at 101 325 Pa, -50 to 300 C.

    Source: Sutherland's law for viscosity (1.716e-5 Pa s, 110.4 K) and conductivity (0.0241 W/mK,
    194.4 K), as in White, Viscous Fluid Flow; ideal gas for the density.
    """
    kelvin = np.asarray(temp_c, dtype=np.float64) + KELVIN
    viscosity = 1.716e-5 * (kelvin / KELVIN) ** 1.5 * (KELVIN + 110.4) / (kelvin + 110.4)
    conductivity = 0.0241 * (kelvin / KELVIN) ** 1.5 * (KELVIN + 194.4) / (kelvin + 194.4)
    density = 101_325.0 / (287.05 * kelvin)
    return Air(
        conductivity_w_mk=_floats(conductivity),
        viscosity_m2_s=_floats(viscosity / density),
        prandtl=_floats(viscosity * HEAT_J_KGK / conductivity),
        density_kg_m3=_floats(density),
    )


def nusselt_side(rayleigh: Floats, prandtl: Floats) -> Floats:
    """Nusselt number of a vertical plate in still air, any Rayleigh number up to 1e12.

    Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27))^2

    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975), 1323, equation 9.
    """
    weight = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return _floats((0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / weight) ** 2)


def nusselt_up(rayleigh: Floats) -> Floats:
    """Nusselt number of a level plate, hot side up (or cold side down), length = area / edge.

    Nu = max(0.54 Ra^(1/4), 0.15 Ra^(1/3)): both forms of the source, joined where they meet (Ra
    4.7e6). The source switches at 1e7 with a jump of 6 %, on which no root finder settles.

    Source: McAdams, Heat Transmission, 3rd ed. (1954), equations 7-24 and 7-25.
    """
    laminar, turbulent = 0.54 * rayleigh**0.25, 0.15 * rayleigh ** (1.0 / 3.0)
    return _floats(np.maximum(laminar, turbulent))


def nusselt_down(rayleigh: Floats) -> Floats:
    """Nusselt number of a level plate, hot side down (or cold side up): 0.27 Ra^(1/4).

    Source: McAdams, Heat Transmission, 3rd ed. (1954), equation 7-26.
    """
    return _floats(0.27 * rayleigh**0.25)


def still_film_w_m2(
    is_up: Floats,
    is_side: Floats,
    surface_c: Floats,
    air_c: Floats,
    length_m: Floats,
    air: Air | None = None,
) -> Floats:
    """Heat that a surface gives to still air, W/m2; minus where the air is warmer.

    Args:
        is_up: 1 where the surface looks up, 0 where it looks down; of no account on a side.
        is_side: 1 where it stands upright.
        surface_c: Of the surface.
        air_c: Of the air far from it.
        length_m: Height of a side; area over edge of a level face.
        air: Properties to take; those at the mean temperature where left out.
    """
    rise = surface_c - air_c
    middle = 0.5 * (surface_c + air_c)
    found = air or air_at(middle)
    grashof = GRAVITY_M_S2 * np.abs(rise) * length_m**3
    grashof = grashof / ((middle + KELVIN) * found.viscosity_m2_s**2)
    rayleigh = np.maximum(grashof * found.prandtl, LEAST_RAYLEIGH)
    lively = (rise >= 0.0) == (is_up > 0.5)
    level = np.where(lively, nusselt_up(rayleigh), nusselt_down(rayleigh))
    nusselt = np.where(is_side > 0.5, nusselt_side(rayleigh, found.prandtl), level)
    return _floats(nusselt * found.conductivity_w_mk / length_m * rise)


def forced_film_w_m2k(speed_m_s: Floats, length_m: Floats, temp_c: Floats) -> Floats:
    """Mean film of air that sweeps a plate, laminar: Nu = 0.664 Re^(1/2) Pr^(1/3), Re < 5e5.

    Source: Pohlhausen (1921), as in Incropera, Introduction to Heat Transfer, equation 7.30.
    """
    air = air_at(temp_c)
    reynolds = np.maximum(speed_m_s * length_m / air.viscosity_m2_s, 0.0)
    nusselt = 0.664 * np.sqrt(reynolds) * air.prandtl ** (1.0 / 3.0)
    return _floats(nusselt * air.conductivity_w_mk / length_m)


def swept_w_m2(surface_c: Floats, air_c: Floats, length_m: Floats, speed_m_s: Floats) -> Floats:
    """Heat of an upright plate in moving air: h = (h_still^3 + h_forced^3)^(1/3).

    Source: mixing rule with exponent 3 for aiding flows, as in Incropera, section 9.9 (from
    memory).
    """
    one = np.ones_like(surface_c)
    still = still_film_w_m2(one, one, surface_c, air_c, length_m)
    rise = surface_c - air_c
    own = np.abs(still) / np.maximum(np.abs(rise), 1e-9)
    forced = forced_film_w_m2k(speed_m_s, length_m, 0.5 * (surface_c + air_c))
    return _floats(np.cbrt(own**3 + forced**3) * rise)


def dew_point_c(temp_c: float, humidity_frac: float) -> float:
    """Temperature below which a surface gets wet, -40 to 50 C.

    Source: Magnus formula, 17.625 and 243.04 C (Alduchov and Eskridge, J. Appl. Meteorology 35
    (1996), 601).
    """
    strength = np.log(humidity_frac) + 17.625 * temp_c / (243.04 + temp_c)
    return float(243.04 * strength / (17.625 - strength))


def _floats(values: ArrayLike) -> Floats:
    return cast("Floats", np.asarray(values, dtype=np.float64))
