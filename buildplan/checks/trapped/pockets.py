"""Which empty space of a part is shut: for good, by the film during the print, or as it hangs."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.trapped.model import Kind
from buildplan.checks.trapped.sections import Sections, Shells
from buildplan.kernels.gaps import find_sealed, join_chosen

SAME_FRAC = 0.5
"""Two sets that share this much of the larger one are one pocket."""

RAISED_FRAC = 0.01
"""A cup of which less than this is left when the part is raised is shut by the platform only."""

EXACT_FRAC = 0.02
"""The summed volume of a closed cavity may differ by so much from that of its shell, which is
exact; a larger difference means that something stands in the cavity."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Space:
    """A shut space, in the coordinates of the sections.

    Attributes:
        regions: Numbers of its regions, ascending.
        shell: Number of the shell around a closed cavity, else -1.
    """

    kind: Kind
    regions: NDArray[np.int64]
    volume_mm3: float
    suction_area_mm2: float = 0.0
    suction_low_mm: float = 0.0
    suction_high_mm: float = 0.0
    pooled_mm3: float = 0.0
    by_platform: bool = False
    vent_mm: float = 0.0
    shell: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shut:
    """Regions (n_regions,) that are shut, and volume of every region.

    Attributes:
        closed: For good.
        pulls: By the film when their layer is lifted, the part standing on the platform; likewise
            pulls_raised with the part raised on supports.
        pools: Liquid stays in them as the part hangs.
    """

    closed: NDArray[np.bool_]
    pulls: NDArray[np.bool_]
    pulls_raised: NDArray[np.bool_]
    pools: NDArray[np.bool_]
    volume_mm3: NDArray[np.float64]


def find_shut(sections: Sections, opened: NDArray[np.bool_] | None = None) -> Shut:
    """What is shut: links are followed upward, downward and both ways.

    Regions that are ``opened`` (n_regions,) count as joined to the outside.

    A region pulls when no way through the layers printed before it (or its own) leads outside. It
    pools when no way through the layers that hang lower (or its own) does. It is closed when no way
    at all does.
    """
    n_planes, n_rings = len(sections.z_mm), sections.n_rings
    plane_of, pairs = sections.plane_of, sections.pairs
    outside = ~sections.is_region
    outside[n_rings:] = True
    if opened is not None:
        outside |= opened
    lowest = outside | (plane_of == 0)
    highest = outside | (plane_of == n_planes - 1)
    order = np.argsort(plane_of, kind="stable")
    up_off = np.searchsorted(sections.pair_plane, np.arange(n_planes + 1) - 1)
    down_step = n_planes - 1 - plane_of
    down_order = np.argsort(down_step, kind="stable")
    down_pairs = np.ascontiguousarray(pairs[::-1])
    down_off = np.searchsorted(
        n_planes - 1 - sections.pair_plane[::-1], np.arange(n_planes + 1), side="left"
    )
    everywhere = join_chosen(sections.is_region, pairs)
    open_sets = np.unique(everywhere[sections.is_region & (lowest | highest)])
    closed = sections.is_region & ~np.isin(everywhere, open_sets)
    return Shut(
        closed=closed,
        pulls=find_sealed(plane_of, order, outside, up_off, pairs),
        pulls_raised=find_sealed(plane_of, order, lowest, up_off, pairs),
        pools=find_sealed(down_step, down_order, highest, down_off, down_pairs),
        volume_mm3=sections.area_mm2 * sections.weight_mm[plane_of],
    )


def gather_spaces(
    sections: Sections, shells: Shells, shut: Shut, least_mm3: float
) -> tuple[Space, ...]:
    """Closed cavities, cups and pools of at least ``least_mm3``; what is both cup and pool once."""
    spaces = _closed(sections, shells, shut, least_mm3)
    cups = linked_sets(shut.pulls & ~shut.closed, shut, sections, least_mm3)
    pools = linked_sets(shut.pools & ~shut.closed, shut, sections, least_mm3)
    pool_of = np.full(len(sections.plane_of), len(pools), np.int64)
    for index, (regions, _) in enumerate(pools):
        pool_of[regions] = index
    taken = np.zeros(len(pools), np.bool_)
    for regions, volume in cups:
        cup = _with_suction(sections, shut, Space(kind="cup", regions=regions, volume_mm3=volume))
        shared = np.bincount(pool_of[regions], weights=shut.volume_mm3[regions])[: len(pools)]
        for index in np.flatnonzero(shared > 0.0).tolist():
            own, pooled = pools[index]
            if shared[index] >= SAME_FRAC * max(volume, pooled):
                cup = replace(cup, pooled_mm3=pooled, regions=np.union1d(regions, own))
                taken[index] = True
        spaces.append(cup)
    for index in np.flatnonzero(~taken).tolist():
        regions, pooled = pools[index]
        spaces.append(Space(kind="pool", regions=regions, volume_mm3=pooled, pooled_mm3=pooled))
    return tuple(spaces)


