"""What a build file says for decisions: when somebody is there, the assembly, own claims."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from buildplan.build.faults import array_of, duplicate_faults, name_faults, names_in
from buildplan.build.shape import AssemblyTable
from buildplan.decide.calendar.shape import Attended, Unattended, read_attended, read_unattended
from buildplan.decide.readiness.shape import OwnClaim, read_own_claims
from buildplan.decide.sending.shape import ChoiceTable, QuoteTable, ServiceTable
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import not_known, show

SIDES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """Tables that the calendar and the readiness list take.

    Attributes:
        attended: None where nothing is said: no calendar is made then.
        unattended: Printers that may run alone; none of them unless it is stated.
        assembly: Steps, in the order of the file.
        claims: Own claims and chances.
        services: Who makes parts for you; quotes: what they asked.
        choice: What is asked of the plan for all parts.
    """

    attended: Attended | None = None
    unattended: tuple[Unattended, ...] = ()
    assembly: tuple[AssemblyTable, ...] = ()
    claims: tuple[OwnClaim, ...] = ()
    services: tuple[ServiceTable, ...] = ()
    quotes: tuple[QuoteTable, ...] = ()
    choice: ChoiceTable = field(default_factory=ChoiceTable)


def read_decisions(
    data: Mapping[str, Any], printers: tuple[str, ...], faults: list[Fault]
) -> Decisions:
    """The tables for decisions; faults are added.

    Args:
        data: The build file as tomllib gives it.
        printers: Names of the machines at hand.
        faults: What is wrong so far.
    """
    attended, wrong = read_attended(data.get("attended"))
    faults.extend(wrong)
    unattended, wrong = read_unattended(data.get("unattended"), printers)
    faults.extend(wrong)
    claims, wrong = read_own_claims(data.get("claim", []))
    faults.extend(wrong)
    services, quotes = _services(data, faults), _quotes(data, faults)
    return Decisions(
        services=services,
        quotes=quotes,
        choice=_choice(data, faults),
        attended=attended,
        unattended=unattended,
        assembly=_assembly(data, faults),
        claims=claims,
    )


def _assembly(data: Mapping[str, Any], faults: list[Fault]) -> tuple[AssemblyTable, ...]:
    raws = array_of(data, "assembly", faults)
    duplicate_faults(raws, ("assembly",), faults)
    known = {*names_in(data, "part"), *names_in(data, "bought")}
    steps = []
    for position, raw in enumerate(raws):
        path = ("assembly", position)
        table, wrong = read_record(AssemblyTable, raw, path)
        faults.extend(wrong)
        faults.extend(name_faults(raw.get("name"), (*path, "name")))
        known.add(str(raw.get("name")))
        if table is None:
            continue
        for place, name in enumerate(table.after):
            if name not in known - {table.name}:
                text = not_known("after", name, sorted(known))
                faults.append(Fault(path=(*path, "after", place), text=text))
        steps.append(table)
    return tuple(steps)


def _services(data: Mapping[str, Any], faults: list[Fault]) -> tuple[ServiceTable, ...]:
    raws = array_of(data, "service", faults)
    duplicate_faults(raws, ("service",), faults)
    found = []
    for position, raw in enumerate(raws):
        path = ("service", position)
        table, wrong = read_record(ServiceTable, raw, path)
        faults.extend(wrong)
        faults.extend(name_faults(raw.get("name"), (*path, "name")))
        if table is None:
            continue
        if table.lead_high_d and table.lead_high_d < table.lead_d:
            text = (
                f"lead_high_d {table.lead_high_d:g} lies below lead_d {table.lead_d:g}. It is "
                "passed 1 time in 10, so it may not be shorter"
            )
            faults.append(Fault(path=(*path, "lead_high_d"), text=text))
        if len(table.largest_mm) not in (0, SIDES):
            text = f"largest_mm has {len(table.largest_mm)} numbers. Write three sides"
            faults.append(Fault(path=(*path, "largest_mm"), text=text))
        found.append(table)
    return tuple(found)


def _quotes(data: Mapping[str, Any], faults: list[Fault]) -> tuple[QuoteTable, ...]:
    """Quotes; each names a service and a part of the file, and no two the same pair."""
    services, parts = names_in(data, "service"), names_in(data, "part")
    seen: set[tuple[str, str]] = set()
    found = []
    for position, raw in enumerate(array_of(data, "quote", faults)):
        path = ("quote", position)
        table, wrong = read_record(QuoteTable, raw, path)
        faults.extend(wrong)
        if table is None:
            continue
        for what, name, known in (
            ("service", table.service, services),
            ("part", table.part, parts),
        ):
            if name not in known:
                faults.append(Fault(path=(*path, what), text=not_known(what, name, known)))
        pair = table.service, table.part
        if pair in seen:
            text = f"{table.service} has two quotes for {table.part}. Keep the one that holds"
            faults.append(Fault(path=(*path, "part"), text=text))
        seen.add(pair)
        faults.extend(_day_fault(table.said_on, (*path, "said_on")))
        found.append(table)
    return tuple(found)


def _choice(data: Mapping[str, Any], faults: list[Fault]) -> ChoiceTable:
    raw = data.get("choice", {})
    if not isinstance(raw, dict):
        text = f"choice must be a table, found {show(raw)}. Write [choice]"
        faults.append(Fault(path=("choice",), text=text))
        return ChoiceTable()
    table, wrong = read_record(ChoiceTable, raw, ("choice",))
    faults.extend(wrong)
    if table is None:
        return ChoiceTable()
    faults.extend(_day_fault(table.done_by, ("choice", "done_by")))
    return table


def _day_fault(text: str, path: tuple[Any, ...]) -> list[Fault]:
    try:
        date.fromisoformat(text or "2031-03-17")
    except ValueError:
        said = f'{path[-1]} {show(text)} is no day; write it like "2031-03-17"'
        return [Fault(path=path, text=said)]
    return []
