"""Data from a TOML file -> a frozen dataclass: strict types, limits, no unknown key; all faults.

The dataclass is the only model: a pydantic model of the same fields is derived from it when a file
is read, so that numbers are never made from texts and a wrong key never goes unseen.
"""

import dataclasses
import functools
import math
import re
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from buildplan.tables.limits import LIMITS, Within
from buildplan.tables.wording import near_name, not_known, show, span

if TYPE_CHECKING:
    from pydantic import BaseModel

Path = tuple[str | int, ...]
Record = TypeVar("Record")

TYPE_WORDS = {
    "float_type": "a number",
    "int_type": "a whole number",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
}
CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in a file.

    Attributes:
        path: Keys and list positions that lead to it: ("part", 1, "feedstock").
        text: What is wrong, with the value found and what is allowed.
    """

    path: Path
    text: str


def read_record(
    record: type[Record], data: Mapping[str, Any], path: Path = ()
) -> tuple[Record | None, tuple[Fault, ...]]:
    """The record made from a table of a TOML file, or None and every fault in it.

    Args:
        record: A frozen dataclass; fields may be numbers, texts, flags, literals, tuples of these,
            further dataclasses, or ``object`` (taken as found). A number's range comes from
            ``Annotated[float, Within(low, high)]``, else from LIMITS by the field's name.
        data: The table as tomllib gives it.
        path: Where the table stands in its file.
    """
    from pydantic import ValidationError

    shape: Any = record
    try:
        model = strict_model(shape).model_validate(dict(data))
    except ValidationError as error:
        return None, _faults(error.errors(include_url=False), record, path)
    faults = content_faults(data, path)
    return (None, faults) if faults else (_to_record(record, model), ())


def content_faults(data: object, path: Path) -> tuple[Fault, ...]:
    """A fault for every NaN, infinity and control character in a table, however deep."""
    faults = []
    for where, value in _leaves(data, path):
        if isinstance(value, float) and not math.isfinite(value):
            faults.append(Fault(path=where, text=f"{_label(where)} {show(value)} is not finite"))
        elif isinstance(value, str) and (control := CONTROL.search(value)):
            text = f"{_label(where)} holds the control character {ord(control[0]):#04x}"
            faults.append(Fault(path=where, text=f"{text}. Write plain text"))
    return tuple(faults)


@functools.cache
def strict_model(record: Any) -> "type[BaseModel]":
    """A pydantic model of a dataclass's fields, with strict types, limits and no further keys."""
    from pydantic import ConfigDict, create_model

    hints = typing.get_type_hints(record, include_extras=True)
    shapes: dict[str, Any] = {
        field.name: (_shape(hints[field.name], LIMITS.get(field.name)), _default(field))
        for field in dataclasses.fields(record)
    }
    model: type[BaseModel] = create_model(
        record.__name__,
        __config__=ConfigDict(
            extra="forbid", strict=True, allow_inf_nan=False, frozen=True, protected_namespaces=()
        ),
        __doc__=record.__doc__,
        **shapes,
    )
    return model


def _shape(hint: Any, bounds: tuple[float, float] | None) -> Any:
    """The pydantic type of a field: bounded numbers, lists for tuples, models for records."""
    from pydantic import Field

    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is Annotated:
        return _shape(inner[0], _noted_range(inner[1:]) or bounds)
    if hint is float or hint is int:
        return Annotated[hint, Field(ge=bounds[0], le=bounds[1])] if bounds else hint
    if origin is tuple:
        items: Any = list[_shape(inner[0], bounds)]  # type: ignore[misc]  # made at run time
        if inner[-1] is Ellipsis:
            return items
        return Annotated[items, Field(min_length=len(inner), max_length=len(inner))]
    if origin in (types.UnionType, typing.Union):
        return functools.reduce(
            lambda left, right: left | right, [_shape(arm, bounds) for arm in inner]
        )
    if dataclasses.is_dataclass(hint):
        return strict_model(typing.cast("Any", hint))
    return Any if hint is object else hint


def _noted_range(notes: tuple[Any, ...]) -> tuple[float, float] | None:
    return next(((note.low, note.high) for note in notes if isinstance(note, Within)), None)


def _default(field: "dataclasses.Field[Any]") -> Any:
    """A field's default, as a list where the record holds a tuple; ``...`` where it has none."""
    value: Any = ...
    if field.default is not dataclasses.MISSING:
        value = field.default
    elif field.default_factory is not dataclasses.MISSING:
        value = field.default_factory()
    return list(value) if isinstance(value, tuple) else value


def _to_record(record: type[Record], model: "BaseModel") -> Record:
    """The dataclass that holds a validated model's values."""
    hints = typing.get_type_hints(record)
    return record(**{name: _to_value(hints[name], getattr(model, name)) for name in hints})