def slabs(sections: Sections) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """From and to which height each plane stands for the part."""
    high = np.cumsum(sections.weight_mm)
    return high - sections.weight_mm, high


def linked_sets(
    chosen: NDArray[np.bool_], shut: Shut, sections: Sections, least_mm3: float
) -> list[tuple[NDArray[np.int64], float]]:
    """Regions and volume of every linked set of chosen regions that holds least_mm3 or more."""
    number = join_chosen(chosen & sections.is_region, sections.pairs)
    if not (number >= 0).any():
        return []
    member = np.flatnonzero(number >= 0)
    volume = np.bincount(number[member], weights=shut.volume_mm3[member])
    member = member[np.argsort(number[member], kind="stable")]
    ends = np.searchsorted(number[member], np.arange(len(volume) + 1))
    return [
        (np.sort(member[ends[index] : ends[index + 1]]), float(volume[index]))
        for index in np.flatnonzero(volume >= max(least_mm3, 1e-9)).tolist()
    ]


def _with_suction(sections: Sections, shut: Shut, space: Space) -> Space:
    """The space with the section that pulls and the heights between which it does."""
    pulling = space.regions[shut.pulls[space.regions]]
    if not len(pulling):
        return space
    plane = sections.plane_of[pulling]
    area = np.bincount(plane, weights=sections.area_mm2[pulling])
    low, high = slabs(sections)
    raised = float(shut.volume_mm3[pulling[shut.pulls_raised[pulling]]].sum())
    return replace(
        space,
        suction_area_mm2=float(area.max()),
        suction_low_mm=float(low[plane.min()]),
        suction_high_mm=float(high[plane.max()]),
        by_platform=raised < RAISED_FRAC * float(shut.volume_mm3[pulling].sum()),
    )


def _closed(sections: Sections, shells: Shells, shut: Shut, least_mm3: float) -> list[Space]:
    """Closed cavities: the inward shells, and what sections see closed between shells."""
    seen = linked_sets(shut.closed, shut, sections, least_mm3)
    boxes = np.array([_box(sections, regions) for regions, _ in seen]).reshape(-1, 6)
    slack = 2.0 * sections.pitch_mm + 2.0 * float(sections.weight_mm.max())
    spaces = []
    for shell in np.flatnonzero(shells.figures[:, 0] <= -max(least_mm3, 1e-9)).tolist():
        own = shells.figures[shell]
        regions, volume = np.zeros(0, np.int64), -float(own[0])
        off = np.abs(boxes - own[2:]).max(axis=1, initial=0.0)
        if len(off) and off.min() <= slack:
            same = int(off.argmin())
            regions, summed = seen[same]
            if abs(summed - volume) > EXACT_FRAC * volume:
                volume = summed
            boxes[same] = np.inf
        space = Space(kind="closed", regions=regions, volume_mm3=volume, shell=shell)
        spaces.append(_with_suction(sections, shut, space))
    for index in np.flatnonzero(np.isfinite(boxes[:, 0])).tolist():
        regions, volume = seen[index]
        space = Space(kind="closed", regions=regions, volume_mm3=volume)
        spaces.append(_with_suction(sections, shut, space))
    return [replace(space, pooled_mm3=space.volume_mm3) for space in spaces]


def _box(sections: Sections, regions: NDArray[np.int64]) -> NDArray[np.float64]:
    """Least and greatest x y z of hole regions: (6,)."""
    box = sections.ring_box_mm[regions]
    low, high = slabs(sections)
    plane = sections.plane_of[regions]
    return np.array(
        [
            box[:, 0].min(),
            box[:, 2].min(),
            low[plane.min()],
            box[:, 1].max(),
            box[:, 3].max(),
            high[plane.max()],
        ]
    )


def box_of(sections: Sections, space: Space) -> NDArray[np.float64]:
    """Least and greatest x y z of a space: (6,), in the coordinates of the sections."""
    holes = space.regions[space.regions < sections.n_rings]
    return _box(sections, holes)
