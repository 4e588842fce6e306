"""What is used up: solder, heat-shrink, ties, glue, washing alcohol and gloves, by rates."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from buildplan.bill.derived.model import (
    Need,
    listed,
    mark_of_rows,
    pack_for,
    spread_of,
    whole,
)
from buildplan.bill.derived.wires import Run

SOLDER_G = (0.04, 0.07, 0.15)
"""Solder a joint: 0.6, 1 and 2 cm of wire 1 mm across at 8.5 g/cm3 (lengths from memory)."""

SHRINK_MM = (10.0, 20.0, 30.0)
"""Heat-shrink sleeve a soldered end (common practice, no source)."""

TIE_EVERY_MM = 80.0
"""A tie every so far along a run (common practice, no source: 50 to 100 mm)."""

BATH_ML = (400.0, 500.0, 1000.0)
"""Least alcohol in a washing tub so that small parts are covered (common practice, no source)."""

BATH_FACTOR = 3.0
"""A bath holds so many times the box around the largest part (common practice, no source)."""

BATH_LOSS_ML = 25.0
"""Alcohol that each washed part carries off or lets evaporate (common practice, no source)."""

GLOVE_PAIRS = 2
"""Pairs of gloves a vat print: one to take it off, one to wash and cure (common practice)."""

SPILL_FRAC = 0.15
"""Glue that stays in the nozzle or is wiped off (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bond:
    """A seam or a face that is glued or sealed.

    Attributes:
        name: Where.
        item: What with ("silicone, clear").
        run_mm, bead_mm: Length and diameter of a bead.
        area_mm2, layer_mm: Face and thickness of a film.
    """

    name: str
    item: str
    run_mm: float = 0.0
    bead_mm: float = 3.0
    area_mm2: float = 0.0
    layer_mm: float = 0.1

    @property
    def volume_ml(self) -> float:
        """pi/4 bead^2 run + area layer."""
        bead = math.pi / 4.0 * self.bead_mm**2 * self.run_mm
        return (bead + self.area_mm2 * self.layer_mm) / 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class VatPart:
    """A part that is washed after its print: its box as printed, and how many copies."""

    name: str
    box_mm: tuple[float, float, float]
    copies: int


def wiring_needs(runs: Sequence[Run]) -> tuple[Need, ...]:
    """Solder, heat-shrink and ties for all runs: two ends a conductor."""
    rows = [run for run in runs if run.length_mm > 0.0 and run.conductors > 0]
    if not rows:
        return ()
    ends = sum(2 * run.conductors for run in rows)
    ties = sum(max(1, round(run.length_mm / TIE_EVERY_MM)) for run in rows)
    mark, where = mark_of_rows(rows), listed((run.name for run in rows), 3)
    shrink = [ends * one / 1000.0 for one in SHRINK_MM]
    solder = [ends * one for one in SOLDER_G]
    return (
        _used("solder", solder, "g", (20.0, 100.0, 250.0), (where, mark), f"{ends} soldered ends"),
        _used(
            "heat-shrink sleeve",
            shrink,
            "m",
            (1.0, 5.0, 10.0),
            (where, mark),
            f"{whole(SHRINK_MM[1])} mm on each of {ends} ends",
        ),
        _used(
            "cable tie",
            [float(ties)] * 3,
            "piece",
            (50.0, 100.0),
            (where, mark),
            f"one every {whole(TIE_EVERY_MM)} mm of run",
        ),
    )


def bond_needs(bonds: Iterable[Bond]) -> tuple[Need, ...]:
    """Glue and sealant by seam and face, one need an item."""
    by_item: dict[str, list[Bond]] = {}
    for bond in bonds:
        by_item.setdefault(bond.item, []).append(bond)
    return tuple(_bond_need(item, rows) for item, rows in by_item.items())


def _bond_need(item: str, rows: Sequence[Bond]) -> Need:
    drawn = math.fsum(row.volume_ml for row in rows)
    said = "; ".join(f"{row.name} {row.volume_ml:.1f} ml" for row in rows)
    return _used(
        item,
        [drawn, drawn * (1.0 + SPILL_FRAC), drawn * (1.0 + 3.0 * SPILL_FRAC)],
        "ml",
        (20.0, 50.0, 80.0, 300.0),
        (listed(row.name for row in rows), mark_of_rows(rows)),
        f"{said}, {SPILL_FRAC:.0%} for spill",
    )


def vat_needs(parts: Sequence[VatPart]) -> tuple[Need, ...]:
    """Washing alcohol and gloves for parts made in a vat."""
    if not parts:
        return ()
    copies = sum(part.copies for part in parts)
    largest = max(math.prod(part.box_mm) for part in parts) / 1000.0 * BATH_FACTOR
    bath = [max(one, largest) + BATH_LOSS_ML * copies for one in BATH_ML]
    where = (listed(part.name for part in parts), mark_of_rows(parts))
    pairs = [float(GLOVE_PAIRS * copies)] * 3
    return (
        _used(
            "isopropanol",
            bath,
            "ml",
            (500.0, 1000.0, 5000.0),
            where,
            f"one bath and {whole(BATH_LOSS_ML)} ml for each of {copies} washed",
        ),
        _used(
            "nitrile gloves",
            pairs,
            "pair",
            (10.0, 50.0),
            where,
            f"{GLOVE_PAIRS} pairs a vat print",
        ),
    )


def _used(
    item: str,
    amounts: Sequence[float],
    unit: str,
    packs: Sequence[float],
    where: tuple[str, str],
    why: str,
) -> Need:
    low, likely, high = spread_of(amounts[0], amounts[1], amounts[2], unit)
    return Need(
        kind="consumable",
        item=item,
        quantity=likely,
        low=low,
        high=high,
        unit=unit,
        pack=pack_for(likely, packs),
        used_in=where[0],
        asked_by=where[1],
        why=why,
        source="rates by common practice, no source",
    )
