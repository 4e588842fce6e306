"""The rows to choose from: wires, fuses, capacitors and cells, built-in or a build's own."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from buildplan.tables import capacitors, cells, fuses, wires
from buildplan.tables.electrical import Capacitor, Cell, Fuse
from buildplan.tables.hardware import Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Rows by key; the built-in ones where left out."""

    wires: Mapping[str, Wire] = field(default_factory=wires)
    fuses: Mapping[str, Fuse] = field(default_factory=fuses)
    capacitors: Mapping[str, Capacitor] = field(default_factory=capacitors)
    cells: Mapping[str, Cell] = field(default_factory=cells)
