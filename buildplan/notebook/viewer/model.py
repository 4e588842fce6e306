"""What a 3-D view shows: bodies, places to look at, values on a surface, poses. No widget here."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.part.model import Part

Kind = Literal["stop", "caution", "note", "step"]
Per = Literal["facet", "vertex"]
NO_SHIFT = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Item:
    """One body.

    Attributes:
        name: As its check box says.
        colour: "#rrggbb".
        clear: Whether light passes it; it is drawn so that one sees through it.
        group: Moving group that it belongs to, or an empty text.
        apart_mm: How far it is moved when everything is moved apart.
    """

    name: str
    part: Part
    colour: str
    clear: bool = False
    group: str = ""
    apart_mm: tuple[float, float, float] = NO_SHIFT


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """One place to look at, with what is to be said about it.

    Attributes:
        kind: A finding's severity, or "step" of the assembly.
        what: The fact in one short sentence.
        where: The place in words.
        more: What was measured, what is required and what to do, each a line of its own.
        box_mm: (x0, y0, z0, x1, y1, z1) that the picture goes to; empty where there is no place.
        item: Index of the body that it is on, or -1.
        facets: Numbers of that body's facets.
    """

    kind: Kind
    what: str
    where: str
    more: tuple[str, ...]
    box_mm: tuple[float, ...]
    item: int
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Values:
    """A number on every facet or vertex of one body, with the bar that explains its colours.

    Attributes:
        name: What it is ("wall thickness").
        unit: Its unit ("mm").
        item: Index of the body.
        per: One number a facet, or one a vertex.
        data: (m,) or (n,); nan where nothing was measured.
        low: Number at the low end of the bar; ``high`` at the high end, which is above it.
        capped: Whether the high end also stands for everything beyond it.
        limits: Numbers marked on the bar, each with its words.
    """

    name: str
    unit: str
    item: int
    per: Per
    data: NDArray[np.float64]
    low: float
    high: float
    capped: bool = False
    limits: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poses:
    """How the moving groups stand along a travel.

    Attributes:
        name: What moves ("roof vent").
        unit: Of ``at``.
        at: (n,) where along the travel.
        matrices: (n, 4, 4) from rest for each moving group.
    """

    name: str
    unit: str
    at: NDArray[np.float64]
    matrices: Mapping[str, NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """All that one view shows.

    Attributes:
        title: One line over the picture.
        list_title: Over the places to look at.
        spots: In the order listed; their numbers count from 1.
        values: What the bodies may be coloured by.
        poses: None where nothing moves.
    """

    title: str
    list_title: str
    items: tuple[Item, ...]
    spots: tuple[Spot, ...] = ()
    values: tuple[Values, ...] = ()
    poses: Poses | None = None
