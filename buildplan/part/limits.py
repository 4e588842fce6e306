"""How large a part file may be before it is refused unread."""

from dataclasses import dataclass

from buildplan.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Caps that the front door holds before it makes room for anything.

    Attributes:
        file_bytes: Size of the file on disk.
        triangles: Facets of the part, all instances counted.
        unpacked_bytes: Size of all entries of a packed file, declared and as unpacked.
        instances: Placed copies of meshes in one file, components within components counted.
    """

    file_bytes: int = 512 * 2**20
    triangles: int = 5_000_000
    unpacked_bytes: int = 512 * 2**20
    instances: int = 10_000

    def __post_init__(self) -> None:
        """Hold every cap at one or more."""
        for name in ("file_bytes", "triangles", "unpacked_bytes", "instances"):
            value = getattr(self, name)
            if not value >= 1:
                raise InputError(f"limits: {name} is {value}; it must be 1 or more")
