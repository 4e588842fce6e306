"""File -> closed rings of 600 layers, against trimesh.load and section_multiplane.

The reference cuts every fourth plane only and its time is multiplied by four (it works plane by
plane; its chaining of segments, not its set-up, is what takes long). One thread.
"""

from time import perf_counter

import numpy as np
import pytest
import shapely
import solids
import trimesh
from benchmarks.ratio import record, seconds

from buildplan.part import read_part
from buildplan.process.layers import cut_layers

EVERY = 4


def _tub_file(folder, segments):
    vertices, facets = solids.arrays(solids.tub(segments=segments))
    path = folder / f"tub_{segments}.stl"
    trimesh.Trimesh(vertices, facets, process=False).export(path)
    return path


def _rings(path):
    return cut_layers(read_part(path, health="quick"), 0.2, simplify_mm=0.0)


def _sections(path, z_mm):
    """Paths of every fourth plane, and the time for all planes reckoned from it."""
    start = perf_counter()
    mesh = trimesh.load(path)
    loaded = perf_counter()
    heights = z_mm[::EVERY] + mesh.bounds[0, 2]
    paths = mesh.section_multiplane([0, 0, 0], [0, 0, 1], heights)
    return paths, loaded - start + EVERY * (perf_counter() - loaded)


def _area(section):
    """Area between the closed lines of a section, odd inside and even outside."""
    lines = shapely.multilinestrings([shapely.linestrings(line) for line in section.discrete])
    return shapely.build_area(lines).area


@pytest.mark.slow
@pytest.mark.parametrize(
    ("segments", "triangles", "rounds", "required"),
    [(1024, 200_000, 3, 60.0), (2300, 1_000_000, 1, 40.0)],
)
def test_rings_from_a_file_are_many_times_faster_and_agree(
    tmp_path, segments, triangles, rounds, required
):
    path = _tub_file(tmp_path, segments)
    layers = _rings(path)
    assert len(layers.z_mm) == 600
    assert abs(len(read_part(path, health="quick").facets) / triangles - 1) < 0.1
    own, other = [], []
    for _ in range(rounds):
        own += [seconds(lambda: _rings(path)) for _ in range(3)]
        paths, took = _sections(path, layers.z_mm)
        other.append(took)
    area = [_area(p) for p in paths]
    length = [p.length for p in paths]
    np.testing.assert_allclose(layers.area_mm2[::EVERY], area, rtol=1e-9)
    np.testing.assert_allclose(layers.perimeter_mm[::EVERY], length, rtol=1e-9)
    record(
        f"file -> rings of 600 layers, {triangles} triangles",
        "trimesh.load + section_multiplane",
        float(np.median(other) / np.median(own)),
        required,
    )
