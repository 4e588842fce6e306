"""Does it stay cool enough: the warmest day, limits, what would help, and the cautions."""

import math
from typing import Any

from buildplan.build import Build
from buildplan.device.heat.model import FeedstockHeat, HeatStudy, NodeHeat
from buildplan.device.heat.words import held_words, place_words, temp_words
from buildplan.notebook.answers.answer import Answer, figure, sentences, table
from buildplan.notebook.answers.memory import study_of
from buildplan.notebook.answers.not_said import not_said
from buildplan.notebook.answers.told import findings_list, sign_of
from buildplan.report import numbers
from buildplan.report.device_pictures.heat import draw_heat
from buildplan.report.device_section import feedstock_rows
from buildplan.report.gather import written
from buildplan.report.sections import capital

RESTS_ON = {
    "part": "its own limit",
    "mount": "its feedstock",
    "wall": "its feedstock",
    "outside": "touched for up to a minute",
}


def show_warmest_day(build: Build) -> Answer:
    """How warm every place gets on the warmest day, with what is not known of it."""
    study = study_of(build)
    if study is None or study.heat is None:
        return _no_heat()
    heat = study.heat
    caption = (
        "Bars hold 90 of 100 draws over films, walls and watts; a bar across its thick stroke is a "
        "doubt worth a measurement."
    )
    note = (
        f"From cold, the part that lacks most has nine tenths of its rise after "
        f"{numbers.num(heat.minutes_to_90, 0, 'min')}. “Give or take” is a quarter of the rise "
        "over the room: handbooks lie that far apart."
    )
    if math.isfinite(heat.dew_point_c):
        note += f" Surfaces below {numbers.num(heat.dew_point_c, 0, '°C')} get wet in this air."
    return Answer(
        heading=heat_heading(heat),
        html=figure(draw_heat(heat), "heat", caption) + sentences([note], "muted"),
        severity=sign_of(heat.findings),
    )


def heat_heading(heat: HeatStudy) -> str:
    """What is over its limit, or near it, or that nothing is."""
    room = numbers.num(heat.ambient_c, 0, "°C")
    limited = [node for node in heat.nodes if math.isfinite(node.limit_c)]
    if not limited:
        return f"In a room of {room} no place has a limit to be held against"
    worst = min(limited, key=lambda node: node.margin_c - node.doubt_k)
    said = f"{place_words(worst)}, {temp_words(worst.temp_c, worst.doubt_k)}"
    said += f", limit {numbers.num(worst.limit_c, 0, '°C')}"
    if worst.margin_c < 0.0:
        return f"Too warm in a room of {room}: {said}"
    if worst.margin_c < worst.doubt_k:
        return f"Nothing is over its limit in a room of {room}, but not beyond doubt: {said}"
    return f"All stays within its limit in a room of {room}; nearest: {said}"


def show_limits(build: Build) -> Answer:
    """Every part, mount, wall and outside against what it stands, the nearest first."""
    study = study_of(build)
    if study is None or study.heat is None:
        return _no_heat()
    heat = study.heat
    limited = [node for node in heat.nodes if math.isfinite(node.limit_c)]
    limited.sort(key=lambda node: node.margin_c - node.doubt_k)
    close = [node for node in limited if node_severity(node) != "ok"]
    rows = [_limit_row(node) for node in limited]
    html = table(
        (
            ("severity", "", ""),
            ("place", "place", ""),
            ("when", "warmest", ""),
            ("temp", "gets", "°C"),
            ("doubt", "give or take", "K"),
            ("limit", "stands", "°C"),
            ("left", "left", "K"),
            ("rests", "limit of", ""),
        ),
        rows,
        right=("temp", "doubt", "limit", "left"),
    )
    touch = [node for node in limited if node.kind == "outside"]
    heading = (
        f"{numbers.count(len(close), 'place')} of {len(limited)} not within the limit beyond doubt"
        if close
        else f"All {len(limited)} places stay within their limits, doubt counted in"
    )
    if touch:
        warm = max(touch, key=lambda node: node.temp_c)
        verb = "may" if node_severity(warm) == "ok" else "must not"
        heading += f"; the outside {verb} be touched, {numbers.num(warm.temp_c, 0, '°C')}"
    findings = [finding for finding in heat.findings if finding.severity != "note"]
    return Answer(
        heading=heading, html=html + findings_list(findings, study), severity=sign_of(findings)
    )


