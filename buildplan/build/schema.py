"""The JSON Schema of a build file, for editors that complete and check TOML."""

from typing import Any

from buildplan.build.shape import AS_PLACED, BuildFile
from buildplan.tables.rows import KINDS, RECORDS, Kind
from buildplan.tables.strict import strict_model


def json_schema() -> dict[str, Any]:
    """The schema, made from the same dataclasses that a build file is read by.

    Rows of tables may leave out what they take from the row in ``like``. `[mechanism]` and the
    sections that are only kept may be any table. Names (of feedstocks, printers, recipes) are
    checked when the build is loaded, not here.
    """
    shape: Any = BuildFile
    schema = strict_model(shape).model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "buildplan build file"
    for kind in KINDS:
        rows = [_row_schema(kind, record) for record in RECORDS[kind].values()]
        item = rows[0] if len(rows) == 1 else {"anyOf": rows}
        schema["properties"][kind] = {"type": "array", "items": item, "default": []}
    schema["$defs"]["PartTable"]["properties"]["orientation"] = {
        "default": AS_PLACED,
        "anyOf": [{"const": AS_PLACED}, _matrix_schema(3)],
    }
    return schema


def _row_schema(kind: Kind, record: type[Any]) -> dict[str, Any]:
    """One kind of row: every field, none of them required where ``like`` is given."""
    model: Any = record
    row = strict_model(model).model_json_schema()
    required = row.pop("required")
    row["properties"] |= {
        "like": {"type": "string", "description": f"Key of the {kind} to start from."},
        "sources": {
            "type": "object",
            "additionalProperties": {"type": "string"},
            "description": "Where each number comes from, by field; _all for all others.",
        },
    }
    needed = [name for name in required if name not in ("key", "name")]
    row["anyOf"] = [{"required": ["like"]}, {"required": needed}]
    return row


def _matrix_schema(size: int) -> dict[str, Any]:
    row = {"type": "array", "items": {"type": "number"}, "minItems": size, "maxItems": size}
    return {"type": "array", "items": row, "minItems": size, "maxItems": size}
