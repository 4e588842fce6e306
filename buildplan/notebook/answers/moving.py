"""Will it move: what the lid asks for, the drives compared, torque and margins."""

import math
from typing import TYPE_CHECKING, Any

from buildplan.build import Build
from buildplan.build.keep_many import keep_values
from buildplan.device.chain.model import DeviceStudy, Need
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.mechanism.load import N_MM_OF_KG_CM
from buildplan.device.mechanism.words import PIN_WEIGHTS
from buildplan.findings import SEVERITIES, worst
from buildplan.notebook.answers.answer import Answer, figure, sentences, table
from buildplan.notebook.answers.memory import current, study_of
from buildplan.notebook.answers.not_said import no_mechanism
from buildplan.notebook.answers.told import findings_list, sign_of
from buildplan.report import numbers
from buildplan.report.device_pictures.lid import draw_lid
from buildplan.report.device_section import device_section, severity_of
from buildplan.report.gather import written
from buildplan.report.sections import words

if TYPE_CHECKING:
    pass

LID_STEPS = ("travel", "load", "drive", "volts", "gaps", "together")
"""Lines of the needs table that are about motion."""

OF_LID = ("mechanism", "chain")
"""Checks whose findings are about the lid and its drive."""


def show_lid(build: Build) -> Answer:
    """What the lid asks for, step by step, each line from the answers before it, and findings."""
    study = study_of(build)
    if study is None or study.mechanism is None:
        return no_mechanism()
    names = sorted({one.part_name for one in study.placed})
    needs = [need for need in study.needs if need.step in LID_STEPS]
    rows = [_need_row(need, names) for need in needs]
    columns = (
        ("severity", "", ""),
        ("question", "question", ""),
        ("needs", "it needs", ""),
        ("has", "it has", ""),
    )
    found = tuple(f for f in study.findings if f.check in OF_LID)
    html = table(columns, rows) + findings_list(found, study)
    return Answer(heading=_lid_heading(needs), html=html, severity=sign_of(found))


def show_drives(build: Build) -> Answer:
    """Every drive of the build file in one row, the one that is built marked."""
    study = study_of(build)
    if study is None or not study.drives:
        return no_mechanism()
    section = device_section(study, build.currency)
    rows = [
        dict(row, severity="ok" if row["severity"] == "none" else row["severity"])
        for row in section["drives"]
    ]
    columns = (
        ("severity", "", ""),
        ("name", "drive", ""),
        ("servo", "servo", ""),
        ("peak", "torque", "kg cm"),
        ("share", "of stall", "%"),
        ("time", "opens in", "s"),
        ("link", "in the link", "N"),
        ("pin", "on the pin", "N"),
        ("angle", "rod to lever", "degrees"),
        ("pinch", "pinches", "N"),
        ("first", "first of all", ""),
    )
    right = ("peak", "share", "time", "link", "pin", "angle", "pinch")
    built = next(one for one in study.drives if one.name == study.linkage)
    lines = [section["certificate"]] if section["certificate"] else []
    return Answer(
        heading=_drives_heading(study, built),
        html=table(columns, rows, right=right) + sentences(lines),
        severity=sign_of(built.findings),
    )


def show_torque(build: Build) -> Answer:
    """Torque over the lid's angle against the servo's stall, and how far each limit is kept."""
    study = study_of(build)
    if study is None or not study.drives:
        return no_mechanism()
    built = next(one for one in study.drives if one.name == study.linkage)
    moved = study.moved or built
    drawn = figure(
        draw_lid(study),
        "lid",
        "The drive that is built is drawn full and bold. Keep it below the tinted band at every "
        "angle; a line over its servo's stall line does not move the lid.",
    )
    rows = _margins(moved)
    columns = (
        ("severity", "", ""),
        ("what", f"margins of the {words(moved.name)}", ""),
        ("has", "it is", ""),
        ("limit", "asked", ""),
        ("margin", "margin", ""),
    )
    volts = study.servo.volts_v if study.servo is not None else math.nan
    said = []
    if math.isfinite(volts):
        said.append(
            f"Margins are those at the {numbers.num(volts, 2, 'V')} that the supply leaves the "
            "servo while it moves; the drawing is at the volts on its label."
        )
    severity = next((s for s in SEVERITIES if any(row["severity"] == s for row in rows)), "ok")
    return Answer(
        heading=_torque_heading(moved),
        html=drawn + table(columns, rows, right=("margin",)) + sentences(said, "small muted"),
        severity=severity,
    )


