"""The sprout house: makes the meshes of all nine parts of the demo build.

A windowsill seedling propagator that opens its own roof. Every part is drawn where it sits in the
shut device (frame and dimensions: dimensions.py), then turned to the way it is printed, with the
least corner of its bounds at the origin.

    python make_parts.py [FOLDER]     writes the meshes, as printed (default: this folder)
    python make_parts.py --poses      prints the 4x4 from each printed mesh to the device
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import dimensions as d
import numpy as np
from covers import bottom_plate, roof_vent
from linkage import camera_place
from linkage_parts import hinge_pin, push_rod, servo_arm
from lookout import camera_arm, camera_ring, sensor_cowl
from manifold3d import Error, Manifold
from mesh_files import write_mesh
from shapes import Matrix
from shell import base_shell


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """One part as it is printed.

    Attributes:
        draw: Gives the solid in the shut device.
        file: Name of its mesh file; the ending chooses the format.
        turn: 4x4 rotation from the device to the platform.
        moves: Shifts in the device of further copies of the part.
    """

    draw: Callable[[], Manifold]
    file: str
    turn: Matrix
    moves: tuple[tuple[float, float, float], ...] = ()


def _turned(axis: str, angle_deg: float) -> Matrix:
    """4x4 turn about x or y."""
    angle = np.radians(angle_deg)
    matrix = np.eye(4)
    i, k = {"x": (1, 2), "y": (2, 0)}[axis]
    matrix[i, i] = matrix[k, k] = np.cos(angle)
    matrix[i, k], matrix[k, i] = -np.sin(angle), np.sin(angle)
    return matrix.round(15)


def all_parts() -> dict[str, Printed]:
    """The nine parts: how each is drawn, which way up it is printed, what its file is called."""
    ring_down = np.eye(4)
    ring_down[:3, :3] = camera_place()[:3, :3].T
    roof_down = _turned("x", 180.0 - np.degrees(d.SLOPE_RAD))
    next_pin = (d.STATIONS[1] - d.STATIONS[0], 0.0, 0.0)
    return {
        "base_shell": Printed(draw=base_shell, file="base_shell.stl", turn=np.eye(4)),
        "roof_vent": Printed(draw=roof_vent, file="roof_vent.stl", turn=roof_down),
        "push_rod": Printed(draw=push_rod, file="push_rod.obj", turn=_turned("y", 90.0)),
        "servo_arm": Printed(draw=servo_arm, file="servo_arm.stl", turn=_turned("y", 90.0)),
        "bottom_plate": Printed(
            draw=bottom_plate, file="bottom_plate.stl", turn=_turned("x", 180.0)
        ),
        "camera_arm": Printed(draw=camera_arm, file="camera_arm.stl", turn=_turned("x", 90.0)),
        "sensor_cowl": Printed(draw=sensor_cowl, file="sensor_cowl.stl", turn=_turned("x", 180.0)),
        "hinge_pin": Printed(
            draw=hinge_pin, file="hinge_pin.stl", turn=np.eye(4), moves=(next_pin,)
        ),
        "camera_ring": Printed(draw=camera_ring, file="camera_ring.3mf", turn=ring_down),
    }


def as_printed(part: Printed) -> tuple[Manifold, list[Matrix]]:
    """The solid on the platform, and the 4x4 of each copy from there to the device.

    Raises:
        RuntimeError: The drawing is not one closed solid.
    """
    drawn = part.draw()
    if drawn.status() != Error.NoError or len(drawn.decompose()) != 1:
        raise RuntimeError(f"{part.file}: the drawing is not one closed solid ({drawn.status()})")
    turned = drawn.transform(part.turn[:3])
    shift = np.eye(4)
    shift[:3, 3] = -np.array(turned.bounding_box()[:3])
    pose: Matrix = np.asarray(np.linalg.inv(shift @ part.turn), dtype=np.float64)
    poses = [pose]
    for move in part.moves:
        copy = pose.copy()
        copy[:3, 3] += move
        poses.append(copy)
    return turned.transform(shift[:3]), poses


def main(arguments: list[str]) -> None:
    """Write the meshes into a folder, or print the poses."""
    folder = Path(arguments[0]) if arguments else Path(__file__).parent
    for name, part in all_parts().items():
        solid, poses = as_printed(part)
        if arguments == ["--poses"]:
            print(name, *[(pose.round(6) + 0.0).tolist() for pose in poses], sep="\n  ")  # noqa: T201 (a script's answer)
            continue
        folder.mkdir(parents=True, exist_ok=True)
        mesh = solid.to_mesh64()
        vertices = np.asarray(mesh.vert_properties[:, :3], dtype=np.float64)
        write_mesh(folder / part.file, vertices, np.asarray(mesh.tri_verts, dtype=np.int64))


if __name__ == "__main__":
    main(sys.argv[1:])
