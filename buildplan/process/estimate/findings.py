"""Findings of the process: what printer, feedstock and recipe ask of each other."""

from collections.abc import Iterator

import numpy as np

from buildplan.findings import Finding, Place
from buildplan.process.motion import TimeEstimate
from buildplan.process.paths import Paths
from buildplan.process.roles import ROLE_NAMES, Role
from buildplan.tables.feedstock import ExtrusionFeedstock
from buildplan.tables.printer import ExtrusionPrinter
from buildplan.tables.recipe import ExtrusionRecipe

NO_SOURCE = "common practice, no source"

BEAD_OVER_NOZZLE = (0.75, 2.0)
"""Bead spacing as a multiple of the nozzle's bore. Source: common practice, no source."""

LAYER_OVER_NOZZLE = 0.8
"""Thickest layer as a multiple of the nozzle's bore. Source: common practice, no source."""

SLOWED_SHARE = 0.05
"""Share of the hours spent waiting for short layers from which on a note says so. Our choice."""

ROUNDING = 1e-9
"""A value that equals its limit but for rounding is within it."""

EVERYWHERE = Place(text="the whole print")


def find_process(
    paths: Paths,
    times: TimeEstimate,
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    recipe: ExtrusionRecipe,
) -> tuple[Finding, ...]:
    """Everything about heat, bead, flow, speed, reel and waiting that should be looked at."""
    return (
        *find_heat(printer, feedstock),
        *find_bead(printer, recipe),
        *find_speed(paths, printer, feedstock, recipe),
        *find_reel(paths, feedstock),
        *find_waiting(times),
    )


def find_heat(printer: ExtrusionPrinter, feedstock: ExtrusionFeedstock) -> Iterator[Finding]:
    """Nozzle, platform and chamber against what the feedstock needs."""
    yield from _find_nozzle(printer, feedstock)
    yield from _find_chamber(printer, feedstock)


def _find_nozzle(printer: ExtrusionPrinter, feedstock: ExtrusionFeedstock) -> Iterator[Finding]:
    if feedstock.nozzle_low_c > printer.nozzle_max_c:
        yield Finding(
            check="nozzle temperature",
            severity="stop",
            what=f"{feedstock.name} needs at least {feedstock.nozzle_low_c:.0f} °C, "
            f"{printer.name} reaches {printer.nozzle_max_c:.0f} °C",
            where=EVERYWHERE,
            measured=f"{printer.nozzle_max_c:.0f} °C",
            required=f"at least {feedstock.nozzle_low_c:.0f} °C",
            remedy="Choose a printer with a hotter nozzle, or another feedstock.",
            source=f"feedstock table, {feedstock.key}: nozzle_low_c",
        )
    elif feedstock.nozzle_high_c > printer.nozzle_max_c:
        yield Finding(
            check="nozzle temperature",
            severity="note",
            what=f"{printer.name} reaches {printer.nozzle_max_c:.0f} °C, the upper end for "
            f"{feedstock.name} is {feedstock.nozzle_high_c:.0f} °C",
            where=EVERYWHERE,
            measured=f"{printer.nozzle_max_c:.0f} °C",
            required=f"{feedstock.nozzle_low_c:.0f} to {feedstock.nozzle_high_c:.0f} °C",
            remedy="Stay in the lower part of the range and print slower than the flow limit.",
            source=f"feedstock table, {feedstock.key}: nozzle_high_c",
        )


def _find_chamber(printer: ExtrusionPrinter, feedstock: ExtrusionFeedstock) -> Iterator[Finding]:
    if feedstock.platform_c > printer.platform_max_c:
        yield Finding(
            check="platform temperature",
            severity="caution",
            what=f"{feedstock.name} wants a platform of {feedstock.platform_c:.0f} °C, "
            f"{printer.name} reaches {printer.platform_max_c:.0f} °C",
            where=Place(text="first layer"),
            measured=f"{printer.platform_max_c:.0f} °C",
            required=f"about {feedstock.platform_c:.0f} °C",
            remedy="Use a glue film and a wide margin of beads, or a printer with more heat.",
            source=f"feedstock table, {feedstock.key}: platform_c",
        )
    if feedstock.needs_enclosure and not printer.enclosed:
        yield Finding(
            check="enclosure",
            severity="caution",
            what=f"{feedstock.name} warps or cracks in large parts without a closed, warm "
            f"chamber, and {printer.name} has none",
            where=EVERYWHERE,
            measured="open frame",
            required="closed, warm chamber",
            remedy="Choose a closed printer, or close this one in, or take another feedstock.",
            source=NO_SOURCE,
        )


def find_bead(printer: ExtrusionPrinter, recipe: ExtrusionRecipe) -> Iterator[Finding]:
    """Bead and layer against the nozzle."""
    low, high = (share * printer.nozzle_mm for share in BEAD_OVER_NOZZLE)
    if recipe.bead_mm < low * (1.0 - ROUNDING) or recipe.bead_mm > high * (1.0 + ROUNDING):
        yield Finding(
            check="bead",
            severity="caution",
            what=f"a bead of {recipe.bead_mm:g} mm from a {printer.nozzle_mm:g} mm nozzle is "
            f"outside {low:g} to {high:g} mm",
            where=EVERYWHERE,
            measured=f"{recipe.bead_mm:g} mm",
            required=f"{low:g} to {high:g} mm",
            remedy="Change bead_mm in the recipe, or fit another nozzle.",
            source=f"{NO_SOURCE}: 0.75 to 2 times the nozzle",
        )
    most = LAYER_OVER_NOZZLE * printer.nozzle_mm
    if recipe.layer_mm > most * (1.0 + ROUNDING):
        yield Finding(
            check="layer",
            severity="caution",
            what=f"layers of {recipe.layer_mm:g} mm are thicker than a {printer.nozzle_mm:g} mm "
            "nozzle presses down",
            where=EVERYWHERE,
            measured=f"{recipe.layer_mm:g} mm",
            required=f"at most {most:g} mm",
            remedy="Take thinner layers, or fit a wider nozzle.",
            source=f"{NO_SOURCE}: 0.8 times the nozzle",
        )


