"""Modes, events and coincidences of peaks as solved cases, at the low end of every voltage."""

import dataclasses
import itertools
import math
from collections.abc import Sequence
from typing import cast

import numpy as np

from buildplan.device.power.model import Case, CaseKind, Row
from buildplan.device.power.shape import Mode, Power
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.sizing import find_cell
from buildplan.device.power.solve import Solution, solve
from buildplan.device.power.tree import Floats, Network, make_network, mode_amps
from buildplan.errors import InputError
from buildplan.tables.wording import not_known

MOST_CHOICES = 256
ALL_PEAKS = "everything at its peak"


def low_end(power: Power, shelf: Shelf | None = None) -> Power:
    """The same device with every voltage at the low end of its tolerance, or its battery empty.

    The amps of each load stay what they were at the label's volts, so that a load of constant power
    takes more amps here.

    Raises:
        InputError: The battery names no cell of the table.
    """
    network = make_network(power, shelf)
    source = power.source
    low_v = source.supply_v * (1.0 - source.tolerance_frac)
    if power.battery is not None:
        low_v = power.battery.cells * find_cell(power.battery, shelf).cell_empty_v
    loads = tuple(
        dataclasses.replace(load, nominal_v=load.nominal_v or float(network.nominal_v[node]))
        for load, node in zip(power.load, network.loads, strict=True)
    )
    rails = tuple(
        dataclasses.replace(row, out_v=row.out_v * (1.0 - row.tolerance_frac))
        for row in power.converter
    )
    lower = dataclasses.replace(source, supply_v=low_v)
    return dataclasses.replace(power, source=lower, converter=rails, load=loads)


def amps_in_mode(power: Power, mode: str) -> Floats:
    """Amps of every load in a mode; (loads,)."""
    return np.array([mode_amps(load, mode) or 0.0 for load in power.load])


def least_amps(power: Power) -> Floats:
    """The least that each load takes in any mode; (loads,)."""
    rows = [amps_in_mode(power, mode.name) for mode in power.mode]
    return cast("Floats", np.min(rows, axis=0))


def peak_choices(power: Power) -> tuple[tuple[str, Floats], ...]:
    """Name and amps of every coincidence of peaks that ``apart`` leaves possible.

    Of each group one load is at its peak, the others take the least of their modes.

    Raises:
        InputError: The groups leave more than 256 choices.
    """
    count = math.prod(len(group) for group in power.apart)
    if count > MOST_CHOICES:
        raise InputError(
            f"the {len(power.apart)} groups of apart leave {count} coincidences; allowed: up to "
            f"{MOST_CHOICES}. Join or leave out some groups"
        )
    peaks = np.array([load.peak_a for load in power.load])
    least = least_amps(power)
    order = [load.name for load in power.load]
    choices = []
    for kept in itertools.product(*power.apart):
        amps = peaks.copy()
        for group, keeper in zip(power.apart, kept, strict=True):
            for name in group:
                if name != keeper:
                    amps[order.index(name)] = least[order.index(name)]
        said = " and ".join(dict.fromkeys(kept))
        choices.append((f"{ALL_PEAKS}, with {said} alone" if said else ALL_PEAKS, amps))
    return tuple(choices)


def make_cases(
    network: Network, rows: Sequence[tuple[str, CaseKind, float, Floats]]
) -> tuple[Case, ...]:
    """Solved cases for rows of name, kind, share of the day and amps (loads,)."""
    if not rows:
        return ()
    solution = solve(network, np.stack([amps for _, _, _, amps in rows], axis=1))
    return tuple(
        case_of(network, solution, column, (name, kind, share))
        for column, (name, kind, share, _) in enumerate(rows)
    )


def mode_rows(power: Power) -> list[tuple[str, CaseKind, float, Floats]]:
    """The modes as rows for ``make_cases``."""
    return [_mode_row(power, mode) for mode in power.mode]


def _mode_row(power: Power, mode: Mode) -> tuple[str, CaseKind, float, Floats]:
    return mode.name, "mode", mode.share_frac, amps_in_mode(power, mode.name)


def case_of(
    network: Network, solution: Solution, column: int, head: tuple[str, CaseKind, float]
) -> Case:
    """One column of a batch, as plain numbers."""
    culprit = int(solution.collapsed_at[column])
    loads, rails = list(network.loads), list(network.converters)
    return Case(
        name=head[0],
        kind=head[1],
        share_frac=head[2],
        volts_v=_row(solution.volts_v[loads, column]),
        ground_v=_row(solution.ground_v[loads, column]),
        link_a=_row(solution.link_a[:, column]),
        source_a=float(solution.link_a[0, column]),
        source_w=float(solution.source_w[column]),
        rail_a=_row(solution.out_a[rails, column]),
        rail_in_v=_row(solution.volts_v[rails, column]),
        collapsed_at=network.names[culprit] if culprit >= 0 else "",
    )


def _row(values: Floats) -> Row:
    return tuple(float(value) for value in values)


def volts_at(
    power: Power, load: str, amps_a: float, *, mode: str, shelf: Shelf | None = None
) -> float:
    """Volts at a load that takes ``amps_a`` while the others do a mode, at the low volts.

    NaN where no steady voltage exists. A motor's amps follow from its volts and these from its
    amps: call it in turn with the motor's own law until both agree.

    Raises:
        InputError: There is no such load or mode.
    """
    names = [one.name for one in power.load]
    if load not in names:
        raise InputError(not_known("load", load, names))
    _known_mode(power, mode)
    network = make_network(low_end(power, shelf), shelf)
    amps = amps_in_mode(power, mode)
    amps[names.index(load)] = amps_a
    return float(solve(network, amps).volts_v[network.loads[names.index(load)]])


def heat_sources_w(power: Power, mode: str, *, shelf: Shelf | None = None) -> dict[str, float]:
    """Power that each load and converter turns into heat in a mode, at the label's volts.

    A load's whole power counts, also what a lamp sends out as light or a motor lifts with. Wires
    count with the part at their end. The supply's lead and its own loss are left out: they lie
    outside the device.

    Raises:
        InputError: There is no such mode, or its voltage collapses.
    """
    _known_mode(power, mode)
    network = make_network(power, shelf)
    found = solve(network, amps_in_mode(power, mode))
    if not found.holds:
        where = network.names[int(found.collapsed_at)]
        raise InputError(f"in mode {mode!r} no steady voltage exists at the {where}")
    watts = found.link_w + found.converter_w
    for node in network.loads:
        passed = sum(found.link_a[k] for k, feed in enumerate(network.feeds) if feed == node)
        watts[node] += found.volts_v[node] * (found.link_a[node] - passed)
    return {name: float(watts[i]) for i, name in enumerate(network.names) if i}


def _known_mode(power: Power, mode: str) -> None:
    names = [one.name for one in power.mode]
    if mode not in names:
        raise InputError(not_known("mode", mode, names))
