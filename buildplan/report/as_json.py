"""Plans and parts as plain objects for JSON. Keys are stable; schema_version counts changes."""

import json
import math
from decimal import Decimal
from typing import Any

from buildplan.bill import BillLine
from buildplan.checks.fit import Fit
from buildplan.findings import Finding, Spread
from buildplan.part import Part
from buildplan.plan import PartPlan, Plan, PrinterOption, chosen_option
from buildplan.process.compare import FeedstockComparison
from buildplan.process.estimate import PrintEstimate

SCHEMA_VERSION = 1


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
        "first": list(plan.first),
        "totals": {
            "time_h": _spread(plan.time_h),
            "mass_g": _spread(plan.mass_g),
            "own_time_h": _number(plan.own_time_h),
            "print_cost": _money(plan.print_cost),
            "bill_cost": _money(plan.bill_cost),
        },
        "parts": [
            {
                **part_object(item),
                "quantity": item.quantity,
                "reason": item.reason,
                "options": [_option(option) for option in item.options],
            }
            for item in plan.parts
        ],
        "bill": [line_object(line) for line in plan.bill],
    }


def estimate_object(estimate: PrintEstimate) -> dict[str, Any]:
    """Hours, feedstock and money of one copy, with their spreads."""
    return {
        "time_h": _number(estimate.time_h),
        "mass_g": _number(estimate.mass_g),
        "length_m": _number(estimate.length_m),
        "volume_ml": _number(estimate.volume_ml),
        "layers": estimate.layers,
        "time_by_role_h": {share.role: _number(share.time_h) for share in estimate.by_role},
        "length_by_role_m": {share.role: _number(share.length_m) for share in estimate.by_role},
        "mass_by_role_g": {share.role: _number(share.mass_g) for share in estimate.by_role},
        "support_mass_g": _number(estimate.support_mass_g),
        "support_time_h": _number(estimate.support_time_h),
        "own_time_h": _number(estimate.own_time_h),
        "energy_kwh": _number(estimate.energy_kwh),
        "feedstock_cost": _number(estimate.feedstock_cost),
        "energy_cost": _number(estimate.energy_cost),
        "machine_cost": _number(estimate.machine_cost),
        "own_time_cost": _number(estimate.own_time_cost),
        "total_cost": _number(estimate.total_cost),
        "grade": estimate.grade,
        "spread": {
            "time_h": {k: v for k, v in _spread(estimate.time_spread_h).items() if k != "likely"},
            "mass_g": {k: v for k, v in _spread(estimate.mass_spread_g).items() if k != "likely"},
        },
    }


def fit_object(fit: Fit) -> dict[str, Any]:
    """Whether and how a part fits, with the room left on each axis."""
    return {
        "fits": fit.fits,
        "how": fit.how,
        "slack_mm": [_number(x) for x in fit.slack_mm],
        "excess_mm": _number(fit.excess_mm),
        "matrix": [_number(x, 9) for x in fit.matrix],
    }


def finding_object(finding: Finding) -> dict[str, Any]:
    """A finding with its place in words and, where there is one, in millimetres."""
    return {
        "check": finding.check,
        "severity": finding.severity,
        "what": finding.what,
        "where": {
            "text": finding.where.text,
            "point_mm": [_number(x, 3) for x in finding.where.point_mm],
            "box_mm": [_number(x, 3) for x in finding.where.box_mm],
        },
        "measured": finding.measured,
        "required": finding.required,
        "remedy": finding.remedy,
        "source": finding.source,
    }


def line_object(line: BillLine) -> dict[str, Any]:
    """A line of the bill; money as text with two decimals, so that no cent is lost."""
    wanted = line.wanted
    return {
        "kind": wanted.kind,
        "item": wanted.item,
        "need": float(wanted.need),
        "unit": wanted.unit,
        "pack": float(wanted.pack),
        "packs": line.packs,
        "spare": float(line.spare),
        "pack_cost": _money(wanted.pack_cost),
        "cost": _money(line.cost),
        "supplier": wanted.supplier,
        "lead_d": wanted.lead_d,
        "used_in": wanted.used_in,
    }


def dump(thing: dict[str, Any]) -> str:
    """JSON text: two spaces, keys in the order made, no number that JSON does not know."""
    return json.dumps(thing, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _part_facts(part: Part) -> dict[str, Any]:
    health = part.health
    return {
        "name": part.name,
        "file": part.source,
        "sha256": part.sha256,
        "unit": part.unit,
        "size_mm": [_number(x) for x in part.size_mm],
        "volume_mm3": _number(part.volume_mm3),
        "area_mm2": _number(part.area_mm2),
        "centre_of_mass_mm": [_number(x) for x in part.centre_of_mass_mm],
        "closed": part.closed,
        "shells": part.shells,
        "health": {
            "grade": health.grade,
            "searched": health.searched,
            "open_edges": health.open_edges,
            "holes": [
                {
                    "edges": hole.edges,
                    "span_mm": _number(hole.span_mm),
                    "centre_mm": [_number(x) for x in hole.centre_mm],
                }
                for hole in health.holes
            ],
            "flipped_facets": health.flipped_facets,
            "duplicate_facets": health.duplicate_facets,
            "degenerate_facets": health.degenerate_facets,
            "overlapping_shells": health.overlapping_shells,
            "self_intersections": health.self_intersections,
            "repairs": list(health.repairs),
            "volume_change_frac": _number(health.volume_change_frac, 9),
            "patched_frac": _number(health.patched_frac, 9),
        },
    }


def _option(option: PrinterOption) -> dict[str, Any]:
    return {
        "printer": option.printer,
        "fit": fit_object(option.fit),
        "time_h": _number(option.estimate.time_h),
        "mass_g": _number(option.estimate.mass_g),
        "total_cost": _number(option.estimate.total_cost),
    }


def _materials(comparison: tuple[FeedstockComparison, ...]) -> list[dict[str, Any]]:
    return [
        {
            "feedstock": row.feedstock,
            "runs": row.runs,
            "reason": row.reason,
            "time_h": _number(row.time_h),
            "mass_g": _number(row.mass_g),
            "volume_ml": _number(row.volume_ml),
            "total_cost": _number(row.total_cost),
            "service_c": row.service_c,
            "good_for": row.good_for,
            "bad_for": row.bad_for,
            "moisture": row.moisture,
            "hazards": row.hazards,
        }
        for row in comparison
    ]


def _spread(spread: Spread) -> dict[str, float]:
    return {
        "low": _number(spread.low),
        "likely": _number(spread.likely),
        "high": _number(spread.high),
    }


def _number(value: float, digits: int = 6) -> float:
    """A finite number, rounded so that the same run prints the same text everywhere."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot stand in JSON")
    return round(float(value), digits) + 0.0


def _money(amount: Decimal) -> str:
    return f"{amount:.2f}"
