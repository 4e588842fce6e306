"""pack_cycles and choose_cycles: a set of parts -> build cycles on one printer."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from buildplan.checks.packing.cycle import Group, group_of, make_cycle
from buildplan.checks.packing.fill import (
    Item,
    Kinds,
    Limits,
    centred,
    fill_platforms,
)
from buildplan.checks.packing.model import Cycle, CyclePlan, LeftOut, PackRequest, Placing, Way
from buildplan.checks.packing.outline import outline_of, rings_of
from buildplan.checks.packing.place import Stood
from buildplan.checks.packing.platform import Platform, platform_of
from buildplan.checks.packing.words import find_packing, reason_of, why_left_out
from buildplan.errors import InputError
from buildplan.tables.printer import ExtrusionPrinter, Printer

GAP_MM = 5.0
"""Least distance between parts. Source: common practice, no source: 3 to 10 mm."""

TURN_STEP_DEG = 15.0
"""Turns tried where no right angle finds a place."""

FINENESS = 250
"""Cells along the platform's longer side."""

HAZARD_FRAC_H = 0.01
"""Chance of a failure in an hour of printing.

Source: ours until a print log says otherwise: operators claim 0.5 to 2 % an hour.
"""

WORTH_FRAC = 0.03
"""Share of the expected cost that another way must save before it replaces "together".

Source: ours: below it the estimates do not tell the ways apart.
"""

