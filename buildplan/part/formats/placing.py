"""Meshes placed several times in one file: transforms, the budget of instances, cycles."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.part.limits import Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One object inside another (or in the file), with the 4 x 4 matrix that places it."""

    target: Hashable
    matrix: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Vertices (n, 3) and facets (m, 3) of one object."""

    vertices: NDArray[np.float64]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """An object of a file: its own meshes and the objects within it."""

    meshes: tuple[Mesh, ...]
    children: tuple[Placed, ...]


def place_all(
    file: str,
    roots: tuple[Placed, ...],
    find: Callable[[Hashable], Node],
    limits: Limits,
) -> Mesh:
    """All instances, each transformed, in one mesh.

    Args:
        file: Shown in messages.
        roots: What the file places.
        find: Gives an object by its name; raises MeshError where there is none.
        limits: Caps on instances and triangles.

    Raises:
        MeshError: at a cycle, too many instances or triangles, or a transform without volume.
    """
    _count_copies(file, roots, find, limits)
    waiting = list(reversed(roots))
    placed: list[Mesh] = []
    triangles = points = 0
    while waiting:
        here = waiting.pop()
        node = find(here.target)
        for mesh in node.meshes:
            triangles += len(mesh.facets)
            if triangles > limits.triangles:
                raise MeshError(
                    f"{file}: the placed copies hold more than the {limits.triangles} triangles "
                    "that are allowed; export a coarser mesh or raise Limits(triangles=)"
                )
            moved = _move(file, mesh, here.matrix)
            placed.append(Mesh(vertices=moved.vertices, facets=moved.facets + points))
            points += len(moved.vertices)
        waiting += [
            Placed(target=child.target, matrix=here.matrix @ child.matrix)
            for child in reversed(node.children)
        ]
    if not placed:
        return Mesh(vertices=np.empty((0, 3)), facets=np.empty((0, 3), np.int64))
    return Mesh(
        vertices=np.vstack([mesh.vertices for mesh in placed]),
        facets=np.vstack([mesh.facets for mesh in placed]),
    )


def _count_copies(
    file: str,
    roots: tuple[Placed, ...],
    find: Callable[[Hashable], Node],
    limits: Limits,
) -> None:
    """Refuse cycles and too many copies, each object looked at once however often it is placed."""
    copies: dict[Hashable, int] = {}
    total = 0
    for root in roots:
        open_now: dict[Hashable, tuple[Placed, ...]] = {}
        waiting = [root.target]
        while waiting:
            target = waiting[-1]
            if target in copies:
                waiting.pop()
                continue
            if target not in open_now:
                open_now[target] = find(target).children
                for child in open_now[target]:
                    if child.target in open_now and child.target not in copies:
                        raise MeshError(
                            f"{file}: object {child.target} contains itself (depth "
                            f"{len(open_now)}); export it again"
                        )
                waiting += [c.target for c in open_now[target] if c.target not in copies]
                continue
            copies[target] = 1 + sum(copies[child.target] for child in open_now[target])
            waiting.pop()
        total += copies[root.target]
    if total > limits.instances:
        raise MeshError(
            f"{file}: the file places more than {limits.instances} copies of its objects (found "
            f"{total:.3g}); export fewer or raise Limits(instances=)"
        )


def _move(file: str, mesh: Mesh, matrix: NDArray[np.float64]) -> Mesh:
    """The mesh under a 4 x 4 matrix; a mirror turns the facets over to keep them outward."""
    turn = float(np.linalg.det(matrix[:3, :3])) if np.isfinite(matrix).all() else 0.0
    if turn == 0.0 or not np.isfinite(turn):
        raise MeshError(
            f"{file}: a transform flattens its object (determinant {turn:g}); export it again"
        )
    if np.array_equal(matrix, np.eye(4)):
        return mesh
    vertices = mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3]
    facets = mesh.facets if turn > 0.0 else np.ascontiguousarray(mesh.facets[:, ::-1])
    return Mesh(vertices=vertices, facets=facets)
