"""A plan after small changes of its build file: no part is planned anew."""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from buildplan.bill import bill_line, budget, roll_up
from buildplan.build import Build
from buildplan.plan.calendar import plan_calendar
from buildplan.plan.first import list_first, supplier_of_date
from buildplan.plan.learned import read_experience
from buildplan.plan.model import Plan
from buildplan.plan.ready import ready_again
from buildplan.plan.sent import shops_of

SMALL_KEYS = ("proved_on", "failed_on", "p_wrong_frac")
"""Of a [[claim]]; like `state` of a [[bought]] item they change no part and no device."""


def plan_again(build: Build, plan: Plan) -> Plan:
    """The plan with the states of orders and the own claims that the build file has now.

    Bill, budget, calendar and readiness are made anew; all else is taken over.

    Args:
        build: The same build, changed in nothing but what ``mark_without_small`` leaves out.
        plan: Of the build as it was.

    Raises:
        InputError: The print log cannot be read.
    """
    states = {item.name: item.state for item in build.bought}
    bill = tuple(
        bill_line(replace(line.wanted, state=states[line.wanted.item]))
        if line.wanted.kind in ("bought", "joint") and line.wanted.item in states
        else line
        for line in plan.bill
    )
    shops = shops_of(build)
    orders = roll_up(bill, shops=shops, currency=build.currency, rates=build.rates)
    experience = read_experience(build)
    calendar = plan_calendar(build, plan.parts, plan.cycles, plan.splits, orders, experience)
    return replace(
        plan,
        sha256=build.sha256,
        bill=bill,
        bill_cost=orders.total_cost,
        orders=orders,
        budget=budget(bill, shops=shops, currency=build.currency, rates=build.rates),
        calendar=calendar,
        ready=ready_again(build, plan),
        first=list_first(
            plan.parts,
            plan.cycles,
            bill,
            plan.device,
            plan.derived.findings,
            supplier_of_date(calendar),
        ),
    )


def mark_without_small(build: Build, data: Mapping[str, Any]) -> str:
    """SHA-256 of a build file's values without states of orders and results of tests.

    Args:
        build: The build that the file describes.
        data: The file as tomllib reads it.
    """
    kept = {key: value for key, value in data.items() if key not in ("bought", "claim")}
    bought = [_without(row, ("state",)) for row in data.get("bought", ())]
    claims = [_without(row, SMALL_KEYS) for row in data.get("claim", ())]
    claims = [row for row in claims if set(row) - {"name"}]
    text = repr((str(build.path.absolute()), kept, bought, claims))
    return hashlib.sha256(text.encode()).hexdigest()


def _without(row: Mapping[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in keys}
