"""At home, in pieces or sent out: the choice for all parts in a heading, a table and sentences."""

from typing import Any

from buildplan.decide.choice import (
    AtHome,
    Chosen,
    Reason,
    quote_words,
    reason_words,
    supervision_words,
)
from buildplan.decide.sending import SendRow
from buildplan.plan import Plan
from buildplan.plan.model import ChoicePlan
from buildplan.report import numbers
from buildplan.report.sections import words

SMALL_CENTS = 100
"""Less than this is no reason to change a plan (ours)."""

QUOTES_SHOWN = 2


def choice_heading(choice: ChoicePlan, currency: str) -> str:
    """How the parts are best got, in one sentence without a full stop."""
    if choice.chosen is None:
        return f"No choice keeps what is asked: {choice.refused}"
    options = [
        part.options[pick]
        for part, pick in zip(choice.case.parts, choice.chosen.picks, strict=True)
    ]
    home = [option for option in options if isinstance(option, AtHome)]
    cut = sum(option.pieces > 1 for option in home)
    said = [f"{len(home)} of {numbers.count(len(options), 'part')} at home"]
    if cut:
        said.append(f"{cut} of them in pieces")
    if len(home) < len(options):
        said.append(f"{len(options) - len(home)} sent out")
    saved = choice.as_planned.total - choice.chosen.totals.total
    if choice.as_planned.broken:
        why = f"as planned {choice.as_planned.broken[0]}"
    elif saved > SMALL_CENTS:
        why = f"{numbers.money(saved / 100.0, currency)} less in all than as planned below"
    else:
        why = "as planned is as good as anything"
    return f"{', '.join(said)}: {why}"


def choice_rows(choice: ChoicePlan, currency: str) -> list[dict[str, str]]:
    """A row for each part: how it is got, what is next best, what that costs more and why."""
    return [
        {
            "part": words(reason.part),
            "how": words(reason.option),
            "instead": words(reason.instead) if reason.instead else "no other way",
            "more": _more(reason, currency),
            "why": words(_why(reason)),
        }
        for reason in choice.reasons
    ]


def choice_sentences(choice: ChoicePlan, currency: str) -> list[str]:
    """Totals, what a day costs, what staying by costs, which quotes would change it."""
    if choice.chosen is None:
        return []
    said = [_totals(choice.chosen, currency), *_front(choice, currency)]
    if choice.supervision is not None:
        said.append(supervision_words(choice.supervision, currency))
    near = sorted(choice.quotes, key=lambda one: one.quoted_cents - max(one.at_most_cents, 0))
    said += [words(quote_words(one, currency)) for one in near[:QUOTES_SHOWN]]
    if len(near) > QUOTES_SHOWN:
        said.append(f"{len(near) - QUOTES_SHOWN} more quotes lie further from the choice.")
    return said


def sent_rows(rows: tuple[SendRow, ...], currency: str) -> list[dict[str, str]]:
    """A row for each part that a service quoted."""
    return [
        {
            "part": words(row.part),
            "service": words(row.service),
            "cost": ""
            if row.order_cost is None
            else numbers.money(row.order_cost.likely, currency),
            "days": f"{row.lead_d.likely:.0f} to {row.lead_d.high:.0f}",
            "says": words("; ".join(row.stops) or row.basis),
        }
        for row in rows
        if row.quoted
    ]


def choice_section(plan: Plan) -> dict[str, Any] | None:
    """What the page shows of it; None where there is nothing to choose."""
    choice = plan.choice
    if choice is None:
        return None
    return {
        "heading": choice_heading(choice, plan.currency),
        "rows": choice_rows(choice, plan.currency),
        "sentences": choice_sentences(choice, plan.currency),
        "sent": sent_rows(choice.rows, plan.currency),
        "guessed": sum(not row.quoted and row.order_cost is not None for row in choice.rows),
        "findings": [finding.what + ": " + finding.remedy for finding in choice.findings],
    }


def reason_lines(choice: ChoicePlan, currency: str) -> list[str]:
    """Every reason that is no free choice, in words; the free ones counted."""
    firm = [one for one in choice.reasons if not one.free]
    said = [words(reason_words(one, currency)) for one in firm]
    free = len(choice.reasons) - len(firm)
    if free:
        verb = "is a free choice" if free == 1 else "are free choices"
        said.append(f"{numbers.count(free, 'part')} {verb}: another way costs about as much.")
    return said


def _more(reason: Reason, currency: str) -> str:
    if reason.more_cents is None:
        return ""
    return numbers.money(reason.more_cents / 100.0, currency)


def _why(reason: Reason) -> str:
    if reason.more_cents is None:
        return "no other way keeps what is asked"
    if reason.free:
        return "free choice"
    said = reason_words(reason).split(" in all: ", 1)
    return said[1].split(". ", 1)[0].rstrip(".") if len(said) > 1 else ""


def _totals(chosen: Chosen, currency: str) -> str:
    totals = chosen.totals
    paid = numbers.money(totals.money / 100.0, currency)
    own = numbers.num(totals.own_min / 60.0, 1, "h")
    risk = numbers.money(totals.risk / 100.0, currency)
    return (
        f"It pays {paid} to others (services, shipping, whole packs, energy and wear), takes {own} "
        f"of your own time and {risk} of failed tries to be expected; the parts and the assembly "
        f"are done on day {totals.days} by a rough count."
    )


def _front(choice: ChoicePlan, currency: str) -> list[str]:
    """The cheapest plan of each day that is sooner."""
    assert choice.chosen is not None  # asked only where there is a choice
    days: dict[int, int] = {}
    for one in choice.front:
        days[one.totals.days] = min(one.totals.total, days.get(one.totals.days, 10**12))
    best = choice.chosen.totals
    sooner: list[tuple[int, int]] = []
    for day, total in sorted(days.items()):
        if day < best.days and all(total < other for _, other in sooner):
            sooner.append((day, total))
    if not sooner:
        return ["No choice is done on an earlier day."]
    cost = best.total - best.day
    told = [
        f"day {day} costs {numbers.money((total - cost) / 100.0, currency)} more"
        for day, total in sooner
    ]
    return [f"Sooner: {', '.join(told)}."]
