"""The build file (TOML) -> Build: validated, every error names file, line, table and key."""

from pathlib import Path

from buildplan.build.model import BoughtItem, Build, PartRequest
from buildplan.build.resolve import resolve_build
from buildplan.build.schema import json_schema
from buildplan.build.template import write_template
from buildplan.build.toml_text import read_toml
from buildplan.part.feature import Feature, KeepOut

__all__ = [
    "BoughtItem",
    "Build",
    "Feature",
    "KeepOut",
    "PartRequest",
    "json_schema",
    "load_build",
    "resolve_build",
    "write_template",
]

BUILD_FILE = "build.toml"


def load_build(path: Path | str) -> Build:
    """The build that a build file describes, or that ``build.toml`` of a folder describes.

    Raises:
        BuildFileError: One line for every fault: file, line, table, key, value found, what is
            allowed, near name.
    """
    file = Path(path)
    if file.is_dir():
        file = file / BUILD_FILE
    data, text, sha256 = read_toml(file)
    return resolve_build(data, path=file, text=text, sha256=sha256)
