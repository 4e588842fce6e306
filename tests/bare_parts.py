"""Parts made by hand from arrays, with no search and no repair: for meshes that are not whole."""

import hashlib

import numpy as np
import solids

from buildplan.part.model import Health, Part


def bare_part(vertices, facets, *, name="bare", closed=True, shells=1, **health):
    """A Part that says what the caller says; nothing is looked for."""
    vertices = np.array(vertices, dtype=np.float64)
    facets = np.array(facets, dtype=np.int64)
    a, b, c = (vertices[facets[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    record = {
        "grade": "exact" if closed else "estimate",
        "searched": "quick",
        "open_edges": 0,
        "holes": (),
        "flipped_facets": 0,
        "duplicate_facets": 0,
        "degenerate_facets": 0,
        "overlapping_shells": 0,
        "self_intersections": 0,
        "repairs": (),
        "volume_change_frac": 0.0,
        "patched_frac": 0.0,
        **health,
    }
    vertices.setflags(write=False)
    facets.setflags(write=False)
    return Part(
        name=name,
        source="",
        sha256="",
        key=hashlib.sha256(vertices.tobytes() + facets.tobytes()).hexdigest(),
        unit="mm",
        vertices_mm=vertices,
        facets=facets,
        size_mm=tuple(float(v) for v in np.ptp(vertices, axis=0)),
        volume_mm3=float((a * normal).sum() / 6.0),
        area_mm2=float(np.linalg.norm(normal, axis=1).sum() / 2.0),
        centre_of_mass_mm=(0.0, 0.0, 0.0),
        closed=closed,
        shells=shells,
        health=Health(**record),
        findings=(),
    )


def solid_part(solid, **said):
    """A bare part from a manifold3d solid."""
    return bare_part(*solids.arrays(solid), **said)


def heap_part(*parts, **said):
    """Several solids in one mesh, as read from a file: side by side, not united."""
    vertices, facets, n = [], [], 0
    for solid in parts:
        v, f = solids.arrays(solid)
        vertices.append(v)
        facets.append(f + n)
        n += len(v)
    said.setdefault("shells", len(parts))
    return bare_part(np.vstack(vertices), np.vstack(facets), **said)
