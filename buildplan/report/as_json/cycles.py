"""Build cycles of one printer as a plain object."""

from typing import Any

from buildplan.checks.packing import Cycle, CyclePlan, Loss
from buildplan.report.as_json.values import finding_object, number, number_or_none


def cycles_object(plan: CyclePlan) -> dict[str, Any]:
    """How the parts of a printer are printed, cycle by cycle; ``least_gap_mm`` null for one."""
    return {
        "printer": plan.printer.key,
        "way": plan.way,
        "gap_mm": number(plan.gap_mm),
        "time_h": number(plan.time_h),
        "own_time_h": number(plan.own_time_h),
        "mass_g": number(plan.mass_g),
        "expected_cost": number(plan.expected_cost),
        "reason": plan.reason,
        "cycles": [_cycle(cycle) for cycle in plan.cycles],
        "left_out": [
            {"name": left.name, "quantity": left.quantity, "reason": left.reason}
            for left in plan.left_out
        ],
        "findings": [finding_object(mark.finding) for mark in plan.marks],
    }


def _cycle(cycle: Cycle) -> dict[str, Any]:
    return {
        "number": cycle.number,
        "way": cycle.way,
        "feedstock": cycle.feedstock,
        "recipe": cycle.recipe,
        "placings": [
            {
                "name": placing.name,
                "copy": placing.copy,
                "x_mm": number(placing.x_mm, 3),
                "y_mm": number(placing.y_mm, 3),
                "turn_deg": number(placing.turn_deg, 3),
                "height_mm": number(placing.height_mm, 3),
            }
            for placing in cycle.placings
        ],
        "least_gap_mm": number_or_none(cycle.least_gap_mm, 3),
        "used_frac": number(cycle.used_frac),
        "time_h": number(cycle.time_h),
        "apart_h": number(cycle.apart_h),
        "own_time_h": number(cycle.own_time_h),
        "own_time_saved_h": number(cycle.own_time_h * (len(cycle.placings) - 1)),
        "mass_g": number(cycle.mass_g),
        "travel_h": number(cycle.travel_h),
        "cooling_h": number(cycle.cooling_h),
        "spent_cost": number(cycle.spent_cost),
        "at_stake": {
            "mean": _loss(cycle.at_stake.mean),
            "worst": _loss(cycle.at_stake.worst),
        },
    }


def _loss(loss: Loss) -> dict[str, float]:
    return {
        "mass_g": number(loss.mass_g),
        "time_h": number(loss.time_h),
        "cost": number(loss.cost),
    }
