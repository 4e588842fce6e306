"""The choice as a mixed-integer linear program.

Variables: one for each option of each part; for each service whether it is used, what is charged
and whether its shipping is free; whole packs of each feedstock; whether a shop ships; the days.
Minimum charges, one shipping an order and whole packs are linear in these, and so is the chance of
losing no long print after its logarithm.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from buildplan.decide.choice.model import AtHome, Case, Option, SentOut

MOST_PACKS = 100_000
MOST_DAYS = 36_500
ALL_WEIGHTS = {"money": 1.0, "own": 1.0, "risk": 1.0, "day": 1.0}
Key = tuple[Any, ...]


@dataclass(slots=True)
class Program:
    """Costs, bounds and rows, as they are added."""

    at: dict[Key, int] = field(default_factory=dict)
    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    entries: list[tuple[int, int, float]] = field(default_factory=list)
    least: list[float] = field(default_factory=list)
    most: list[float] = field(default_factory=list)

    def variable(
        self, key: Key, cost: float, high: float, *, low: float = 0.0, whole: bool = True
    ) -> None:
        """Add a variable; whole numbers only unless said."""
        self.at[key] = len(self.cost)
        self.cost.append(cost)
        self.low.append(low)
        self.high.append(high)
        self.whole.append(int(whole))

    def row(self, terms: Iterable[tuple[Key, float]], least: float, most: float) -> None:
        """Add least <= sum of factor times variable <= most."""
        number = len(self.least)
        self.entries += [(number, self.at[key], factor) for key, factor in terms]
        self.least.append(least)
        self.most.append(most)


def program_of(
    case: Case,
    *,
    forbidden: frozenset[tuple[int, int]] = frozenset(),
    weights: Mapping[str, float] = ALL_WEIGHTS,
) -> Program:
    """The program of a case.

    Args:
        case: What is to be decided.
        forbidden: (part, option) that may not be chosen.
        weights: Of money, own time, expected loss and days in the cost.
    """
    made = Program()
    options = [(i, k, o) for i, part in enumerate(case.parts) for k, o in enumerate(part.options)]
    _add_options(made, case, options, forbidden, weights)
    _add_services(made, case, options, weights["money"])
    _add_feedstock(made, case, options, weights["money"])
    _add_days(made, case, options)
    if case.terms.most_hazard is not None:
        made.row(
            [
                (("pick", i, k), o.long_hazard)
                for i, k, o in options
                if isinstance(o, AtHome) and o.long_hazard > 0.0
            ],
            -np.inf,
            case.terms.most_hazard,
        )
    return made


Numbered = list[tuple[int, int, Option]]


def _add_options(
    made: Program,
    case: Case,
    options: Numbered,
    forbidden: frozenset[tuple[int, int]],
    weights: Mapping[str, float],
) -> None:
    terms = case.terms
    for i, k, option in options:
        cost = weights["own"] * option.own_min * terms.own_cents_per_min
        barred = (i, k) in forbidden
        if isinstance(option, AtHome):
            cost += weights["money"] * option.machine_cents + weights["risk"] * option.risk_cents
            barred = barred or (option.alone and not terms.may_run_alone)
        made.variable(("pick", i, k), cost, 0.0 if barred else 1.0)
    latest = MOST_DAYS if terms.deadline_d is None else terms.deadline_d
    # a deadline before the assembly has begun is impossible, not an error of the solver
    made.variable(
        ("days",),
        weights["day"] * terms.day_cents,
        max(latest, terms.tail_d + terms.least_d),
        low=terms.tail_d + terms.least_d,
    )
    if latest < terms.tail_d + terms.least_d:
        made.row([(("days",), 1.0)], -np.inf, latest)
    for i, part in enumerate(case.parts):
        made.row([(("pick", i, k), 1.0) for k in range(len(part.options))], 1.0, 1.0)


def _add_services(made: Program, case: Case, options: Numbered, money: float) -> None:
    for service in case.services:
        name, shipping = service.name, service.shipping_cents
        sent = [
            (i, k, o) for i, k, o in options if isinstance(o, SentOut) and o.service == service.name
        ]
        if not sent:
            continue
        worth = [(("pick", i, k), -float(o.cents)) for i, k, o in sent]
        top = float(max(sum(o.cents for _, _, o in sent), service.least_cents))
        made.variable(("used", name), money * shipping, 1.0)
        made.variable(("charged", name), money, top, whole=False)
        made.row([(("charged", name), 1.0), *worth], 0.0, np.inf)
        made.row(
            [(("charged", name), 1.0), (("used", name), -float(service.least_cents))], 0, np.inf
        )
        for i in sorted({i for i, _, _ in sent}):
            picks = [(("pick", j, k), -1.0) for j, k, _ in sent if j == i]
            made.row([(("used", name), 1.0), *picks], 0.0, np.inf)
        if service.free_from_cents is not None:
            made.variable(("free", name), -money * shipping, 1.0)
            value = [(key, -factor) for key, factor in worth]
            made.row([(("free", name), -float(service.free_from_cents)), *value], 0.0, np.inf)
            made.row([(("used", name), 1.0), (("free", name), -1.0)], 0.0, np.inf)
        for i, k, option in sent:
            lead = [(("days",), 1.0), (("pick", i, k), -float(option.lead_d))]
            made.row(lead, case.terms.tail_d, np.inf)


def _add_feedstock(made: Program, case: Case, options: Numbered, money: float) -> None:
    for shop in case.shops:
        made.variable(("ships", shop.name), money * shop.shipping_cents, 1.0)
    shops = {shop.name for shop in case.shops}
    for stock in case.stocks:
        name = stock.feedstock
        used = [
            (("pick", i, k), -float(o.grams))
            for i, k, o in options
            if isinstance(o, AtHome) and o.feedstock == name
        ]
        need = int(-sum(factor for _, factor in used))
        packs = min(-(-need // stock.pack_g), MOST_PACKS)
        made.variable(("packs", name), money * stock.pack_cents, float(packs))
        made.row([(("packs", name), float(stock.pack_g)), *used], -float(stock.on_hand_g), np.inf)
        if stock.shop in shops:
            made.row(
                [(("ships", stock.shop), float(max(packs, 1))), (("packs", name), -1.0)], 0, np.inf
            )


def _add_days(made: Program, case: Case, options: Numbered) -> None:
    tail = case.terms.tail_d
    for machine in case.machines:
        minutes = [
            (("pick", i, k), -float(o.expected_min))
            for i, k, o in options
            if isinstance(o, AtHome) and o.printer == machine.name
        ]
        rate = float(machine.minutes_per_day)
        made.row([(("days",), rate), *minutes], tail * rate, np.inf)
    rate = float(case.terms.attended_min_per_day)
    own = [(("pick", i, k), -float(o.own_min)) for i, k, o in options]
    made.row([(("days",), rate), *own], tail * rate, np.inf)
