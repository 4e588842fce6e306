"""How far to trust each number: likely, range, what it rests on, what would narrow it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from buildplan.findings import Spread
from buildplan.plan import PartPlan, Plan, chosen_option
from buildplan.plan.takes import pieces_of, takes_of
from buildplan.report import numbers
from buildplan.report.calendar_section import day_words

TO_NINE = 1.6448536269514722 / 1.2815515655446004
"""Standard normal quantiles at 0.95 and 0.9: from 8 times in 10 to 9 times in 10."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrustRow:
    """One number.

    Attributes:
        between: 9 times in 10; words where no range is computed.
        rests: What it rests on: your prints, the class of a printer, tables, assumptions.
        narrows: What would narrow it.
    """

    name: str
    likely: str
    between: str
    rests: str
    narrows: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTrust:
    """Hours and grams of all copies of one part."""

    name: str
    hours: str
    hours_between: str
    grams: str
    grams_between: str
    rests: str


def nine_in_ten(spread: Spread) -> tuple[float, float]:
    """A range kept 8 times in 10, widened to 9 in 10 as the tails of a lognormal would be."""
    if min(spread.low, spread.likely, spread.high) <= 0.0:
        reach = (spread.likely - spread.low, spread.high - spread.likely)
        return spread.likely - TO_NINE * reach[0], spread.likely + TO_NINE * reach[1]
    low = spread.likely * (spread.low / spread.likely) ** TO_NINE
    return low, spread.likely * (spread.high / spread.likely) ** TO_NINE


def trust_section(plan: Plan) -> dict[str, Any]:
    """Heading, the parts' own rows, and every other kind of number."""
    return {
        "heading": _heading(plan),
        "sub": (
            "Ranges of hours, grams and money are drawn or learned as 8 times in 10 and widened to "
            "9 in 10 as a lognormal spreads. Where no range is computed, it says so."
        ),
        "parts": part_rows(plan),
        "rows": trust_rows(plan),
    }


def _heading(plan: Plan) -> str:
    mass, time = _percent(plan.mass_g), _percent(plan.time_h)
    rests = (
        f"from {numbers.count(plan.logged, 'print')} of yours"
        if plan.logged
        else "until you log a print"
    )
    return f"Grams are good to {mass} %, hours to {time} %, {rests}"


def _percent(spread: Spread) -> str:
    low, high = nine_in_ten(spread)
    width = max(spread.likely - low, high - spread.likely)
    return numbers.num(100.0 * width / max(spread.likely, 1e-9), 0)


def part_rows(plan: Plan) -> list[PartTrust]:
    """Every part printed at home, the longest first."""
    home = [item for item in plan.parts if item.sent is None]
    home.sort(key=lambda item: -item.quantity * takes_of(item, plan.splits).time_h.likely)
    return [_part_row(item, plan) for item in home]


def _part_row(item: PartPlan, plan: Plan) -> PartTrust:
    takes, copies = takes_of(item, plan.splits), item.quantity
    low_h, high_h = nine_in_ten(takes.time_h)
    low_g, high_g = nine_in_ten(takes.mass_g)
    pieces = pieces_of(item, plan.splits)
    basis = chosen_option(item).basis
    digits = 1 if copies * takes.mass_g.likely < 9.95 else 0
    return PartTrust(
        name=item.name.replace("_", " ") + (f" × {copies}" if copies > 1 else ""),
        hours=numbers.num(copies * takes.time_h.likely, 1),
        hours_between=_range(copies * low_h, copies * high_h, 1),
        grams=numbers.num(copies * takes.mass_g.likely, digits),
        grams_between=_range(copies * low_g, copies * high_g, digits),
        rests=basis.replace("_", " ") + ("; in pieces" if pieces is not None else ""),
    )


def _range(low: float, high: float, digits: int, unit: str = "") -> str:
    return f"{numbers.num(low, digits)} to {numbers.num(high, digits, unit)}"


def trust_rows(plan: Plan) -> list[TrustRow]:
    """Hours, grams, money, date, device and readiness of the whole build."""
    return [
        *_print_rows(plan),
        *_money_rows(plan),
        *_date_rows(plan),
        *_drive_rows(plan),
        *_supply_rows(plan),
        *_heat_rows(plan),
        *_ready_rows(plan),
        TrustRow(
            name="fit",
            likely="exact",
            between="as the mesh is",
            rests="computed; a yes carries a turning that was checked again, a no is a search",
            narrows="measure the build volume of your printer",
        ),
    ]


def _print_rows(plan: Plan) -> Iterator[TrustRow]:
    logged = plan.logged
    prints = numbers.count(logged, "logged print")
    yield TrustRow(
        name="hours, all parts",
        likely=numbers.num(plan.time_h.likely, 1, "h"),
        between=_range(*nine_in_ten(plan.time_h), 1, "h"),
        rests=f"every move of every layer, put right by your {prints}"
        if logged
        else "every move of every layer at the speeds of the printer's class, from tables",
        narrows="more prints in the log, of the printer and feedstock with the widest range"
        if logged
        else "the hours of five prints from your own printers",
    )
    yield TrustRow(
        name="feedstock, all parts",
        likely=numbers.num(plan.mass_g.likely, 0, "g"),
        between=_range(*nine_in_ten(plan.mass_g), 0, "g"),
        rests="the volume of every bead, computed; density and strand diameter from tables"
        + (", put right by what you weighed" if logged else ""),
        narrows="weigh one printed part; a caliper on the strand",
    )


