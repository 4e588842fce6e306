"""What a choice costs, exactly: the only source of the numbers that are shown."""

from collections.abc import Sequence

from buildplan.decide.choice.model import AtHome, Case, Totals
from buildplan.errors import InputError

SLACK = 1e-9


def evaluate(case: Case, picks: Sequence[int]) -> Totals:
    """Cents of every component, days and chances of one option for each part.

    The day is the last of: the slowest order, each printer's minutes at its minutes a day, own
    minutes at the attended minutes a day, what is bought; then the days of assembly.

    Args:
        case: What is to be decided.
        picks: Index of an option for each part.

    Raises:
        InputError: An index is none of its part's.
    """
    terms = case.terms
    orders = {service.name: 0 for service in case.services}
    used: set[str] = set()
    grams = {stock.feedstock: 0 for stock in case.stocks}
    load = {machine.name: 0 for machine in case.machines}
    machine = risk = own_min = 0
    days = terms.least_d
    hazard, alone = 0.0, False
    for part, pick in zip(case.parts, _checked(case, picks), strict=True):
        option = part.options[pick]
        own_min += option.own_min
        if isinstance(option, AtHome):
            grams[option.feedstock] += option.grams
            load[option.printer] += option.expected_min
            machine += option.machine_cents
            risk += option.risk_cents
            hazard += option.long_hazard
            alone = alone or option.alone
        else:
            orders[option.service] += option.cents
            used.add(option.service)
            days = max(days, option.lead_d)
    sent = shipping = 0
    for service in case.services:
        if service.name in used:
            value = orders[service.name]
            sent += max(value, service.least_cents)
            free = service.free_from_cents
            shipping += 0 if free is not None and value >= free else service.shipping_cents
    packs = {
        stock.feedstock: max(0, -(-(grams[stock.feedstock] - stock.on_hand_g) // stock.pack_g))
        for stock in case.stocks
    }
    visited = {stock.shop for stock in case.stocks if packs[stock.feedstock]}
    shipping += sum(shop.shipping_cents for shop in case.shops if shop.name in visited)
    for row in case.machines:
        days = max(days, -(-load[row.name] // row.minutes_per_day))
    days = max(days, -(-own_min // terms.attended_min_per_day)) + terms.tail_d
    return Totals(
        sent=sent,
        shipping=shipping,
        feedstock=sum(packs[stock.feedstock] * stock.pack_cents for stock in case.stocks),
        machine=machine,
        own=own_min * terms.own_cents_per_min,
        risk=risk,
        day=days * terms.day_cents,
        days=days,
        own_min=own_min,
        hazard=hazard,
        packs=tuple(packs.items()),
        broken=_broken(case, days, hazard, alone=alone),
    )


def _checked(case: Case, picks: Sequence[int]) -> Sequence[int]:
    if len(picks) != len(case.parts):
        raise InputError(f"choice: {len(picks)} picks for {len(case.parts)} parts; one each")
    for part, pick in zip(case.parts, picks, strict=True):
        if not 0 <= pick < len(part.options):
            raise InputError(
                f"choice: option {pick} of {part.name} found; 0 to {len(part.options) - 1} allowed"
            )
    return picks


def _broken(case: Case, days: int, hazard: float, *, alone: bool) -> tuple[str, ...]:
    terms = case.terms
    found = []
    if terms.deadline_d is not None and days > terms.deadline_d:
        found.append(f"done on day {days}, wanted by day {terms.deadline_d}")
    if terms.most_hazard is not None and hazard > terms.most_hazard + SLACK:
        found.append("long prints are lost more often than allowed")
    if alone and not terms.may_run_alone:
        found.append("a print outlasts the hours somebody is there")
    return tuple(found)
