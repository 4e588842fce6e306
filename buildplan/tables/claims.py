"""Chances that a claim is wrong before a long print, by kind and by what it rests on.

Documented cache: the table is read once per process.
"""

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Annotated

from buildplan.errors import TableError
from buildplan.tables.limits import Within
from buildplan.tables.strict import read_record

FILE = "claims.toml"
Share = Annotated[float, Within(0.0, 1.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimDefault:
    """One row of the table of claims.

    Attributes:
        claim: The claim in words; ``test`` how it is tried.
        p_computed_frac: Chance that it is wrong where a check passed; ``p_coupon_frac`` where a
            coupon proved it; ``p_assumed_frac`` where nothing did; ``p_caution_frac`` where a check
            says caution.
        source: Of every number of the row.
    """

    claim: str
    test: str
    p_computed_frac: Share
    p_coupon_frac: Share
    p_assumed_frac: Share
    p_caution_frac: Share
    own_h: Annotated[float, Within(0.0, 1000.0)]
    wait_d: Annotated[float, Within(0.0, 365.0)]
    sensitivity_frac: Share
    false_alarm_frac: Share
    seen_at_frac: Share
    source: str


@functools.cache
def claim_defaults() -> Mapping[str, ClaimDefault]:
    """The table of claims by kind.

    Raises:
        TableError: The file that comes with buildplan is wrong.
    """
    text = resources.files("buildplan.tables").joinpath(FILE).read_text(encoding="utf-8")
    rows: dict[str, ClaimDefault] = {}
    for key, raw in tomllib.loads(text).items():
        row, faults = read_record(ClaimDefault, raw, (key,))
        if row is None:
            said = "; ".join(f"[{key}] {fault.text}" for fault in faults)
            raise TableError(f"{FILE}: {said}")
        rows[key] = row
    return rows
