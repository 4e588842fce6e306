"""Parts, estimates, fits and lines of the bill as plain objects."""

from typing import Any

from buildplan.checks.fit import Fit
from buildplan.findings import SEVERITIES
from buildplan.part import Part
from buildplan.plan import PartPlan, Plan, PrinterOption, chosen_option
from buildplan.process.compare import FeedstockComparison
from buildplan.process.estimate import PrintEstimate
from buildplan.report.as_json.bill import (
    budget_object,
    derived_object,
    line_object,
    orders_object,
)
from buildplan.report.as_json.checks import checks_object, ways_object
from buildplan.report.as_json.choice import choice_object
from buildplan.report.as_json.cycles import cycles_object
from buildplan.report.as_json.decisions import calendar_object, ready_object
from buildplan.report.as_json.device import device_object
from buildplan.report.as_json.pieces import coupon_object, split_object
from buildplan.report.as_json.values import finding_object, money, number, spread_of
from buildplan.report.verdict import count_of, verdict_sentence, what_sets_the_date

SCHEMA_VERSION = 3
"""Counts changes of the keys: 2 added checks, ways_up, cycles, splits and coupons."""


def part_object(planned: PartPlan) -> dict[str, Any]:
    """One part on its chosen printer, as `buildplan part FILE --json` prints it."""
    option = chosen_option(planned)
    return {
        **_part_facts(planned.part),
        "process": option.estimate.process,
        "printer": option.printer,
        "feedstock": planned.feedstock.key,
        "recipe": planned.recipe.key,
        "estimate": estimate_object(option.estimate),
        "fit": fit_object(option.fit),
        "findings": [finding_object(finding) for finding in planned.findings],
        "checks": checks_object(planned.checks),
        "ways_up": ways_object(planned.orientations),
        **({"materials": _materials(planned.comparison)} if planned.comparison else {}),
    }


def plan_object(plan: Plan) -> dict[str, Any]:
    """The whole plan, as plan.json holds it."""
    return {
        "schema_version": SCHEMA_VERSION,
        "name": plan.name,
        "file": plan.file,
        "sha256": plan.sha256,
        "revision": plan.revision,
        "currency": plan.currency,
        "verdict": plan.verdict or "ok",
        "headline": verdict_sentence(plan),
        "counts": {name: count_of(plan, name) for name in SEVERITIES},
        "date_set_by": what_sets_the_date(plan) or None,
        "first": list(plan.first),
        "totals": {
            "logged_prints": plan.logged,
            "time_h": spread_of(plan.time_h),
            "mass_g": spread_of(plan.mass_g),
            "own_time_h": number(plan.own_time_h),
            "print_cost": money(plan.print_cost),
            "bill_cost": money(plan.bill_cost),
        },
        "parts": [
            {
                **part_object(item),
                "quantity": item.quantity,
                "reason": item.reason,
                "sent_to": item.sent.service if item.sent is not None else "",
                "options": [_option(option) for option in item.options],
            }
            for item in plan.parts
        ],
        "cycles": [cycles_object(one) for one in plan.cycles],
        "splits": [split_object(answer) for answer in plan.splits],
        "coupons": [coupon_object(coupon) for coupon in plan.coupons],
        "bill": [line_object(line, plan.currency) for line in plan.bill],
        "derived": derived_object(plan.derived),
        "device": device_object(plan.device) if plan.device else None,
        "calendar": calendar_object(plan.calendar) if plan.calendar else None,
        "choice": choice_object(plan.choice) if plan.choice else None,
        "ready": [ready_object(one) for one in plan.ready],
        "orders": orders_object(plan.orders),
        "budget": budget_object(plan.budget),
    }


def estimate_object(estimate: PrintEstimate) -> dict[str, Any]:
    """Hours, feedstock and money of one copy, with their spreads."""
    return {
        "time_h": number(estimate.time_h),
        "mass_g": number(estimate.mass_g),
        "length_m": number(estimate.length_m),
        "volume_ml": number(estimate.volume_ml),
        "layers": estimate.layers,
        "time_by_role_h": {share.role: number(share.time_h) for share in estimate.by_role},
        "length_by_role_m": {share.role: number(share.length_m) for share in estimate.by_role},
        "mass_by_role_g": {share.role: number(share.mass_g) for share in estimate.by_role},
        "support_mass_g": number(estimate.support_mass_g),
        "support_time_h": number(estimate.support_time_h),
        "own_time_h": number(estimate.own_time_h),
        "energy_kwh": number(estimate.energy_kwh),
        "feedstock_cost": number(estimate.feedstock_cost),
        "energy_cost": number(estimate.energy_cost),
        "machine_cost": number(estimate.machine_cost),
        "own_time_cost": number(estimate.own_time_cost),
        "total_cost": number(estimate.total_cost),
        "grade": estimate.grade,
        "spread": {
            "time_h": {k: v for k, v in spread_of(estimate.time_spread_h).items() if k != "likely"},
            "mass_g": {k: v for k, v in spread_of(estimate.mass_spread_g).items() if k != "likely"},
        },
    }


def fit_object(fit: Fit) -> dict[str, Any]:
    """Whether and how a part fits, with the room left on each axis."""
    return {
        "fits": fit.fits,
        "how": fit.how,
        "slack_mm": [number(x) for x in fit.slack_mm],
        "excess_mm": number(fit.excess_mm),
        "matrix": [number(x, 9) for x in fit.matrix],
    }


def _part_facts(part: Part) -> dict[str, Any]:
    health = part.health
    return {
        "name": part.name,
        "file": part.source,
        "sha256": part.sha256,
        "unit": part.unit,
        "size_mm": [number(x) for x in part.size_mm],
        "volume_mm3": number(part.volume_mm3),
        "area_mm2": number(part.area_mm2),
        "centre_of_mass_mm": [number(x) for x in part.centre_of_mass_mm],
        "closed": part.closed,
        "shells": part.shells,
        "health": {
            "grade": health.grade,
            "searched": health.searched,
            "open_edges": health.open_edges,
            "holes": [
                {
                    "edges": hole.edges,
                    "span_mm": number(hole.span_mm),
                    "centre_mm": [number(x) for x in hole.centre_mm],
                }
                for hole in health.holes
            ],
            "flipped_facets": health.flipped_facets,
            "duplicate_facets": health.duplicate_facets,
            "degenerate_facets": health.degenerate_facets,
            "overlapping_shells": health.overlapping_shells,
            "self_intersections": health.self_intersections,
            "repairs": list(health.repairs),
            "volume_change_frac": number(health.volume_change_frac, 9),
            "patched_frac": number(health.patched_frac, 9),
        },
    }


def _option(option: PrinterOption) -> dict[str, Any]:
    return {
        "printer": option.printer,
        "fit": fit_object(option.fit),
        "time_h": number(option.estimate.time_h),
        "mass_g": number(option.estimate.mass_g),
        "total_cost": number(option.estimate.total_cost),
        "raw_h": number(option.raw.time_h),
        "raw_g": number(option.raw.mass_g),
        "basis": option.basis,
    }


def _materials(comparison: tuple[FeedstockComparison, ...]) -> list[dict[str, Any]]:
    return [
        {
            "feedstock": row.feedstock,
            "runs": row.runs,
            "reason": row.reason,
            "time_h": number(row.time_h),
            "mass_g": number(row.mass_g),
            "volume_ml": number(row.volume_ml),
            "total_cost": number(row.total_cost),
            "service_c": row.service_c,
            "good_for": row.good_for,
            "bad_for": row.bad_for,
            "moisture": row.moisture,
            "hazards": row.hazards,
        }
        for row in comparison
    ]
