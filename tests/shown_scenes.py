"""Small scenes for the tests of the 3-D view, and its arrays read back from the packed bytes."""

import bare_parts
import numpy as np
import solids

from buildplan.notebook.viewer.model import Item, Poses, Scene, Spot, Values

LOOK = np.array([0.4661, -0.691, 0.454])  # toward the usual eye


def facets_toward(part, axis, sign):
    """Numbers of the facets that face along an axis."""
    a, b, c = (part.vertices_mm[part.facets[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    return np.flatnonzero(sign * normal[:, axis] > 0.99)


def spot(kind, what, part, facets, item=0):
    own = part.vertices_mm[part.facets[facets]].reshape(-1, 3)
    return Spot(
        kind=kind,
        what=what,
        where="here",
        more=("1 mm; at least 2 mm", "Do: thicken it"),
        box_mm=(*own.min(axis=0).tolist(), *own.max(axis=0).tolist()),
        item=item,
        facets=facets,
    )


def values(part, name="height", low=0.0, high=40.0, limit=15.0):
    return Values(
        name=name,
        unit="mm",
        item=0,
        per="vertex",
        data=part.vertices_mm[:, 2].copy(),
        low=low,
        high=high,
        limits=((limit, "low below"),),
    )


def findings():
    """A block with a stop on its front, a caution on top and a note below; heights as values."""
    part = bare_parts.solid_part(solids.box(100.0, 60.0, 40.0), name="block")
    return Scene(
        title="block, 100 x 60 x 40 mm",
        list_title="Findings",
        items=(Item(name="block", part=part, colour="#c3bbae"),),
        spots=(
            spot("stop", "the front is <b>thin</b>", part, facets_toward(part, 1, -1)),
            spot("caution", "the top leans", part, facets_toward(part, 2, 1)),
            spot("note", "the foot is broad", part, facets_toward(part, 2, -1)),
        ),
        values=(values(part),),
    )


def pieces():
    """Two halves to be moved apart along x."""
    halves = [solids.box(50.0, 60.0, 40.0, (x, 0.0, 0.0)) for x in (0.0, 50.0)]
    shifts, colours = ((-40.0, 0.0, 0.0), (40.0, 0.0, 0.0)), ("#c3bbae", "#7fb2cf")
    items = tuple(
        Item(name=f"piece {k + 1}", part=bare_parts.solid_part(half), colour=colour, apart_mm=shift)
        for k, (half, shift, colour) in enumerate(zip(halves, shifts, colours, strict=True))
    )
    return Scene(title="two pieces", list_title="Assembly", items=items)


def device():
    """A box whose lid turns about the y axis at its left edge; the lid opens in five steps."""
    body = bare_parts.solid_part(solids.box(100.0, 60.0, 40.0))
    lid = bare_parts.solid_part(solids.box(100.0, 60.0, 3.0, (0.0, 0.0, 40.0)))
    at = np.linspace(0.0, 60.0, 5)
    matrices = np.tile(np.eye(4), (5, 1, 1))
    for matrix, angle in zip(matrices, np.radians(at), strict=True):
        turn = np.eye(3)
        turn[0, 0] = turn[2, 2] = np.cos(angle)
        turn[0, 2], turn[2, 0] = -np.sin(angle), np.sin(angle)
        pin = np.array([0.0, 0.0, 40.0])
        matrix[:3, :3], matrix[:3, 3] = turn, pin - turn @ pin
    return Scene(
        title="device",
        list_title="Findings",
        items=(
            Item(name="body", part=body, colour="#c3bbae"),
            Item(name="lid", part=lid, colour="#7fb2cf", group="hinge"),
        ),
        poses=Poses(name="lid", unit="°", at=at, matrices={"hinge": matrices}),
    )


def read_back(data, place, kind, columns=1):
    """An array of a packed scene."""
    first, count = place
    found = np.frombuffer(data, dtype=kind, offset=first, count=count)
    return found.reshape(-1, columns) if columns > 1 else found
