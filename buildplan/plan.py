"""Build -> Plan: the only module that runs every stage. Read this first.

part file -> read_part -> check_fit (each printer) -> estimate_print (each printer that fits)
          -> the cheapest printer that fits -> compare_feedstocks
all parts -> totals, verdict, what to do first, bill
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from buildplan.bill import BillLine, Wanted, bill_line, total_cost
from buildplan.bill.lines import cents
from buildplan.build import BoughtItem, Build, PartRequest
from buildplan.checks.fit import Fit, check_fit
from buildplan.errors import InputError
from buildplan.findings import Finding, Severity, Spread, worst
from buildplan.part import Part, read_part
from buildplan.part.turn import turn_part
from buildplan.process.compare import FeedstockComparison, compare_feedstocks
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.tables.feedstock import Feedstock, VatFeedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

Progress = Callable[[int, int], None]
"""Called with (parts done, parts in all)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterOption:
    """One part on one printer."""

    printer: str
    fit: Fit
    estimate: PrintEstimate


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPlan:
    """One part on every printer that may print it, and the one chosen.

    Attributes:
        options: One for each printer asked, in the order asked.
        chosen: Index of the chosen option: the cheapest that fits, or the one that lacks least.
        reason: Why, in words.
        comparison: Every feedstock on the chosen printer; empty where it was not asked for.
        findings: Of the part, its fit and its estimate on the chosen printer.
    """

    name: str
    quantity: int
    part: Part
    feedstock: Feedstock
    recipe: Recipe
    options: tuple[PrinterOption, ...]
    chosen: int
    reason: str
    comparison: tuple[FeedstockComparison, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the whole build takes.

    Attributes:
        time_h: Machine hours of all copies; the hours of all parts are taken to be off together,
            since one uncalibrated printer errs the same way on each.
        own_time_h: Own time to set up, clear, wash and cure.
        print_cost: Feedstock used, energy, machine and own time of all copies.
        bill: Feedstock by whole packs and bought items; bill_cost sums it.
        verdict: The gravest severity of any finding, or None.
        first: What to do first, the gravest first, each in one sentence.
    """

    name: str
    file: str
    sha256: str
    revision: str
    currency: str
    invented: bool
    parts: tuple[PartPlan, ...]
    time_h: Spread
    mass_g: Spread
    own_time_h: float
    print_cost: Decimal
    bill: tuple[BillLine, ...]
    bill_cost: Decimal
    verdict: Severity | None
    first: tuple[str, ...]


def chosen_option(planned: PartPlan) -> PrinterOption:
    """The printer option that the plan counts."""
    return planned.options[planned.chosen]


def plan_part(
    part: Part,
    printers: Iterable[Printer],
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    quantity: int = 1,
    prices: Prices | None = None,
    materials: Iterable[Feedstock] = (),
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
    options = tuple(
        PrinterOption(
            printer=printer.key,
            fit=check_fit(part, printer),
            estimate=estimate_print(part, printer, feedstock, recipe, prices=used),
        )
        for printer in able
    )
    chosen = _choose(options)
    comparison = tuple(
        compare_feedstocks(part, able[chosen], tuple(materials), recipe, prices=used)
        if materials
        else ()
    )
    best = options[chosen]
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
        findings=_distinct((*best.fit.findings, *best.estimate.findings)),
    )


def make_plan(
    build: Build,
    *,
    workers: int | None = None,
    materials: Iterable[Feedstock] = (),
    progress: Progress | None = None,
) -> Plan:
    """Every stage for every part of a build, parts side by side.

    Args:
        build: A loaded build file.
        workers: Processes of joblib; None takes the number of the joblib backend in force (one
            where none is set), so that the same call runs on a cluster.
        materials: Feedstocks to compare for each part.
        progress: Called after each finished part.

    Raises:
        InputError: a part cannot be read or planned; the message names it.
    """
    from joblib import Parallel, delayed

    requests = build.parts
    work = partial(_plan_request, build=build, materials=tuple(materials))
    planned: list[PartPlan] = []
    if workers == 1 or (len(requests) == 1 and workers is None):
        results: Iterable[PartPlan] = (work(request) for request in requests)
    else:
        results = Parallel(n_jobs=workers, return_as="generator")(
            delayed(work)(request) for request in requests
        )
    for result in results:
        planned.append(result)
        if progress is not None:
            progress(len(planned), len(requests))
    return _sum_up(build, tuple(planned))


def _plan_request(
    request: PartRequest, *, build: Build, materials: tuple[Feedstock, ...]
) -> PartPlan:
    read = read_part(request.path, unit=request.unit, name=request.name)
    part = turn_part(read, request.orientation)
    return plan_part(
        part,
        request.printers,
        request.feedstock,
        request.recipe,
        quantity=request.quantity,
        prices=build.prices,
        materials=[m for m in materials if m.process == request.feedstock.process],
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


def _distinct(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(dict.fromkeys(findings))


def _sum_up(build: Build, planned: tuple[PartPlan, ...]) -> Plan:
    estimates = [(p.quantity, chosen_option(p).estimate) for p in planned]
    bill = tuple(_feedstock_lines(planned)) + tuple(_bought_lines(build.bought))
    findings = [finding for p in planned for finding in p.findings]
    return Plan(
        name=build.name,
        file=str(build.path),
        sha256=build.sha256,
        revision=build.revision,
        currency=build.currency,
        invented=build.data == "invented",
        parts=planned,
        time_h=_add((n, e.time_spread_h) for n, e in estimates),
        mass_g=_add((n, e.mass_spread_g) for n, e in estimates),
        own_time_h=sum(n * e.own_time_h for n, e in estimates),
        print_cost=cents(sum(n * e.total_cost for n, e in estimates)),
        bill=bill,
        bill_cost=total_cost(bill),
        verdict=worst(tuple(findings)),
        first=_first(planned, bill),
    )


def _add(spreads: Iterable[tuple[int, Spread]]) -> Spread:
    pairs = list(spreads)
    return Spread(
        low=sum(n * s.low for n, s in pairs),
        likely=sum(n * s.likely for n, s in pairs),
        high=sum(n * s.high for n, s in pairs),
    )


def _feedstock_lines(planned: tuple[PartPlan, ...]) -> Iterable[BillLine]:
    by_feedstock: dict[str, list[PartPlan]] = {}
    for item in planned:
        by_feedstock.setdefault(item.feedstock.key, []).append(item)
    for items in by_feedstock.values():
        feedstock = items[0].feedstock
        if isinstance(feedstock, VatFeedstock):
            need = sum(p.quantity * chosen_option(p).estimate.volume_ml for p in items)
            unit, pack, pack_cost = "ml", feedstock.pack_ml, feedstock.price_cost_l / 1000
        else:
            need = sum(p.quantity * chosen_option(p).estimate.mass_g for p in items)
            unit, pack, pack_cost = "g", feedstock.pack_g, feedstock.price_cost_kg / 1000
        yield bill_line(
            Wanted(
                kind="feedstock",
                item=feedstock.name,
                need=Decimal(repr(round(float(need), 1))),
                unit=unit,
                pack=Decimal(repr(float(pack))),
                pack_cost=cents(pack * pack_cost),
                supplier="",
                lead_d=0.0,
                used_in=", ".join(p.name for p in items),
            )
        )


def _bought_lines(items: tuple[BoughtItem, ...]) -> Iterable[BillLine]:
    for item in items:
        if not item.needed:
            continue
        yield bill_line(
            Wanted(
                kind="bought",
                item=item.name,
                need=Decimal(repr(float(item.quantity))),
                unit=item.unit,
                pack=Decimal(repr(float(item.pack))),
                pack_cost=cents(item.price_cost),
                supplier=item.supplier,
                lead_d=item.lead_d,
                used_in=item.used_in,
            )
        )


def task_of(item: PartPlan, finding: Finding) -> str:
    """What a finding asks for, with the part it is about: one line of "what to do first"."""
    return f"{item.name.replace('_', ' ')}: {finding.remedy}"


def _first(planned: tuple[PartPlan, ...], bill: tuple[BillLine, ...]) -> tuple[str, ...]:
    """Stops, then the order with the longest wait, then cautions: one sentence each."""
    by_severity: dict[str, list[str]] = {"stop": [], "caution": [], "note": []}
    for item in planned:
        for finding in item.findings:
            by_severity[finding.severity].append(task_of(item, finding))
    waits = [line for line in bill if line.wanted.lead_d > 0]
    orders: list[str] = []
    if waits:
        slowest = max(waits, key=lambda line: line.wanted.lead_d)
        days = f"{slowest.wanted.lead_d:.0f} days to the door"
        orders.append(f"Order the {slowest.wanted.item} today: {days}, the longest wait.")
    return tuple(dict.fromkeys((*by_severity["stop"], *orders, *by_severity["caution"])))
