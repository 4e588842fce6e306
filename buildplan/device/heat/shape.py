"""What a maker says about heat: one dataclass a table of the build file's `[heat]`.

The same records are made in Python with a ruler and the pages that came with the boards::

    Heat(
        bay=Bay(wall_mm=3.0, conductivity_w_mk=0.2, sides_mm2=30000.0, height_mm=60.0),
        source=(HeatSource(name="computer", count_w=5.0, area_mm2=9000.0, limit_c=80.0),),
    )
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from buildplan.tables.limits import Within

Area = Annotated[float, Within(0.0, 1e8)]
Watts = Annotated[float, Within(0.0, 10_000.0)]
Length = Annotated[float, Within(0.0, 10_000.0)]
Degrees = Annotated[float, Within(-60.0, 300.0)]
Share = Annotated[float, Within(0.0, 1.0)]

USUAL_MODES = ("idle", "watch", "count", "actuate")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """`[heat.bay.fan]`: a fan by its label, against the box's own openings.

    Attributes:
        free_l_s: Flow with nothing in its way.
        shut_pa: Pressure with its outlet shut.
        duct_mm2: Cross-section in which its air sweeps past the parts; 0 where it does not.
    """

    free_l_s: Annotated[float, Within(0.001, 1000.0)]
    shut_pa: Annotated[float, Within(0.1, 5000.0)]
    duct_mm2: Area = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """`[heat.bay]`: the enclosure that the warm parts are in.

    Attributes:
        part: The printed part that its walls are of, for their feedstock; its mesh gives the areas
            where none is typed in.
        conductivity_w_mk: Of the walls; 0 takes the feedstock's.
        height_mm: Of its upright walls.
        roof_mm2, sides_mm2, bottom_mm2: Outside, of the walls that face up, sideways and down and
            let heat out; a wall to another warm room does not count.
        on_table: Whether the bottom stands on a table and gives off nothing.
        low_vents_mm2, high_vents_mm2: Open area of all vents below and above.
        vent_rise_mm: From the middle of the low ones to the middle of the high ones.
        vents_open: false takes them as shut (taped over, dusty, against a wall).
        sun_w: Sunshine that the roof takes up: 800 W/m2 at noon times its area and darkness.
        humidity_frac: Relative humidity of the room, for the dew point; 0 leaves it out.
    """

    part: str = ""
    wall_mm: Annotated[float, Within(0.2, 100.0)]
    conductivity_w_mk: Annotated[float, Within(0.0, 500.0)] = 0.0
    emissivity_frac: Annotated[float, Within(0.01, 1.0)] = 0.9
    air_mm3: Annotated[float, Within(0.0, 1e12)] = 0.0
    height_mm: Length = 0.0
    roof_mm2: Area = 0.0
    sides_mm2: Area = 0.0
    bottom_mm2: Area = 0.0
    on_table: bool = False
    low_vents_mm2: Area = 0.0
    high_vents_mm2: Area = 0.0
    vent_rise_mm: Length = 0.0
    discharge_frac: Annotated[float, Within(0.05, 1.0)] = 0.65
    vents_open: bool = True
    fan: Fan | None = None
    sun_w: Watts = 0.0
    humidity_frac: Share = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSource:
    """`[[heat.source]]`: a part that gives off heat.

    Attributes:
        loads: Loads and converters of `[power]` whose power it gives off; their watts are computed.
        idle_w, watch_w, count_w, actuate_w: Typed in for the four usual modes; they come before
            what is computed.
        mode_w: Typed in for modes of other names.
        area_mm2: Surface that gives it off: both sides of a board, the fins of a sink.
        limit_c: What it stands for long, from its page.
        sink_k_w: Of a heat sink instead of its own surface; 0 without one.
        mount: "printed" where printed plastic holds it.
        mount_frac: Share of its rise over the air that its mounts see.
    """

    name: str
    loads: tuple[str, ...] = ()
    idle_w: Watts | None = None
    watch_w: Watts | None = None
    count_w: Watts | None = None
    actuate_w: Watts | None = None
    mode_w: dict[str, float] = field(default_factory=dict)
    area_mm2: Annotated[float, Within(1.0, 1e8)]
    limit_c: Degrees
    sink_k_w: Annotated[float, Within(0.0, 1000.0)] = 0.0
    mount: Literal["printed", "other"] = "other"
    mount_frac: Share = 0.5
    emissivity_frac: Annotated[float, Within(0.01, 1.0)] = 0.8
    heat_j_k: Annotated[float, Within(0.1, 1e6)] = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chamber:
    """`[heat.chamber]`: a sunny chamber that a lid airs; it sets how far the lid must open.

    Attributes:
        sun_w: Sunshine that comes in and stays as heat.
        loss_w_k: Heat through its walls and panes for each kelvin inside over outside.
        most_c: Warmest that it may get.
        wide_mm: Width of the gap that the lid opens, along the hinge.
        reach_mm: From the hinge to the lid's free edge.
        hole_mm2: Of the opening under the lid.
    """

    sun_w: Watts
    loss_w_k: Annotated[float, Within(0.001, 1000.0)]
    most_c: Degrees
    wide_mm: Annotated[float, Within(1.0, 10_000.0)]
    reach_mm: Annotated[float, Within(1.0, 10_000.0)]
    hole_mm2: Annotated[float, Within(1.0, 1e8)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """`[heat]`: an enclosure with warm parts, a chamber that a lid airs, or both."""

    bay: Bay | None = None
    source: tuple[HeatSource, ...] = ()
    chamber: Chamber | None = None


def typed_w(source: HeatSource, mode: str) -> float | None:
    """Watts typed in for a mode, or None."""
    if mode in source.mode_w:
        return source.mode_w[mode]
    found: float | None = getattr(source, f"{mode}_w") if mode in USUAL_MODES else None
    return found


def power_in_mode(source: HeatSource, mode: str, computed: Mapping[str, float]) -> float | None:
    """Watts of a source in a mode: typed in, or those of its loads; None where neither says."""
    typed = typed_w(source, mode)
    if typed is not None:
        return typed
    if source.loads:
        return sum(computed[name] for name in source.loads)
    return None
