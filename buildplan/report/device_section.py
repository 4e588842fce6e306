"""The section "Device": what it needs, drives compared, volts, heat, gaps, views, findings."""

import math
from typing import Any

import numpy as np

from buildplan.device.chain.model import DeviceStudy, Need
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.mechanism.load import N_MM_OF_KG_CM
from buildplan.device.power import EventReport
from buildplan.findings import Finding, Severity, worst
from buildplan.report import numbers
from buildplan.report.device_pictures.heat import draw_heat
from buildplan.report.device_pictures.lid import draw_lid
from buildplan.report.device_pictures.power import (
    draw_energy,
    draw_event,
    draw_volts,
    drawn_wh,
)
from buildplan.report.device_pictures.sight import draw_sight
from buildplan.report.embed import drawing
from buildplan.report.gather import place_and_numbers, written
from buildplan.report.platform_picture import PlatformPicture
from buildplan.report.sections import capital, words

FIXES_SHOWN = 3
EVENTS_DRAWN = 2
TIGHT_SHOWN = 6

TURNED = {
    "lid": "lid at",
    "rod": "lid at",
    "horn": "horn turned",
    "rod on lid": "rod turned on the lid",
    "rod on horn": "rod turned on the horn",
}
"""What the angle of a gap is counted on."""

SUBJECTS = {
    "travel": "the travel",
    "drive": "the lid's drive",
    "volts": "the servo's volts",
    "supply": "the supply",
    "heat": "the heat",
    "feedstock": "its feedstock",
    "gaps": "the gaps",
    "together": "the assembly",
    "views": "the views",
}


def device_section(study: DeviceStudy, currency: str) -> dict[str, Any]:
    """Everything that the device's part of the page shows, as text and drawings."""
    names = sorted({one.part_name for one in study.placed} | {one.name for one in study.drives})
    return {
        "heading": device_heading(study),
        "currency": currency,
        "needs": [_need(need, names) for need in study.needs],
        "drives": [_drive(one, study) for one in study.drives],
        "certificate": _certificate(study),
        "events": [event_row(event) for event in study.power.events] if study.power else [],
        "energy": energy_words(study, currency),
        "energy_note": energy_note(study),
        "feedstocks": feedstock_rows(study),
        "heat_line": heat_line(study),
        "gaps": _gaps(study),
        "order": _order(study),
        "pictures": _pictures(study),
        "findings": [finding_row(f, names) for f in study.findings if f.severity != "note"],
        "notes": [finding_row(f, names) for f in study.findings if f.severity == "note"],
    }


def device_heading(study: DeviceStudy) -> str:
    """The answer in one sentence: what is not within its limits, gravest first."""
    stops = [SUBJECTS[n.step] for n in study.needs if n.verdict == "stop" and n.step in SUBJECTS]
    looks = [SUBJECTS[n.step] for n in study.needs if n.verdict == "caution" and n.step in SUBJECTS]
    if stops:
        more = f"; look at {_listed(looks)} too" if looks else ""
        return f"Not yet: mend {_listed(stops)}{more}"
    if looks:
        return f"It works on paper; look at {_listed(looks)}"
    return "It works on paper, within the limits of every step"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def severity_of(need: Need) -> Severity | None:
    """The sign of a need; None is a tick."""
    return None if need.verdict == "within" else need.verdict


def _need(need: Need, names: list[str]) -> dict[str, Any]:
    return {
        "severity": severity_of(need) or "none",
        "question": written(need.question, names),
        "needs": written(need.needs, names),
        "has": written(need.has, names),
        "takes": need.takes,
    }


def _drive(one: MechanismStudy, study: DeviceStudy) -> dict[str, Any]:
    drive, opening = one.drive, one.opening
    peak = float(np.abs(drive.servo_n_mm).max())
    links = float(np.abs(drive.link_n).max())
    least = float(drive.lid_transmission_deg.min())
    found = worst(one.findings)
    return {
        "pick": one.name == study.linkage,
        "name": words(one.name),
        "servo": one.servo.name,
        "peak": numbers.num(peak / N_MM_OF_KG_CM, 2),
        "share": numbers.num(100.0 * opening.peak_frac, 0),
        "time": "stalls" if opening.stalls else numbers.num(opening.time_s, 1),
        "link": numbers.num(links, 1) if drive.kind != "direct" else "none",
        "pin": numbers.num(float(drive.hinge_pin_n.max()), 1),
        "angle": numbers.num(least, 0) if drive.kind == "rod" else "",
        "pinch": numbers.num(one.pinch.worst_n, 0),
        "severity": found if found in ("stop", "caution") else "none",
        "first": written(one.findings[0].what) if one.findings else "",
    }


def _certificate(study: DeviceStudy) -> str:
    built = next((one for one in study.drives if one.name == study.linkage), None)
    return capital(written(built.certificate)) if built else ""