LONG_CYCLE_H = 12.0
"""Hours at stake in one cycle that deserve a look. Source: ours: longer than a day of watching."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """How the search for places works and what is weighed.

    Attributes:
        turn_step_deg: Turns tried besides right angles and the best fit.
        cell_mm: Pitch of the grid; 0 takes a 250th of the platform's longer side.
        hazard_frac_h: Chance of a failure in an hour of printing, for the expected cost.
        long_cycle_h: Hours at stake in one cycle over which it becomes a finding.
    """

    turn_step_deg: float = TURN_STEP_DEG
    cell_mm: float = 0.0
    hazard_frac_h: float = HAZARD_FRAC_H
    long_cycle_h: float = LONG_CYCLE_H


USUAL = Packing()


def pack_cycles(
    requests: Iterable[PackRequest],
    printer: Printer,
    *,
    gap_mm: float = GAP_MM,
    way: Way = "together",
    packing: Packing = USUAL,
) -> CyclePlan:
    """Build cycles that hold all copies, with every copy in its place.

    Parts share a cycle only where feedstock and layer thickness are the same (vat: the whole
    recipe). The distance between the true outlines is at least gap_mm, checked on the outlines;
    the search works on a grid, so it may miss a packing that leaves less than about 1.5 cells of
    room. The number of cycles is the least that was found, no proof that fewer cannot do.

    Args:
        requests: Copies of parts, each standing as it is printed; they are only turned about z.
        printer: The machine.
        gap_mm: Least distance between outlines; "one by one" takes head_clear_mm where it is more.
        way: Layer by layer side by side, one after another on a platform, or a cycle for each copy.
        packing: The search.

    Raises:
        InputError: A number is impossible, an estimate is missing for some parts only or is for
            another printer, or "one by one" is asked of a vat printer.
    """
    asked = tuple(requests)
    _check(asked, printer, gap_mm, way, packing)
    platform = platform_of(printer, packing.cell_mm or None, FINENESS)
    gap = gap_mm
    if way == "one by one" and isinstance(printer, ExtrusionPrinter):
        gap = max(gap_mm, printer.head_clear_mm)
    kinds, left_out = _kinds(asked, platform, packing.turn_step_deg, printer)
    groups: dict[Group, list[int]] = {}
    for number in kinds:
        groups.setdefault(group_of(asked[number]), []).append(number)
    cycles: list[Cycle] = []
    for members in groups.values():
        items = _items(asked, members, kinds, printer)
        for placings in _fill(asked, items, platform, _limits(printer, gap, way), way):
            cycles.append(make_cycle(asked, placings, printer, platform, way, len(cycles) + 1))
    plan = CyclePlan(
        printer=printer,
        way=way,
        gap_mm=gap,
        cycles=tuple(cycles),
        left_out=left_out,
        time_h=sum(cycle.time_h for cycle in cycles),
        own_time_h=sum(cycle.own_time_h for cycle in cycles),
        mass_g=sum(cycle.mass_g for cycle in cycles),
        expected_cost=sum(
            cycle.spent_cost + _failures(cycle, packing.hazard_frac_h) for cycle in cycles
        ),
        reason="",
        marks=(),
    )
    plan = replace(plan, reason=reason_of(plan, ()))
    return replace(plan, marks=find_packing(plan, packing.long_cycle_h))


def choose_cycles(
    requests: Iterable[PackRequest],
    printer: Printer,
    *,
    gap_mm: float = GAP_MM,
    packing: Packing = USUAL,
) -> CyclePlan:
    """The way to print a set that costs least, failures counted in, with the reason.

    Side by side, one after another (extrusion, where head and beam clear what is finished) and
    separate cycles are each packed. Expected cost = feedstock, energy, machine and own time of
    every cycle, plus for every run that stands or falls as one its expected failures, e^(l T) - 1
    for the chance l of a failure in an hour and T hours, times the mean loss. The own time that a
    cycle saves is so weighed against what a longer cycle puts at stake. Side by side stays where
    another way saves less than WORTH_FRAC of it, and where there are no estimates.

    Args:
        requests: As for ``pack_cycles``; likewise all the others.
        printer: The machine.
        gap_mm: Least distance between outlines.
        packing: The search, and the chance of a failure.

    Raises:
        InputError: As ``pack_cycles``.
    """
    asked = tuple(requests)
    ways: list[Way] = ["together"]
    if sum(request.quantity for request in asked) > 1:
        if isinstance(printer, ExtrusionPrinter):
            ways.append("one by one")
        ways.append("separate")
    plans = [pack_cycles(asked, printer, gap_mm=gap_mm, way=w, packing=packing) for w in ways]
    cheapest = min(plans, key=lambda plan: plan.expected_cost)
    worth = (1.0 - WORTH_FRAC) * plans[0].expected_cost
    best = cheapest if cheapest.expected_cost < worth else plans[0]
    others = tuple(plan for plan in plans if plan is not best)
    chosen = replace(best, reason=reason_of(best, others))
    return replace(chosen, marks=find_packing(chosen, packing.long_cycle_h))


def _failures(cycle: Cycle, hazard_frac_h: float) -> float:
    """Expected money lost to failures before a cycle is through."""
    return sum(
        math.expm1(hazard_frac_h * hours) * loss.cost
        for hours, loss in zip(cycle.run_h, cycle.run_loss, strict=True)
    )


def _check(
    asked: Sequence[PackRequest],
    printer: Printer,
    gap_mm: float,
    way: Way,
    packing: Packing,
) -> None:
    for name, value, low, high in (
        ("gap_mm", gap_mm, 0.0, 200.0),
        ("turn_step_deg", packing.turn_step_deg, 1.0, 360.0),
        ("hazard_frac_h", packing.hazard_frac_h, 0.0, 1.0),
        ("cell_mm", packing.cell_mm, 0.0, 1000.0),
    ):
        if not low <= value <= high:
            raise InputError(f"{name} is {value:g}, allowed is {low:g} to {high:g}; change it")
    for request in asked:
        if request.quantity < 1:
            raise InputError(
                f"{request.name}: quantity is {request.quantity}, allowed is 1 or more; "
                "leave the part out if no copy is wanted"
            )
    given = [request.estimate is not None for request in asked]
    if any(given) and not all(given):
        missing = ", ".join(r.name for r in asked if r.estimate is None)
        raise InputError(
            f"{missing}: no estimate while other parts have one; give one for every part or none"
        )
    names = [request.name for request in asked]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(f"{twice[0]}: asked for twice; ask once and set its quantity")
    if way == "one by one" and not isinstance(printer, ExtrusionPrinter):
        raise InputError(
            f"printer {printer.key!r} cures whole layers, so parts cannot follow one another on "
            'its platform; choose "together" or "separate"'
        )


def _kinds(
    asked: Sequence[PackRequest], platform: Platform, turn_step_deg: float, printer: Printer
) -> tuple[dict[int, Kinds], tuple[LeftOut, ...]]:
    """Outlines and turns of the parts that fit, and why the others do not."""
    kinds: dict[int, Kinds] = {}
    left_out: list[LeftOut] = []
    for number, request in enumerate(asked):
        kind = Kinds(shape=outline_of(request), platform=platform, step_deg=turn_step_deg)
        tall = request.part.size_mm[2] > platform.height_mm + 1e-6
        if not tall and kind.any_turn_fits():
            kinds[number] = kind
            continue
        reason = why_left_out(request.part, kind.shape, platform, printer)
        left_out.append(LeftOut(name=request.name, quantity=request.quantity, reason=reason))
    return kinds, tuple(left_out)


def _items(
    asked: Sequence[PackRequest],
    members: Sequence[int],
    kinds: dict[int, Kinds],
    printer: Printer,
) -> list[Item]:
    return [
        Item(
            request=number,
            copy=copy + 1,
            shape=kinds[number].shape,
            height_mm=asked[number].part.size_mm[2],
            time_h=_adds_h(asked[number], printer),
            area_mm2=float(kinds[number].shape.area),
            reach_mm=_reach_mm(kinds[number]),
            kinds=kinds[number],
        )
        for number in members
        for copy in range(asked[number].quantity)
    ]


def _limits(printer: Printer, gap_mm: float, way: Way) -> Limits:
    """One after another only one part of a cycle, the last, may reach over the beam."""
    if way == "one by one" and isinstance(printer, ExtrusionPrinter):
        return Limits(gap_mm=gap_mm, low_mm=printer.beam_clear_mm)
    return Limits(gap_mm=gap_mm)


def _fill(
    asked: Sequence[PackRequest],
    items: list[Item],
    platform: Platform,
    limits: Limits,
    way: Way,
) -> list[list[Placing]]:
    """Placings of every cycle."""
    sets = [[item] for item in items] if way == "separate" else [items]
    return [
        [_placing(asked, members[stood.item], stood) for stood in centred(ground)]
        for members in sets
        for ground in fill_platforms(members, platform, limits)
    ]


def _adds_h(request: PackRequest, printer: Printer) -> float:
    """Hours that a copy adds to a cycle; in a vat it adds none, the tallest decides."""
    if request.estimate is None or not isinstance(printer, ExtrusionPrinter):
        return 0.0
    return request.estimate.time_h - printer.warm_up_s / 3600.0


def _reach_mm(kind: Kinds) -> float:
    x0, y0, x1, y1 = kind.shape.bounds
    return float(max(x1 - x0, y1 - y0))


def _placing(asked: Sequence[PackRequest], item: Item, stood: Stood) -> Placing:
    corner = stood.stencil.corner_mm
    return Placing(
        name=asked[item.request].name,
        copy=item.copy,
        x_mm=stood.at_mm[0] - corner[0],
        y_mm=stood.at_mm[1] - corner[1],
        turn_deg=stood.stencil.turn_deg,
        height_mm=item.height_mm,
        outline=rings_of(stood.shape),
    )
