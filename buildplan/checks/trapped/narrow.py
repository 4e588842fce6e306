"""Space that opens only through ways narrower than a drain must be."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.trapped.pockets import SAME_FRAC, Shut, Space
from buildplan.checks.trapped.sections import Sections
from buildplan.kernels.dilate import dilate_rings
from buildplan.kernels.gaps import find_gaps, gaps_of_spans, label_enclosed
from buildplan.process.supports.hanging import Grid, scan_rings

SLACK_FRAC = 0.03
"""A hole of exactly the limit must pass, though its circle is drawn with corners."""

BISECTIONS = 7
"""Halvings by which the diameter of a way out is found: to 1 % of the limit."""

Gaps = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shrunk:
    """Gaps left when the solid is grown sideways, and the enclosed piece of each (-1: open)."""

    gaps: Gaps
    piece: NDArray[np.int64]


def find_narrow(
    sections: Sections, shut: Shut, limit_mm: float, least_mm3: float
) -> tuple[Space, ...]:
    """Spaces shut by growing the solid sideways by half the limit, closed cavities left out.

    An upright hole closes when it is narrower than the limit; so does a lying one, for its section
    is at most as wide as its diameter. A flat slit that lies in the layers does not. What is left
    of a hole must be as wide as the lines stand apart, so holes less than that below the limit may
    pass: none that is wide enough is ever found narrow.
    """
    tested_mm = limit_mm * (1.0 - SLACK_FRAC) - sections.pitch_mm
    if tested_mm <= 0.0:
        return ()
    shrunk = _shrink(sections, 0.5 * tested_mm)
    off, low, high = shrunk.gaps
    shut_gaps = np.flatnonzero(shrunk.piece >= 0)
    if not len(shut_gaps):
        return ()
    slot = np.searchsorted(off, shut_gaps, side="right") - 1
    plane = slot // sections.n_lines
    width = high[shut_gaps] - low[shut_gaps]
    volume = width * sections.pitch_mm * sections.weight_mm[plane]
    total = np.bincount(shrunk.piece[shut_gaps], weights=volume)
    home = _regions_at(sections, slot, 0.5 * (low[shut_gaps] + high[shut_gaps]))
    spaces = []
    for piece in np.flatnonzero(total >= least_mm3).tolist():
        own = shrunk.piece[shut_gaps] == piece
        regions = np.unique(home[own][home[own] >= 0])
        holes = regions[regions < sections.n_rings]
        if not len(holes) or shut.closed[holes].any():
            continue
        widest = np.flatnonzero(own)[np.argmax(width[own])]
        middle = 0.5 * (low[shut_gaps[widest]] + high[shut_gaps[widest]])
        areas = width[own] * sections.pitch_mm
        spaces.append(
            Space(
                kind="narrow",
                regions=holes,
                volume_mm3=_volume(sections, holes, plane[own], areas),
                vent_mm=_vent(sections, int(slot[widest]), float(middle), tested_mm),
            )
        )
    return tuple(spaces)


def merge_narrow(
    spaces: tuple[Space, ...], narrow: tuple[Space, ...], shut: Shut
) -> tuple[Space, ...]:
    """Cups and pools that lie in a narrow space become part of it; each space is listed once."""
    left = list(spaces)
    merged = []
    for space in narrow:
        own = space
        for other in spaces:
            shared = float(shut.volume_mm3[np.intersect1d(space.regions, other.regions)].sum())
            if other not in left or shared < SAME_FRAC * other.volume_mm3:
                continue
            left.remove(other)
            pulls = other if other.suction_area_mm2 > own.suction_area_mm2 else own
            own = replace(
                own,
                regions=np.union1d(own.regions, other.regions),
                volume_mm3=max(own.volume_mm3, other.volume_mm3),
                suction_area_mm2=pulls.suction_area_mm2,
                suction_low_mm=pulls.suction_low_mm,
                suction_high_mm=pulls.suction_high_mm,
                by_platform=pulls.by_platform,
                pooled_mm3=own.pooled_mm3 + other.pooled_mm3,
            )
        merged.append(own)
    return (*left, *merged)


def _shrink(sections: Sections, radius_mm: float) -> _Shrunk:
    """Gaps of the sections with the solid grown by a radius, and which of them are enclosed."""
    grown = dilate_rings(
        sections.xy_mm,
        sections.ring_off,
        np.ascontiguousarray(sections.plane_off[:-1]),
        np.ascontiguousarray(sections.plane_off[1:]),
        np.full(len(sections.z_mm), radius_mm),
        np.ones(sections.n_rings, np.uint8),
    )
    grid = Grid(
        pitch_mm=sections.pitch_mm,
        first_line=sections.first_line,
        n_lines=sections.n_lines,
        n_cells=0,
        last_cell=-1,
    )
    gaps: Gaps = gaps_of_spans(*scan_rings(*grown, grid))
    return _Shrunk(gaps=gaps, piece=label_enclosed(*gaps, sections.n_lines))


def _regions_at(
    sections: Sections, slot: NDArray[np.int64], x: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Region of the sections at each x on a line; -1 in the solid."""
    found = find_gaps(sections.gap_off, sections.gap_low, sections.gap_high, slot, x)
    return np.where(found >= 0, sections.gap_region[found], -1)


def _volume(
    sections: Sections,
    holes: NDArray[np.int64],
    plane: NDArray[np.int64],
    area_mm2: NDArray[np.float64],
) -> float:
    """Volume of a narrow space: exact areas where it is a hole of its section.

    Where its way out lies in the plane, its section runs into the outside; there the area is
    interpolated between the planes that know it.
    """
    known = np.bincount(sections.plane_of[holes], weights=sections.area_mm2[holes])
    planes = np.flatnonzero(np.bincount(plane, weights=area_mm2))
    exact = np.flatnonzero(known)
    area = np.interp(sections.z_mm[planes], sections.z_mm[exact], known[exact])
    return float((area * sections.weight_mm[planes]).sum())


def _vent(sections: Sections, slot: int, x_mm: float, tested_mm: float) -> float:
    """Diameter of the widest way out of the place at x on a line, within one line distance."""
    low, high = 0.0, tested_mm
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        shrunk = _shrink(sections, 0.5 * middle)
        gap = int(find_gaps(*shrunk.gaps, np.array([slot]), np.array([x_mm]))[0])
        if gap < 0 or shrunk.piece[gap] >= 0:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high + sections.pitch_mm)
