"""The zoo of bad files: each is refused with its numbers, or read right and said so."""

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import broken_files
import pytest

from buildplan.errors import InputError, MeshError
from buildplan.part import read_part

ZOO = broken_files.all_files()
TESTS = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def warm(tmp_path_factory):
    """Every kernel compiled, so that times are those of the files."""
    folder = tmp_path_factory.mktemp("warm")
    for name, (data, expected) in ZOO.items():
        if isinstance(expected, broken_files.Read):
            (folder / name).write_bytes(data)
            read_part(folder / name)


def test_the_zoo_holds_at_least_55_files():
    assert len(ZOO) >= 55
    assert sum(isinstance(expected, broken_files.Refused) for _, expected in ZOO.values()) >= 55


@pytest.mark.parametrize("name", sorted(ZOO))
def test_every_bad_file_is_refused_or_read_right(name, tmp_path, warm):
    data, expected = ZOO[name]
    path = tmp_path / name
    path.write_bytes(data)
    start = time.process_time()
    if isinstance(expected, broken_files.Refused):
        with pytest.raises(MeshError) as refusal:
            read_part(path)
        message = str(refusal.value)
        assert re.search(expected.words, message), message
        assert "\n" not in message
        assert message.startswith((name, str(path)))
        assert re.search(r"\d|'.+'", message.removeprefix(name)), message
    else:
        part = read_part(path)
        assert part.volume_mm3 == pytest.approx(expected.volume_mm3, rel=expected.rel)
        assert part.health.grade == expected.grade
        assert part.closed == (expected.grade != "estimate")
        checks = [finding.check for finding in part.findings]
        assert not expected.check or expected.check in checks
        assert part.health.grade == "estimate" or (
            (part.health.grade == "repaired") == bool(part.health.repairs)
        )
    assert time.process_time() - start < 2.0


CHILD = """
import json, re, sys, time
from pathlib import Path
import broken_files
from buildplan.errors import MeshError
from buildplan.part import read_part

def peak_mb():  # of this process since it began, unlike getrusage, which keeps its parent's
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024

zoo = broken_files.all_files()
folder = Path(sys.argv[1])
for name, (data, _) in zoo.items():
    (folder / name).write_bytes(data)
good = [n for n, (_, e) in zoo.items() if isinstance(e, broken_files.Read)]
for name in good:
    read_part(folder / name)
before = peak_mb()
slowest = 0.0
for name in sorted(set(zoo) - set(good)):
    if name.endswith((".step", ".stp")):
        continue
    start = time.process_time()
    try:
        read_part(folder / name)
    except MeshError:
        slowest = max(slowest, time.process_time() - start)
print(json.dumps({"mb": peak_mb() - before, "slowest_s": slowest}))
"""


def test_no_hostile_file_takes_300_mb_or_2_seconds(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": f"{TESTS}{os.pathsep}{TESTS.parent}"},
        capture_output=True,
        text=True,
        check=True,
    )
    used = json.loads(done.stdout)
    assert used["mb"] < 300
    assert used["slowest_s"] < 2.0


PUBLISHED_BROKEN = {
    "empty.stl": "0 bytes",
    "fourVertices.ascii.stl": "facet 1, line 8: .* 4 corners",
    "incorrectFaceCounter.bin.stl": "says 66 triangles, the file holds 4 ",
    "missingEndsolid.ascii.stl": "after 4 whole facets",
    "missingFace.ascii.stl": "1 hole, the largest 1 mm wide with 3 edges, near",
    "missingNormal.ascii.stl": 1 / 6,
    "notANumberNormal.ascii.stl": 1 / 6,
    "quad.ascii.stl": "facet 1, line 8: .* 4 corners",
    "singleFace.ascii.stl": "1 triangle enclose no volume|enclose no volume",
    "solidNameMismatch.ascii.stl": 1 / 6,
    "twoVertices.ascii.stl": "facet 1, line 6: .* 2 corners",
    "wrongHeader.bin.stl": 1e6,
    "wrongNormal.ascii.stl": 1 / 6,
    "wrongNormals.ascii.stl": 1 / 6,
}
"""Source: npm stl-models 0.12.0 (MIT), folder broken."""


@pytest.mark.parametrize("name", sorted(PUBLISHED_BROKEN))
def test_published_broken_stl_files_are_refused_or_read_right(name, npm_mesh):
    path = npm_mesh("stl-models", f"broken/{name}")
    expected = PUBLISHED_BROKEN[name]
    if isinstance(expected, str):
        with pytest.raises(MeshError, match=expected):
            read_part(path)
    else:
        assert read_part(path).volume_mm3 == pytest.approx(expected, rel=1e-6)


def test_stored_normals_that_are_missing_or_wrong_are_a_note(npm_mesh):
    for name, count in (("missingNormal", 1), ("notANumberNormal", 1), ("wrongNormal", 1)):
        part = read_part(npm_mesh("stl-models", f"broken/{name}.ascii.stl"))
        notes = [f for f in part.findings if f.check == "health"]
        assert [note.severity for note in notes] == ["note"]
        assert notes[0].measured == f"{count} of 4 facets"


def test_a_file_named_stl_by_no_one_is_refused_with_its_size(npm_mesh):
    with pytest.raises(MeshError, match=r"says 4 triangles, the file holds 5\.0 \(333 bytes"):
        read_part(npm_mesh("stl-models", "misc/multiWordName.bin.stl"))
    with pytest.raises(MeshError, match="0 triangles"):
        read_part(npm_mesh("stl-models", "misc/faceless.ascii.stl"))


def test_a_missing_file_a_folder_and_a_device_are_refused(tmp_path):
    with pytest.raises(MeshError, match="no such file"):
        read_part(tmp_path / "gone.stl")
    folder = tmp_path / "folder.stl"
    folder.mkdir()
    with pytest.raises(MeshError, match="this is a folder"):
        read_part(folder)
    device = tmp_path / "device.stl"
    device.symlink_to("/dev/zero")
    with pytest.raises(MeshError, match="no regular file"):
        read_part(device)
    with pytest.raises(MeshError, match="cannot be reached"):
        read_part("nul\0byte.stl")


def test_every_refusal_is_an_input_error():
    assert issubclass(MeshError, InputError)
