"""Whether a driver gets to every screw and a plug to every connector, and what is in the way."""

import difflib
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from buildplan.device.clearance.model import Access, Blocker, Reached
from buildplan.device.clearance.reach_words import reach_findings
from buildplan.device.clearance.shape import PlugPlace, ScrewPlace
from buildplan.device.clearance.solids import (
    Floats,
    box_solid,
    cylinder_between,
    mesh_of_solid,
    middle_of,
    solids_by_name,
    unit,
)
from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.tables.hardware import Screw

if TYPE_CHECKING:
    from manifold3d import Manifold

LIFT_MM = 0.05
"""A way begins this far off its seat, which it would else touch all over."""

WAY_MM3 = 0.01
"""Overlap with a way above which a part blocks it."""

SPARE_REACH_MM = 5.0
"""Gaps beside a way are not looked into beyond this."""


def reach_screws(
    screws: Sequence[ScrewPlace],
    parts: Sequence[Part],
    *,
    table: Mapping[str, Screw] | None = None,
) -> tuple[Reached, ...]:
    """Whether each screw's head and driver pass, or which part blocks them.

    The head needs a cylinder of its own diameter from the open end of the blade to its seat, the
    blade one of the key's size across corners (2 / sqrt(3) times its width), the handle a third.

    Args:
        screws: Where they sit.
        parts: Everything that may be in the way, placed in the device.
        table: Rows of screws by key; None takes the package's table.

    Raises:
        InputError: A row or part is not known, an axis has no length, or two parts share a name.
        MeshError: A part is no closed solid.

    Source: heads and keys by ISO 4762, drivers as in buildplan.device.clearance.shape.
    """
    if table is None:
        from buildplan.tables.loader import screws as rows

        table = rows()
    solids = solids_by_name(parts, role="surrounding")
    return tuple(_reach_screw(screw, solids, table) for screw in screws)


def reach_plugs(plugs: Sequence[PlugPlace], parts: Sequence[Part]) -> tuple[Reached, ...]:
    """Whether each connector's plug passes from free to home, or which part blocks it.

    Args:
        plugs: Where they sit.
        parts: Everything that may be in the way, placed in the device.

    Raises:
        InputError: A part is not known, a direction has no length, or ``high`` is not square to
            ``out``.
        MeshError: A part is no closed solid.
    """
    solids = solids_by_name(parts, role="surrounding")
    return tuple(_reach_plug(plug, solids) for plug in plugs)


def _reach_screw(
    screw: ScrewPlace, solids: "dict[str, Manifold]", table: Mapping[str, Screw]
) -> Reached:
    row = table.get(screw.screw)
    if row is None:
        near = difflib.get_close_matches(screw.screw, list(table), 1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise InputError(
            f"screw {screw.name}: row {screw.screw!r} is not in the table of screws: "
            f"{', '.join(table)}{hint}"
        )
    out = -unit(f"screw {screw.name}: axis", screw.axis)
    seat = np.asarray(screw.seat_mm, dtype=np.float64)
    head = screw.head_mm or row.head_diameter_mm
    top = screw.head_height_mm or row.head_height_mm
    blade = screw.driver_mm or row.socket_mm * 2.0 / math.sqrt(3.0)
    end = top + screw.blade_mm

    def rod(start: float, stop: float, wide: float) -> "Manifold":
        return cylinder_between(seat + start * out, seat + stop * out, wide / 2.0)

    tool = rod(top, end, blade) + rod(LIFT_MM, top, head)
    if screw.handle_mm > 0.0:
        tool += rod(end, end + screw.handle_length_mm, screw.handle_mm)
    present = _present(f"screw {screw.name}", screw.not_yet, solids)
    stopped = _blockers(tool, present, seat, out)
    access: Access = "blocked" if stopped else "reached"
    if not stopped:
        stopped = _blockers(rod(top, end, head), present, seat, out)
        access = "driver only" if stopped else "reached"
    beside = tool - rod(-1.0, top, 2.0 * head)
    return _reached(screw.name, "screw", access, stopped, _spare(beside, present, access))


def _reach_plug(plug: PlugPlace, solids: "dict[str, Manifold]") -> Reached:
    what = f"plug {plug.name}"
    out, high = unit(f"{what}: out", plug.out), unit(f"{what}: high", plug.high)
    lean = float(out @ high)
    if abs(lean) > 0.01:
        apart = math.degrees(math.acos(max(-1.0, min(1.0, lean))))
        raise InputError(
            f"{what}: out and high are {apart:.1f} degrees apart, 90 are needed; give the plug's "
            "height square to the way it comes off"
        )
    high = high - lean * out
    high /= np.linalg.norm(high)
    face = np.asarray(plug.face_mm, dtype=np.float64)
    pose = np.column_stack([np.cross(high, out), high, out, face])
    half = np.array([plug.wide_mm / 2.0, plug.high_mm / 2.0])

    def way(start: float, stop: float) -> "Manifold":
        return box_solid(np.append(-half, start), np.append(half, stop)).transform(pose)

    end = plug.length_mm + plug.travel_mm
    present = _present(what, plug.not_yet, solids)
    stopped = _blockers(way(LIFT_MM, end), present, face, out)
    access: Access = "blocked" if stopped else "reached"
    beside = way(min(1.0, end / 2.0), end)
    return _reached(plug.name, "plug", access, stopped, _spare(beside, present, access))


def _present(
    what: str, not_yet: Sequence[str], solids: "dict[str, Manifold]"
) -> "dict[str, Manifold]":
    """The parts that are there at the time."""
    for name in not_yet:
        if name not in solids:
            raise InputError(
                f"{what}: not_yet names {name!r}, which is none of the parts: {', '.join(solids)}"
            )
    return {name: solid for name, solid in solids.items() if name not in not_yet}


def _spare(way: "Manifold", present: "dict[str, Manifold]", access: Access) -> float:
    if access == "blocked":
        return 0.0
    gaps = [float(way.min_gap(solid, SPARE_REACH_MM)) for solid in present.values()]
    return min(gaps, default=SPARE_REACH_MM)


def _blockers(
    way: "Manifold", present: "dict[str, Manifold]", seat: Floats, out: Floats
) -> tuple[Blocker, ...]:
    """Parts that stand in a way that leads from a seat outwards, the worst first."""
    found = []
    for name, solid in present.items():
        blocker = blocker_in(way, name, solid, seat, out)
        if blocker is not None:
            found.append(blocker)
    return tuple(sorted(found, key=lambda blocker: -blocker.overlap_mm3))


def blocker_in(
    way: "Manifold", name: str, solid: "Manifold", seat: Floats, out: Floats
) -> Blocker | None:
    """A part as a blocker of a way, or None where it leaves it free."""
    common = way ^ solid
    overlap = float(common.volume())
    if overlap <= WAY_MM3:
        return None
    along = (mesh_of_solid(common)[0] - seat) @ out
    return Blocker(
        part=name,
        overlap_mm3=overlap,
        after_mm=max(0.0, float(along.min())),
        place_mm=middle_of(common),
    )


def _reached(
    name: str,
    kind: Literal["screw", "plug"],
    access: Access,
    blockers: tuple[Blocker, ...],
    spare: float,
) -> Reached:
    return Reached(
        name=name,
        kind=kind,
        access=access,
        spare_mm=spare,
        blockers=blockers,
        findings=reach_findings(name, kind, access, blockers),
    )