def show_cooling(build: Build) -> Answer:
    """What would keep it cool: sink, fan, vents, shorter work, a cooler room, another feedstock."""
    study = study_of(build)
    if study is None or study.heat is None:
        return _no_heat()
    heat = study.heat
    if heat.answers is None:
        return Answer(heading="No part has a limit, so nothing asks for cooling", html="")
    answers = heat.answers
    fine = node_severity(_named(heat, answers.node)) == "ok"
    heading = (
        f"Nothing is needed; the {answers.node} comes nearest to its limit"
        if fine
        else f"Each of these alone keeps the {answers.node} within its limit, doubt counted in"
    )
    items = written(answers.line).split("; or ")
    html = sentences([f"{capital(item)}." for item in items])
    rows = [
        shown | {"severity": feedstock_severity(row)}
        for shown, row in zip(feedstock_rows(study), heat.feedstocks, strict=True)
    ]
    if rows:
        html += "<h3>What the warm walls and mounts could be printed in</h3>" + table(
            (
                ("severity", "", ""),
                ("name", "feedstock", ""),
                ("wall", "warmest wall", "°C"),
                ("mount", "warmest mount", "°C"),
                ("limit", "stands for long", "°C"),
                ("passes", "with its doubt", ""),
            ),
            rows,
            right=("wall", "mount", "limit"),
        )
        html += sentences(["The marked line is what the build file names now."], "muted")
    return Answer(heading=heading, html=html, severity="ok" if fine else "caution")


def show_device_cautions(build: Build) -> Answer:
    """What may hurt somebody: mains, batteries, heat, moving parts, each with what calls for it."""
    study = study_of(build)
    if study is None:
        return not_said("The build file says nothing about a device", "power", "heat")
    if not study.cautions:
        return Answer(
            heading="Nothing in the build file calls for a caution", html="", severity="ok"
        )
    from markupsafe import escape

    items = "".join(
        f"<li><b>{escape(one.head)}</b> {escape(one.text)} "
        f'<span class="unit">Because {escape(written(one.trigger))}.</span></li>'
        for one in study.cautions
    )
    count = numbers.count(len(study.cautions), "caution holds", "cautions hold")
    return Answer(
        heading=f"{count} for this device",
        html=f"<ul>{items}</ul>"
        + sentences(["Local codes and licensed practice go before anything said here."], "muted"),
        severity="caution",
    )


def feedstock_severity(row: FeedstockHeat) -> str:
    """Stop where wall or mount is over what it stands, caution within its doubt."""
    if row.passes:
        return "ok"
    over = row.wall_c > row.limit_c or row.mount_c > row.limit_c
    return "stop" if over else "caution"


def node_severity(node: NodeHeat) -> str:
    """Stop over the limit, caution within its doubt."""
    if node.temp_c > node.limit_c:
        return "stop"
    return "caution" if node.temp_c + node.doubt_k > node.limit_c else "ok"


def _limit_row(node: NodeHeat) -> dict[str, Any]:
    return {
        "severity": node_severity(node),
        "place": place_words(node).replace("mounts of ", "what is printed under the "),
        "when": held_words(node).replace(" ", numbers.FIXED_SPACE),
        "temp": numbers.num(node.temp_c, 0),
        "doubt": f"± {numbers.num(max(node.doubt_k, 1.0), 0)}",
        "limit": numbers.num(node.limit_c, 0),
        "left": numbers.num(node.margin_c, 0),
        "rests": RESTS_ON[node.kind],
    }


def _named(heat: HeatStudy, name: str) -> NodeHeat:
    return next(node for node in heat.nodes if node.name == name)


def _no_heat() -> Answer:
    return not_said("The build file says nothing about what gets warm", "heat")
