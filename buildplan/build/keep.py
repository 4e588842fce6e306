"""Keeping a choice in the build file: one value written back, everything else left as it stands."""

import math
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from buildplan.build.matrices import read_orientation, rotation_fault
from buildplan.build.shape import AS_PLACED
from buildplan.build.toml_text import read_toml
from buildplan.errors import BuildFileError
from buildplan.tables.wording import normal_key, not_known, show

BUILD_FILE = "build.toml"

MARK = "\ufeff"
"""What some editors put before the first character; it is kept."""

POSE_DIGITS = 12
"""Decimals of a pose that is written anew."""

ARRAYS = ("part", "bought", "printer", "feedstock", "recipe", "rule", "service", "quote")
"""Arrays of tables that are not begun by a choice."""

Value = str | bool | int | float | Sequence[Any]
Change = tuple[Sequence[str], str, Value]
"""Path of a table, key, value."""


def keep_orientation(build_path: Path | str, part_name: str, matrix: Sequence[float] | str) -> Path:
    """Write the way up of a part into its build file and give the file's path.

    Poses run from the part as printed to the device, so those of the part are written anew with
    the turn taken back: it stays where it was in the device.

    Args:
        build_path: The build file, or its folder.
        part_name: Name of the part as the file has it.
        matrix: "as placed"; or 9 numbers of a rotation, row by row; or 16 numbers as
            ``Orientation.matrix`` and ``PartRequest.orientation`` have them, without a move.

    Raises:
        BuildFileError: The file cannot be read or written, the part is not known, or the matrix
            is no rotation.
    """
    rows = _rotation_rows(matrix, part_name)
    file = _file_of(build_path)
    data, _, _ = read_toml(file)
    path = ("part", part_name)
    part = _find(data, path, file.name)
    changes: list[Change] = [(path, "orientation", AS_PLACED if matrix == AS_PLACED else rows)]
    if part.get("poses"):
        poses = _same_place(part, rows, part_name)
        if poses != _plain(part["poses"]):
            changes.append((path, "poses", poses))
    return _write(file, changes)


def keep_value(build_path: Path | str, table: Sequence[str], key: str, value: Value) -> Path:
    """Write one value into a build file; comments, order and all other values stay as they are.

    The new text is read again before it replaces the file; where anything but the one value
    differs, nothing is written.

    Args:
        build_path: The build file, or its folder.
        table: Path of the table: ("build",), ("mechanism", "servo", "standard"); in an array of
            tables the name of the one meant: ("part", "base_shell").
        key: The key, which is added after the table's last one where it is not there.
        value: A text, a number, a truth value, or lists of them.

    Raises:
        BuildFileError: The file cannot be read or written, a table is not known, or the file is
            laid out in a way that cannot be changed safely.
    """
    return _write(_file_of(build_path), [(tuple(table), key, value)])


def _write(file: Path, changes: Sequence[Change]) -> Path:
    """Write values into a build file, or nothing where that would touch anything else."""
    from buildplan.files import write_whole

    _, text, _ = read_toml(file)
    changed = changed_text(text, changes, file.name)
    mark = MARK if file.read_bytes().startswith(MARK.encode("utf-8")) else ""
    try:
        write_whole(file.resolve(), mark + changed)
    except OSError as error:
        raise BuildFileError(f"{file} cannot be written: {error.strerror or error}") from None
    return file


def changed_text(text: str, changes: Sequence[Change], file: str) -> str:
    """The text of a build file with the changes and nothing else changed.

    Raises:
        BuildFileError: It cannot be changed without touching the rest.
    """
    data = tomllib.loads(text)
    for table, key, value in changes:
        _find(data, table, file)[key] = _plain(value)
    changed = _changed_text(text, changes, file)
    if changed is None or _read_again(changed) != data:
        lines = "; ".join(f"{key} = {_toml_value(value)}" for _, key, value in changes)
        raise BuildFileError(
            f"{file}: {'.'.join(changes[0][0])} cannot be changed without touching the rest "
            f"of the file. Write by hand there: {lines}"
        )
    return changed


