"""What every part needs against what it gets, for one solution or a batch."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.device.power.solve import Solution
from buildplan.device.power.tree import Floats, Network

How = Literal["low volts", "converter off", "overload", "collapse"]
TIE_FRAC = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """One row a requirement, one column a case.

    Attributes:
        parts, hows: Whose requirement, and what kind.
        found: What the part gets: volts, or amps for an overload; NaN where collapsed.
        required: (rows,).
        slack_frac: Room over what is required, as a share of it; -inf where collapsed.
        fails: Whether the requirement is missed.
        collapsed_at: Part at which the voltage of a case collapses, or empty.
    """

    parts: tuple[str, ...]
    hows: tuple[How, ...]
    found: Floats
    required: Floats
    slack_frac: Floats
    fails: NDArray[np.bool_]
    collapsed_at: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """One missed requirement; ``row`` is -1 for a collapse, which misses all of them."""

    row: int
    part: str
    how: How


def worst_miss(state: Margins, column: int) -> Miss:
    """The requirement that is missed most in a case, or its collapse."""
    if state.collapsed_at[column]:
        return Miss(row=-1, part=state.collapsed_at[column], how="collapse")
    row = int(state.slack_frac[:, column].argmin())
    return Miss(row=row, part=state.parts[row], how=state.hows[row])


def margins(network: Network, solution: Solution) -> Margins:
    """Every requirement of a network against a batch of solutions (nodes, samples)."""
    power = network.power
    source_name = network.names[0]
    rows: list[tuple[str, How, Floats, float]] = []
    for load, node in zip(power.load, network.loads, strict=True):
        if load.least_v > 0.0:
            rows.append((load.name, "low volts", solution.volts_v[node], load.least_v))
    for rail, node in zip(power.converter, network.converters, strict=True):
        if rail.least_in_v > 0.0:
            rows.append((rail.name, "converter off", solution.volts_v[node], rail.least_in_v))
        rows.append((rail.name, "overload", solution.out_a[node], rail.limit_a))
    rows.append((source_name, "overload", solution.link_a[0], power.source.limit_a))
    found = np.array([row[2] for row in rows])
    required = np.array([row[3] for row in rows])
    sign = np.array([-1.0 if row[1] == "overload" else 1.0 for row in rows])
    slack = sign[:, None] * (found / required[:, None] - 1.0)
    slack = np.where(np.isnan(slack), -math.inf, slack)
    return Margins(
        parts=tuple(row[0] for row in rows),
        hows=tuple(row[1] for row in rows),
        found=found,
        required=required,
        slack_frac=slack,
        fails=slack < -TIE_FRAC,
        collapsed_at=tuple(
            network.names[node] if node >= 0 else ""
            for node in np.atleast_1d(solution.collapsed_at)
        ),
    )


def short_of(part: str, how: str, found: float, required: float) -> str:
    """A missed requirement in words, with both numbers."""
    if how == "collapse":
        return f"no steady voltage exists at the {part}: it collapses"
    if math.isnan(found):
        ends = {
            "overload": f"beyond the {required:g} A that it gives",
            "converter off": f"and it switches off below {required:g} V",
            "low volts": f"below the {required:g} V that it needs",
        }
        return f"the voltage at the {part} collapses {ends[how]}"
    if how == "overload":
        return f"{part} gives {found:.2f} A of {required:g} A"
    if how == "converter off":
        return f"{part} gets {found:.2f} V at its input and switches off below {required:g} V"
    return f"{part} gets {found:.2f} V and needs {required:g} V"
