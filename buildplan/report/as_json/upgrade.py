"""Reading plan.json: files of older versions are brought to the present one, step by step.

What an older file could not know becomes null, never a guess: null then reads "not known".
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from buildplan.errors import InputError
from buildplan.report.as_json.objects import SCHEMA_VERSION

PlanObject = dict[str, Any]

MUST_HAVE = ("name", "currency", "verdict", "first", "totals", "parts", "bill")
"""What every version holds."""

NEW_IN_2 = ("cycles", "splits", "coupons", "orders", "budget")
OF_PART_NEW_IN_2 = ("checks", "ways_up")
NEW_IN_3 = (
    *("device", "calendar", "choice", "ready", "derived"),
    *("headline", "counts", "date_set_by", "orders", "budget"),
)
OF_OPTION_NEW_IN_3 = ("raw_h", "raw_g", "basis")
OF_LINE_NEW_IN_3 = (
    *("need_low", "need_high", "least", "on_hand", "price_breaks"),
    *("currency", "tax_frac", "state", "asked_by"),
)


def read_plan_json(source: Path | str) -> PlanObject:
    """A plan.json of any version so far, as the present version holds it.

    Args:
        source: A path, or the text itself (it then begins with a brace).

    Raises:
        InputError: The file is not there, is no JSON, is no plan, or is of a newer version.
    """
    where, text = _text_of(source)
    try:
        found = json.loads(text)
    except ValueError as error:
        raise InputError(
            f"{where}: no JSON: {error}; write it anew with `buildplan plan`"
        ) from None
    if not isinstance(found, dict):
        kind = type(found).__name__
        raise InputError(f"{where}: {kind} found, an object is needed; give a plan.json")
    version = found.get("schema_version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(
            f"{where}: schema_version {json.dumps(version)} found, a number from 1 to "
            f"{SCHEMA_VERSION} is needed; give a plan.json that `buildplan plan` wrote"
        )
    if version > SCHEMA_VERSION:
        raise InputError(
            f"{where}: schema_version {version} is newer than {SCHEMA_VERSION}, the newest that "
            "this buildplan reads; update buildplan, or plan the build again with this one"
        )
    _check_bones(found, where)
    for step in range(version, SCHEMA_VERSION):
        found = STEPS[step](found)
    return _filled_3(found)


def _text_of(source: Path | str) -> tuple[str, str]:
    """Name for messages, and text."""
    if isinstance(source, str) and source.lstrip()[:1] in ("{", "["):
        return "plan.json", source
    path = Path(source)
    try:
        return str(path), path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read: {error}; give a plan.json") from None


def _check_bones(found: PlanObject, where: str) -> None:
    """Refuse what is no plan, or a plan with a piece torn out."""
    for key in MUST_HAVE:
        if key not in found:
            raise InputError(f"{where}: {key!r} is missing; write it anew with `buildplan plan`")
    rows = {"parts": found["parts"], "bill": found["bill"]}
    for key, value in rows.items():
        if not (isinstance(value, list) and all(isinstance(row, dict) for row in value)):
            raise InputError(f"{where}: {key!r} is no list of objects; write it anew")
    totals, parts = found["totals"], found["parts"]
    if not isinstance(totals, dict) or not all(isinstance(p.get("options"), list) for p in parts):
        raise InputError(f"{where}: totals or options are no objects; write it anew")
    if not all(isinstance(option, dict) for part in parts for option in part["options"]):
        raise InputError(f"{where}: an option of a part is no object; write it anew")


def _from_1_to_2(old: PlanObject) -> PlanObject:
    """Version 1 knew no checks, ways up, build cycles, pieces, coupons, orders or budget."""
    parts = [{**dict.fromkeys(OF_PART_NEW_IN_2), **part} for part in old["parts"]]
    return {**old, "schema_version": 2, "parts": parts, **_missing(old, NEW_IN_2)}


def _from_2_to_3(old: PlanObject) -> PlanObject:
    """Version 2 knew no device, calendar, choice, readiness or print log."""
    return _filled_3({**old, "schema_version": 3})


STEPS: dict[int, Callable[[PlanObject], PlanObject]] = {1: _from_1_to_2, 2: _from_2_to_3}


def _filled_3(old: PlanObject) -> PlanObject:
    """Null for what files of version 3 got one after the other."""
    parts = [
        {
            "sent_to": None,
            **part,
            "options": [
                {**dict.fromkeys(OF_OPTION_NEW_IN_3), **option} for option in part["options"]
            ],
        }
        for part in old["parts"]
    ]
    calendar = old.get("calendar")
    if isinstance(calendar, dict):
        calendar = {"sets_the_date": None, **calendar}
    return {
        **old,
        **_missing(old, NEW_IN_3),
        "totals": {"logged_prints": None, **old["totals"]},
        "parts": parts,
        "bill": [{**dict.fromkeys(OF_LINE_NEW_IN_3), **line} for line in old["bill"]],
        "calendar": calendar,
    }


def _missing(old: PlanObject, keys: tuple[str, ...]) -> PlanObject:
    return {key: None for key in keys if key not in old}
