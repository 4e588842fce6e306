"""Keeping several choices in the build file at once: own rows of tables, values of many keys.

What would make the build file wrong is refused before anything is written.
"""

import copy
import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from buildplan.build.keep import BUILD_FILE, MARK, Change, changed_text, row_label
from buildplan.build.model import Build
from buildplan.build.resolve import resolve_build
from buildplan.build.resolve_again import resolve_again
from buildplan.build.toml_text import read_toml
from buildplan.errors import BuildFileError
from buildplan.files import write_whole
from buildplan.tables.rows import Kind
from buildplan.tables.wording import normal_key, show

_VALUE = re.compile(
    r"""^(\s*(?P<key>[A-Za-z0-9_-]+)\s*=\s*)("[^"\\]*"|[^\s#"'\[{]+)(\s*(?:\#.*)?)$""", re.S
)
TRIES = 3
"""Times that values are put into a file which somebody else writes at that moment."""

_HEADER = re.compile(r"^\s*\[\[?\s*([^\[\]#]+?)\s*\]\]?\s*(#.*)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRow:
    """A row of a table that the build file must hold before values are kept in it.

    Attributes:
        name: Its name; empty for a row that changes the one it is like.
        like: The row it starts from; empty for a claim, which is like none.
    """

    kind: Kind | Literal["claim"]
    name: str
    like: str = ""


class ChangedMeanwhileError(BuildFileError):
    """Somebody else wrote the file between reading and writing it."""


def keep_values(
    build_path: Path | str,
    changes: Sequence[Change],
    *,
    rows: Sequence[OwnRow] = (),
    before: Build | None = None,
) -> Build:
    """Write values into a build file in one step and give the build it describes then.

    Comments, order and all other values stay. Rows are added after the last one of their kind
    where they are not there yet; a row without a name is found by what it is like. What somebody
    else writes meanwhile stays: the values are then put into that file, from the start.

    Args:
        build_path: The build file, or its folder.
        changes: Table, key and value of each.
        rows: That must be there first.
        before: The build as last read, which saves reading all of it again where it still holds.

    Raises:
        BuildFileError: The file cannot be read or written or changed safely, or it would be wrong
            with the new values: then nothing is written.
    """
    file = Path(build_path)
    file = file / BUILD_FILE if file.is_dir() else file
    for _ in range(TRIES - 1):
        try:
            return _keep_once(file, changes, rows, before)
        except ChangedMeanwhileError:
            continue
    return _keep_once(file, changes, rows, before)


def _keep_once(
    file: Path, changes: Sequence[Change], rows: Sequence[OwnRow], before: Build | None
) -> Build:
    """Read, change, validate, look whether the file is still as read, write."""
    data, text, found = read_toml(file)
    old = data
    for row in rows:
        if not _holds(data, row):
            data, text = _with_row(data, text, row, file.name)
    lines = _lines_changed(data, text, changes)
    changed = lines[0] if lines else changed_text(text, changes, file.name)
    new = lines[1] if lines else tomllib.loads(changed)
    read = file.read_bytes()
    raw = (MARK if read.startswith(MARK.encode("utf-8")) else "").encode("utf-8")
    raw += changed.encode("utf-8")
    sha256 = hashlib.sha256(raw).hexdigest()
    build = None
    if before is not None and (before.path, before.sha256) == (file, found):
        build = resolve_again(before, old, new, sha256=sha256)
    build = build or resolve_build(new, path=file, text=changed, sha256=sha256)
    now = file.read_bytes()
    if hashlib.sha256(now).hexdigest() != found:
        raise ChangedMeanwhileError(
            f"{file.name} was written by somebody else {TRIES} times while a value was to be kept "
            "in it; nothing was kept. Close what writes it, then set the value again"
        )
    if raw != now:
        try:
            write_whole(file.resolve(), raw)
        except OSError as error:
            raise BuildFileError(f"{file} cannot be written: {error.strerror or error}") from None
    return build


def _holds(data: Mapping[str, Any], row: OwnRow) -> bool:
    wanted = normal_key(row.name or row.like)
    known = data.get(row.kind, [])
    return wanted in [normal_key(row_label(r)) for r in known if isinstance(r, dict)]


def _with_row(
    data: dict[str, Any], text: str, row: OwnRow, file: str
) -> tuple[dict[str, Any], str]:
    """Data and text with one more row; only that row differs."""
    given = {"like": row.like, "name": row.name}
    record = {key: value for key, value in given.items() if value}
    end = "\r\n" if "\r\n" in text and text.count("\n") == text.count("\r\n") else "\n"
    lines = [f"[[{row.kind}]]", *(f"{key} = {_quoted(value)}" for key, value in record.items())]
    body = text.splitlines()
    place = _after_last(body, row.kind)
    made = end.join([*body[:place], *([""] if place else []), *lines, *body[place:]]) + end
    expected = {**data, row.kind: [*data.get(row.kind, []), record]}
    try:
        agrees = tomllib.loads(made) == expected
    except ValueError:
        agrees = False
    if not agrees:
        raise BuildFileError(
            f"{file}: a [[{row.kind}]] row cannot be added without touching the rest of the file. "
            f"Write by hand, after the last of its kind: {'; '.join(lines[1:])}"
        )
    return expected, made


def _lines_changed(
    data: dict[str, Any], text: str, changes: Sequence[Change]
) -> tuple[str, dict[str, Any]] | None:
    """Text and data with plain values replaced or added line by line; None where not safe.

    Six times as fast as parsing the whole document with its comments, and checked likewise: what
    is read from the new text must differ in the values alone.
    """
    expected = copy.deepcopy(data)
    lines = text.splitlines(keepends=True)
    for path, key, value in changes:
        found = _place_of(expected, path)
        if found is None or not isinstance(value, str | int | float):
            return None
        table, count = found
        is_new = key not in table
        table[key] = value
        place = _line_of(lines, path[0], count, key)
        if is_new and (last := _last_line_of(lines, path[0], count)) is not None:
            end = "\r\n" if lines[last].endswith("\r\n") else "\n"
            lines.insert(last + 1, f"{key} = {_toml(value)}{end}")
            continue
        if place is None:
            return None
        match = _VALUE.match(lines[place])
        assert match is not None  # the line was found by it
        lines[place] = match[1] + _toml(value) + match[4]
    changed = "".join(lines)
    try:
        read = tomllib.loads(changed)
    except ValueError:
        return None
    return (changed, read) if read == expected else None


def _place_of(data: dict[str, Any], path: Sequence[str]) -> tuple[dict[str, Any], int] | None:
    """A table of the file's first level and its number among those of its name."""
    found = data.get(path[0])
    if len(path) == 1 and isinstance(found, dict):
        return found, 0
    if len(path) != 2 or not isinstance(found, list):
        return None
    for number, row in enumerate(found):
        if normal_key(row_label(row)) == normal_key(path[1]):
            return row, number
    return None


def _line_of(lines: Sequence[str], table: str, number: int, key: str) -> int | None:
    """The line of a plain value in the table of that name and number."""
    inside = False
    for place, line in enumerate(lines):
        if head := _HEADER.match(line.rstrip("\r\n")):
            inside = head[1] == table and number == 0
            number -= head[1] == table
        elif inside and (match := _VALUE.match(line)) and match["key"] == key:
            return place
    return None


def _last_line_of(lines: Sequence[str], table: str, number: int) -> int | None:
    """The last line of a plain value in the table of that name and number, ending in a break."""
    inside, last = False, None
    for place, line in enumerate(lines):
        if head := _HEADER.match(line.rstrip("\r\n")):
            inside = head[1] == table and number == 0
            number -= head[1] == table
        elif inside and _VALUE.match(line) and line.endswith("\n"):
            last = place
    return last


def _toml(value: str | float) -> str:
    if isinstance(value, str):
        return _quoted(value)
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _after_last(lines: Sequence[str], kind: str) -> int:
    """Number of lines up to the end of the last row of a kind, or of the file without one."""
    heads = [(i, match[1]) for i, line in enumerate(lines) if (match := _HEADER.match(line))]
    own = [n for n, (_, name) in enumerate(heads) if name == kind or name.startswith(f"{kind}.")]
    if not own:
        return len(lines)
    after = own[-1] + 1
    stop = heads[after][0] if after < len(heads) else len(lines)
    while stop > heads[own[-1]][0] + 1 and _is_blank(lines[stop - 1]):
        stop -= 1
    return stop


def _is_blank(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _quoted(value: str) -> str:
    """A text as TOML has it: names of rows hold only characters that print."""
    if not value.isprintable():
        raise BuildFileError(
            f"{show(value)} cannot be the name of a row. Use characters that print"
        )
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
