"""What a build file says for decisions: when somebody is there, the assembly, own claims."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from buildplan.build.faults import array_of, duplicate_faults, name_faults
from buildplan.build.shape import AssemblyTable
from buildplan.decide.calendar.shape import Attended, Unattended, read_attended, read_unattended
from buildplan.decide.readiness.shape import OwnClaim, read_own_claims
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import not_known


@dataclass(frozen=True, slots=True, kw_only=True)
class Decisions:
    """Tables that the calendar and the readiness list take.

    Attributes:
        attended: None where nothing is said: no calendar is made then.
        unattended: Printers that may run alone; none of them unless it is stated.
        assembly: Steps, in the order of the file.
        claims: Own claims and chances.
    """

    attended: Attended | None = None
    unattended: tuple[Unattended, ...] = ()
    assembly: tuple[AssemblyTable, ...] = ()
    claims: tuple[OwnClaim, ...] = ()


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
    return Decisions(
        attended=attended,
        unattended=unattended,
        assembly=_assembly(data, faults),
        claims=claims,
    )


def _assembly(data: Mapping[str, Any], faults: list[Fault]) -> tuple[AssemblyTable, ...]:
    raws = array_of(data, "assembly", faults)
    duplicate_faults(raws, ("assembly",), faults)
    known = {*_names(data, "part"), *_names(data, "bought")}
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


def _names(data: Mapping[str, Any], key: str) -> list[str]:
    raws = data.get(key)
    rows = [raw for raw in raws if isinstance(raw, dict)] if isinstance(raws, list) else []
    return [str(raw.get("name")) for raw in rows]
