"""Bought electrical parts: fuses, capacitors and battery cells, as rows of their TOML tables."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse:
    """A cartridge fuse of a preferred rating.

    Attributes:
        rating_a: Rated current.
        note: What to mind, in words.
    """

    key: str
    name: str
    rating_a: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor:
    """An aluminium electrolytic capacitor of a preferred size.

    Attributes:
        capacitance_uf: Rated capacitance; the true one may lie a fifth below.
        rated_v: Most volts.
        esr_ohm: Series resistance when new: what it sags by itself for each amp.
        note: What to mind, in words.
    """

    key: str
    name: str
    capacitance_uf: float
    rated_v: float
    esr_ohm: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A class of battery cells: typical figures of the kind.

    Attributes:
        cell_v: Volts on the label.
        cell_full_v: Volts when just charged; cell_empty_v where discharging must end.
        rated_h: Hours over which the capacity on the label is measured.
        peukert_frac: Exponent k in t = H (C / (I H))**k; 1 means no loss at high current.
        usable_frac: Share of the capacity to plan with, for a long life.
        lithium: Whether the cautions for lithium cells hold.
        note: What to mind, in words.
    """

    key: str
    name: str
    cell_v: float
    cell_full_v: float
    cell_empty_v: float
    rated_h: float
    peukert_frac: float
    usable_frac: float
    lithium: bool
    note: str
