"""What this device needs: one table, each line computed from the answers before it."""

import math
from collections.abc import Iterable, Sequence

from buildplan.device.chain.model import DeviceStudy, Need, Verdict
from buildplan.device.chain.shape import DeviceTables
from buildplan.device.heat.fan import chamber_c
from buildplan.device.heat.words import held_words, place_words, temp_words
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.mechanism.words import torque_text
from buildplan.findings import Finding, worst


def list_needs(study: DeviceStudy, tables: DeviceTables) -> tuple[Need, ...]:
    """The table of a device's needs, in the order in which one answer feeds the next."""
    built = next((one for one in study.drives if one.name == study.linkage), None)
    return (
        *_travel(study, tables),
        *_load(study),
        *(_drive(built) if built else ()),
        *_volts(study, tables),
        *_supply(study),
        *_heat(study),
        *_feedstock(study),
        *_gaps(study, tables),
        *_together(study),
        *_views(study),
    )


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """The gravest of some findings, where it is worth a look; else within."""
    found = worst(tuple(findings))
    return found if found in ("stop", "caution") else "within"


def _travel(study: DeviceStudy, tables: DeviceTables) -> Sequence[Need]:
    """How far the lid must open so that its chamber stays cool enough."""
    chamber = tables.heat.chamber if tables.heat else None
    if chamber is None or tables.mechanism is None:
        return ()
    has = tables.mechanism.hinge.to_deg
    ambient = tables.device.ambient_c
    opened = chamber_c(chamber, min(has, 180.0), ambient)
    if math.isinf(study.travel_deg):
        needs = f"no angle keeps it below {chamber.most_c:.0f} °C at {ambient:.0f} °C outside"
    else:
        needs = (
            f"{math.ceil(study.travel_deg)} degrees, so that the chamber stays below "
            f"{chamber.most_c:.0f} °C at {ambient:.0f} °C outside"
        )
    return [
        Need(
            step="travel",
            question="How far must the lid open?",
            needs=needs,
            has=f"{has:.0f} degrees: {opened:.0f} °C then",
            verdict="within" if has >= study.travel_deg else "caution",
            takes="",
        )
    ]


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
            takes="travel" if math.isfinite(study.travel_deg) else "",
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


def _heat(study: DeviceStudy) -> Sequence[Need]:
    heat = study.heat
    if heat is None or heat.answers is None:
        return ()
    node = next(one for one in heat.nodes if one.name == heat.answers.node)
    return [
        Need(
            step="heat",
            question="Does the heat get out?",
            needs=f"at most {node.limit_c:.0f} °C at the {place_words(node)}",
            has=f"{temp_words(node.temp_c, node.doubt_k)}, {held_words(node)} at "
            f"{heat.ambient_c:.0f} °C around it",
            verdict=verdict_of(heat.findings),
            takes="supply" if study.power else "",
        )
    ]


def _feedstock(study: DeviceStudy) -> Sequence[Need]:
    heat = study.heat
    if heat is None or heat.case.feedstock is None or not heat.feedstocks:
        return ()
    own = heat.case.feedstock
    warm = [node for node in heat.nodes if node.kind in ("wall", "mount")]
    hottest = max(warm, key=lambda node: node.temp_c + node.doubt_k)
    able = ", ".join(row.key for row in heat.feedstocks if row.passes) or "none of the table"
    found = [f for f in heat.findings if f.where.text.startswith(tuple(n.name for n in warm))]
    return [
        Need(
            step="feedstock",
            question="Which feedstock stands the heat?",
            needs=f"{temp_words(hottest.temp_c, hottest.doubt_k)} at the {place_words(hottest)}",
            has=f"{own.key} stands {own.service_c:.0f} °C for long; these pass: {able}",
            verdict=verdict_of(found),
            takes="heat",
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
