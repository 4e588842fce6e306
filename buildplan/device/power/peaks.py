"""Rails near their limit, and coincidences of peaks that the program must avoid."""

import math
from collections.abc import Iterator

import numpy as np

from buildplan.device.power.cases import least_amps, low_end, peak_choices
from buildplan.device.power.changes import HEADROOM, rating_up
from buildplan.device.power.margins import Margins, margins, short_of
from buildplan.device.power.model import PowerBudget
from buildplan.device.power.shape import Power
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.solve import solve
from buildplan.device.power.tree import Floats, Network, make_network
from buildplan.device.power.words import LABEL, pair, power_finding
from buildplan.findings import Finding

HEADROOM_SOURCE = "common practice: rating 1.2 to 1.5 times the worst current"
AT_PEAK = "with every part at its peak"


def find_peaks(budget: PowerBudget, shelf: Shelf) -> Iterator[Finding]:
    """A caution a rail with little headroom, and one for all that only peaks at once would break.

    What fails in a mode or an event already is not said again.
    """
    for rail in budget.rails:
        if rail.limit_a / HEADROOM < rail.most_a <= rail.limit_a:
            yield power_finding(
                "caution",
                f"{rail.name} gives {rail.most_a:.2f} A of {rail.limit_a:g} A {rail.most_case}",
                rail.name,
                (f"{rail.most_a:.2f} A", f"at most {rail.limit_a / HEADROOM:.2f} A"),
                (f"Take one of {rating_up(HEADROOM * rail.most_a):g} A.", HEADROOM_SOURCE),
            )
    network = make_network(low_end(budget.power, shelf), shelf)
    choices = [amps for _, amps in peak_choices(budget.power)]
    state = margins(network, solve(network, np.stack(choices, axis=1)))
    known = _failing_already(budget)
    rows = [
        row
        for row, (part, how) in enumerate(zip(state.parts, state.hows, strict=True))
        if state.fails[row].any() and (part, how) not in known
    ]
    if rows:
        yield _coincidence(network, state, rows, choices)


def _failing_already(budget: PowerBudget) -> set[tuple[str, str]]:
    """Requirements missed in some mode or event."""
    known = {(part.name, "low volts") for part in budget.parts if not part.worst_v >= part.least_v}
    for rail in budget.rails:
        if not rail.most_a <= rail.limit_a:
            known.add((rail.name, "overload"))
        if rail.least_in_v > 0.0 and not rail.in_v >= rail.least_in_v:
            known.add((rail.name, "converter off"))
    return known


def _coincidence(
    network: Network, state: Margins, rows: list[int], choices: list[Floats]
) -> Finding:
    """One finding for all requirements that only the peaks at once would break."""
    worst = min(rows, key=lambda row: float(state.slack_frac[row].min()))
    texts = [_text(state, row) for row in (worst, *(row for row in rows if row != worst))]
    column = int(state.slack_frac[worst].argmin())
    unit = "A" if state.hows[worst] == "overload" else "V"
    found, required = float(state.found[worst, column]), float(state.required[worst])
    return power_finding(
        "caution",
        f"{AT_PEAK}, {'; '.join(texts)}",
        state.parts[worst],
        pair(found, required, unit),
        (_apart(network, rows, worst, choices) or _stronger(state, worst), LABEL),
    )


def _text(state: Margins, row: int) -> str:
    column = int(state.slack_frac[row].argmin())
    found, required = float(state.found[row, column]), float(state.required[row])
    return short_of(state.parts[row], state.hows[row], found, required)


def _apart(network: Network, rows: list[int], worst: int, choices: list[Floats]) -> str:
    """The pair of loads to keep apart that cures all rows, computed; empty where none does.

    The pairs are tried from those with the largest swings on.
    """
    power = network.power
    least = least_amps(power)
    order = sorted(range(len(power.load)), key=lambda i: least[i] - power.load[i].peak_a)
    for k, first in enumerate(order):
        for second in order[:k]:
            trial = [
                np.where(np.arange(len(least)) == quiet, least, amps)
                for amps in choices
                for quiet in (first, second)
            ]
            state = margins(network, solve(network, np.stack(trial, axis=1)))
            if not state.fails[rows].any():
                return _say_apart(power, (second, first), _text(state, worst))
    return ""


def _say_apart(power: Power, both: tuple[int, int], then: str) -> str:
    names = [power.load[i].name for i in both]
    quoted = ", ".join(f'"{name}"' for name in names)
    return (
        f"Let the program never bring {' and '.join(names)} to their peak at once, and say so by "
        f"apart = [[{quoted}]]: then {then}."
    )


def _stronger(state: Margins, row: int) -> str:
    most = float(np.max(state.found[row]))
    if state.hows[row] == "overload" and math.isfinite(most):
        return f"Take one of {rating_up(HEADROOM * most):g} A, or split the rail."
    return "Split the rail, or take thicker wires: no pair of loads kept apart is enough."