def event_row(event: EventReport) -> dict[str, Any]:
    """Will it reboot? One event with its first failure and what mends it, the cheapest first."""
    fixes = [written(fix.text) for fix in event.fixes if fix.passes][:FIXES_SHOWN]
    return {
        "name": capital(event.name),
        "mode": event.mode,
        "severity": "stop" if event.failure else "none",
        "answer": written(event.failure.text) if event.failure else "nothing reboots",
        "fixes": fixes,
    }


def energy_words(study: DeviceStudy, currency: str) -> str:
    """Energy of a day, what a year of it costs, how long a battery lasts."""
    if study.power is None:
        return ""
    day = study.power.day
    said = f"{numbers.num(day.day_wh, 0, 'Wh')} a day"
    if day.year_cost:
        said += f", {numbers.money(day.year_cost, currency)} a year"
    if study.power.battery is not None:
        said += f"; the battery lasts {numbers.num(study.power.battery.runtime_h, 1, 'h')}"
    return said


def energy_note(study: DeviceStudy) -> str:
    """How the blocks of the day and the day's energy belong together."""
    if study.power is None:
        return ""
    day, drawn = study.power.day, numbers.num(drawn_wh(study.power), 0, "Wh")
    said = f"At the supply's least volts the blocks add up to {drawn}. At those on its label it "
    said += f"gives {numbers.num(24.0 * day.mean_w, 0, 'Wh')}"
    if day.mains_w > day.mean_w:
        said += f", and its own loss makes that {numbers.num(day.day_wh, 0, 'Wh')} from the mains"
    return f"{said}."


def feedstock_rows(study: DeviceStudy) -> list[dict[str, Any]]:
    """What the warm walls and mounts could be made of."""
    if study.heat is None:
        return []
    own = study.heat.case.feedstock
    return [
        {
            "name": row.name,
            "pick": own is not None and row.key == own.key,
            "wall": numbers.num(row.wall_c, 0),
            "mount": numbers.num(row.mount_c, 0) if math.isfinite(row.mount_c) else "",
            "limit": numbers.num(row.limit_c, 0),
            "passes": "passes" if row.passes else "does not",
        }
        for row in study.heat.feedstocks
    ]


def heat_line(study: DeviceStudy) -> str:
    """What would keep the place that lacks most within its limit, each change alone."""
    heat = study.heat
    if heat is None or heat.answers is None:
        return ""
    line = heat.answers.line
    return written(f"To keep the {heat.answers.node} within its limit, doubt counted in: {line}.")


def _gaps(study: DeviceStudy) -> list[dict[str, str]]:
    """The tightest pairs through the motion, each with the angle and what is proven."""
    pairs = [(one.what, p) for one in study.gaps for p in one.clearance.pairs if not p.beyond]
    pairs.sort(key=lambda row: row[1].least_mm)
    return [
        {
            "moving": words(pair.moving),
            "fixed": words(pair.fixed),
            "gap": numbers.num(pair.least_mm, 2),
            "proven": numbers.num(pair.proven_mm, 2),
            "at": f"{TURNED[what]} {numbers.num(pair.at_deg, 0)}°",
        }
        for what, pair in pairs[:TIGHT_SHOWN]
    ]


def _order(study: DeviceStudy) -> list[str]:
    """The order in which everything goes in."""
    if study.assembly is None:
        return []
    return [words(step.name) for step in study.assembly.order]


def _pictures(study: DeviceStudy) -> dict[str, Any]:
    """Every figure as a drawing of the page; empty where there is nothing to draw."""
    found: dict[str, Any] = {"lid": "", "volts": "", "energy": "", "heat": "", "sight": ""}
    if study.drives:
        found["lid"] = _drawn(draw_lid(study), "lid")
    if study.power is not None:
        found["volts"] = _drawn(draw_volts(study.power), "volts")
        found["energy"] = _drawn(draw_energy(study.power), "energy")
    if study.heat is not None:
        found["heat"] = _drawn(draw_heat(study.heat), "heat")
    for report in study.views.camera if study.views else ():
        found["sight"] = _drawn(draw_sight(report), "sight")
    found["events"] = []
    if study.power is not None:
        events = study.power.events
        gravest = sorted(range(len(events)), key=lambda number: events[number].failure is None)
        found["events"] = [
            _drawn(draw_event(study.power, number), f"event{number}")
            for number in sorted(gravest[:EVENTS_DRAWN])
        ]
    return found


def _drawn(picture: PlatformPicture, mark: str) -> Any:
    return drawing(picture, f"device-{mark}")


def finding_row(finding: Finding, names: list[str]) -> dict[str, Any]:
    """A finding of the device in sentences."""
    return {
        "severity": finding.severity,
        "what": capital(written(finding.what, names)),
        "why": capital(place_and_numbers(finding, names)),
        "remedy": capital(written(finding.remedy, names)),
        "source": written(finding.source),
    }
