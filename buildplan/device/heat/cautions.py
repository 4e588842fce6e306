"""Cautions that a warm device calls for, with what calls for each."""

from collections.abc import Sequence

from buildplan.device.heat.model import NodeHeat
from buildplan.tables.cautions import Caution, caution

HELD_C = 48.0
"""A surface held for a minute or more: 48 C, whatever it is made of (IEC 62368-1, from memory)."""


def cautions_for_heat(nodes: Sequence[NodeHeat]) -> tuple[Caution, ...]:
    """The caution on hot surfaces, where a part or an outer face is above 48 C."""
    warm = [node for node in nodes if node.kind in ("part", "outside") and node.temp_c > HELD_C]
    if not warm:
        return ()
    hottest = max(warm, key=lambda node: node.temp_c)
    return (caution("hot", f"{hottest.name} reaches {hottest.temp_c:.0f} °C"),)
