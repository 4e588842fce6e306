"""The JSON Schema of plan.json as it is written now; older files are upgraded to it."""

from collections.abc import Iterable
from typing import Any

Schema = dict[str, Any]

NUMBER: Schema = {"type": "number"}
TEXT: Schema = {"type": "string"}
COUNT: Schema = {"type": "integer", "minimum": 0}
LIST: Schema = {"type": "array"}
THING: Schema = {"type": "object"}
MONEY: Schema = {"type": "string", "pattern": r"^-?\d+\.\d{2}$"}


def plan_schema() -> Schema:
    """Draft 2020-12; every key that is required stands in every file, null where not known."""
    finding = _finding()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "buildplan plan",
        **_object(
            {
                "schema_version": {"const": 3},
                "name": TEXT,
                "file": TEXT,
                "sha256": TEXT,
                "revision": TEXT,
                "currency": TEXT,
                "verdict": {"enum": ["stop", "caution", "note", "ok"]},
                "headline": _or_null(TEXT),
                "counts": _or_null(_object(dict.fromkeys(("stop", "caution", "note"), COUNT))),
                "date_set_by": _or_null(TEXT),
                "first": _list(TEXT),
                "totals": _totals(),
                "parts": _list(_part(finding)),
                "cycles": _or_null(LIST),
                "splits": _or_null(LIST),
                "coupons": _or_null(LIST),
                "bill": _list(_line()),
                "derived": _or_null(THING),
                "device": _or_null(_object({"needs": LIST, "findings": _list(finding)})),
                "calendar": _or_null(_calendar(finding)),
                "choice": _or_null(THING),
                "ready": _or_null(LIST),
                "orders": _or_null(_object({"total_cost": MONEY, "by_supplier": LIST})),
                "budget": _or_null(_budget()),
            }
        ),
    }


def _object(properties: Schema, required: Iterable[str] | None = None) -> Schema:
    """An object with at least these keys; more are allowed."""
    names = list(properties if required is None else required)
    return {"type": "object", "properties": properties, "required": names}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _spread() -> Schema:
    return _object(dict.fromkeys(("low", "likely", "high"), NUMBER))


def _finding() -> Schema:
    words = ("check", "what", "measured", "required", "remedy", "source")
    return _object(
        {
            **dict.fromkeys(words, TEXT),
            "severity": {"enum": ["stop", "caution", "note"]},
            "where": _object({"text": TEXT, "point_mm": _list(NUMBER), "box_mm": _list(NUMBER)}),
        }
    )


def _totals() -> Schema:
    return _object(
        {
            "logged_prints": _or_null(COUNT),
            "time_h": _spread(),
            "mass_g": _spread(),
            "own_time_h": NUMBER,
            "print_cost": MONEY,
            "bill_cost": MONEY,
        }
    )


def _part(finding: Schema) -> Schema:
    return _object(
        {
            **dict.fromkeys(("name", "file", "sha256", "unit", "process", "printer"), TEXT),
            **dict.fromkeys(("feedstock", "recipe", "reason"), TEXT),
            "size_mm": _list(NUMBER),
            "volume_mm3": NUMBER,
            "quantity": {"type": "integer", "minimum": 1},
            "estimate": _object(
                {"time_h": NUMBER, "mass_g": NUMBER, "total_cost": NUMBER, "layers": COUNT}
            ),
            "fit": _object({"fits": {"type": "boolean"}, "matrix": _list(NUMBER)}),
            "findings": _list(finding),
            "checks": _or_null(THING),
            "ways_up": _or_null(THING),
            "sent_to": _or_null(TEXT),
            "options": _list(_option()),
        }
    )


def _option() -> Schema:
    return _object(
        {
            "printer": TEXT,
            "time_h": NUMBER,
            "mass_g": NUMBER,
            "total_cost": NUMBER,
            "raw_h": _or_null(NUMBER),
            "raw_g": _or_null(NUMBER),
            "basis": _or_null(TEXT),
        }
    )


def _line() -> Schema:
    return _object(
        {
            **dict.fromkeys(("kind", "item", "unit", "supplier", "used_in"), TEXT),
            **dict.fromkeys(("need", "pack", "spare", "lead_d"), NUMBER),
            "packs": COUNT,
            "pack_cost": TEXT,
            "cost": MONEY,
            **{key: _or_null(NUMBER) for key in ("need_low", "need_high", "least", "on_hand")},
            "tax_frac": _or_null(NUMBER),
            **{key: _or_null(TEXT) for key in ("price_breaks", "currency", "state", "asked_by")},
        }
    )


def _calendar(finding: Schema) -> Schema:
    return _object(
        {
            "first_day": TEXT,
            "refused": _or_null(TEXT),
            "p50_day": _or_null(TEXT),
            "p90_day": _or_null(TEXT),
            "by_day": LIST,
            "items": LIST,
            "sets_the_date": _or_null(LIST),
            "bars": LIST,
            "orders": LIST,
            "findings": _list(finding),
        }
    )


def _budget() -> Schema:
    costs = ("low_cost", "median_cost", "high_cost", "plain_cost", "plain_frac")
    return _object({**dict.fromkeys(costs, NUMBER), "swings": LIST})
