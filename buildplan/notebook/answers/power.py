"""Is there enough power: energy tree, volts, reboots, wires and fuse, the day and the battery."""

import math
from typing import Any

from buildplan.build import Build
from buildplan.device.chain.model import DeviceStudy
from buildplan.device.power import PowerBudget
from buildplan.device.power.model import Case, PartVolts, RailLoad, WireLoad
from buildplan.device.power.tree import Network, make_network
from buildplan.notebook.answers.answer import Answer, figure, sentences, table
from buildplan.notebook.answers.memory import current, study_of
from buildplan.notebook.answers.not_said import not_said
from buildplan.notebook.answers.told import findings_list, sign_of
from buildplan.report import numbers
from buildplan.report.device_pictures.power import (
    draw_energy,
    draw_event,
    draw_volts,
    least_drawn_v,
    short_of_volts,
)
from buildplan.report.device_section import energy_note, energy_words, event_row
from buildplan.report.gather import written
from buildplan.report.sections import capital

HOURS = 24.0
WHOLE_WH = 9.95
"""From here on watt hours of a day are told without decimals."""


def show_supply(build: Build) -> Answer:
    """Where the energy goes: the tree from the supply to every part, watts by mode, a day of it."""
    study = study_of(build)
    if study is None or study.power is None:
        return _no_power()
    budget, currency = study.power, current(build).currency
    modes = [case for case in budget.cases if case.kind == "mode" and not case.collapsed_at]
    rows = tree_rows(budget, modes)
    columns = [
        ("part", "part", ""),
        ("volts", "fed with", "V"),
        *((case.name, case.name, f"W, {100.0 * case.share_frac:.0f} % of a day") for case in modes),
        ("day", "a day", "Wh"),
        ("share", "of the day", "%"),
    ]
    most = max((row for row in rows if row["own"]), key=lambda row: float(row["wh"]), default=None)
    heading = capital(energy_words(study, currency))
    if most is not None:
        heading += f"; most of it goes into the {most['name']}"
    html = table(columns, rows, right=[key for key, _, _ in columns[1:]])
    html += sentences(
        [
            "Lines in grey pass power on; what they lose stands in the last line but one. "
            + energy_note(study)
        ],
        "muted",
    )
    return Answer(heading=heading, html=html)


def tree_rows(budget: PowerBudget, modes: list[Case]) -> list[dict[str, Any]]:
    """A row a node of the tree, feed first, then the losses and the source's sum."""
    network = make_network(budget.power)
    watts = [node_watts(network, case) for case in modes]
    spent = [sum(row[i] for i in network.loads) for row in watts]
    lost = [case.source_w - own for case, own in zip(modes, spent, strict=True)]
    whole = [case.source_w for case in modes]
    total = _wh(modes, whole)
    rows = []
    for place in _walk(network):
        own = place in network.loads
        branch = "\u2003" * (_depth(network, place) - 1) + "└ " if place else ""
        name = branch + network.names[place]
        values = [row[place] for row in watts]
        rows.append(_tree_row(name, network.nominal_v[place], modes, values, total, own=own))
    rows.append(_tree_row("lost in wires and converters", math.nan, modes, lost, total, own=False))
    rows.append(_tree_row("all that leaves the supply", math.nan, modes, whole, total, own=False))
    rows[-1]["pick"] = True
    return rows


def node_watts(network: Network, case: Case) -> list[float]:
    """Watts of each node in a case: what a load keeps, what a converter or the source passes on."""
    power: list[float] = [0.0] * len(network.names)
    power[0] = case.source_w
    passed = [0.0] * len(network.names)
    for place, feed in enumerate(network.feeds):
        if feed >= 0:
            passed[feed] += case.link_a[place]
    for number, place in enumerate(network.converters):
        power[place] = case.rail_in_v[number] * case.link_a[place]
    for number, place in enumerate(network.loads):
        power[place] = case.volts_v[number] * (case.link_a[place] - passed[place])
    return power


def show_volts(build: Build) -> Answer:
    """Volts at every part in every mode, start and stall, against the least it needs."""
    study = study_of(build)
    if study is None or study.power is None:
        return _no_power()
    budget = study.power
    caption = "Every mark must stand to the right of the thick stroke of its row."
    return Answer(
        heading=volts_heading(budget),
        html=figure(draw_volts(budget), "volts", caption),
        severity=_volts_sign(budget),
    )


