"""Wall thickness and gaps over a surface: speed for each sample, for a whole part, and memory.

References: trimesh.proximity.thickness for a sample; the estimate of the 200 000-triangle shell of
600 layers, nothing kept from before, for walls and gaps of the same shell.
"""

import os
import subprocess
import sys

import numpy as np
import pytest
import solids
import trimesh
import wall_solids
from benchmarks.ratio import ratio, record
from rows import feedstock, printer, recipe

from buildplan.checks.gaps import check_gaps
from buildplan.checks.surface import caps_for, measure_surface
from buildplan.checks.walls import check_walls
from buildplan.part import part_from_mesh, read_part
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print
from buildplan.tables import rules_for

REFERENCE_POINTS = 300
MEMORY_LIMIT_MB = 1000.0

pytestmark = pytest.mark.slow


def gear(npm_mesh):
    return read_part(npm_mesh("stl-models", "objects/gearwheel.bin.stl"))


def scan(npm_mesh):
    raw = read_part(npm_mesh("stl-models", "objects/bunny.bin.stl"), health="quick")
    return part_from_mesh(raw.vertices_mm * 100.0 / max(raw.size_mm), raw.facets, health="quick")


def shell(npm_mesh):
    return wall_solids.as_part(solids.tub(1024))


@pytest.mark.parametrize(
    ("name", "make", "required"),
    [("gear", gear, 70.0), ("scan", scan, 70.0), ("shell, 200 000 triangles", shell, 70.0)],
)
def test_thickness_of_a_sample_costs_a_fraction_of_the_references(name, make, required, npm_mesh):
    """Ours for all samples, its tree and both outputs included; the reference for a few of them."""
    part = make(npm_mesh)
    caps = {"inside_cap_mm": 6.0, "outside_cap_mm": 0.1}
    surface = measure_surface(part, **caps)
    mesh = trimesh.Trimesh(part.vertices_mm, part.facets, process=False)
    chosen = np.random.default_rng(1).choice(len(surface.points_mm), REFERENCE_POINTS, False)
    points, normals = surface.points_mm[chosen], surface.normals[surface.facet[chosen]]
    trimesh.proximity.thickness(mesh, points[:2], normals=normals[:2])  # its tree is kept

    def ours():
        clear_caches()
        measure_surface(part, **caps)

    def reference():
        trimesh.proximity.thickness(mesh, points, normals=normals)

    each = ratio(ours, reference, rounds=3) * len(surface.points_mm) / REFERENCE_POINTS
    record(f"thickness of a sample, {name}", "trimesh.proximity.thickness", each, required)


def test_walls_and_gaps_of_the_shell_cost_no_more_than_four_estimates(npm_mesh):
    part, settings, rules = shell(npm_mesh), recipe(), rules_for(feedstock())
    inside_mm, outside_mm = caps_for(settings, rules)

    def ours():
        clear_caches()
        surface = measure_surface(part, inside_cap_mm=inside_mm, outside_cap_mm=outside_mm)
        check_walls(part, settings, rules, surface=surface)
        check_gaps(part, settings, rules, surface=surface)

    def reference():
        clear_caches()
        estimate_print(part, printer(), feedstock(), settings)

    reference()
    each = ratio(ours, reference, rounds=7)
    record("walls and gaps of the shell", "its own estimate", each, 0.25)


MEASURE_PEAK = """
import re, sys
sys.path[:0] = sys.argv[2:]
from rows import feedstock, recipe
from buildplan.checks.surface import caps_for, measure_surface
from buildplan.checks.walls import check_walls
from buildplan.checks.gaps import check_gaps
from buildplan.part import read_part
from buildplan.tables import rules_for
part = read_part(sys.argv[1], health="quick")
rules = rules_for(feedstock())
caps = caps_for(recipe(), rules)
surface = measure_surface(part, inside_cap_mm=caps[0], outside_cap_mm=caps[1])
check_walls(part, recipe(), rules, surface=surface)
check_gaps(part, recipe(), rules, surface=surface)
# not resource.getrusage: after a fork it still counts the parent's peak
peak = re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())
print(len(part.facets), int(peak[1]) / 1024.0)
"""


def test_peak_memory_at_a_million_triangles(tmp_path):
    path = tmp_path / "million.stl"
    vertices, facets = solids.arrays(solids.tub(segments=2300))
    trimesh.Trimesh(vertices, facets, process=False).export(path)
    folders = [entry for entry in sys.path if entry]
    done = subprocess.run(
        [sys.executable, "-c", MEASURE_PEAK, str(path), *folders],
        capture_output=True,
        text=True,
        check=True,
        env=dict(os.environ),
    )
    facets_read, peak_mb = done.stdout.split()
    assert int(facets_read) > 900_000
    record(
        "memory of walls and gaps, 1 million triangles",
        f"{MEMORY_LIMIT_MB:.0f} MB",
        MEMORY_LIMIT_MB / float(peak_mb),
        1.0,
    )
