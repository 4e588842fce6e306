"""What this device needs: one table, each line computed from the answers before it."""

import math
from collections.abc import Iterable, Sequence

from buildplan.device.chain.model import DeviceStudy, Need, Verdict
from buildplan.device.chain.shape import DeviceTables
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.mechanism.words import torque_text
from buildplan.findings import Finding, worst


def list_needs(study: DeviceStudy, tables: DeviceTables) -> tuple[Need, ...]:
    """The table of a device's needs, in the order in which one answer feeds the next."""
    built = next((one for one in study.drives if one.name == study.linkage), None)
    return (
        *_load(study),
        *(_drive(built) if built else ()),
        *_volts(study, tables),
        *_supply(study),
        *_gaps(study, tables),
        *_together(study),
        *_views(study),
    )


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """The gravest of some findings, where it is worth a look; else within."""
    found = worst(tuple(findings))
    return found if found in ("stop", "caution") else "within"


def _load(study: DeviceStudy) -> Sequence[Need]:
    built = next((one for one in study.drives if one.name == study.linkage), None)
    if built is None:
        return ()
    load, lid = built.asked_load, built.lid
    peak = max(abs(load.opening_n_mm).max(), abs(load.closing_n_mm).max())
    return [
        Need(
            step="load",
            question="What does it take to turn the lid?",
            needs=f"up to {peak:.0f} N mm at the hinge",
            has=f"{lid.mass_g:.0f} g, balanced {lid.centre_forward_mm:.0f} mm from the hinge",
            verdict="within",
            takes="",
        )
    ]


def _drive(built: MechanismStudy) -> Sequence[Need]:
    drive = built.drive
    peak = max(abs(drive.servo_n_mm).max(), abs(drive.closing_servo_n_mm).max())
    asked = peak * built.needs.safety_factor
    return [
        Need(
            step="drive",
            question=f"Will the {built.servo.name} servo move it?",
            needs=f"{torque_text(peak)}, times {built.needs.safety_factor:g} to be sure: "
            f"{torque_text(asked)}",
            has=f"{torque_text(built.servo.stall_n_mm)} at {built.servo.supply_v:g} V",
            verdict=verdict_of(built.findings),
            takes="load",
        )
    ]


def _volts(study: DeviceStudy, tables: DeviceTables) -> Sequence[Need]:
    servo, moved = study.servo, study.moved
    if servo is None or moved is None or tables.power is None:
        return ()
    name = tables.device.servo_load
    load = next(one for one in tables.power.load if one.name == name)
    found = [finding for finding in study.findings if finding.check == "chain"]
    if math.isnan(servo.volts_v):
        has = f"none: the voltage collapses at {servo.amps_a:.2f} A"
    else:
        share = 100.0 * moved.opening.peak_frac
        time = "stalls" if moved.opening.stalls else f"opens in {moved.opening.time_s:.1f} s"
        has = (
            f"{servo.volts_v:.2f} V at {servo.amps_a:.2f} A; it then uses {share:.0f} % of its "
            f"stall torque and {time} at the best"
        )
    return [
        Need(
            step="volts",
            question=f"What volts does the {name} get while it moves?",
            needs=f"at least {load.least_v:g} V" if load.least_v else f"{servo.label_v:g} V",
            has=has,
            verdict=verdict_of([*found, *(f for f in moved.findings if f.severity == "stop")]),
            takes="drive",
        )
    ]


def _supply(study: DeviceStudy) -> Sequence[Need]:
    budget = study.power
    if budget is None:
        return ()
    source = budget.rails[0]
    return [
        Need(
            step="supply",
            question="Will the supply carry it?",
            needs=f"{source.most_a:.2f} A ({source.most_case}); {budget.day.day_wh:.0f} Wh a day",
            has=f"{source.limit_a:g} A at {budget.power.source.supply_v:g} V",
            verdict=verdict_of(budget.findings),
            takes="volts" if study.servo else "",
        )
    ]


def _gaps(study: DeviceStudy, tables: DeviceTables) -> Sequence[Need]:
    pairs = [pair for one in study.gaps for pair in one.clearance.pairs]
    if not pairs:
        return ()
    tight = min(pairs, key=lambda pair: pair.least_mm)
    findings = [finding for one in study.gaps for finding in one.clearance.findings]
    return [
        Need(
            step="gaps",
            question="Does it move without touching?",
            needs=f"{tables.device.gap_mm:g} mm at every angle",
            has=f"{tight.least_mm:.2f} mm, {tight.moving} against {tight.fixed} at "
            f"{tight.at_deg:.0f} degrees",
            verdict=verdict_of(findings),
            takes="drive",
        )
    ]


def _together(study: DeviceStudy) -> Sequence[Need]:
    if study.assembly is None and not study.reached:
        return ()
    blocked = [one.name for one in study.reached if one.access == "blocked"]
    stuck = list(study.assembly.stuck) if study.assembly else []
    findings = [finding for one in study.reached for finding in one.findings]
    findings += study.assembly.findings if study.assembly else ()
    count = len(study.reached) + (len(study.assembly.ways) if study.assembly else 0)
    bad = [*blocked, *stuck]
    return [
        Need(
            step="together",
            question="Will it go together?",
            needs=f"a way to {count} screws, plugs and parts",
            has=f"no way to {', '.join(bad)}" if bad else "a way to all of them",
            verdict=verdict_of(findings),
            takes="",
        )
    ]


def _views(study: DeviceStudy) -> Sequence[Need]:
    if study.views is None:
        return ()
    rows = []
    for report in study.views.camera:
        seen = [report.rest.seen_frac, *report.travel.seen_frac]
        rows.append(
            f"the camera sees {100 * min(seen):.0f} to {100 * max(seen):.0f} % of its target"
        )
    for sensor in study.views.distance_sensor:
        own = 100 * sensor.cone.own_frac
        rows.append(
            f"the distance sensor measures up to {sensor.tallest_mm:.0f} mm of growth, "
            f"{own:.0f} % of its cone on own parts"
        )
    return [
        Need(
            step="views",
            question="Do the sensors see what they must?",
            needs="90 % of the target, a free cone",
            has="; ".join(rows),
            verdict=verdict_of(study.views.findings),
            takes="drive" if study.motion else "",
        )
    ]
