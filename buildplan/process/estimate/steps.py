"""What whole layers make of a part's heights: volume won or lost at flat faces between layers.

A machine lays sections of one thickness, so a flat face that lies between two layers is printed at
the nearer one. The grams printed are those of the sections. They are not scaled to the volume of
the mesh: that would hide a step that is really printed too high or too low.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding, Place
from buildplan.part.model import Part
from buildplan.process.layers import Layers, section_planes

CLOSURE_SHARE = 0.0015
"""Volume by which layers may differ from the mesh unsaid; beads miss up to 0.0005 more (ours)."""

CAUTION_SHARE = 0.02
"""Share of the volume from which on the difference is worth a look first (ours)."""

FLAT_RISE = 1e-6
"""A facet that rises by less than this, in mm, is flat."""

STEP_MM = 0.01
"""Layer thicknesses are proposed in this step, within PROPOSED of the recipe's (ours)."""

PROPOSED = (0.6, 1.5)


def find_steps(part: Part, layers: Layers, *, most_mm: float) -> tuple[Finding, ...]:
    """A note where the layers together hold another volume than the mesh.

    Nothing is said of open meshes and of overlapping shells: their mesh has no volume to compare.

    Args:
        part: The part that was cut.
        layers: Its layers.
        most_mm: Thickest layer that may be proposed.
    """
    if layers.united.any() or layers.gap_mm.any() or not part.volume_mm3 > 0.0:
        return ()
    share = float((layers.area_mm2 * layers.thickness_mm).sum()) / part.volume_mm3 - 1.0
    if abs(share) <= CLOSURE_SHARE:
        return ()
    height_mm, area_mm2 = flat_faces(part)
    moved_mm = moved_faces(part.name, height_mm, layers.height_mm, layers.layer_mm)
    better_mm = _better(part, (height_mm, area_mm2), layers, most_mm)
    flat = bool(np.abs(area_mm2 * moved_mm).sum() >= 0.5 * abs(share) * part.volume_mm3)
    worst = int(np.argmax(np.abs(area_mm2 * moved_mm))) if flat else 0
    z_mm = float(height_mm[worst]) if flat else 0.0
    return (
        Finding(
            check="layer steps",
            severity="caution" if abs(share) > CAUTION_SHARE else "note",
            what=_what(share, layers.layer_mm, flat),
            where=Place(text=f"flat face {z_mm:.2f} mm up" if flat else "curved and slanted faces"),
            measured=f"{100.0 * share:+.2f} % of the mesh's volume",
            required=f"within {100.0 * CLOSURE_SHARE:g} %",
            remedy=_remedy(better_mm if flat else None),
            source="volume of the layers against that of the mesh; ours",
        ),
    )


def flat_faces(part: Part) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Height above the lowest point of every flat facet, and its area, downward ones negative.

    Returns:
        (n,) height_mm and (n,) area_mm2.
    """
    x, y, z = (part.vertices_mm[part.facets, axis] for axis in range(3))
    flat = np.ptp(z, axis=1) < FLAT_RISE
    x, y = x[flat], y[flat]
    area = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
    return z[flat].mean(axis=1) - part.vertices_mm[:, 2].min(), 0.5 * area


def moved_faces(
    name: str, face_mm: NDArray[np.float64], height_mm: float, layer_mm: float
) -> NDArray[np.float64]:
    """How far layers lift flat faces, in mm (n,): a layer is laid where its middle is solid.

    The lowest and the highest face stay, because the last layer takes what is left of the height.
    """
    planes, thickness = section_planes(name, height_mm, layer_mm)
    edges = np.concatenate([[0.0], np.cumsum(thickness)])
    edges[-1] = height_mm
    return np.asarray(edges[np.searchsorted(planes, face_mm)] - face_mm)


def _better(
    part: Part,
    faces: tuple[NDArray[np.float64], NDArray[np.float64]],
    layers: Layers,
    most_mm: float,
) -> float | None:
    """The layer thickness nearest to the present one that meets all flat faces, if there is one."""
    height_mm, area_mm2 = faces
    low = max(1, math.ceil(PROPOSED[0] * layers.layer_mm / STEP_MM - 1e-6))
    high = math.floor(min(PROPOSED[1] * layers.layer_mm, most_mm) / STEP_MM + 1e-6)
    proposed = [round(k * STEP_MM, 6) for k in range(low, high + 1)]
    for layer_mm in sorted(proposed, key=lambda value: (abs(value - layers.layer_mm), value)):
        moved = moved_faces(part.name, height_mm, layers.height_mm, layer_mm)
        if float(np.abs(area_mm2 * moved).sum()) <= CLOSURE_SHARE * part.volume_mm3:
            return layer_mm
    return None


def _what(share: float, layer_mm: float, flat: bool) -> str:
    change = f"{100.0 * abs(share):.1f} % {'more' if share > 0.0 else 'less'} feedstock"
    if flat:
        return f"layers of {layer_mm:g} mm round the heights of flat faces: {change}"
    return f"layers of {layer_mm:g} mm are coarse for faces that curve or slant: {change}"


def _remedy(better_mm: float | None) -> str:
    if better_mm is None:
        return "Take thinner layers, or keep them: hours and grams are those of the layers."
    return (
        f"Take layers of {better_mm:g} mm, which meet the flat faces, or keep these: hours and "
        "grams are those of the layers."
    )