def _money_rows(plan: Plan) -> Iterator[TrustRow]:
    budget, currency = plan.budget, plan.currency
    drawn = Spread(low=budget.low_cost, likely=budget.median_cost, high=budget.high_cost)
    moves = [one.item for one in budget.swings if one.high_cost - one.low_cost > 0.01][:2]
    yield TrustRow(
        name="money to spend",
        likely=f"{currency} {numbers.num(budget.median_cost, 0)}",
        between=_range(*nine_in_ten(drawn), 0),
        rests="your prices with the ranges in the build file, drawn together; rates as stated",
        narrows=f"a firm price of {' and '.join(moves)}"
        if moves
        else "nothing: all prices are firm",
    )


def _date_rows(plan: Plan) -> Iterator[TrustRow]:
    calendar = plan.calendar
    if calendar is None or calendar.finish is None:
        return
    finish = calendar.finish
    low, high = np.quantile(finish.finish_h, [0.05, 0.95], method="inverted_cdf")
    holds = [one for one in calendar.holds if one.kind == "delivery"]
    yield TrustRow(
        name="finish",
        likely=f"{finish.p50_day:%a %d %b}",
        between=f"{day_words(calendar, float(low))} to {day_words(calendar, float(high))}",
        rests=(
            f"{numbers.num(len(finish.finish_h), 0)} drawn calendars; failures from your log, "
            if plan.logged
            else f"{numbers.num(len(finish.finish_h), 0)} drawn calendars; failures assumed, "
        )
        + "delays of deliveries assumed, your hours as stated",
        narrows=f"a tracked date for the {holds[0].name}" if holds else "a print log with failures",
    )


def _drive_rows(plan: Plan) -> Iterator[TrustRow]:
    moved = plan.device.moved if plan.device else None
    if moved is None:
        return
    peak = max(
        float(np.nanmax(np.abs(moved.drive.servo_n_mm))),
        float(np.nanmax(np.abs(moved.drive.closing_servo_n_mm))),
    )
    yield TrustRow(
        name="torque at the servo",
        likely=numbers.num(peak, 0, "N mm"),
        between="no range computed: worst angle, friction and gust counted in full",
        rests="mesh volume and rod computed; density from tables; friction, gust as you stated",
        narrows="weigh the printed lid; pull it open with a kitchen scale",
    )


def _supply_rows(plan: Plan) -> Iterator[TrustRow]:
    power = plan.device.power if plan.device else None
    if power is None:
        return
    able = [row for row in power.parts if row.least_v > 0.0 and math.isfinite(row.worst_v)]
    if not able:
        return
    tight = min(able, key=lambda row: row.worst_v / row.least_v)
    yield TrustRow(
        name=f"volts at the {tight.name}",
        likely=numbers.num(tight.worst_v, 2, "V"),
        between=f"no range computed: the worst case, {tight.worst_case}, at the low volts",
        rests="wires from tables; currents and labels as the build file says",
        narrows="run all loads on the bench with a meter",
    )


def _heat_rows(plan: Plan) -> Iterator[TrustRow]:
    heat = plan.device.heat if plan.device else None
    for node in heat.nodes if heat else ():
        if node.kind not in ("part", "mount") or not math.isfinite(node.limit_c):
            continue
        low = min(node.low_c, node.temp_c - node.doubt_k)
        high = max(node.high_c, node.temp_c + node.doubt_k)
        yield TrustRow(
            name=f"warmth of the {node.name}",
            likely=numbers.num(node.temp_c, 0, "°C"),
            between=_range(low, high, 0, "°C"),
            rests="films of handbooks, a quarter of the rise apart; watts as the build file says",
            narrows="a thermometer in a taped box under load",
        )


def _ready_rows(plan: Plan) -> Iterator[TrustRow]:
    for one in plan.ready:
        lines = one.readiness.lines
        if not lines:
            continue
        risky = max(lines, key=lambda line: line.claim.p_wrong_frac)
        chance = 100.0 * risky.claim.p_wrong_frac
        yield TrustRow(
            name=f"chances before the {one.part.replace('_', ' ')}",
            likely=f"up to {numbers.num(chance, 0)} % wrong",
            between=f"{_range(chance / 2.0, min(2.0 * chance, 100.0), 0)} % at that one, assumed",
            rests="assumed starting values, no source; each may be off by a factor of 2",
            narrows=f"the test itself: {risky.claim.test.what}",
        )
        card = one.card.day
        yield TrustRow(
            name=f"failures of the {one.part.replace('_', ' ')}",
            likely=f"{numbers.num(100.0 * card.any_failure_frac, 0)} % fail once or more",
            between="drawn with what the log leaves open" if plan.logged else "no range: assumed",
            rests=card.basis,
            narrows="every print in the log, failed ones above all",
        )
