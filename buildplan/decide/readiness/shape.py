"""`[[claim]]` of the build file: own claims, own chances, and what its test has shown.

::

    [[claim]]
    name = "roof_vent: what turns, snaps or slides does so"   # a claim of the list, or a new one
    proved_on = "2031-03-17"

    [[claim]]
    name = "drain holes of 3 mm do not clog"
    kind = "other"
    p_wrong_frac = 0.08
    test = "drill 3 mm into a pot, fill it with wet soil"
    own_h = 0.4
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from buildplan.decide.readiness.model import Kind
from buildplan.tables.limits import Within
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import show

Share = Annotated[float, Within(0.0, 1.0)]
Hours = Annotated[float, Within(0.0, 1000.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnClaim:
    """`[[claim]]`; what is left out is as in the list, or as the table has it for the kind.

    Attributes:
        name: Of a claim of the list, which it changes, or of a new one.
        proved_on: Day on which its test held ("2031-03-17"), or empty.
        failed_on: Day on which its test showed that it is not so, or empty: mend it first.
    """

    name: str
    kind: Kind = "other"
    about: str = ""
    p_wrong_frac: Share | None = None
    proved_on: str = ""
    failed_on: str = ""
    test: str = ""
    own_h: Hours | None = None
    machine_h: Hours | None = None
    mass_g: Annotated[float, Within(0.0, 100_000.0)] | None = None
    wait_d: Annotated[float, Within(0.0, 365.0)] | None = None
    sensitivity_frac: Share | None = None
    false_alarm_frac: Share | None = None
    seen_at_frac: Share | None = None


def read_own_claims(section: object) -> tuple[tuple[OwnClaim, ...], tuple[Fault, ...]]:
    """Own claims from what tomllib gives for ``[[claim]]``, and every fault in them."""
    if not isinstance(section, list) or not all(isinstance(raw, Mapping) for raw in section):
        text = "write [[claim]] with two brackets before each claim"
        return (), (Fault(path=("claim",), text=text),)
    claims: list[OwnClaim] = []
    faults: list[Fault] = []
    for position, raw in enumerate(section):
        path = ("claim", position)
        claim, wrong = read_record(OwnClaim, raw, path)
        faults.extend(wrong)
        if claim is None:
            continue
        faults.extend(_disagreements(claim, claims, path))
        claims.append(claim)
    return tuple(claims), tuple(faults)


def _disagreements(claim: OwnClaim, before: list[OwnClaim], path: tuple[Any, ...]) -> list[Fault]:
    faults = []
    if not claim.name.strip():
        faults.append(Fault(path=(*path, "name"), text="name is empty; say what must be true"))
    if any(other.name == claim.name for other in before):
        text = f"name {show(claim.name)} is used twice. Put both into one [[claim]]"
        faults.append(Fault(path=(*path, "name"), text=text))
    for key in ("proved_on", "failed_on"):
        text = getattr(claim, key)
        try:
            date.fromisoformat(text or "2031-03-17")
        except ValueError:
            said = f'{key} {show(text)} is no day; write it like "2031-03-17"'
            faults.append(Fault(path=(*path, key), text=said))
    if claim.proved_on and claim.failed_on:
        said = "proved_on and failed_on are both set. Keep the day of the last test"
        faults.append(Fault(path=(*path, "failed_on"), text=said))
    return faults
