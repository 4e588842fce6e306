"""The choice, what services ask, and the choice as the calendar played it, as plain objects."""

from typing import Any

from buildplan.decide.choice import Totals
from buildplan.decide.sending import SendRow
from buildplan.plan import PlayedChoice
from buildplan.plan.model import ChoicePlan
from buildplan.report.as_json.values import finding_object, number, spread_of


def sent_object(row: SendRow) -> dict[str, Any]:
    """One part at one service."""
    cost = row.order_cost
    return {
        "part": row.part,
        "service": row.service,
        "order_cost": None if cost is None else spread_of(cost),
        "lead_d": spread_of(row.lead_d),
        "own_h": number(row.own_h),
        "quoted": row.quoted,
        "basis": row.basis,
        "stops": list(row.stops),
        "terms": row.terms,
    }


def choice_object(choice: ChoicePlan) -> dict[str, Any]:
    """The choice for all parts, its reasons, and what would change it."""
    chosen = choice.chosen
    return {
        "refused": choice.refused,
        "parts": []
        if chosen is None
        else [
            {
                "part": reason.part,
                "option": reason.option,
                "instead": reason.instead,
                "more_cents": reason.more_cents,
                "free": reason.free,
                "moves": list(reason.moves),
            }
            for reason in choice.reasons
        ],
        "totals": None if chosen is None else totals_object(chosen.totals),
        "as_planned": totals_object(choice.as_planned),
        "front": [totals_object(one.totals) for one in choice.front],
        "quotes": [
            {
                "part": change.part,
                "service": change.service,
                "quoted_cents": change.quoted_cents,
                "at_most_cents": change.at_most_cents,
            }
            for change in choice.quotes
        ],
        "sent": [sent_object(row) for row in choice.rows],
        "findings": [finding_object(finding) for finding in choice.findings],
    }


def totals_object(totals: Totals) -> dict[str, Any]:
    """Cents of every component, days and chances of one choice."""
    return {
        "total_cents": totals.total,
        "money_cents": totals.money,
        "sent_cents": totals.sent,
        "shipping_cents": totals.shipping,
        "feedstock_cents": totals.feedstock,
        "machine_cents": totals.machine,
        "own_cents": totals.own,
        "risk_cents": totals.risk,
        "day_cents": totals.day,
        "days": totals.days,
        "own_min": totals.own_min,
        "hazard": number(totals.hazard),
    }


def played_object(played: PlayedChoice) -> dict[str, Any]:
    """The choice that the calendar likes best."""
    found = played.refined
    return {
        "parts": [
            {
                "part": part.name,
                "option": part.options[pick].label,
                "without_calendar": part.options[before].label,
            }
            for part, pick, before in zip(played.case.parts, found.picks, found.first, strict=True)
        ],
        "p50_d": number(found.simulated.p50_d),
        "p90_d": number(found.simulated.p90_d),
        "cents": found.simulated.cents,
        "first_day": played.first_day.isoformat(),
        "played": found.played,
        "proposed": found.proposed,
        "stopped": found.stopped,
    }
