"""The findings on heat, in words; temperatures are whole kelvins, with a quarter of the rise."""

import math
from collections.abc import Sequence

from buildplan.device.heat.box import MOUNTS
from buildplan.device.heat.model import HeatAnswers, HeatStudy, NodeHeat
from buildplan.findings import SEVERITIES, Finding, Place, Severity

CHECK = "heat"
FILMS = (
    "computed: films by Churchill and Chu (1975) and McAdams (1954), good to a quarter of the rise"
)
FACES = {"up": "roof", "side": "sides", "down": "bottom"}
LIMITS = {
    "part": "limit from the part's page",
    "wall": "service temperature of its feedstock",
    "mount": "service temperature of its feedstock",
    "outside": "ISO 13732-1, plastic touched for up to a minute, from memory",
}


def heat_findings(study: HeatStudy) -> tuple[Finding, ...]:
    """Everything to look at, gravest first."""
    rows = [
        *(_over(study, node) for node in _told(study) if _severity(node) is not None),
        *_typed(study),
        *_dew(study),
        *_within(study),
    ]
    return tuple(sorted(rows, key=lambda row: SEVERITIES.index(row.severity)))


def _told(study: HeatStudy) -> list[NodeHeat]:
    """Every part and mount, and of the walls inside and outside the warmest only."""
    found = [node for node in study.nodes if node.kind in ("part", "mount")]
    for kind in ("wall", "outside"):
        rows = [node for node in study.nodes if node.kind == kind]
        found += [max(rows, key=lambda node: node.temp_c)] if rows else []
    return found


def place_words(node: NodeHeat) -> str:
    """A place by its name: "roof, inside", "mounts of converters"."""
    face, _, side = node.name.partition(" ")
    if node.kind in ("wall", "outside"):
        return f"{FACES[face]}, {side}"
    return node.name


def held_words(node: NodeHeat) -> str:
    """What it does then: "when count is held", or "after 2 min of actuate"."""
    if not node.longest_min:
        return f"when {node.mode} is held"
    return f"after {node.longest_min:g} min of {node.mode}"


def temp_words(temp_c: float, doubt_k: float) -> str:
    """A temperature as far as it is known: "79 °C, give or take 11"."""
    return f"{temp_c:.0f} °C, give or take {max(doubt_k, 1.0):.0f}"


def answer_line(answers: HeatAnswers, worst: NodeHeat) -> str:
    """What would do, each alone, in one line."""
    says = []
    if math.isfinite(answers.sink_k_w) and answers.sink_k_w > 0.0:
        part = answers.node.removeprefix(MOUNTS)
        says.append(f"a heat sink of {_down(answers.sink_k_w)} K/W or less on the {part}")
    if math.isfinite(answers.fan_l_s) and answers.fan_l_s > 0.0:
        says.append(f"a fan of {_up(answers.fan_l_s, 2)} l/s through the box")
    if math.isfinite(answers.vent_mm2) and answers.vent_mm2 > 0.0:
        says.append(f"{_up(answers.vent_mm2 / 100.0, 0)} cm² of vent below and as much above")
    if 0.0 < answers.held_min < math.inf:
        says.append(f"{worst.mode} for at most {math.floor(answers.held_min):d} min at a time")
    if math.isfinite(answers.hottest_c):
        says.append(f"a room of at most {math.floor(answers.hottest_c):d} °C")
    if not says:
        return "no sink, vent or fan alone does; use less power or a larger box"
    return "; or ".join(says)


def _severity(node: NodeHeat) -> Severity | None:
    if not math.isfinite(node.limit_c):
        return None
    if node.temp_c > node.limit_c:
        return "stop"
    return "caution" if node.temp_c + node.doubt_k > node.limit_c else None


def _over(study: HeatStudy, node: NodeHeat) -> Finding:
    severity = _severity(node) or "note"
    reaches = "over its limit" if severity == "stop" else "within doubt of its limit"
    return Finding(
        check=CHECK,
        severity=severity,
        what=f"{_place(study, node)}: {temp_words(node.temp_c, node.doubt_k)}, {reaches} "
        f"{held_words(node)}",
        where=Place(text=f"{node.name}, room at {study.ambient_c:.0f} °C"),
        measured=f"{node.temp_c:.0f} °C ({node.low_c:.0f} to {node.high_c:.0f})",
        required=f"at most {node.limit_c:.0f} °C",
        remedy=_remedy(study, node),
        source=f"{FILMS}; {LIMITS[node.kind]}",
    )