def _changed_text(text: str, changes: Sequence[Change], file: str) -> str | None:
    """The text with the changes, or None where it is laid out too oddly for them."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    carriage = "\r\n" in text and text.count("\n") == text.count("\r\n")
    try:
        document = tomlkit.parse(text if text.endswith("\n") or not text else text + "\n")
        for table, key, value in changes:
            _put(_find(document, table, file), key, _plain(value))
        changed = tomlkit.dumps(document)
    except TOMLKitError:
        return None
    return changed.replace("\r\n", "\n").replace("\n", "\r\n") if carriage else changed


def _file_of(build_path: Path | str) -> Path:
    file = Path(build_path)
    return file / BUILD_FILE if file.is_dir() else file


def _rotation_rows(matrix: Sequence[float] | str, part_name: str) -> list[list[float]]:
    """Three rows of three numbers of a rotation given as 9 or 16 numbers or "as placed"."""
    if matrix == AS_PLACED:
        return [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    numbers = [float(x) for x in matrix] if _are_numbers(matrix) else []
    width = 4 if len(numbers) == 16 else 3
    rows = [numbers[width * i : width * i + 3] for i in range(3)]
    if isinstance(matrix, str) or len(numbers) not in (9, 16):
        found = f"{len(matrix)} entries" if not isinstance(matrix, str) else show(matrix)
        wrong = f'must be "{AS_PLACED}" or 9 or 16 finite numbers, found {found}'
    elif width == 4 and [*numbers[3:12:4], *numbers[12:]] != [0.0] * 6 + [1.0]:
        wrong = "moves the part; only a turn is kept: last column and row must be 0, 0, 0, 1"
    else:
        wrong = rotation_fault(rows)
    if wrong:
        raise BuildFileError(f"part {show(part_name)}: the orientation {wrong}")
    return [[x + 0.0 for x in row] for row in rows]


def _are_numbers(values: Sequence[Any]) -> bool:
    try:
        return all(math.isfinite(value) for value in values)
    except TypeError:
        return False


def _same_place(part: Any, rows: list[list[float]], part_name: str) -> list[list[list[float]]]:
    """Poses of a part after its orientation changes from the one it has to new rows.

    P' = P O_old O_new^T on the turning part; O_new^T takes the new turn back, O_old does the old.
    """
    old, wrong = read_orientation(part.get("orientation", AS_PLACED))
    poses = part["poses"]
    sound = isinstance(poses, list) and all(_is_pose(pose) for pose in poses)
    if wrong or not sound:
        raise BuildFileError(
            f"part {show(part_name)}: {wrong or 'a pose is not four rows of four numbers'}. "
            "Mend the build file first"
        )
    turn = np.asarray(old).reshape(4, 4)[:3, :3] @ np.asarray(rows).T
    moved = []
    for pose in poses:
        square = np.asarray(pose, dtype=np.float64)
        if np.abs(turn - np.eye(3)).max() > 0.5 * 10.0**-POSE_DIGITS:
            square[:3, :3] = np.round(square[:3, :3] @ turn, POSE_DIGITS) + 0.0
        moved.append([[float(x) for x in row] for row in square])
    return moved


def _is_pose(pose: Any) -> bool:
    return (
        isinstance(pose, list)
        and len(pose) == 4
        and all(isinstance(row, list) and len(row) == 4 and _are_numbers(row) for row in pose)
    )


def _find(data: Any, table: Sequence[str], file: str) -> Any:
    """The table at a path; an array of tables is entered by name; missing tables are made."""
    found = data
    for depth, step in enumerate(table):
        where = ".".join(table[:depth])
        if isinstance(found, list):
            labels = [(row, row_label(row)) for row in found if isinstance(row, dict)]
            texts = [label for _, label in labels if label]
            hits = [row for row, label in labels if normal_key(label) == normal_key(step)]
            if not hits:
                raise BuildFileError(f"{file}: {not_known(where, step, texts)}")
            found = hits[0]
        elif step in found:
            found = found[step]
        elif depth == 0 and step in ARRAYS:
            raise BuildFileError(f"{file}: holds no [[{step}]]. Add one")
        else:
            found[step] = {}
            found = found[step]
        if not isinstance(found, dict | list):
            raise BuildFileError(
                f"{file}: {'.'.join(table[: depth + 1])} is {show(found)}, not a table"
            )
    if isinstance(found, list):
        raise BuildFileError(f"{file}: {'.'.join(table)} holds several tables. Name one of them")
    return found


def row_label(row: Any) -> str:
    """What a row goes by: its name, or what it is like where it only changes that; or nothing."""
    label = row.get("name", row.get("key", row.get("like")))
    return str(label) if isinstance(label, str) else ""


def _put(table: Any, key: str, value: Any) -> None:
    """Set a key in a tomlkit table; a new one goes right after the table's last plain key."""
    from tomlkit import item
    from tomlkit.items import Array, SingleKey, Table

    written = item(value)
    if isinstance(written, Array) and any(isinstance(row, list) for row in value):
        written.multiline(True)
    if key in table or not isinstance(table, Table):
        table[key] = written
        return
    body = table.value.body
    place = 0
    for position, (name, entry) in enumerate(body):
        if name is not None and not isinstance(entry, Table) and not _is_array_of_tables(entry):
            place = position + 1
    written.trivia.trail = "\n"
    written.trivia.indent = _indent(body)
    body.insert(place, (SingleKey(key), written))


def _indent(body: Any) -> str:
    """Blanks before the first key of a table."""
    for name, entry in body:
        if name is not None:
            return str(entry.trivia.indent)
    return ""


def _is_array_of_tables(entry: Any) -> bool:
    from tomlkit.items import AoT

    return isinstance(entry, AoT)


def _plain(value: Any) -> Any:
    """A value as tomllib would give it: tuples as lists."""
    if isinstance(value, str | bool | int) or (isinstance(value, float) and math.isfinite(value)):
        return value
    if isinstance(value, Sequence):
        return [_plain(entry) for entry in value]
    raise BuildFileError(
        f"a build file keeps texts, finite numbers, true, false and lists, found {show(value)}"
    )


def _toml_value(value: Any) -> str:
    from tomlkit import item

    return str(item(value).as_string())


def _read_again(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except ValueError:
        return None