def keep_drive(build: Build, drive: str = "") -> Answer:
    """Keep in the build file which drive is built; an empty name changes nothing.

    Args:
        build: The build.
        drive: Name of one of its drives.

    Raises:
        BuildFileError: There is no such drive, or the file cannot be changed.
    """
    study = study_of(build)
    if study is None or not study.drives:
        return no_mechanism()
    names = ", ".join(f"“{one.name}”" for one in study.drives)
    if not drive:
        return Answer(
            heading=f"The {words(study.linkage)} is built, as the build file says",
            html=sentences([f"Give drive another name to change it: {names}."]),
        )
    if drive == study.linkage:
        heading = f"The {words(drive)} is built already; nothing was changed"
        return Answer(heading=heading, html="")
    now = current(build)
    keep_values(now.path, [(("device",), "linkage", drive)])
    return Answer(
        heading=f"The {words(drive)} is built from now on",
        html=sentences(
            [
                f"Kept as linkage in [device] of {now.path.absolute()}. Set drive back to an "
                "empty text, then run the notebook again: torque, volts, gaps and views are of "
                "this drive."
            ]
        ),
        severity="ok",
    )


def _need_row(need: Need, names: list[str]) -> dict[str, Any]:
    return {
        "severity": severity_of(need) or "ok",
        "question": written(need.question, names),
        "needs": written(need.needs, names),
        "has": written(need.has, names),
    }


def _lid_heading(needs: list[Need]) -> str:
    stops = sum(need.verdict == "stop" for need in needs)
    looks = sum(need.verdict == "caution" for need in needs)
    if stops:
        return f"It does not move yet: {numbers.count(stops, 'step')} to mend"
    if looks:
        return f"It moves on paper; look at {numbers.count(looks, 'step')} first"
    return "It moves on paper, within the limits of every step"


def _drives_heading(study: DeviceStudy, built: MechanismStudy) -> str:
    able = [one for one in study.drives if worst(one.findings) != "stop"]
    least = min(able, key=lambda one: one.opening.peak_frac, default=None)
    share = numbers.num(100.0 * built.opening.peak_frac, 0)
    said = f"The {words(built.name)} uses {share} % of its servo's stall"
    if least is None:
        return f"{said}; no drive works yet"
    if least is not built:
        other = numbers.num(100.0 * least.opening.peak_frac, 0)
        return f"{said}; the {words(least.name)} would use {other} %"
    if len(study.drives) == 1:
        return said
    return (
        f"{said}, the {'only one' if len(able) == 1 else f'least of the {len(able)}'} that does it"
    )


def _torque_heading(moved: MechanismStudy) -> str:
    opening = moved.opening
    if opening.stalls:
        return f"The {words(moved.name)} stalls on the way"
    share = numbers.num(100.0 * opening.peak_frac, 0)
    most = numbers.num(100.0 / moved.needs.safety_factor, 0)
    at = numbers.num(opening.peak_deg, 0)
    return f"Hardest at {at}°: {share} % of stall, where {most} % is the most"


def _margins(one: MechanismStudy) -> list[dict[str, str]]:
    """One row for every limit that a drive keeps or does not."""
    opening, drive, servo = one.opening, one.drive, one.servo
    weight = math.hypot(*one.load.weight_n)
    pin = float(drive.hinge_pin_n.max())
    peak = float(opening.peak_frac) * servo.stall_n_mm / N_MM_OF_KG_CM
    stall = servo.stall_n_mm / N_MM_OF_KG_CM
    rows = [
        _most(
            f"torque while it opens, {numbers.num(peak, 2, 'kg cm')} of "
            f"{numbers.num(stall, 1, 'kg cm')}",
            100.0 * opening.peak_frac,
            100.0 / one.needs.safety_factor,
            "% of stall",
        ),
        _most(
            "torque to hold it open", 100.0 * opening.holding_frac, 100.0 * servo.hold_frac,
            "% of stall",
        ),
        _most("turn of the servo", opening.sweep_deg, servo.sweep_deg, "degrees"),
        _most("force on the hinge pin", pin, PIN_WEIGHTS * weight, "N"),
    ]  # fmt: skip
    if drive.kind == "rod":
        least = float(drive.lid_transmission_deg.min())
        asked = one.needs.least_transmission_deg
        rows.insert(2, _least("angle between rod and the lid's lever", least, asked, "degrees"))
    if not opening.stalls:
        rows.append(_most("speed asked of the servo", 100.0 * one.move.speed_frac, 100.0, "%"))
    return rows


def _most(what: str, has: float, limit: float, unit: str) -> dict[str, str]:
    return _margin_row(what, has, f"at most {_value(limit, unit)}", limit - has, limit, unit)


def _least(what: str, has: float, limit: float, unit: str) -> dict[str, str]:
    return _margin_row(what, has, f"at least {_value(limit, unit)}", has - limit, limit, unit)


def _margin_row(
    what: str, has: float, limit_text: str, margin: float, limit: float, unit: str
) -> dict[str, str]:
    kept = margin >= -1e-9 * max(abs(limit), 1.0)
    sign = "+" if margin > 0.0 else ""
    return {
        "severity": "ok" if kept else "caution",
        "what": what,
        "has": _value(has, unit),
        "limit": limit_text,
        "margin": f"{sign}{numbers.num(margin, 0 if unit != 'N' else 1)}",
    }


def _value(value: float, unit: str) -> str:
    return numbers.num(value, 0 if unit != "N" else 1, unit)
