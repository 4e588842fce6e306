"""The unit suffixes that names may end in, and how they are printed.

Values are plain floats in trade units; the unit is the last part of the name (``wall_mm``).
``UNITS`` maps a suffix to the unit as pint spells it, so that a test can check conversions.
"""

UNITS: dict[str, str] = {
    "mm": "mm",
    "mm2": "mm**2",
    "mm3": "mm**3",
    "um": "um",
    "m": "m",
    "cm3": "cm**3",
    "ml": "ml",
    "l": "l",
    "mm_s": "mm/s",
    "mm_s2": "mm/s**2",
    "mm3_s": "mm**3/s",
    "s": "s",
    "min": "min",
    "h": "h",
    "d": "day",
    "g": "g",
    "kg": "kg",
    "g_cm3": "g/cm**3",
    "n": "N",
    "n_mm": "N*mm",
    "mpa": "MPa",
    "deg": "degree",
    "rad": "rad",
    "deg_s": "degree/s",
    "n_mm_deg": "N*mm/degree",
    "g_mm2": "g*mm**2",
    "kgf_cm": "kgf*cm",
    "m_s": "m/s",
    "j": "J",
    "c": "degC",
    "k": "K",
    "ms": "ms",
    "ah": "A*h",
    "uf": "uF",
    "w": "W",
    "wh": "W*h",
    "kwh": "kW*h",
    "v": "V",
    "a": "A",
    "ohm": "ohm",
    "ohm_km": "ohm/km",
    "w_mk": "W/m/K",
    "um_mk": "um/m/K",
    "frac": "",
    "cost": "",
    "cost_kg": "1/kg",
    "cost_l": "1/l",
    "cost_h": "1/h",
    "cost_kwh": "1/(kW*h)",
}


def unit_of(name: str) -> str | None:
    """Longest unit suffix of a name, or None where it has none."""
    hits = [unit for unit in UNITS if name == unit or name.endswith("_" + unit)]
    return max(hits, key=len, default=None)
