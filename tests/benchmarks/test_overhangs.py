"""Overhang check of the 200 000-triangle shell with a ledge, against that part's own estimate."""

from statistics import median

import pytest
import solids
from benchmarks.ratio import record, seconds
from hanging_solids import as_part
from manifold3d import CrossSection
from rows import feedstock, printer, recipe

from buildplan.checks.overhangs import check_overhangs
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print
from buildplan.process.layers import cut_layers
from buildplan.tables import rules_for

pytestmark = pytest.mark.slow


def shell_with_ledge(segments=1024):
    """The shell with a ledge 20 mm wide around its rim."""
    ring = CrossSection.circle(160.0, segments) - CrossSection.circle(139.0, segments)
    return solids.tub(segments=segments) + ring.extrude(3.0).translate((0.0, 0.0, 116.0))


def test_overhang_check_costs_less_than_the_estimate():
    part = as_part(shell_with_ledge())
    settings, rules = recipe(), rules_for(feedstock())
    layers = cut_layers(part, settings.layer_mm)

    def ours():
        return check_overhangs(part, layers, settings, rules)

    def estimate():
        clear_caches()
        estimate_print(part, printer(), feedstock(), settings)

    ours()
    estimate()
    own, other = [], []
    for _ in range(5):
        own += [seconds(ours) for _ in range(2)]
        other.append(seconds(estimate))
    record("overhangs of the shell with a ledge", "its estimate", median(other) / median(own), 1.0)
