"""Reading part files into solid bodies: the front door, health, repair."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from buildplan.part.limits import Limits
from buildplan.part.model import Health, Hole, Part

if TYPE_CHECKING:
    from buildplan.part.make import part_from_mesh
    from buildplan.part.read import read_part

__all__ = ["Health", "Hole", "Limits", "Part", "part_from_mesh", "read_part"]

_COMPILED = {"part_from_mesh": "buildplan.part.make", "read_part": "buildplan.part.read"}
"""Names whose modules import compiled kernels: loaded when first used."""


def __getattr__(name: str) -> Any:
    """Load the functions that need compiled kernels when they are first asked for."""
    if name not in _COMPILED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_COMPILED[name]), name)
