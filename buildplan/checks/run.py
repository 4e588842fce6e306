"""Every check of one part on one printer: will it print?

part -> health, walls, gaps, stability, warping        (the mesh alone)
     -> layers -> beads, overhangs                     (material extrusion)
               -> overhangs, trapped                   (vat photopolymerization)
"""

from collections.abc import Sequence
from dataclasses import dataclass

from buildplan.checks.beads import BeadCheck, check_beads
from buildplan.checks.features import name_features
from buildplan.checks.gaps import GapCheck, check_gaps
from buildplan.checks.health import HealthCheck, check_health
from buildplan.checks.marks import Mark, findings_of
from buildplan.checks.overhangs import OverhangCheck, check_overhangs
from buildplan.checks.stability import StabilityCheck, check_stability
from buildplan.checks.surface import Surface, caps_for, measure_surface
from buildplan.checks.trapped import TrappedCheck, check_trapped
from buildplan.checks.walls import WallCheck, check_walls
from buildplan.checks.warping import WarpingCheck, check_warping
from buildplan.errors import InputError
from buildplan.findings import SEVERITIES, Finding
from buildplan.part.feature import Feature
from buildplan.part.model import Part
from buildplan.process.layers import cut_layers
from buildplan.tables import rules_for
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import Rules


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChecks:
    """What every check found on a part, as placed, on one printer, in one feedstock.

    Attributes:
        beads: Empty for a vat print; likewise ``warping``; ``trapped`` for material extrusion.
        marks: Of all checks, the gravest first, with the names of the features they touch.
    """

    health: HealthCheck
    surface: Surface
    walls: WallCheck
    gaps: GapCheck
    stability: StabilityCheck
    overhangs: OverhangCheck
    beads: tuple[BeadCheck, ...]
    warping: tuple[WarpingCheck, ...]
    trapped: tuple[TrappedCheck, ...]
    marks: tuple[Mark, ...]


def check_part(
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    features: Sequence[Feature] = (),
    rules: Rules | None = None,
    workers: int = 1,
) -> tuple[Finding, ...]:
    """Whether a part will print: the findings of every check, the gravest first.

    Args:
        part: The part, as it is printed.
        printer: The machine.
        feedstock: What it is made of.
        recipe: Process settings.
        features: Named regions, in the coordinates of ``part``; findings say which they touch.
        rules: Rules of thumb; those of the feedstock where None.
        workers: Threads for the geometry.

    Raises:
        InputError: Printer, feedstock and recipe are not for one process.
    """
    checks = inspect_part(
        part, printer, feedstock, recipe, features=features, rules=rules, workers=workers
    )
    return findings_of(checks.marks)


def inspect_part(
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    features: Sequence[Feature] = (),
    rules: Rules | None = None,
    workers: int = 1,
) -> PartChecks:
    """As ``check_part``, with the regions, numbers and facets behind every finding.

    Raises:
        InputError: Printer, feedstock and recipe are not for one process.
    """
    if not printer.process == feedstock.process == recipe.process:
        raise InputError(
            f"part {part.name!r}: printer {printer.key!r} is for {printer.process}, feedstock "
            f"{feedstock.key!r} for {feedstock.process}, recipe {recipe.key!r} for "
            f"{recipe.process}; all three must be for one process"
        )
    used = rules if rules is not None else rules_for(feedstock)
    inside, outside = caps_for(recipe, used)
    surface = measure_surface(part, inside_cap_mm=inside, outside_cap_mm=outside, workers=workers)
    layers = cut_layers(part, recipe.layer_mm, workers=workers)
    health = check_health(part)
    walls = check_walls(part, recipe, used, surface=surface)
    gaps = check_gaps(part, recipe, used, surface=surface)
    stability = check_stability(part, printer, feedstock, recipe, used, layers=layers)
    overhangs = check_overhangs(part, layers, recipe, used)
    beads: tuple[BeadCheck, ...] = ()
    warping: tuple[WarpingCheck, ...] = ()
    trapped: tuple[TrappedCheck, ...] = ()
    if isinstance(recipe, ExtrusionRecipe):
        told = [wall.region.box_mm for wall in walls.walls]
        beads = (check_beads(layers, recipe, used, told_mm=told, workers=workers),)
        warping = (check_warping(part, printer, feedstock, used),)
    else:
        trapped = (check_trapped(part, recipe, used),)
    marks = [*health.marks, *walls.marks, *(mark for check in beads for mark in check.marks)]
    marks += [*gaps.marks, *overhangs.marks, *(mark for check in trapped for mark in check.marks)]
    marks += [*stability.marks, *(mark for check in warping for mark in check.marks)]
    marks.sort(key=lambda mark: SEVERITIES.index(mark.finding.severity))
    return PartChecks(
        health=health,
        surface=surface,
        walls=walls,
        gaps=gaps,
        stability=stability,
        overhangs=overhangs,
        beads=beads,
        warping=warping,
        trapped=trapped,
        marks=name_features(part, marks, features),
    )
