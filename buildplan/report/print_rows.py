"""Every single print of a plan, in the order in which it is made: build cycles, pieces, parts."""

from collections import Counter
from dataclasses import dataclass, replace

from buildplan.checks.packing import Cycle
from buildplan.decide.card import Look, looks_of
from buildplan.plan import PartPlan, Plan, chosen_option
from buildplan.plan.takes import pack_g_of, pieces_of
from buildplan.process.estimate import PrintEstimate

FIRST_LAYERS = 3
"""As decide.card has it: a first layer that lets go shows within these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintRow:
    """One run of a printer.

    Attributes:
        task: As the calendar names it.
        parts: Names with how many of each.
        copies: How often this print is made.
        start_h: Hours from the start of the first day in the usual outcome; None without a
            calendar.
        time_h, high_h: Usual hours, and those that 1 print in 10 takes longer than; both with what
            the print log taught.
        looks: When to look, the end left out.
    """

    task: str
    parts: tuple[tuple[str, int], ...]
    copies: int
    printer: str
    feedstock: str
    start_h: float | None
    time_h: float
    high_h: float
    mass_g: float
    looks: tuple[Look, ...]


def print_rows(plan: Plan) -> tuple[PrintRow, ...]:
    """All prints at home: by the calendar, else the short ones first."""
    by_name = {item.name: item for item in plan.parts}
    rows = []
    seen: set[str] = set()
    for one in plan.cycles:
        for cycle in one.cycles:
            rows.append(_cycle_row(plan, f"{one.printer.name} {cycle.number}", cycle, by_name))
            seen |= {placing.name for placing in cycle.placings}
    for item in plan.parts:
        if item.name in seen or item.sent is not None:
            continue
        pieces = pieces_of(item, plan.splits)
        if pieces is None:
            rows.append(_whole_row(plan, item))
        else:
            for piece in (*pieces.pieces, *pieces.loose):
                looks = looks_of(piece.estimate, pack_g=pack_g_of(item.feedstock))
                rows.append(_row(item, piece.estimate, piece.name, item.quantity, looks))
    starts = _starts(plan)
    timed = [replace(row, start_h=starts.get(row.task)) for row in rows]
    if any(row.start_h is not None for row in timed):
        return tuple(sorted(timed, key=lambda row: (row.start_h is None, row.start_h or 0.0)))
    return tuple(sorted(timed, key=lambda row: row.time_h))


def _starts(plan: Plan) -> dict[str, float]:
    """When each print first starts in the usual outcome; copies count under their part's name."""
    starts: dict[str, float] = {}
    for bar in plan.calendar.bars if plan.calendar is not None else ():
        if bar.kind == "print" and not bar.failed:
            starts.setdefault(bar.task, bar.start_h)
    for item in plan.parts:
        first = starts.get(f"{item.name} 1")
        if first is not None:
            starts.setdefault(item.name, first)
    return starts


def _whole_row(plan: Plan, item: PartPlan) -> PrintRow:
    estimate = chosen_option(item).estimate
    return _row(item, estimate, item.name, item.quantity, _looks(plan, item))


def _row(
    item: PartPlan, estimate: PrintEstimate, name: str, copies: int, looks: tuple[Look, ...]
) -> PrintRow:
    return PrintRow(
        task=name,
        parts=((name, 1),),
        copies=copies,
        printer=chosen_option(item).printer,
        feedstock=item.feedstock.key,
        start_h=None,
        time_h=estimate.time_h,
        high_h=estimate.time_spread_h.high,
        mass_g=estimate.mass_g,
        looks=_without_end(looks),
    )


def _cycle_row(plan: Plan, task: str, cycle: Cycle, by_name: dict[str, PartPlan]) -> PrintRow:
    """A build cycle with the log's factors, which its own numbers leave out."""
    counted = Counter(placing.name for placing in cycle.placings)
    items = [by_name[name] for name in counted]
    options = [chosen_option(item) for item in items]
    raw_h = sum(n * o.raw.time_h for n, o in zip(counted.values(), options, strict=True))
    usual_h = sum(n * o.estimate.time_h for n, o in zip(counted.values(), options, strict=True))
    high_h = sum(
        n * o.estimate.time_spread_h.high for n, o in zip(counted.values(), options, strict=True)
    )
    raw_g = sum(n * o.raw.mass_g for n, o in zip(counted.values(), options, strict=True))
    usual_g = sum(n * o.estimate.mass_g for n, o in zip(counted.values(), options, strict=True))
    alone = len(cycle.placings) == 1
    return PrintRow(
        task=task,
        parts=tuple(counted.items()),
        copies=1,
        printer=cycle.printer,
        feedstock=items[0].feedstock.key,
        start_h=None,
        time_h=cycle.time_h * usual_h / max(raw_h, 1e-9),
        high_h=cycle.time_h * high_h / max(raw_h, 1e-9),
        mass_g=cycle.mass_g * usual_g / max(raw_g, 1e-9),
        looks=_without_end(_looks(plan, items[0])) if alone else _first_layers(cycle),
    )


def _looks(plan: Plan, item: PartPlan) -> tuple[Look, ...]:
    """Those of its bad-day card, which knows the reel on hand; else from the estimate alone."""
    for ready in plan.ready:
        if ready.part == item.name:
            return ready.card.day.looks
    return looks_of(chosen_option(item).estimate, pack_g=pack_g_of(item.feedstock))


def _first_layers(cycle: Cycle) -> tuple[Look, ...]:
    """The one look at several parts on one platform: their first layers."""
    count = min(FIRST_LAYERS, len(cycle.layer_z_mm))
    if not count:
        return ()
    ahead_h = max(cycle.time_h - float(cycle.layer_time_s.sum()) / 3600.0, 0.0)
    after_h = ahead_h + float(cycle.layer_time_s[:count].sum()) / 3600.0
    z_mm = float(cycle.layer_z_mm[count - 1])
    return (Look(after_h=after_h, layer=count, z_mm=z_mm, why="first layers: flat"),)


def _without_end(looks: tuple[Look, ...]) -> tuple[Look, ...]:
    return tuple(look for look in looks if not look.why.startswith("the end"))
