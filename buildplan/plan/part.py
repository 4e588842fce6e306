"""One part on every printer that may print it: estimated, chosen, checked."""

from collections.abc import Iterable

from buildplan.checks.fit import check_fit
from buildplan.checks.marks import Mark, findings_of
from buildplan.checks.orientation import OrientationCheck, OrientationWeights, rank_orientations
from buildplan.checks.run import PartChecks, inspect_part
from buildplan.errors import InputError
from buildplan.findings import SEVERITIES
from buildplan.journal import learned_estimate
from buildplan.part import Part
from buildplan.part.feature import Feature
from buildplan.plan.learned import Experience, basis_of
from buildplan.plan.model import PartPlan, PrinterOption
from buildplan.process.compare import compare_feedstocks
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules

SAID_BY_CHECKS = ("health", "repair", "units", "islands", "overhang", "thin wall")
"""Checks whose findings the estimate repeats; the part's checks say them with their place."""


def plan_part(  # noqa: PLR0913 - what a maker may say about one print
    part: Part,
    printers: Iterable[Printer],
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    quantity: int = 1,
    prices: Prices | None = None,
    materials: Iterable[Feedstock] = (),
    features: Iterable[Feature] = (),
    rules: Rules | None = None,
    experience: Experience | None = None,
) -> PartPlan:
    """One part on each printer: fit, hours, feedstock, money; the cheapest that fits is chosen.

    Args:
        part: The part as read.
        printers: Machines that may print it.
        feedstock: What it is made of.
        recipe: Process settings.
        quantity: Copies wanted.
        prices: Energy and own time; common values where None.
        materials: Feedstocks to compare on the chosen printer.
        features: Named regions that must work, in the part's coordinates.
        rules: Rules of thumb; those of the feedstock where None.
        experience: What the print log taught; None without one.

    Raises:
        InputError: no printer runs the feedstock's process.
    """
    able = [printer for printer in printers if printer.process == feedstock.process]
    if not able:
        raise InputError(
            f'part "{part.name}": {feedstock.name} needs a printer for {feedstock.process}; '
            "none of the printers given is one; name one or change the feedstock"
        )
    used = prices if prices is not None else Prices()
    raws = [estimate_print(part, p, feedstock, recipe, prices=used) for p in able]
    options = tuple(
        _option(part, printer, raw, experience) for printer, raw in zip(able, raws, strict=True)
    )
    chosen = _choose(options)
    comparison = tuple(
        compare_feedstocks(part, able[chosen], tuple(materials), recipe, prices=used)
        if materials
        else ()
    )
    best, printer = options[chosen], able[chosen]
    named = tuple(features)
    checks = inspect_part(part, printer, feedstock, recipe, features=named, rules=rules)
    orientations = rank_orientations(
        part,
        printer,
        feedstock,
        recipe,
        features=named,
        weights=OrientationWeights(
            energy_cost_kwh=used.energy_cost_kwh, own_time_cost_h=used.own_time_cost_h
        ),
        estimate=raws[chosen],  # the other ways are computed without the log
    )
    marks = _marks(best, checks, orientations)
    return PartPlan(
        name=part.name,
        quantity=quantity,
        part=part,
        feedstock=feedstock,
        recipe=recipe,
        options=options,
        chosen=chosen,
        reason=_reason(options, chosen),
        comparison=comparison,
        checks=checks,
        orientations=orientations,
        marks=marks,
        findings=findings_of(marks),
    )


def _option(
    part: Part, printer: Printer, raw: PrintEstimate, experience: Experience | None
) -> PrinterOption:
    """The part on one printer, with what the log taught of it."""
    return PrinterOption(
        printer=printer.key,
        fit=check_fit(part, printer),
        estimate=raw if experience is None else learned_estimate(raw, experience.learned),
        raw=raw,
        basis=basis_of(experience, raw, printer.name),
    )


def _choose(options: tuple[PrinterOption, ...]) -> int:
    """The cheapest that fits without laying the part over; else that fits at all; else the nearest.

    Hours, supports and strength are estimated as the part is placed, so a printer that takes it
    only when it is laid over counts after every printer that does not ask for that.
    """

    def rank(index: int) -> tuple[int, float, int]:
        fit, estimate = options[index].fit, options[index].estimate
        if not fit.fits:
            return 2, fit.excess_mm, index
        return (1 if fit.how == "any rotation" else 0), estimate.total_cost, index

    return min(range(len(options)), key=rank)


def _reason(options: tuple[PrinterOption, ...], chosen: int) -> str:
    best = options[chosen]
    if not best.fit.fits:
        return f"fits none of the printers; {best.fit.excess_mm:.0f} mm too long on this one"
    if len(options) == 1:
        return "the only printer asked"
    if best.fit.how == "any rotation":
        return "fits no printer unless it is laid over"
    as_good = [o for o in options if o.fit.fits and o.fit.how != "any rotation" and o is not best]
    if not as_good:
        return "the only printer it fits as it is placed"
    dearer = min(option.estimate.total_cost for option in as_good) - best.estimate.total_cost
    return f"the cheapest of {len(as_good) + 1} that fit, by {dearer:.2f}"


def _marks(
    option: PrinterOption, checks: PartChecks, orientations: OrientationCheck
) -> tuple[Mark, ...]:
    """All that was found about a part on its printer, the gravest first, nothing twice."""
    estimated = [f for f in option.estimate.findings if f.check not in SAID_BY_CHECKS]
    plain = [Mark(finding=finding) for finding in (*option.fit.findings, *estimated)]
    found = {mark.finding: mark for mark in (*plain, *checks.marks, *orientations.marks)}
    return tuple(sorted(found.values(), key=lambda m: SEVERITIES.index(m.finding.severity)))
