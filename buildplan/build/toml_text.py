"""Reading a TOML file: its data, its text and its checksum, or one line on why not."""

import hashlib
import tomllib
from pathlib import Path
from typing import Any

from buildplan.errors import BuildFileError

LARGEST_BYTES = 4_000_000


class TomlError(BuildFileError):
    """A file cannot be read as TOML."""


def read_toml(path: Path) -> tuple[dict[str, Any], str, str]:
    """Data, text and sha256 of a TOML file.

    Raises:
        TomlError: It is not there, too large, not UTF-8, not TOML or nested too deep.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise TomlError(
                f"{path.name} holds {size} bytes; a TOML file of up to {LARGEST_BYTES} is read"
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, TomlError):
            raise
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise TomlError(f"{path} cannot be read: {reason}") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise TomlError(
            f"{path.name}, line {line}: byte {raw[error.start]:#04x} is not UTF-8. "
            "Save the file as UTF-8"
        ) from None
    return parse_toml(text, path.name), text, hashlib.sha256(raw).hexdigest()


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """Data of a TOML text.

    Raises:
        TomlError: With line and column of the first thing that is not TOML.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise TomlError(f"{file} is nested too deep to be a build file or a table") from None
    except ValueError as error:  # TOMLDecodeError, or a whole number with thousands of digits
        raise TomlError(f"{file} is not a TOML file: {error}") from None