def find_speed(
    paths: Paths,
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    recipe: ExtrusionRecipe,
) -> Iterator[Finding]:
    """Roles whose speed the flow or the machine holds back, the fastest named."""
    laid = paths.volume_mm3.sum(axis=0) > 0.0
    wanted = {
        role: float(getattr(recipe, f"{ROLE_NAMES[role]}_mm_s"))
        for role in Role
        if role is not Role.TRAVEL and laid[role]
    }
    if not wanted:
        return
    fastest = max(wanted, key=lambda role: wanted[role])
    what = ROLE_NAMES[fastest].replace("_", " and " if fastest is Role.FLOOR_ROOF else " ")
    speed_mm_s = wanted[fastest]
    if speed_mm_s > printer.speed_limit_mm_s:
        yield Finding(
            check="speed",
            severity="note",
            what=f"{what} at {speed_mm_s:g} mm/s is over what {printer.name} drives",
            where=EVERYWHERE,
            measured=f"{speed_mm_s:g} mm/s",
            required=f"at most {printer.speed_limit_mm_s:g} mm/s",
            remedy="Nothing to do: the hours are counted at the printer's limit.",
            source=f"printer table, {printer.key}: speed_limit_mm_s",
        )
        speed_mm_s = printer.speed_limit_mm_s
    yield from _find_flow(printer, feedstock, recipe, what, speed_mm_s)


def _find_flow(
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    recipe: ExtrusionRecipe,
    what: str,
    speed_mm_s: float,
) -> Iterator[Finding]:
    flow = min(printer.flow_limit_mm3_s, feedstock.flow_limit_mm3_s)
    section = recipe.bead_mm * recipe.layer_mm
    if speed_mm_s * section <= flow * (1.0 + ROUNDING):
        return
    whose = (
        f"printer table, {printer.key}"
        if printer.flow_limit_mm3_s <= feedstock.flow_limit_mm3_s
        else f"feedstock table, {feedstock.key}"
    )
    yield Finding(
        check="flow",
        severity="note",
        what=f"{what} at {speed_mm_s:g} mm/s would need {speed_mm_s * section:.1f} mm³/s, "
        f"{flow:.1f} are melted, so it runs at {flow / section:.0f} mm/s",
        where=EVERYWHERE,
        measured=f"{speed_mm_s * section:.1f} mm³/s",
        required=f"at most {flow:.1f} mm³/s",
        remedy="Nothing to do: the hours are counted at the limit. Faster needs a hotter or "
        "wider nozzle, not more speed.",
        source=f"{whose}: flow_limit_mm3_s",
    )


def find_reel(paths: Paths, feedstock: ExtrusionFeedstock) -> Iterator[Finding]:
    """A print that one reel does not last for, and where it runs out."""
    layer_mass_g = paths.volume_mm3.sum(axis=1) * feedstock.density_g_cm3 / 1000.0
    laid_g = np.cumsum(layer_mass_g)
    if not len(laid_g) or laid_g[-1] <= feedstock.pack_g:
        return
    layer = int(np.searchsorted(laid_g, feedstock.pack_g))
    height_mm = float(paths.layers.thickness_mm[:layer].sum())
    reels = int(np.ceil(laid_g[-1] / feedstock.pack_g))
    yield Finding(
        check="reel",
        severity="caution",
        what=f"the print takes {laid_g[-1]:.0f} g, a full reel holds {feedstock.pack_g:.0f} g and "
        f"runs out {height_mm:.0f} mm up",
        where=Place(text=f"layer {layer + 1}, {height_mm:.1f} mm up"),
        measured=f"{laid_g[-1]:.0f} g",
        required=f"at most {feedstock.pack_g:.0f} g on one reel",
        remedy=f"Have {reels} reels ready and plan the change, or split the part.",
        source=f"feedstock table, {feedstock.key}: pack_g",
    )


def find_waiting(times: TimeEstimate) -> Iterator[Finding]:
    """Hours that go into letting short layers set."""
    slowed_h = float(times.slowed_s.sum()) / 3600.0
    if slowed_h <= SLOWED_SHARE * times.time_h:
        return
    layers = int(np.count_nonzero(times.slowed_s))
    yield Finding(
        check="least layer time",
        severity="note",
        what=f"{layers} layers are slowed so that they can set, {60.0 * slowed_h:.0f} min in all",
        where=EVERYWHERE,
        measured=f"{100.0 * slowed_h / times.time_h:.0f} % of the hours",
        required=f"at most {100.0 * SLOWED_SHARE:.0f} %",
        remedy="Print several parts or copies at once: they share the wait.",
        source="recipe: layer_time_least_s",
    )
