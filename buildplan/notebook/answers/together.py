"""Will it move freely and go together: gaps through the motion, the device in 3-D, assembly."""

from typing import TYPE_CHECKING

from buildplan.build import Build
from buildplan.device.chain.model import DeviceStudy, Need
from buildplan.device.clearance.model import Step
from buildplan.device.clearance.reach_words import step_words
from buildplan.findings import worst
from buildplan.notebook.answers.answer import Answer, not_asked, sentences, table
from buildplan.notebook.answers.memory import study_of
from buildplan.notebook.answers.not_said import no_mechanism
from buildplan.notebook.answers.told import findings_list, sign_of
from buildplan.report import numbers
from buildplan.report.device_section import device_section
from buildplan.report.gather import written
from buildplan.report.sections import capital, words

if TYPE_CHECKING:
    from buildplan.notebook.viewer.widget import View


def show_gaps(build: Build) -> Answer:
    """The tightest pairs of parts through the whole motion, each with the angle and the proof."""
    study = study_of(build)
    if study is None or study.mechanism is None:
        return no_mechanism()
    if not study.gaps:
        return not_asked(
            "The gaps through the motion were not asked for",
            (
                '[[part]] of the lid, the horn and the rod: moves_with = "hinge", "servo" or '
                '"coupler", and poses that put every part where it stands in the device',
            ),
        )
    rows = device_section(study, build.currency)["gaps"]
    need = next((one for one in study.needs if one.step == "gaps"), None)
    columns = (
        ("moving", "moving", ""),
        ("fixed", "against", ""),
        ("gap", "least gap", "mm"),
        ("proven", "proven at every angle", "mm"),
        ("at", "where", ""),
    )
    found = tuple(f for f in study.findings if f.check == "clearance")
    names = sorted({one.part_name for one in study.placed})
    lines = [] if rows else ["No pair comes nearer than the search looks for."]
    return Answer(
        heading=_gaps_heading(need, names),
        html=table(columns, rows, right=("gap", "proven")) * bool(rows)
        + sentences(lines)
        + findings_list(found, study),
        severity=sign_of(found),
    )


def look_at_device(build: Build) -> "View | Answer":
    """The device in three dimensions, the lid at every pose of its travel."""
    from buildplan.notebook.viewer import view_device

    study = study_of(build)
    if study is None:
        return no_mechanism()
    if not study.placed:
        return not_asked(
            "The build file does not say where the parts stand",
            ("[[part]]: poses = one 4 × 4 matrix for each copy, from the mesh to the device",),
        )
    return view_device(study)


def show_assembly(build: Build) -> Answer:
    """Whether every screw, plug and component is reached, and the order in which it goes in."""
    study = study_of(build)
    if study is None:
        return no_mechanism()
    if not study.reached and study.assembly is None:
        return not_asked(
            "The build file names nothing that is put in",
            (
                "[[device.screw]]: name, place of its head, direction, driver",
                "[[device.plug]]: name, place and direction in which it is plugged in",
                "[[device.component]]: name, its box, and the ways it may go in",
            ),
        )
    found = tuple(
        f for f in study.findings if f.check in ("reach", "assembly") and f.severity != "note"
    )
    rows = [
        {
            "severity": worst(one.findings) or "ok",
            "name": capital(words(one.name)),
            "kind": one.kind,
            "access": one.access,
            "spare": f"{numbers.num(one.spare_mm, 1)}{' or more' if one.spare_mm >= 5.0 else ''}",
            "blocked": ", ".join(words(blocker.part) for blocker in one.blockers),
        }
        for one in sorted(study.reached, key=lambda one: one.spare_mm)
    ]
    columns: tuple[tuple[str, str, str], ...] = (
        ("severity", "", ""),
        ("name", "screw or plug", ""),
        ("kind", "kind", ""),
        ("access", "access", ""),
        ("spare", "room beside it", "mm"),
        ("blocked", "in the way", ""),
    )
    if not any(row["blocked"] for row in rows):
        columns = columns[:-1]
    html = table(columns, rows, right=("spare",)) if rows else ""
    html += _order(study)
    return Answer(
        heading=_assembly_heading(study),
        html=html + findings_list(found, study),
        severity=sign_of(found),
    )


def _order(study: DeviceStudy) -> str:
    """What goes in, one after the other, and how; nothing where nothing does."""
    steps = study.assembly.order if study.assembly else ()
    rows = [
        {"number": str(number), "name": capital(words(step.name)), "how": _how(step)}
        for number, step in enumerate(steps, 1)
    ]
    columns = (("number", "", ""), ("name", "goes in, in this order", ""), ("how", "how", ""))
    return table(columns, rows) if rows else ""


def _how(step: Step) -> str:
    return step_words(step).replace("-", numbers.MINUS)


def _gaps_heading(need: Need | None, names: list[str]) -> str:
    if need is None:
        return "Gaps through the motion"
    kept = need.verdict in ("within", "note")
    asked, has = written(need.needs, names), written(need.has, names)
    return f"{'It moves without touching' if kept else 'It touches'}: {has}; asked for {asked}"


def _assembly_heading(study: DeviceStudy) -> str:
    blocked = [one for one in study.reached if one.access == "blocked"]
    stuck = study.assembly.stuck if study.assembly else ()
    if not blocked and not stuck:
        need = next((one for one in study.needs if one.step == "together"), None)
        return f"It goes together: {need.has}" if need is not None else "It goes together"
    said = []
    if blocked:
        said.append(
            f"{numbers.count(len(blocked), 'screw or plug', 'screws or plugs')} not reached"
        )
    if stuck:
        said.append(f"no way in for {', '.join(words(name) for name in stuck)}")
    return f"It does not go together yet: {'; '.join(said)}"
