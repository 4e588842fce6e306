"""Reading a binary STL file, against trimesh.load of the same file."""

import broken_files
import pytest
import solids
import trimesh
from benchmarks.ratio import ratio, record

from buildplan.part import read_part


@pytest.fixture(scope="module")
def tub_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("reader") / "tub.stl"
    path.write_bytes(broken_files.stl(*solids.arrays(solids.tub().refine_to_length(2.35))))
    return path


def test_reading_a_binary_stl_with_its_quick_health_is_3_times_trimesh(tub_file):
    part = read_part(tub_file, health="quick")
    loaded = trimesh.load(tub_file)
    assert len(part.facets) == len(loaded.faces) > 190_000
    assert len(part.vertices_mm) == len(loaded.vertices)
    assert part.volume_mm3 == pytest.approx(loaded.volume, rel=1e-9)
    measured = ratio(
        lambda: read_part(tub_file, health="quick"), lambda: trimesh.load(tub_file), rounds=9
    )
    record("read a 200k-triangle STL, quick health", "trimesh.load", measured, 3.0)
