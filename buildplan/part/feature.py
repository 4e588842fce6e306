"""Named regions of a part: features that must work, boxes to be left alone."""

from dataclasses import dataclass
from typing import Literal

FeatureKind = Literal[
    "hinge", "boss", "hole", "hook", "snap", "slot", "pin", "bearing", "face", "mark", "other"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """A named region of a part that must work: a hinge, a boss, a hole.

    Attributes:
        box_mm: (x0, y0, z0, x1, y1, z1) in the part's file coordinates.
    """

    name: str
    kind: FeatureKind
    box_mm: tuple[float, ...]
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A box of a part that cuts and supports must leave alone.

    Attributes:
        box_mm: As in Feature.
    """

    name: str
    box_mm: tuple[float, ...]
    about: str = ""
