"""What a way of printing a part holds: its prints with their hours, grams and money."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from buildplan.process.estimate import PrintEstimate
from buildplan.segments.model import SegmentPlan, SplitRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Prints that make a part, one after another.

    Attributes:
        label: "in one piece", "in 3 pieces".
        times_h, masses_g: Of every print, loose splines included.
        running_costs: Of every print: feedstock, energy and machine, spent evenly over its hours.
        again_costs: Of every print: own time of setting it up again.
        cost: Everything when nothing fails, own time and joints included.
        own_h: Own hours when nothing fails.
        exact: Whether the hours of every print are known.
        reason: Why it cannot be done, or an empty text.
    """

    label: str
    pieces: int
    times_h: tuple[float, ...]
    masses_g: tuple[float, ...]
    running_costs: tuple[float, ...]
    again_costs: tuple[float, ...]
    cost: float
    own_h: float
    exact: bool
    reason: str


def run_of_whole(estimate: PrintEstimate, reason: str = "") -> Run:
    """The part in one piece."""
    return run_of_estimates([estimate], pieces=1, reason=reason)


def run_of_estimates(
    estimates: Sequence[PrintEstimate],
    *,
    pieces: int,
    joint_h: float = 0.0,
    own_cost_h: float = 0.0,
    reason: str = "",
) -> Run:
    """A part whose prints were all estimated.

    Args:
        estimates: Of every print, loose splines included.
        pieces: Without the splines.
        joint_h: Own hours for all joints.
        own_cost_h: What an own hour is worth.
        reason: Why it cannot be done, or an empty text.
    """
    running = (one.feedstock_cost + one.energy_cost + one.machine_cost for one in estimates)
    total = math.fsum(one.total_cost for one in estimates)
    return Run(
        label=label_of(pieces),
        pieces=pieces,
        times_h=tuple(one.time_h for one in estimates),
        masses_g=tuple(one.mass_g for one in estimates),
        running_costs=tuple(running),
        again_costs=tuple(one.own_time_cost for one in estimates),
        cost=total + joint_h * own_cost_h,
        own_h=math.fsum(one.own_time_h for one in estimates) + joint_h,
        exact=True,
        reason=reason,
    )


def run_of_row(row: SplitRow, *, own_cost_h: float, set_up_h: float) -> Run:
    """A row of the table of pieces, of which only sums are known.

    The longest print is known; the others share what is left of the hours evenly. Grams and money
    go by the hours.

    Args:
        row: One line of the table.
        own_cost_h: What an own hour is worth.
        set_up_h: Own hours to set up one print again.
    """
    rest_h = max(row.alone_h - row.longest_h, 0.0)
    longest = max(row.longest_h, 1e-9)
    others = max(row.pieces - 1, math.ceil(rest_h / longest - 1e-9))
    times = (row.longest_h, *[rest_h / others] * others) if others else (row.longest_h,)
    own_h = row.own_min / 60.0
    running = max(row.print_cost - own_h * own_cost_h, 0.0)
    shares = [time_h / max(row.alone_h, 1e-9) for time_h in times]
    return Run(
        label=label_of(row.pieces),
        pieces=row.pieces,
        times_h=times,
        masses_g=tuple(row.mass_g * share for share in shares),
        running_costs=tuple(running * share for share in shares),
        again_costs=(set_up_h * own_cost_h,) * len(times),
        cost=row.print_cost,
        own_h=own_h,
        exact=row.pieces == 1,
        reason=row.reason,
    )


def runs_of_plan(plan: SegmentPlan, *, own_cost_h: float, set_up_h: float) -> tuple[Run, ...]:
    """Every row of two pieces or more; the chosen one by the estimates of its own pieces.

    Args:
        plan: From split_part.
        own_cost_h: What an own hour is worth.
        set_up_h: Own hours to set up one print again.
    """
    runs = []
    for number, row in enumerate(plan.table):
        if row.pieces == 1:
            continue
        printed = (*plan.pieces, *plan.loose) if number == plan.chosen else ()
        if not printed:
            runs.append(run_of_row(row, own_cost_h=own_cost_h, set_up_h=set_up_h))
            continue
        estimates = [piece.estimate for piece in printed]
        joint_h = row.own_min / 60.0 - math.fsum(one.own_time_h for one in estimates)
        runs.append(
            run_of_estimates(
                estimates,
                pieces=row.pieces,
                joint_h=max(joint_h, 0.0),
                own_cost_h=own_cost_h,
                reason=row.reason,
            )
        )
    return tuple(runs)


def label_of(pieces: int) -> str:
    """What a way with so many pieces is called."""
    return "in one piece" if pieces == 1 else f"in {pieces} pieces"
