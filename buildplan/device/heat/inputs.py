"""From the build file's `[heat]` to a box, its parts and their watts in every mode."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buildplan.device.heat.air import Floats
from buildplan.device.heat.box import (
    Box,
    Facets,
    Openings,
    Wall,
    WarmPart,
    check_box,
    check_part,
    square_length_mm,
    walls_from_mesh,
)
from buildplan.device.heat.fan import fan_flow_m3_s
from buildplan.device.heat.shape import Bay, Heat, HeatSource, power_in_mode, typed_w
from buildplan.errors import InputError
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.wording import not_known

Watts = Mapping[str, Mapping[str, float]]
"""By mode, then by load or converter."""

LEAST_DIFFERENCE_FRAC = 0.25
"""Typed and computed watts that differ by more are told (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCase:
    """A box with its warm parts and what they give off.

    Attributes:
        modes: Names with their shares of the day.
        longest_min: Longest stretch of a mode at a time; of modes that do not go on for hours.
        power_w: By mode, then by part.
        feedstock: Of the walls; None where only a conductivity is typed in.
        differs: (part, mode, typed, computed) where both are known and far apart.
    """

    box: Box
    parts: tuple[WarmPart, ...]
    modes: tuple[tuple[str, float], ...]
    longest_min: Mapping[str, float]
    power_w: Mapping[str, Mapping[str, float]]
    feedstock: Feedstock | None
    differs: tuple[tuple[str, str, float, float], ...]


def heat_of(
    heat: Heat,
    *,
    feedstocks: Mapping[str, Feedstock],
    meshes: Mapping[str, tuple[Floats, Facets]],
    modes: Sequence[tuple[str, float]],
    computed: Watts,
    longest_min: Mapping[str, float] | None = None,
) -> HeatCase:
    """The box that a build file describes.

    Args:
        heat: Of the build file, with a bay.
        feedstocks: By part name, of the printed parts.
        meshes: By part name: vertices (n, 3) and facets (m, 3) where the part stands.
        modes: Names and shares of the day.
        computed: Watts that loads and converters give off, by mode.
        longest_min: Longest stretch of a mode at a time, where it is not hours.

    Raises:
        InputError: No bay, a part, load or mode that is not known, a source without watts in any
            mode, a vent larger than its wall, a number that cannot be.
    """
    if heat.bay is None:
        raise InputError("heat: there is no enclosure; write a [heat.bay] with its walls")
    feedstock = _feedstock(heat.bay, feedstocks)
    box = _box(heat.bay, feedstock, meshes)
    check_box(box)
    _vents_fit(heat.bay)
    parts = tuple(_part(source) for source in heat.source)
    for part in parts:
        check_part(part)
    rows = tuple(modes) or _own_modes(heat.source)
    power = {mode: _powers(heat.source, mode, computed.get(mode, {})) for mode, _ in rows}
    for source in heat.source:
        _has_watts(source, [mode for mode, _ in rows], computed)
    return HeatCase(
        box=box,
        parts=parts,
        modes=rows,
        longest_min={mode: value for mode, value in (longest_min or {}).items() if value > 0.0},
        power_w=power,
        feedstock=feedstock,
        differs=_differences(heat.source, [mode for mode, _ in rows], computed),
    )


def _feedstock(bay: Bay, feedstocks: Mapping[str, Feedstock]) -> Feedstock | None:
    if not bay.part:
        if not bay.conductivity_w_mk > 0.0:
            raise InputError(
                "heat.bay: neither part nor conductivity_w_mk is given; name the printed part of "
                "the walls, or write their conductivity"
            )
        return None
    if bay.part not in feedstocks:
        raise InputError(f"heat.bay: {not_known('part', bay.part, tuple(feedstocks))}")
    return feedstocks[bay.part]


def _box(bay: Bay, feedstock: Feedstock | None, meshes: Mapping[str, tuple[Floats, Facets]]) -> Box:
    conductivity = bay.conductivity_w_mk or (feedstock.conductivity_w_mk if feedstock else 0.0)
    opened = bay.vents_open
    openings = Openings(
        low_mm2=bay.low_vents_mm2 if opened else 0.0,
        high_mm2=bay.high_vents_mm2 if opened else 0.0,
        rise_mm=bay.vent_rise_mm,
        discharge_frac=bay.discharge_frac,
        duct_mm2=bay.fan.duct_mm2 if bay.fan else 0.0,
        fan_m3_s=_fan_flow(bay),
    )
    return Box(
        walls=_walls(bay, meshes),
        wall_mm=bay.wall_mm,
        conductivity_w_mk=conductivity,
        openings=openings,
        emissivity_frac=bay.emissivity_frac,
        air_mm3=bay.air_mm3,
        density_g_cm3=feedstock.density_g_cm3 if feedstock else 1.27,
    )


def _fan_flow(bay: Bay) -> float:
    """What the fan blows through the openings; 0 without one."""
    if bay.fan is None:
        return 0.0
    openings = [area for area in (bay.low_vents_mm2, bay.high_vents_mm2) if area > 0.0]
    if not openings or not bay.vents_open:
        raise InputError(
            "heat.bay: a fan is given, but no open vent lets its air through; write low_vents_mm2 "
            "and high_vents_mm2, or leave the fan out"
        )
    return fan_flow_m3_s(
        free_m3_s=bay.fan.free_l_s * 1e-3,
        shut_pa=bay.fan.shut_pa,
        openings_mm2=openings,
        discharge_frac=bay.discharge_frac,
    )


def _walls(bay: Bay, meshes: Mapping[str, tuple[Floats, Facets]]) -> tuple[Wall, ...]:
    if not bay.roof_mm2 + bay.sides_mm2 + bay.bottom_mm2 > 0.0:
        if bay.part not in meshes:
            raise InputError(
                "heat.bay: it has no wall: give roof_mm2, sides_mm2 and bottom_mm2, or the name of "
                "a part whose mesh is there"
            )
        vertices, facets = meshes[bay.part]
        return walls_from_mesh(*hull_of(vertices, facets), on_table=bay.on_table)
    found = []
    if bay.roof_mm2 > 0.0:
        length = square_length_mm(bay.roof_mm2)
        found.append(Wall(face="up", area_mm2=bay.roof_mm2, length_mm=length, sun_w=bay.sun_w))
    if bay.sides_mm2 > 0.0:
        if not bay.height_mm > 0.0:
            raise InputError("heat.bay: sides_mm2 is given without height_mm; write the height")
        found.append(Wall(face="side", area_mm2=bay.sides_mm2, length_mm=bay.height_mm))
    if bay.bottom_mm2 > 0.0:
        length = square_length_mm(bay.bottom_mm2)
        found.append(
            Wall(face="down", area_mm2=bay.bottom_mm2, length_mm=length, free=not bay.on_table)
        )
    return tuple(found)


def hull_of(vertices_mm: Floats, facets: Facets) -> tuple[Floats, Facets]:
    """The hull of a part, wound outward: the outside of a hollow enclosure without its inside."""
    import numpy as np
    from scipy.spatial import ConvexHull

    points = np.asarray(vertices_mm, dtype=np.float64)
    used = points[np.unique(np.asarray(facets))]
    hull = ConvexHull(used)
    corners = used[hull.simplices]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    turned = (normal * hull.equations[:, :3]).sum(axis=1) < 0.0
    simplices = hull.simplices.copy()
    simplices[turned] = simplices[turned][:, ::-1]
    return used, simplices


def _vents_fit(bay: Bay) -> None:
    """Vents must be smaller than the walls that they are in."""
    walls = bay.roof_mm2 + bay.sides_mm2 + bay.bottom_mm2
    for name in ("low_vents_mm2", "high_vents_mm2"):
        area = getattr(bay, name)
        if walls > 0.0 and area >= walls:
            raise InputError(
                f"heat.bay: {name} is {area:g} mm2, its walls have {walls:g} mm2; a vent is "
                "smaller than its wall"
            )


def _part(source: HeatSource) -> WarmPart:
    return WarmPart(
        name=source.name,
        area_mm2=source.area_mm2,
        limit_c=source.limit_c,
        sink_k_w=source.sink_k_w,
        mount=source.mount,
        mount_frac=source.mount_frac,
        emissivity_frac=source.emissivity_frac,
        heat_j_k=source.heat_j_k,
    )


def _own_modes(sources: Sequence[HeatSource]) -> tuple[tuple[str, float], ...]:
    """The modes that typed watts speak of, each an equal share of the day."""
    names = [mode for mode in ("idle", "watch", "count", "actuate") if _says(sources, mode)]
    names += [mode for source in sources for mode in source.mode_w if mode not in names]
    rows = list(dict.fromkeys(names))
    if not rows:
        raise InputError(
            "heat: no source says what it gives off; write watts for at least one mode"
        )
    return tuple((mode, 1.0 / len(rows)) for mode in rows)


def _says(sources: Sequence[HeatSource], mode: str) -> bool:
    return any(typed_w(source, mode) is not None for source in sources)


def _powers(
    sources: Sequence[HeatSource], mode: str, computed: Mapping[str, float]
) -> dict[str, float]:
    """Watts of every source in a mode; 0 where it is off."""
    found = {}
    for source in sources:
        for name in source.loads:
            if name not in computed:
                known = not_known("load", name, tuple(computed))
                raise InputError(f"heat.source {source.name}: {known}")
        found[source.name] = power_in_mode(source, mode, computed) or 0.0
    return found


def _has_watts(source: HeatSource, modes: Sequence[str], computed: Watts) -> None:
    if not any(power_in_mode(source, mode, computed.get(mode, {})) for mode in modes):
        raise InputError(
            f"heat.source {source.name}: it gives off nothing in any of the modes "
            f"{', '.join(modes)}; write its watts or its loads, or leave it out"
        )


def _differences(
    sources: Sequence[HeatSource], modes: Sequence[str], computed: Watts
) -> tuple[tuple[str, str, float, float], ...]:
    """Where watts are typed in and computed, and differ by more than a quarter and 0.1 W."""
    found = []
    for source in sources:
        for mode in modes if source.loads else ():
            typed = typed_w(source, mode)
            made = sum(computed.get(mode, {}).get(name, 0.0) for name in source.loads)
            if typed is not None and abs(typed - made) > max(0.1, LEAST_DIFFERENCE_FRAC * made):
                found.append((source.name, mode, typed, made))
    return tuple(found)
