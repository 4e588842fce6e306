"""The device's study as plain objects; no arrays of samples."""

import math
from typing import Any

import numpy as np

from buildplan.device.chain.model import DeviceStudy
from buildplan.device.heat.model import HeatStudy
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.power import PowerBudget
from buildplan.device.view.check import ViewReport
from buildplan.report.as_json.values import finding_object, number


def device_object(study: DeviceStudy) -> dict[str, Any]:
    """Needs, drives, supply, heat, gaps, assembly, views and findings."""
    return {
        "verdict": study.verdict or "ok",
        "linkage": study.linkage,
        "needs": [
            {
                "step": need.step,
                "question": need.question,
                "needs": need.needs,
                "has": need.has,
                "verdict": need.verdict,
                "takes": need.takes,
            }
            for need in study.needs
        ],
        "travel_deg": finite(study.travel_deg),
        "servo": None
        if study.servo is None
        else {
            "label_v": number(study.servo.label_v),
            "volts_v": finite(study.servo.volts_v),
            "amps_a": number(study.servo.amps_a),
        },
        "drives": [_drive(one) for one in study.drives],
        "power": _power(study.power) if study.power else None,
        "heat": _heat(study.heat) if study.heat else None,
        "gaps": [
            {
                "moving": pair.moving,
                "fixed": pair.fixed,
                "least_mm": number(pair.least_mm),
                "proven_mm": number(pair.proven_mm),
                "required_mm": number(pair.required_mm),
                "at_deg": number(pair.at_deg),
            }
            for one in study.gaps
            for pair in one.clearance.pairs
        ],
        "reached": [
            {"name": one.name, "kind": one.kind, "access": one.access} for one in study.reached
        ],
        "assembly": [step.name for step in study.assembly.order] if study.assembly else None,
        "views": _views(study.views) if study.views else None,
        "cautions": [{"key": one.key, "trigger": one.trigger} for one in study.cautions],
        "findings": [finding_object(finding) for finding in study.findings],
    }


def finite(value: float) -> float | None:
    """A number, or null where there is none."""
    return number(value) if math.isfinite(value) else None


def _drive(one: MechanismStudy) -> dict[str, Any]:
    drive, opening = one.drive, one.opening
    return {
        "name": one.name,
        "kind": drive.kind,
        "servo": one.servo.name,
        "peak_n_mm": number(float(np.abs(drive.servo_n_mm).max())),
        "stall_n_mm": number(one.servo.stall_n_mm),
        "stall_frac": number(opening.peak_frac),
        "opening_s": finite(opening.time_s),
        "link_n": number(float(np.abs(drive.link_n).max())),
        "hinge_pin_n": number(float(drive.hinge_pin_n.max())),
        "transmission_deg": number(float(drive.lid_transmission_deg.min())),
        "pinch_n": number(one.pinch.worst_n),
        "locks_deg": [number(lock.at_deg) for lock in drive.locks],
        "findings": [finding_object(finding) for finding in one.findings],
    }


def _power(budget: PowerBudget) -> dict[str, Any]:
    return {
        "day_wh": number(budget.day.day_wh),
        "year_cost": number(budget.day.year_cost),
        "parts": [
            {
                "name": part.name,
                "least_v": number(part.least_v),
                "worst_v": finite(part.worst_v),
                "worst_case": part.worst_case,
                "peak_v": finite(part.peak_v),
            }
            for part in budget.parts
        ],
        "rails": [
            {
                "name": rail.name,
                "most_a": finite(rail.most_a),
                "peak_a": finite(rail.peak_a),
                "limit_a": number(rail.limit_a),
            }
            for rail in budget.rails
        ],
        "events": [
            {
                "name": event.name,
                "reboots": list(event.reboots),
                "fails": event.failure.text if event.failure else None,
                "fixes": [fix.text for fix in event.fixes if fix.passes],
            }
            for event in budget.events
        ],
    }


def _heat(study: HeatStudy) -> dict[str, Any]:
    return {
        "ambient_c": number(study.ambient_c),
        "nodes": [
            {
                "name": node.name,
                "kind": node.kind,
                "mode": node.mode,
                "temp_c": number(node.temp_c),
                "doubt_k": number(node.doubt_k),
                "low_c": number(node.low_c),
                "high_c": number(node.high_c),
                "limit_c": finite(node.limit_c),
            }
            for node in study.nodes
        ],
        "minutes_to_90": finite(study.minutes_to_90),
        "answer": study.answers.line if study.answers else None,
        "feedstocks": [
            {
                "key": row.key,
                "wall_c": number(row.wall_c),
                "mount_c": finite(row.mount_c),
                "limit_c": number(row.limit_c),
                "passes": row.passes,
            }
            for row in study.feedstocks
        ],
    }


def _views(report: ViewReport) -> dict[str, Any]:
    return {
        "cameras": [
            {
                "seen_frac": number(one.rest.seen_frac),
                "hidden_by": {h.name: number(h.share_frac) for h in one.rest.hidden_by},
                "travel_deg": [number(float(angle)) for angle in one.travel.angles_deg],
                "travel_seen_frac": [number(float(share)) for share in one.travel.seen_frac],
            }
            for one in report.camera
        ],
        "distance_sensors": [
            {"own_frac": number(one.cone.own_frac), "tallest_mm": number(one.tallest_mm)}
            for one in report.distance_sensor
        ],
    }
