"""File -> hours, grams, money of the 200 000-triangle shell of 600 layers, and what changes cost.

References: trimesh.load + section_multiplane (every fourth plane, times four) for the whole; the
whole estimate itself for changes; one thread for two; a limit for memory. Caches are emptied
before every whole estimate.
"""

import os
import subprocess
import sys
from statistics import median
from time import perf_counter

import pytest
import solids
import trimesh
from benchmarks.ratio import record, seconds
from rows import feedstock, printer, recipe

from buildplan.part import read_part
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print

EVERY = 4
MEMORY_LIMIT_MB = 500.0

pytestmark = pytest.mark.slow


def write_tub(path, segments):
    vertices, facets = solids.arrays(solids.tub(segments=segments))
    trimesh.Trimesh(vertices, facets, process=False).export(path)
    return path


@pytest.fixture(scope="module")
def shell_file(tmp_path_factory):
    return write_tub(tmp_path_factory.mktemp("shell") / "shell.stl", 1024)


def whole(path, settings, workers=1):
    """The answer from the file, nothing kept from before."""
    clear_caches()
    part = read_part(path, health="quick")
    return estimate_print(part, printer(), feedstock(), settings, workers=workers)


def sections_s(path, z_mm):
    """Seconds that the reference takes for its sections alone."""
    start = perf_counter()
    mesh = trimesh.load(path)
    loaded = perf_counter()
    mesh.section_multiplane([0, 0, 0], [0, 0, 1], z_mm[::EVERY] + mesh.bounds[0, 2])
    return loaded - start + EVERY * (perf_counter() - loaded)


@pytest.mark.parametrize(("supports", "required"), [(False, 10.0), (True, 6.0)])
def test_whole_estimate_is_a_fraction_of_the_references_sections(shell_file, supports, required):
    settings = recipe(supports=supports)
    z_mm = whole(shell_file, settings).layer_z_mm
    own, other = [], []
    for _ in range(3):
        own += [seconds(lambda: whole(shell_file, settings)) for _ in range(3)]
        other.append(sections_s(shell_file, z_mm))
    record(
        f"whole estimate of the shell, {'with' if supports else 'no'} supports",
        "trimesh.load + section_multiplane",
        median(other) / median(own),
        required,
    )


@pytest.mark.parametrize(
    ("what", "changes", "required"),
    [
        ("speeds", ({"infill_mm_s": 70.0}, {"infill_mm_s": 75.0}), 12.0),
        ("infill", ({"infill_frac": 0.2}, {"infill_frac": 0.25}), 4.0),
    ],
)
def test_a_changed_setting_costs_a_fraction_of_the_whole(shell_file, what, changes, required):
    usual = recipe()
    whole(shell_file, usual)
    part = read_part(shell_file, health="quick")
    own, other = [], []
    for _ in range(7):
        other.append(seconds(lambda: whole(shell_file, usual)))
        for change in changes:
            settings = recipe(**change)
            own.append(seconds(lambda s=settings: estimate_print(part, printer(), feedstock(), s)))
    record(
        f"estimate again after changing {what}", "the whole", median(other) / median(own), required
    )


def test_two_threads_beat_one(shell_file):
    """The best of many rounds on both sides: another process on a core must not decide this."""
    settings = recipe()
    whole(shell_file, settings, workers=2)
    one, two = [], []
    for _ in range(15):
        one.append(seconds(lambda: whole(shell_file, settings)))
        two.append(seconds(lambda: whole(shell_file, settings, workers=2)))
    record("whole estimate, two threads", "one thread", min(one) / min(two), 1.5)


MEASURE_PEAK = """
import re, sys
sys.path[:0] = sys.argv[2:]
from rows import feedstock, printer, recipe
from buildplan.part import read_part
from buildplan.process.estimate import estimate_print
part = read_part(sys.argv[1], health="quick")
estimate_print(part, printer(), feedstock(), recipe(supports=True))
# not resource.getrusage: after a fork it still counts the parent's peak
peak = re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())
print(len(part.facets), int(peak[1]) / 1024.0)
"""


def test_peak_memory_at_a_million_triangles(tmp_path):
    path = write_tub(tmp_path / "million.stl", 2300)
    folders = [entry for entry in sys.path if entry]
    done = subprocess.run(
        [sys.executable, "-c", MEASURE_PEAK, str(path), *folders],
        capture_output=True,
        text=True,
        check=True,
        env=dict(os.environ),
    )
    facets, peak_mb = done.stdout.split()
    assert int(facets) > 900_000
    record(
        "memory of the whole estimate, 1 million triangles, supports",
        f"{MEMORY_LIMIT_MB:.0f} MB",
        MEMORY_LIMIT_MB / float(peak_mb),
        1.0,
    )
