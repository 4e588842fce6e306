"""Beads, gaps and holes of the 200 000-triangle shell of 600 layers, against its estimate.

One thread; caches are emptied before every estimate. The surface that gaps share with wall
thickness is measured before.
"""

import gap_solids as gs
import pytest
import solids
from benchmarks.ratio import ratio, record
from rows import feedstock, printer, recipe

from buildplan.checks.beads import check_beads
from buildplan.checks.gaps import check_gaps
from buildplan.checks.surface import measure_surface
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print
from buildplan.process.layers import cut_layers

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def shell():
    return gs.as_part(solids.tub(1024), "shell")


def estimate(part):
    clear_caches()
    return estimate_print(part, printer(), feedstock(), recipe())


def test_beads_take_less_time_than_the_estimate(shell):
    layers = cut_layers(shell, recipe().layer_mm)
    measured = ratio(
        lambda: check_beads(layers, recipe(), gs.RULES), lambda: estimate(shell), rounds=5
    )
    record("beads of the shell", "its estimate", measured, 1.0)


def test_gaps_and_holes_take_less_time_than_the_estimate(shell):
    surface = measure_surface(shell, inside_cap_mm=2.4, outside_cap_mm=0.8)
    measured = ratio(
        lambda: check_gaps(shell, recipe(), gs.RULES, surface=surface),
        lambda: estimate(shell),
        rounds=5,
    )
    record("gaps and holes of the shell", "its estimate", measured, 1.0)
