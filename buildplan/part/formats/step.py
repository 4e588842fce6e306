"""STEP through the extra "cad": turned into facets in a process of its own, then read as GLB."""

import subprocess
import sys
import tempfile
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from buildplan.errors import MeshError
from buildplan.part.formats.glb import read_scene
from buildplan.part.limits import Limits
from buildplan.part.raw import RawMesh

FIRST, LAST = b"ISO-10303-21;", b"END-ISO-10303-21;"
CHORD_MM, ANGLE_RAD = 0.01, 0.3
"""Greatest distance and angle between the facets and the true surface (our choice)."""

LONGEST_S = 300
CHILD = (
    "import sys, cascadio; "
    "sys.exit(cascadio.step_to_glb(sys.argv[1], sys.argv[2], float(sys.argv[3]), "
    "float(sys.argv[4])))"
)


def read_step(path: Path, limits: Limits) -> RawMesh:
    """Facets over the surfaces of a STEP file; its own unit is applied.

    Raises:
        MeshError: when the extra is not installed, or the file is broken or holds no body.
    """
    _check_frame(path)
    if find_spec("cascadio") is None:
        raise MeshError(
            f"{path.name}: STEP files need the extra 'cad' (1 package, cascadio), which is not "
            "installed; run: pip install 'buildplan[cad]', or export the part as STL or 3MF"
        )
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "part.glb"
        _convert(path, made)
        mesh = read_scene(path.name, made.read_bytes(), limits, np.eye(4))
    return RawMesh(
        vertices=mesh.vertices * 1000.0,
        facets=mesh.facets,
        unit="mm",
        welded=False,
        findings=(),
    )


def _check_frame(path: Path) -> None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(256).lstrip()
        stream.seek(max(0, size - 4096))
        tail = stream.read()
    if not head.startswith(FIRST) or LAST not in tail:
        missing = FIRST if not head.startswith(FIRST) else LAST
        raise MeshError(
            f"{path.name}: the file of {size} bytes has no {missing.decode()!r} at its "
            f"{'start' if missing is FIRST else 'end'}; it was cut short or is no STEP file"
        )


def _convert(path: Path, made: Path) -> None:
    command = [sys.executable, "-c", CHILD, str(path.resolve()), str(made)]
    try:
        done = subprocess.run(
            [*command, str(CHORD_MM), str(ANGLE_RAD)],
            capture_output=True,
            timeout=LONGEST_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise MeshError(
            f"{path.name}: turning it into facets took more than {LONGEST_S} s; export it as STL"
        ) from None
    if done.returncode or not made.is_file() or made.stat().st_size < 20:
        raise MeshError(
            f"{path.name}: the STEP reader could not use it (it ended with code "
            f"{done.returncode}); export it again, or as STL or 3MF"
        )
