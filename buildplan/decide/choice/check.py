"""What a case may hold: every fault is named before anything is solved."""

import math
from collections.abc import Iterable

from buildplan.decide.choice.model import AtHome, Case, Option, PartOptions
from buildplan.errors import InputError

MOST_OPTIONS = 100_000


def check_case(case: Case) -> None:
    """Refuse a case that cannot be decided.

    Raises:
        InputError: A part has no option, a name is unknown or stands twice, or a number is out of
            range.
    """
    count = sum(len(part.options) for part in case.parts)
    if not case.parts or count > MOST_OPTIONS:
        raise InputError(
            f"choice: {len(case.parts)} parts with {count} options found; 1 to {MOST_OPTIONS} "
            "options are taken"
        )
    _once("part", (part.name for part in case.parts))
    _once("service", (service.name for service in case.services))
    _once("feedstock", (stock.feedstock for stock in case.stocks))
    _once("printer", (machine.name for machine in case.machines))
    _once("shop", (shop.name for shop in case.shops))
    _check_numbers(case)
    for part in case.parts:
        if not part.options:
            raise InputError(f"choice: {part.name} has no option; give at least one")
        for option in part.options:
            _check_option(case, part, option)


def _check_numbers(case: Case) -> None:
    terms = case.terms
    _over("attended minutes a day", "the terms", terms.attended_min_per_day, 1)
    for what, value in (
        ("worth of an own minute", terms.own_cents_per_min),
        ("worth of a day", terms.day_cents),
        ("days of assembly", terms.tail_d),
        ("deadline", terms.deadline_d),
        ("chance of loss allowed", terms.most_hazard),
    ):
        _over(what, "the terms", 0 if value is None else value, 0)
    for stock in case.stocks:
        _over("grams of a pack", stock.feedstock, stock.pack_g, 1)
        _over("price of a pack", stock.feedstock, stock.pack_cents, 0)
        _over("grams on hand", stock.feedstock, stock.on_hand_g, 0)
    for machine in case.machines:
        _over("minutes a day", machine.name, machine.minutes_per_day, 1)
    for service in (*case.services, *case.shops):
        _over("shipping", service.name, service.shipping_cents, 0)
        _over("least order", service.name, service.least_cents, 0)
        _over("value that ships free", service.name, service.free_from_cents or 0, 0)
    for shop in case.shops:
        if shop.least_cents or shop.free_from_cents is not None:
            raise InputError(
                f"choice: shop {shop.name!r} has a least order or free shipping; the choice counts "
                "only its shipping; leave both out here"
            )


def _check_option(case: Case, part: PartOptions, option: Option) -> None:
    if isinstance(option, AtHome):
        _known(part, "printer", option.printer, [row.name for row in case.machines])
        _known(part, "feedstock", option.feedstock, [row.feedstock for row in case.stocks])
        for what, value in (
            ("machine minutes", option.expected_min),
            ("grams", option.grams),
            ("own minutes", option.own_min),
            ("machine cost", option.machine_cents),
            ("cost of failed tries", option.risk_cents),
            ("hazard", option.long_hazard),
        ):
            _over(what, part.name, value, 0)
        return
    _known(part, "service", option.service, [row.name for row in case.services])
    for what, value in (
        ("price", option.cents),
        ("lead days", option.lead_d),
        ("own minutes", option.own_min),
    ):
        _over(what, part.name, value, 0)


def _over(what: str, where: str, value: float, least: int) -> None:
    if not (math.isfinite(value) and value >= least):
        raise InputError(f"choice: {what} of {where}: {value} found; {least} or more allowed")


def _once(what: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InputError(f"choice: {what} {name!r} stands twice; name each once")
        seen.add(name)


def _known(part: PartOptions, what: str, name: str, known: list[str]) -> None:
    if name not in known:
        raise InputError(
            f"choice: {part.name} asks for the {what} {name!r}; known: "
            f"{', '.join(sorted(known)) or 'none'}"
        )
