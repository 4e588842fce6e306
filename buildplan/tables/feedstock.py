"""Feedstocks: what a print is made of, as rows of tables/feedstocks.toml."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtrusionFeedstock:
    """A thermoplastic on a reel, for material extrusion.

    Attributes:
        density_g_cm3: Density of the solid (ISO 1183-1).
        price_cost_kg: Price paid for a kilogram.
        pack_g: Net mass of one reel as sold.
        heat_deflection_c: Deflection temperature at 0.45 MPa (ISO 75-2, method B).
        glass_transition_c: Glass transition (ISO 11357-2); the Vicat point for a soft elastomer.
        service_c: Long-time temperature that a loaded part should stay under.
        nozzle_low_c: Lowest usual extrusion temperature.
        nozzle_high_c: Highest usual extrusion temperature.
        platform_c: Usual temperature of the build platform.
        needs_enclosure: Whether large parts warp or crack without a closed, warm chamber.
        flow_limit_mm3_s: Melt flow that a common 0.4 mm nozzle holds.
        shrink_frac: Linear shrinkage from the nozzle to the cold part.
        modulus_mpa: Tensile modulus (ISO 527).
        dry_c: Drying temperature before use.
        dry_h: Drying time before use.
        moisture: How it takes up water and what that does, in words.
        hazards: Fumes, skin, dust: the usual cautions, in words.
        good_for: What it is chosen for, in words.
        bad_for: What it is not chosen for, in words.
    """

    key: str
    name: str
    process: Literal["extrusion"] = "extrusion"
    density_g_cm3: float
    price_cost_kg: float
    pack_g: float
    heat_deflection_c: float
    glass_transition_c: float
    service_c: float
    conductivity_w_mk: float
    expansion_um_mk: float
    modulus_mpa: float
    shrink_frac: float
    nozzle_low_c: float
    nozzle_high_c: float
    platform_c: float
    needs_enclosure: bool
    flow_limit_mm3_s: float
    dry_c: float
    dry_h: float
    moisture: str
    hazards: str
    good_for: str
    bad_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VatFeedstock:
    """A photopolymer in a bottle, for vat photopolymerization.

    Attributes:
        density_g_cm3: Density of the cured solid.
        liquid_density_g_cm3: Density of the liquid.
        price_cost_l: Price paid for a litre of liquid.
        pack_ml: Content of one bottle as sold.
        exposure_factor_frac: Exposure time relative to the recipe's (1 = as written).
        film_mm: Liquid that stays on the surface when the part leaves the vat, as a thickness.
        wash_min: Washing time after the print.
        cure_min: Light curing time after washing.
        Others: as in ExtrusionFeedstock.
    """

    key: str
    name: str
    process: Literal["vat"] = "vat"
    density_g_cm3: float
    liquid_density_g_cm3: float
    price_cost_l: float
    pack_ml: float
    heat_deflection_c: float
    glass_transition_c: float
    service_c: float
    conductivity_w_mk: float
    expansion_um_mk: float
    modulus_mpa: float
    shrink_frac: float
    exposure_factor_frac: float
    film_mm: float
    wash_min: float
    cure_min: float
    moisture: str
    hazards: str
    good_for: str
    bad_for: str


Feedstock = ExtrusionFeedstock | VatFeedstock
