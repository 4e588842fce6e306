"""What a vat photopolymerization print takes, for one part and for a platform full of parts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding, Place
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.printer import VatPrinter
from buildplan.tables.recipe import VatRecipe


@dataclass(frozen=True, slots=True, kw_only=True)
class VatEstimate:
    """One part alone on the platform.

    Attributes:
        time_s: exposure_s + lift_s + rest_s + warm_up_s.
        lift_s: Lifting and lowering between the layers.
        layers: Number of layers.
        layer_z_mm: (n_layers,) middle of the layer above the platform.
        layer_thickness_mm: (n_layers,).
        layer_time_s: (n_layers,) exposure of the layer and the hop and rests after it.
        layer_area_mm2: (n_layers,) cured area of the part without hollows and supports.
        layer_mass_g: (n_layers,) part, supports and a share of the film.
        part_ml: Cured volume of the part, hollows taken out.
        support_ml: Cured volume of tips and columns.
        film_ml: Liquid that leaves the vat on the surfaces and is washed off.
        liquid_ml: Liquid taken from the bottle; cured volumes count by mass, for curing shrinks.
        mass_g: Mass of that liquid.
        hollow_ml: Volume left empty inside; its liquid drains back.
        n_tips: Support tips that touch the part.
        islands: Where a layer begins in mid-air, in the part file's coordinates.
        wash_min: Washing after the print; likewise cure_min.
        findings: Islands, drain holes, slow lifts, what could not be hollowed.
    """

    part: str
    recipe: VatRecipe
    printer: VatPrinter
    feedstock: VatFeedstock
    time_s: float
    exposure_s: float
    lift_s: float
    rest_s: float
    warm_up_s: float
    layers: int
    layer_z_mm: NDArray[np.float64]
    layer_thickness_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    layer_area_mm2: NDArray[np.float64]
    layer_mass_g: NDArray[np.float64]
    part_ml: float
    support_ml: float
    film_ml: float
    liquid_ml: float
    mass_g: float
    hollow_ml: float
    n_tips: int
    islands: tuple[Place, ...]
    wash_min: float
    cure_min: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VatCycle:
    """One build cycle with several parts on the platform.

    Attributes:
        parts: Names, in the order given.
        time_s: exposure_s + lift_s + rest_s + warm_up_s: the time of the tallest part, with the
            slow lift decided by the area of all parts together.
        layers: Of the tallest part.
        liquid_ml: Of all parts; likewise mass_g.
    """

    parts: tuple[str, ...]
    time_s: float
    exposure_s: float
    lift_s: float
    rest_s: float
    warm_up_s: float
    layers: int
    liquid_ml: float
    mass_g: float
    wash_min: float
    cure_min: float
