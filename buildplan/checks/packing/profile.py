"""What one copy adds to every layer of a build cycle, taken from its estimate."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.packing.model import PackRequest
from buildplan.errors import InputError
from buildplan.process.cache import cached
from buildplan.process.estimate.model import PrintEstimate
from buildplan.process.estimate.stages import content_of, layers_of, paths_of
from buildplan.process.motion import estimate_time, layer_change_s
from buildplan.process.roles import Role
from buildplan.process.vat import estimate_vat
from buildplan.tables.feedstock import ExtrusionFeedstock, VatFeedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, VatRecipe

AGREES_H = 1e-6
"""Hours by which an estimate and its layers, worked out again, may differ."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """Seconds and grams of one copy by layer, (n_layers,) arrays.

    Attributes:
        beads_s: Extruding, before any slowing for the least layer time (vat: 0).
        other_s: Travel and retractions, without the layer change.
        change_s: The layer change before it.
        slow_most_s: Longest that the beads may take at the lowest speed allowed.
        least_s: Least time of a layer.
        cured_mm2: Cured area (vat).
        thickness_mm: Of every layer.
        mass_g: Feedstock.
        shared: Whether waits (extrusion) or slow lifts (vat) can be worked out for several parts
            together; else every layer is taken as it is alone.
    """

    layer_z_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    beads_s: NDArray[np.float64]
    other_s: NDArray[np.float64]
    change_s: NDArray[np.float64]
    slow_most_s: NDArray[np.float64]
    least_s: float
    cured_mm2: NDArray[np.float64]
    thickness_mm: NDArray[np.float64]
    mass_g: NDArray[np.float64]
    shared: bool


def profile_of(request: PackRequest, printer: Printer) -> Profile:
    """The layers of one copy on a printer.

    Raises:
        InputError: The estimate is of another printer's process, or is not of this part, feedstock
            and recipe on this printer.
    """
    estimate = request.estimate
    if estimate is None:
        raise InputError(
            f"{request.name}: an estimate is needed for the hours, found none; give it"
        )
    if estimate.process != printer.process:
        raise InputError(
            f"{request.name}: the estimate is for {estimate.process}, printer {printer.key!r} for "
            f"{printer.process}; estimate the part on this printer"
        )
    if isinstance(printer, ExtrusionPrinter):
        return _extrusion(request, estimate, printer)
    return _vat(request, estimate, printer)


def _extrusion(request: PackRequest, estimate: PrintEstimate, printer: ExtrusionPrinter) -> Profile:
    recipe, feedstock = request.recipe, request.feedstock
    thickness = _thickness_mm(estimate.layer_z_mm)
    change = layer_change_s(np.round(thickness, 9), printer)
    zero = np.zeros(len(thickness))
    if not (isinstance(recipe, ExtrusionRecipe) and isinstance(feedstock, ExtrusionFeedstock)):
        return Profile(
            layer_z_mm=estimate.layer_z_mm,
            layer_time_s=estimate.layer_time_s,
            beads_s=np.maximum(estimate.layer_time_s - change, 0.0),
            other_s=zero,
            change_s=np.minimum(change, estimate.layer_time_s),
            slow_most_s=zero,
            least_s=0.0,
            cured_mm2=zero,
            thickness_mm=thickness,
            mass_g=estimate.layer_mass_g,
            shared=False,
        )
    flow = feedstock.flow_limit_mm3_s
    times = cached(
        ("cycle times", content_of(request.part), recipe, printer, flow),
        lambda: estimate_time(
            paths_of(request.part, recipe), printer, recipe=recipe, flow_limit_mm3_s=flow
        ),
    )
    _check_same(request, estimate, times.time_h)
    change = layer_change_s(layers_of(request.part, recipe.layer_mm).thickness_mm, printer)
    extruded_mm = times.role_length_mm[:, 1:].sum(axis=1)
    beads = times.role_time_s[:, 1:].sum(axis=1)
    return Profile(
        layer_z_mm=estimate.layer_z_mm,
        layer_time_s=times.layer_time_s,
        beads_s=beads,
        other_s=times.role_time_s[:, Role.TRAVEL] + times.retractions * printer.retract_s,
        change_s=change,
        slow_most_s=extruded_mm / recipe.speed_least_mm_s,
        least_s=recipe.layer_time_least_s,
        cured_mm2=zero,
        thickness_mm=thickness,
        mass_g=estimate.layer_mass_g,
        shared=True,
    )


def _vat(request: PackRequest, estimate: PrintEstimate, printer: VatPrinter) -> Profile:
    recipe, feedstock, part = request.recipe, request.feedstock, request.part
    zero = np.zeros(estimate.layers)
    shared = isinstance(recipe, VatRecipe) and isinstance(feedstock, VatFeedstock)
    area, thickness = zero, _thickness_mm(estimate.layer_z_mm)
    if isinstance(recipe, VatRecipe) and isinstance(feedstock, VatFeedstock):
        layers = layers_of(part, recipe.layer_mm)
        solid = cached(
            ("vat", content_of(part), recipe, printer, feedstock),
            lambda: estimate_vat(part, layers, recipe, printer, feedstock),
        )
        _check_same(request, estimate, solid.time_s / 3600.0)
        area, thickness = solid.layer_area_mm2, solid.layer_thickness_mm
    return Profile(
        layer_z_mm=estimate.layer_z_mm,
        layer_time_s=estimate.layer_time_s,
        beads_s=zero,
        other_s=zero,
        change_s=zero,
        slow_most_s=zero,
        least_s=0.0,
        cured_mm2=area,
        thickness_mm=thickness,
        mass_g=estimate.layer_mass_g,
        shared=shared,
    )


def _check_same(request: PackRequest, estimate: PrintEstimate, time_h: float) -> None:
    if abs(time_h - estimate.time_h) > AGREES_H * max(1.0, time_h):
        raise InputError(
            f"{request.name}: the estimate says {estimate.time_h:.4f} h, its part, recipe and "
            f"feedstock give {time_h:.4f} h on this printer; give the estimate of the same part, "
            "printer, feedstock and recipe"
        )


def _thickness_mm(z_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Thickness of layers whose middles are given, the first standing on the platform.

    z_0 = t_0 / 2 and z_k - z_{k-1} = (t_{k-1} + t_k) / 2.
    """
    thickness = np.empty(len(z_mm))
    bottom = 0.0
    for k, middle in enumerate(z_mm):
        thickness[k] = 2.0 * (middle - bottom)
        bottom += thickness[k]
    return thickness
