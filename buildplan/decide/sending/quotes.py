"""Quotes looked at before they are trusted: too old, of a day to come, of a feedstock not had."""

from collections.abc import Mapping, Sequence
from datetime import date

from buildplan.decide.sending.shape import QuoteTable, ServiceTable
from buildplan.findings import Finding, Place, Severity

HOLDS_D = 30
"""Days that a quote is taken to hold. Source: common practice, no source; ask the service."""


def quote_findings(
    quotes: Sequence[QuoteTable],
    services: Sequence[ServiceTable],
    feedstocks: Mapping[str, Sequence[str]],
    today: date,
) -> tuple[Finding, ...]:
    """What to settle before a quote is counted on, in the order of the quotes.

    A quote without a day is not judged by age, nor one whose service does not say what it prints.

    Args:
        quotes: With days that were checked when they were read.
        services: By whom.
        feedstocks: Names of each part's feedstock: key, name, family.
        today: Day on which the plan is made.
    """
    by_name = {service.name: service for service in services}
    found: list[Finding] = []
    for quote in quotes:
        found.extend(_by_day(quote, today))
        service = by_name.get(quote.service)
        names = (quote.feedstock,) if quote.feedstock else tuple(feedstocks.get(quote.part, ()))
        if service is None or not service.feedstocks or not names:
            continue
        offered = {name.casefold() for name in service.feedstocks}
        if not offered & {name.casefold() for name in names}:
            found.append(
                _finding(
                    quote,
                    "stop",
                    f"the quote of {quote.service} for {quote.part} is for {names[0]}, which it "
                    "does not print",
                    (names[0], ", ".join(service.feedstocks)),
                    "correct the feedstock of the quote, or add it to what the service prints",
                )
            )
    return tuple(found)


def is_old(quote: QuoteTable, today: date) -> bool:
    """Whether a quote has a day and is older than quotes are taken to hold."""
    return bool(quote.said_on) and (today - date.fromisoformat(quote.said_on)).days > HOLDS_D


def _by_day(quote: QuoteTable, today: date) -> list[Finding]:
    if not quote.said_on:
        return []
    age = (today - date.fromisoformat(quote.said_on)).days
    if is_old(quote, today):
        return [
            _finding(
                quote,
                "caution",
                f"the quote of {quote.service} for {quote.part} is {age} days old",
                (f"{age} days", f"at most {HOLDS_D} days"),
                "ask again before you order; the price counts as it stands until then",
            )
        ]
    if age < 0:
        return [
            _finding(
                quote,
                "caution",
                f"the quote of {quote.service} for {quote.part} is of {quote.said_on}, a day to "
                "come",
                (quote.said_on, f"at most {today.isoformat()}"),
                "correct its day",
            )
        ]
    return []


def _finding(
    quote: QuoteTable, severity: Severity, what: str, compared: tuple[str, str], remedy: str
) -> Finding:
    return Finding(
        check="sending",
        severity=severity,
        what=what,
        where=Place(text=f"[[quote]] of {quote.service} for {quote.part}"),
        measured=compared[0],
        required=compared[1],
        remedy=remedy,
        source="common practice, no source" if severity == "caution" else "build file, [[service]]",
    )