def volts_heading(budget: PowerBudget) -> str:
    """Which part lacks volts, or which has least to spare."""
    asked = [part for part in budget.parts if part.least_v > 0.0]
    if not asked:
        return "No part says how many volts it needs: write least_v in its [[power.load]]"
    short = [part for part in asked if not part.worst_v >= part.least_v]
    if short:
        return f"Too few volts: {'; '.join(_volts_words(part) for part in short)}"
    at_peak = [part for part in asked if short_of_volts(part)]
    if at_peak:
        names = ", ".join(part.name for part in at_peak)
        return f"Enough volts in every mode; with everything at its peak at once too few: {names}"
    near = min(asked, key=lambda part: least_drawn_v(part) / part.least_v)
    return f"Every part gets its volts; least to spare has the {near.name}: {_volts_words(near)}"


def show_reboots(build: Build) -> Answer:
    """Will it reboot when a motor starts or is held fast: each event as a timeline."""
    study = study_of(build)
    if study is None or study.power is None:
        return _no_power()
    budget = study.power
    if not budget.events:
        return Answer(
            heading="No part peaks well above its modes: nothing can pull the supply down",
            html=sentences(
                ["Write a [[power.event]] to have a start or a stall looked at anyway."]
            ),
            severity="ok",
        )
    failing = [event for event in budget.events if event.failure is not None]
    heading = (
        f"It would: {'; '.join(f'{event.name}' for event in failing)}"
        if failing
        else "Nothing reboots: not when a motor starts and not when it is held fast"
    )
    rows = [
        event_row(event) | {"mend": "; ".join(event_row(event)["fixes"])} for event in budget.events
    ]
    columns = [
        ("severity", "", ""),
        ("name", "event", ""),
        ("mode", "the others do", ""),
        ("answer", "answer", ""),
    ]
    if any(row["mend"] for row in rows):
        columns.append(("mend", "what mends it, the cheapest first", ""))
    html = table(columns, rows)
    pictures = "".join(
        figure(
            draw_event(budget, number),
            f"event{number}",
            "Each bold line must stay above the thin line of its colour, the least its part needs.",
        )
        for number in range(len(budget.events))
    )
    return Answer(
        heading=heading,
        html=f'{html}<div class="plots">{pictures}</div>',
        severity="stop" if failing else "ok",
    )


def show_wires(build: Build) -> Answer:
    """Whether every wire, converter and the supply carry what flows, and which fuse guards them."""
    study = study_of(build)
    if study is None or study.power is None:
        return _no_power()
    budget = study.power
    hot = [wire for wire in budget.wires if wire_severity(wire) == "stop"]
    over = [rail for rail in budget.rails if rail_severity(rail) == "stop"]
    wires = table(
        (
            ("severity", "", ""),
            ("name", "wire to", ""),
            ("feed", "from", ""),
            ("wire", "gauge", ""),
            ("length", "length", "mm"),
            ("rms", "all day", "A"),
            ("bundled", "may carry", "A"),
            ("peak", "for a moment", "A"),
            ("open", "may carry", "A"),
            ("drop", "loses then", "V"),
        ),
        [_wire_row(wire) for wire in budget.wires],
        right=("length", "rms", "bundled", "peak", "open", "drop"),
    )
    rails = table(
        (
            ("severity", "", ""),
            ("name", "gives", ""),
            ("most", "at most", "A"),
            ("case", "when", ""),
            ("peak", "all peaks at once", "A"),
            ("limit", "label", "A"),
        ),
        [_rail_row(rail) for rail in budget.rails],
        right=("most", "peak", "limit"),
    )
    names = [*(wire.name for wire in hot), *(rail.name for rail in over)]
    heading = f"Too much current: {', '.join(names)}" if names else "Every wire carries its current"
    findings = [finding for finding in budget.findings if finding.severity != "note"]
    return Answer(
        heading=f"{heading}; {_fuse_words(budget)}",
        html=wires + rails + sentences(_ground_words(budget)) + findings_list(findings, study),
        severity="stop" if names else sign_of(findings),
    )


def show_day(build: Build) -> Answer:
    """A day's energy mode by mode, what it costs, and how long a battery lasts."""
    study = study_of(build)
    if study is None or study.power is None:
        return _no_power()
    drawn = figure(draw_energy(study.power), "energy", energy_note(study))
    return Answer(
        heading=capital(energy_words(study, current(build).currency)),
        html=f'<div style="max-width:640px">{drawn}</div>' + sentences([battery_words(study)]),
    )


def battery_words(study: DeviceStudy) -> str:
    """How long the battery lasts, or how to have one computed."""
    life = study.power.battery if study.power is not None else None
    if life is None:
        return (
            "There is no battery in the build file. To see how long one lasts, write "
            "[power.battery] with cell, cells and capacity_ah."
        )
    lasts = numbers.num(life.runtime_h, 1, "h")
    return (
        f"{capital(life.name)}: {lasts} of such days from {numbers.num(life.full_v, 1)} to "
        f"{numbers.num(life.empty_v, 1, 'V')}, at {numbers.num(life.mean_a, 2, 'A')} on average."
    )