def _place(study: HeatStudy, node: NodeHeat) -> str:
    if node.kind == "wall":
        name = study.case.feedstock.name if study.case.feedstock else "its material"
        return f"The warmest wall, {FACES[node.name.removesuffix(' inside')]} ({name})"
    if node.kind == "outside":
        return f"The outside of the {FACES[node.name.removesuffix(' outside')]}"
    if node.kind == "mount":
        return f"What is printed under the {node.name.removeprefix(MOUNTS)}"
    return f"The {node.name}"


def _remedy(study: HeatStudy, node: NodeHeat) -> str:
    """What would do for this place: computed for the one that lacks most, the rest by feedstock."""
    if node.kind in ("wall", "mount"):
        able = [row.name for row in study.feedstocks if row.passes]
        metal = (
            "Put metal or nylon standoffs under it" if node.kind == "mount" else "Thin the walls"
        )
        if able:
            return f"{metal}, or print it in {_one_of(able)}."
        return f"{metal}; no feedstock of the table passes with its doubt."
    if study.answers is not None and study.answers.node == node.name:
        return f"Any of these does: {study.answers.line}."
    return "Mend the place that lacks most first, then look here again."


def _typed(study: HeatStudy) -> list[Finding]:
    """Watts that are typed in and do not agree with what the supply says."""
    return [
        Finding(
            check=CHECK,
            severity="note",
            what=f"{name} gives off {typed:g} W in {mode} by [heat], {made:.2g} W by [power]",
            where=Place(text=f"heat.source {name}, {mode}_w"),
            measured=f"{typed:g} W typed in",
            required=f"{made:.2g} W computed",
            remedy="The typed figure is taken; leave it out to take the computed one.",
            source="computed from the supply",
        )
        for name, mode, typed, made in study.case.differs
    ]


def _dew(study: HeatStudy) -> list[Finding]:
    if math.isnan(study.dew_point_c):
        return []
    return [
        Finding(
            check=CHECK,
            severity="note",
            what=f"Every surface below {study.dew_point_c:.0f} °C gets wet in this air",
            where=Place(text="the whole device while it is off and cold"),
            measured=f"dew point {study.dew_point_c:.1f} °C",
            required="surfaces with boards on them stay warmer",
            remedy="Leave it switched on in damp air, or coat the boards and drain the low points.",
            source="Magnus formula (Alduchov and Eskridge 1996)",
        )
    ]


def _within(study: HeatStudy) -> list[Finding]:
    """One note on the place that lacks least, where nothing is over."""
    if study.answers is None or any(_severity(node) is not None for node in study.nodes):
        return []
    node = next(one for one in study.nodes if one.name == study.answers.node)
    return [
        Finding(
            check=CHECK,
            severity="note",
            what=f"{_place(study, node)}: {temp_words(node.temp_c, node.doubt_k)}, the nearest to "
            f"its limit, {held_words(node)}",
            where=Place(text=f"{node.name}, room at {study.ambient_c:.0f} °C"),
            measured=f"{node.temp_c:.0f} °C ({node.low_c:.0f} to {node.high_c:.0f})",
            required=f"at most {node.limit_c:.0f} °C",
            remedy=f"It stays within up to a room of {study.answers.hottest_c:.0f} °C; measure it "
            "for half an hour on the bench before it goes in.",
            source=f"{FILMS}; {LIMITS[node.kind]}",
        )
    ]


def _one_of(names: Sequence[str]) -> str:
    short = [name.split(",")[0] for name in names]
    return short[0] if len(short) == 1 else f"{', '.join(short[:-1])} or {short[-1]}"


def _up(value: float, digits: int) -> str:
    """Rounded up, so that what is said does."""
    scale = 10.0**digits
    return f"{math.ceil(value * scale - 1e-9) / scale:.{digits}f}"


def _down(value: float) -> str:
    scale = 10.0 if value < 20.0 else 1.0
    return f"{math.floor(value * scale + 1e-9) / scale:g}"
