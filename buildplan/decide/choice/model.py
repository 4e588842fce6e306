"""Options of every part and what they share. Money in cents, time in minutes, mass in grams.

All amounts are whole numbers, so that the cost of a choice is exact and does not depend on the
solver that proposes it.
"""

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class AtHome:
    """A part printed on an own machine.

    Attributes:
        pieces: 1 for whole.
        expected_min: Machine minutes with the failed tries that are to be expected.
        own_min: Own minutes of set-up, clearing, joining.
        machine_cents: Energy and wear; risk_cents: expected loss in failed tries.
        long_hazard: -ln of the chance that no long print of it is lost.
        alone: Whether a print of it outlasts every attended window.
    """

    printer: str
    feedstock: str
    pieces: int
    expected_min: int
    grams: int
    own_min: int
    machine_cents: int = 0
    risk_cents: int = 0
    long_hazard: float = 0.0
    alone: bool = False

    @property
    def label(self) -> str:
        """How it is called."""
        cut = "" if self.pieces == 1 else f" in {self.pieces} pieces"
        return f"{self.feedstock} on {self.printer}{cut}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SentOut:
    """A part that a service makes.

    Attributes:
        cents: Price of all copies.
        lead_d: Whole days from order to door.
        own_min: Own minutes to order, inspect and finish it.
    """

    service: str
    cents: int
    lead_d: int
    own_min: int = 10
    what: str = ""

    @property
    def label(self) -> str:
        """How it is called."""
        return f"{self.service}, {self.what}" if self.what else self.service


Option = AtHome | SentOut


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOptions:
    """A part with all the ways to get it, at least one."""

    name: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """What one order at a service, or at a shop for feedstock, costs beside its goods.

    Attributes:
        least_cents: Least that an order is charged at.
        free_from_cents: Order value from which shipping is free, or None.
    """

    name: str
    shipping_cents: int
    least_cents: int = 0
    free_from_cents: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Feedstock as it is sold, in whole packs."""

    feedstock: str
    pack_g: int
    pack_cents: int
    on_hand_g: int = 0
    shop: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """An own printer and the minutes it prints on a usual day."""

    name: str
    minutes_per_day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What time is worth, and what must be kept.

    Attributes:
        day_cents: What being done a day earlier is worth.
        tail_d: Days of assembly after the last part is there.
        least_d: Days until what is bought is there, whatever is chosen.
        deadline_d: Latest day, or None.
        most_hazard: -ln of the least chance that no long print is lost, or None.
        may_run_alone: Whether printers may run while nobody is there; off until it is stated.
    """

    own_cents_per_min: int = 0
    day_cents: int = 0
    attended_min_per_day: int = 480
    tail_d: int = 0
    least_d: int = 0
    deadline_d: int | None = None
    most_hazard: float | None = None
    may_run_alone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """All that is to be decided."""

    parts: tuple[PartOptions, ...]
    services: tuple[Service, ...] = ()
    stocks: tuple[Stock, ...] = ()
    machines: tuple[Machine, ...] = ()
    shops: tuple[Service, ...] = ()
    terms: Terms = Terms()


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Exact cost of one choice for all parts, in cents by component.

    Attributes:
        broken: What it does not keep, in words; empty where it keeps all.
    """

    sent: int
    shipping: int
    feedstock: int
    machine: int
    own: int
    risk: int
    day: int
    days: int
    own_min: int
    hazard: float
    packs: tuple[tuple[str, int], ...]
    broken: tuple[str, ...]

    @property
    def money(self) -> int:
        """What is paid to others."""
        return self.sent + self.shipping + self.feedstock + self.machine

    @property
    def total(self) -> int:
        """Money, own time, expected loss and days together."""
        return self.money + self.own + self.risk + self.day


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The best choice: for every part the index of its option."""

    picks: tuple[int, ...]
    totals: Totals


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a part is got the way it is.

    Attributes:
        more_cents: What the best plan without that option costs more; None where there is none.
        by: The same by component, the largest first.
        moves: Other parts that would then be got another way.
        free: Whether it hardly matters.
    """

    part: str
    option: str
    instead: str
    more_cents: int | None
    by: tuple[tuple[str, int], ...]
    moves: tuple[str, ...]
    free: bool


def with_terms(case: Case, terms: Terms) -> Case:
    """The same case on other terms."""
    return replace(case, terms=terms)