def wire_severity(wire: WireLoad) -> str:
    """Stop where a wire gets too warm over the day or at the peak."""
    over = wire.rms_a > wire.bundled_a or wire.peak_a > wire.open_air_a
    return "stop" if over else "ok"


def rail_severity(rail: RailLoad) -> str:
    """Stop over the label in a mode or an event, caution with all peaks at once."""
    if rail.most_a > rail.limit_a or rail.in_v < rail.least_in_v:
        return "stop"
    return "caution" if rail.peak_a > rail.limit_a else "ok"


def _no_power() -> Answer:
    return not_said("The build file says nothing about the supply and what it feeds", "power")


def _volts_sign(budget: PowerBudget) -> str:
    asked = [part for part in budget.parts if part.least_v > 0.0]
    if any(not part.worst_v >= part.least_v for part in asked):
        return "stop"
    return "caution" if any(map(short_of_volts, asked)) else "ok"


def _volts_words(part: PartVolts) -> str:
    lowest = part.worst_v if not part.worst_v >= part.least_v else least_drawn_v(part)
    if math.isnan(lowest):
        return f"the {part.name} gets none, the supply collapses"
    return (
        f"the {part.name} gets {numbers.num(lowest, 2)} of the {numbers.num(part.least_v, 2, 'V')} "
        "it needs"
        if lowest < part.least_v
        else f"{numbers.num(lowest, 2, 'V')}, and it needs {numbers.num(part.least_v, 2, 'V')}"
    )


def _wire_row(wire: WireLoad) -> dict[str, Any]:
    return {
        "severity": wire_severity(wire),
        "name": wire.name,
        "feed": wire.feed,
        "wire": written(wire.wire),
        "length": numbers.num(wire.length_mm, 0),
        "rms": numbers.num(wire.rms_a, 2),
        "bundled": numbers.num(wire.bundled_a, 2),
        "peak": numbers.num(wire.peak_a, 2),
        "open": numbers.num(wire.open_air_a, 1),
        "drop": numbers.num(wire.drop_v, 2),
    }


def _rail_row(rail: RailLoad) -> dict[str, Any]:
    return {
        "severity": rail_severity(rail),
        "name": rail.name,
        "most": numbers.num(rail.most_a, 2),
        "case": rail.most_case,
        "peak": numbers.num(rail.peak_a, 2),
        "limit": numbers.num(rail.limit_a, 2),
    }


def _fuse_words(budget: PowerBudget) -> str:
    fuse = budget.fuse
    if not fuse.name:
        return "no fuse of the table carries its current"
    said = (
        f"a {fuse.name} in the supply's lead guards the wires"
        if fuse.guards
        else (f"a {fuse.name} is too strong for the thinnest wire behind it")
    )
    if fuse.guards and not fuse.blows:
        said += "; the supply may limit before it blows"
    return said


def _ground_words(budget: PowerBudget) -> list[str]:
    shift = budget.ground
    if shift is None:
        return []
    return [
        f"The ground of the {shift.high} lies up to {numbers.num(1000.0 * shift.shift_v, 0, 'mV')} "
        f"above that of the {shift.low}, {shift.case}: a signal between the two reads so much off."
    ]


def _tree_row(
    name: str, volts_v: float, modes: list[Case], watts: list[float], total_wh: float, *, own: bool
) -> dict[str, Any]:
    wh = _wh(modes, watts)
    shown = {
        "part": name,
        "volts": "" if math.isnan(volts_v) else numbers.num(float(volts_v), 1),
        "day": numbers.num(wh, 0 if wh >= WHOLE_WH else 1),
        "share": numbers.num(100.0 * wh / total_wh, 0) if total_wh > 0.0 else "",
    }
    shown |= {case.name: numbers.num(w, 2) for case, w in zip(modes, watts, strict=True)}
    row: dict[str, Any] = {key: text if own else muted(text) for key, text in shown.items()}
    row |= {"name": name.strip("\u2003 └"), "own": own, "wh": wh}
    return row


def muted(text: str) -> Any:
    """Words in grey."""
    from markupsafe import Markup

    return Markup('<span class="muted">{}</span>').format(text)


def _wh(modes: list[Case], watts: list[float]) -> float:
    return sum(HOURS * case.share_frac * w for case, w in zip(modes, watts, strict=True))


def _walk(network: Network) -> list[int]:
    """Nodes in the order of a tree: each before what hangs on it."""
    order, waiting = [], [0]
    while waiting:
        place = waiting.pop()
        order.append(place)
        below = [i for i, feed in enumerate(network.feeds) if feed == place]
        waiting.extend(reversed(below))
    return order


def _depth(network: Network, place: int) -> int:
    depth = 0
    while network.feeds[place] >= 0:
        place, depth = network.feeds[place], depth + 1
    return depth
