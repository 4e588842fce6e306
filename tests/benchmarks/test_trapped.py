"""The whole check for trapped liquid against the vat estimate of the same part, layers included."""

from statistics import median

import pytest
import solids
from benchmarks.ratio import record, seconds

import buildplan as bp
from buildplan.checks.trapped import check_trapped
from buildplan.part import part_from_mesh
from buildplan.process.layers import cut_layers
from buildplan.process.vat import estimate_vat
from buildplan.tables import rules_for


@pytest.mark.slow
def test_the_check_takes_no_longer_than_the_vat_estimate():
    recipe = bp.recipe("everyday", process="vat")
    printer, feedstock = bp.printer("small_vat"), bp.feedstock("standard_photopolymer")
    rules = rules_for(feedstock)
    vertices, facets = solids.arrays(solids.tub(segments=1024))
    part = part_from_mesh(vertices, facets, name="tub", health="quick")

    def check():
        assert check_trapped(part, recipe, rules).pockets

    def estimate():
        estimate_vat(part, cut_layers(part, recipe.layer_mm), recipe, printer, feedstock)

    check()
    estimate()
    own, other = [], []
    for _ in range(3):
        own.append(seconds(check))
        other.append(seconds(estimate))
    record(
        f"trapped liquid, {len(facets)} triangles",
        "vat estimate at 0.05 mm, layers included",
        median(other) / median(own),
        1.0,
    )
