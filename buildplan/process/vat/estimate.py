"""The vat estimate of one part, and the build cycle of several."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Place
from buildplan.part.model import Part
from buildplan.process.layers import Layers
from buildplan.process.vat.advice import vat_findings
from buildplan.process.vat.columns import Tips, place_tips
from buildplan.process.vat.hollow import hollow_out
from buildplan.process.vat.model import VatCycle, VatEstimate
from buildplan.process.vat.motion import layer_times
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.printer import VatPrinter
from buildplan.tables.recipe import VatRecipe

MM3_A_ML = 1000.0


def estimate_vat(
    part: Part,
    layers: Layers,
    recipe: VatRecipe,
    printer: VatPrinter,
    feedstock: VatFeedstock,
    *,
    workers: int = 1,
) -> VatEstimate:
    """Time, liquid, supports and care of one part, alone on the platform.

    time = sum of exposures + (n - 1) (lift + lower + rests) + warm-up.
    Liquid: cured volume (part without hollows, supports) by mass, and a film of film_mm on all
    wetted surfaces.

    Raises:
        InputError: when a setting is impossible, or the layers were not cut at the recipe's
            layer_mm.
    """
    _check(layers, recipe, feedstock)
    hollow = hollow_out(layers, recipe.hollow_wall_mm)
    tips = place_tips(layers, recipe, workers=workers)
    area = layers.area_mm2 - hollow.layer_area_mm2
    times = layer_times(
        area,
        layers.thickness_mm,
        recipe,
        printer.lift_accel_mm_s2,
        feedstock.exposure_factor_frac,
    )
    hollow_mm3 = float((hollow.layer_area_mm2 * layers.thickness_mm).sum())
    part_mm3 = part.volume_mm3 - hollow_mm3
    film_mm3 = feedstock.film_mm * (part.area_mm2 + hollow.surface_mm2 + tips.surface_mm2)
    cured_g = (part_mm3 + tips.volume_mm3) / MM3_A_ML * feedstock.density_g_cm3
    mass_g = cured_g + film_mm3 / MM3_A_ML * feedstock.liquid_density_g_cm3
    layer_mm3 = area * layers.thickness_mm + tips.layer_volume_mm3
    islands = _island_places(part, layers, tips)
    return VatEstimate(
        part=part.name,
        recipe=recipe,
        printer=printer,
        feedstock=feedstock,
        time_s=float(
            times.exposure_s.sum() + times.hop_s.sum() + times.rest_s.sum() + printer.warm_up_s
        ),
        exposure_s=float(times.exposure_s.sum()),
        lift_s=float(times.hop_s.sum()),
        rest_s=float(times.rest_s.sum()),
        warm_up_s=printer.warm_up_s,
        layers=len(layers.z_mm),
        layer_z_mm=layers.z_mm,
        layer_thickness_mm=layers.thickness_mm,
        layer_time_s=_closed(times.exposure_s + times.hop_s + times.rest_s),
        layer_area_mm2=_closed(area),
        layer_mass_g=_closed(layer_mm3 * (mass_g / layer_mm3.sum())),
        part_ml=part_mm3 / MM3_A_ML,
        support_ml=tips.volume_mm3 / MM3_A_ML,
        film_ml=film_mm3 / MM3_A_ML,
        liquid_ml=mass_g / feedstock.liquid_density_g_cm3,
        mass_g=mass_g,
        hollow_ml=hollow_mm3 / MM3_A_ML,
        n_tips=tips.count,
        islands=islands,
        wash_min=feedstock.wash_min,
        cure_min=feedstock.cure_min,
        findings=vat_findings(part.name, recipe, tips, islands, hollow_mm3, feedstock),
    )


def cycle_time(estimates: Sequence[VatEstimate]) -> VatCycle:
    """One build cycle with all these parts on the platform: the time of the tallest.

    A layer is exposed once whatever stands on the platform. Cured areas add up, so the slow lift
    may begin earlier than for any part alone. Liquid and mass add up.

    Raises:
        InputError: when there is no part, or recipe, printer or feedstock differ.
    """
    if not estimates:
        raise InputError("a build cycle needs at least one part, found 0; give an estimate")
    first = estimates[0]
    for other in estimates[1:]:
        for name in ("recipe", "printer", "feedstock"):
            if getattr(other, name) != getattr(first, name):
                raise InputError(
                    f"{first.part} and {other.part} cannot share a platform: {name} is "
                    f"{getattr(first, name).key} and {getattr(other, name).key}, allowed is one "
                    f"{name} a cycle; estimate both with the same"
                )
    tallest = max(estimates, key=lambda estimate: estimate.layers)
    area = np.zeros(tallest.layers)
    for estimate in estimates:
        area[: estimate.layers] += estimate.layer_area_mm2
    times = layer_times(
        area,
        tallest.layer_thickness_mm,
        first.recipe,
        first.printer.lift_accel_mm_s2,
        first.feedstock.exposure_factor_frac,
    )
    parts = [float(part.sum()) for part in (times.exposure_s, times.hop_s, times.rest_s)]
    return VatCycle(
        parts=tuple(estimate.part for estimate in estimates),
        time_s=sum(parts) + first.warm_up_s,
        exposure_s=parts[0],
        lift_s=parts[1],
        rest_s=parts[2],
        warm_up_s=first.warm_up_s,
        layers=tallest.layers,
        liquid_ml=sum(estimate.liquid_ml for estimate in estimates),
        mass_g=sum(estimate.mass_g for estimate in estimates),
        wash_min=first.wash_min,
        cure_min=first.cure_min,
    )


def _check(layers: Layers, recipe: VatRecipe, feedstock: VatFeedstock) -> None:
    """Refuse settings that mean nothing."""
    if abs(layers.layer_mm - recipe.layer_mm) > 1e-9:
        raise InputError(
            f"{layers.part_name}: the layers are {layers.layer_mm:g} mm thick, the recipe "
            f"{recipe.key} asks for {recipe.layer_mm:g} mm; cut the layers at the recipe's layer_mm"
        )
    for name in ("tip_pitch_mm", "tip_mm", "tip_length_mm", "column_mm"):
        if not getattr(recipe, name) > 0:
            raise InputError(
                f"recipe {recipe.key}: {name} is {getattr(recipe, name):g}, allowed is above 0; "
                "set it"
            )
    for owner, name in (
        (recipe, "exposure_s"),
        (recipe, "first_exposure_s"),
        (recipe, "first_layers"),
        (recipe, "ramp_layers"),
        (recipe, "rest_before_s"),
        (recipe, "rest_after_s"),
        (recipe, "hollow_wall_mm"),
        (feedstock, "film_mm"),
        (feedstock, "exposure_factor_frac"),
    ):
        if not getattr(owner, name) >= 0:
            raise InputError(
                f"{owner.key}: {name} is {getattr(owner, name):g}, allowed is 0 or more; set it"
            )


def _island_places(part: Part, layers: Layers, tips: Tips) -> tuple[Place, ...]:
    """Islands as places in the part file's own coordinates."""
    places = []
    for x, y, z in tips.island_at:
        at = tuple(float(a + b) for a, b in zip((x, y, z), layers.origin_mm, strict=True))
        places.append(
            Place(
                text=f"{part.name}, {z:.1f} mm up, near ({at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f}) mm",
                point_mm=at,
            )
        )
    return tuple(places)


def _closed(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """The array, closed to writing."""
    array.flags.writeable = False
    return array
