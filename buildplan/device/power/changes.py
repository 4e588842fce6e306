"""Changed copies of a device's power tables, and the ratings that shops sell."""

import dataclasses
import math

import numpy as np

from buildplan.device.power.shape import SOURCE, Converter, Load, Power
from buildplan.device.power.tree import Network

HEADROOM = 1.25
"""Rating over the worst current (common practice: 1.2 to 1.5)."""

RATINGS_A = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 30.0)
"""Usual ratings of supplies and converters on sale (common practice, no source)."""

OWN_RAIL = "own rail"


def with_part(power: Power, name: str, /, **changed: object) -> Power:
    """The tables with some fields of one part replaced."""
    if name in (SOURCE, power.source.name):
        return dataclasses.replace(
            power,
            source=dataclasses.replace(power.source, **changed),  # type: ignore[arg-type]
        )
    return dataclasses.replace(
        power,
        converter=tuple(
            dataclasses.replace(row, **changed) if row.name == name else row  # type: ignore[arg-type]
            for row in power.converter
        ),
        load=tuple(
            dataclasses.replace(row, **changed) if row.name == name else row  # type: ignore[arg-type]
            for row in power.load
        ),
    )


def moved_with_followers(power: Power, name: str) -> Power:
    """A load on the rail of its own, with whatever hangs on its terminals."""
    power = with_part(power, name, feed=OWN_RAIL)
    parts: tuple[Load | Converter, ...] = (*power.load, *power.converter)
    for part in parts:
        if part.via == name:
            power = moved_with_followers(power, part.name)
    return power


def rating_up(needed_a: float) -> float:
    """The next usual rating, or the needed one rounded up above the largest."""
    return next((a for a in RATINGS_A if a >= needed_a), math.ceil(needed_a))


def path_nodes(network: Network, node: int) -> list[int]:
    """The node and those above it, up to the rail that it stands on (not included)."""
    path = [node]
    while network.feeds[path[-1]] >= 0 and np.isnan(network.out_v[network.feeds[path[-1]]]):
        path.append(network.feeds[path[-1]])
    return path