def _to_value(hint: Any, value: Any) -> Any:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        arms = [arm for arm in typing.get_args(hint) if arm is not types.NoneType]
        return _to_value(arms[0], value) if value is not None and len(arms) == 1 else value
    if isinstance(value, list) and typing.get_origin(hint) is tuple:
        inner = typing.get_args(hint)[0]
        return tuple(_to_value(inner, item) for item in value)
    if dataclasses.is_dataclass(hint):
        return _to_record(typing.cast("type[Any]", hint), value)
    return float(value) if hint is float else value


def _leaves(data: object, path: Path) -> Iterator[tuple[Path, object]]:
    """Every value of a table that is neither a table nor a list, with its path."""
    pairs: Any = None
    if isinstance(data, dict):
        pairs = data.items()
    elif isinstance(data, list):
        pairs = enumerate(data)
    if pairs is None:
        yield path, data
        return
    for key, value in pairs:
        yield from _leaves(value, (*path, key))


def _loc(details: Any) -> Path:
    return tuple(details["loc"])


def _label(where: Path) -> str:
    """The key of a path in words: "box_mm", or "box_mm (number 3)" for an item of a list."""
    key = next((part for part in reversed(where) if isinstance(part, str)), "it")
    last = where[-1] if where else key
    return f"{key} (number {last + 1})" if isinstance(last, int) else key


def _hint_at(record: type[Any], where: Path) -> tuple[Any, tuple[float, float] | None]:
    """Type and range of the field that a path leads to; ``object`` where it leads nowhere."""
    here: Any = record
    bounds: tuple[float, float] | None = None
    for part in where:
        if isinstance(part, str):
            is_record = dataclasses.is_dataclass(here)
            hints = typing.get_type_hints(here, include_extras=True) if is_record else {}
            here, bounds = hints.get(part, object), LIMITS.get(part)
        else:
            here = next(iter(typing.get_args(here)), object)
        if typing.get_origin(here) is Annotated:
            bounds = _noted_range(here.__metadata__) or bounds
            here = here.__origin__
        if typing.get_origin(here) in (types.UnionType, typing.Union):
            here = next(arm for arm in typing.get_args(here) if arm is not types.NoneType)
    return here, bounds


def _fields_at(record: type[Any], where: Path) -> tuple[str, ...]:
    """Names that the record at the end of a path may hold."""
    here, _ = _hint_at(record, where)
    return tuple(field.name for field in dataclasses.fields(here))


def _sentence(details: Any, record: type[Any]) -> str:
    """One fault of pydantic's in our words: what was found, what is allowed, the near name."""
    where, kind, found = _loc(details), details["type"], details["input"]
    label = _label(where)
    hint, bounds = _hint_at(record, where)
    if kind == "extra_forbidden":
        return not_known("the key", label, _fields_at(record, where[:-1]))
    if kind in TYPE_WORDS:
        return f"{label} must be {TYPE_WORDS[kind]}, found {show(found)}"
    if kind == "literal_error" and typing.get_origin(hint) is Literal:
        return not_known(label, found, typing.get_args(hint))
    if kind == "finite_number":
        return f"{label} {show(found)} is not finite"
    if kind in ("greater_than_equal", "less_than_equal") and bounds:
        return f"{label} {show(found)} is out of range. Allowed: {span(*bounds)}"
    if kind in ("too_short", "too_long"):
        size = details["ctx"].get("min_length", details["ctx"].get("max_length"))
        return f"{label} must hold {size} values, found {details['ctx']['actual_length']}"
    return f"{label} {show(found)} is not allowed: {details['msg'].lower()}"


def _faults(errors: list[Any], record: type[Any], path: Path) -> tuple[Fault, ...]:
    """Every fault of one record; keys missing from the same table stand in one."""
    faults = [
        Fault(path=path + _loc(details), text=_sentence(details, record))
        for details in errors
        if details["type"] != "missing"
    ]
    missing: dict[Path, list[str]] = {}
    for details in errors:
        if details["type"] == "missing" and not _is_misspelt(details, record, errors):
            missing.setdefault(_loc(details)[:-1], []).append(str(details["loc"][-1]))
    for where, keys in missing.items():
        verb = "key {} is" if len(keys) == 1 else "keys {} are"
        faults.append(Fault(path=path + where, text=f"the {verb.format(', '.join(keys))} missing"))
    return tuple(faults)


def _is_misspelt(details: Any, record: type[Any], errors: list[Any]) -> bool:
    """Whether a missing key is the near name of an unknown one, which has its own fault."""
    where = _loc(details)
    allowed = _fields_at(record, where[:-1])
    return any(
        other["type"] == "extra_forbidden"
        and _loc(other)[:-1] == where[:-1]
        and near_name(str(_loc(other)[-1]), allowed) == where[-1]
        for other in errors
    )
