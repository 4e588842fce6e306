"""After the assembly: first power and heat soak of the device against what was computed."""

from collections.abc import Mapping
from typing import Any

from buildplan.build import Build
from buildplan.device.heat.words import place_words
from buildplan.journal.accept import Accepted
from buildplan.notebook.answers.answer import Answer, sentences, sign, table
from buildplan.notebook.answers.memory import study_of
from buildplan.notebook.answers.not_said import not_said
from buildplan.plan import accept_amps, accept_soak
from buildplan.report import numbers
from buildplan.report.sections import capital

WHERE = {
    "air": "in the air inside, away from walls",
    "wall": "on the {}",
    "outside": "on the {}",
    "part": "on its warmest chip or case",
    "mount": "on the printed mount, close to the board",
}
"""Where to put the probe, by kind of place."""


def show_first_power(build: Build, measured_a: Mapping[str, float] | None = None) -> Answer:
    """Current out of the supply, mode by mode, against the power budget.

    Args:
        build: Whose device it is.
        measured_a: Amps by mode, read on a meter in the supply's lead; left out, what to expect.

    Raises:
        InputError: A mode is none, or a current is below 0.
    """
    study = study_of(build)
    if study is None or study.power is None:
        return not_said("The build file says nothing to hold currents against", "power")
    given = dict(measured_a or {})
    found = {one.what: one for one in accept_amps(study, given)}
    cases = [case for case in study.power.cases if case.kind == "mode"]
    rows = []
    for case in cases:
        (expected,) = accept_amps(study, {case.name: case.source_a})
        row = _row(case.name, expected, found.get(expected.what), 2)
        rows.append(row | {"where": "out of the supply"})
    said = (
        "Put a meter set to 10 A into the supply's lead and let the device do one thing at a time. "
        "Switch off at once where something smells or gets too hot to touch."
    )
    return _answer(rows, list(found.values()), "current", "A", said)


def show_heat_soak(
    build: Build, measured_c: Mapping[str, float] | None = None, room_c: float = 22.0
) -> Answer:
    """Temperatures after half an hour in the warmest mode, against the heat network.

    Args:
        build: Whose device it is.
        measured_c: Degrees by place; left out, what to expect.
        room_c: Of the air in the room while it is measured.

    Raises:
        InputError: A place is none, or colder than the room.
    """
    study = study_of(build)
    if study is None or study.heat is None:
        return not_said("The build file says nothing to hold temperatures against", "heat")
    given = dict(measured_c or {})
    found = {one.what: one for one in accept_soak(study, given, room_c)}
    rows = []
    for node in study.heat.nodes:
        warm = max(room_c, node.temp_c - study.heat.ambient_c + room_c)
        (expected,) = accept_soak(study, {node.name: warm}, room_c)
        row = _row(node.name, expected, found.get(node.name), 0)
        rows.append(row | {"where": WHERE[node.kind].format(place_words(node))})
    said = (
        f"Let it run for half an hour or more in its warmest mode, in a room of "
        f"{numbers.num(room_c, 0, '°C')}, with the covers on; measure with a probe taped on."
    )
    return _answer(rows, list(found.values()), "temperature", "°C", said)


def _row(name: str, expected: Accepted, found: Accepted | None, digits: int) -> dict[str, Any]:
    return {
        "sign": "" if found is None else sign("ok" if found.verdict == "within" else "caution"),
        "name": name,
        "expected": numbers.num(expected.expected, digits),
        "range": f"{numbers.num(expected.low, digits)} to {numbers.num(expected.high, digits)}",
        "found": "" if found is None else numbers.num(found.found, digits),
        "cause": "" if found is None else found.cause or "as computed",
    }


def _answer(
    rows: list[dict[str, Any]], found: list[Accepted], what: str, unit: str, said: str
) -> Answer:
    columns = [
        ("sign", "", ""),
        ("name", "mode" if what == "current" else "place", ""),
        ("where", "measure", ""),
        ("expected", "computed", unit),
        ("range", "from, to", unit),
        ("found", "measured", unit),
        ("cause", "likely cause", ""),
    ]
    if not found:
        columns = [column for column in columns if column[0] not in ("sign", "found", "cause")]
    html = sentences([said]) + table(columns, rows, right=("expected", "found"))
    look = [one for one in found if one.verdict == "look"]
    if not found:
        heading = f"What to expect: enter each {what} that you measure"
        return Answer(heading=heading, html=html, severity="note")
    if look:
        names = ", ".join(one.what.partition(",")[0] for one in look)
        return Answer(heading=f"Look at {names}: not as computed", html=html, severity="caution")
    count = numbers.count(len(found), what)
    return Answer(
        heading=capital(f"{count} measured, all as computed"),
        html=html,
        severity="ok",
    )
