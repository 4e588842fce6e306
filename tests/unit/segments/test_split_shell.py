"""The demo build's shell, cut for the small printer and for a window of six hours."""

from pathlib import Path

import numpy as np
import pytest

import buildplan as bp
from buildplan.errors import NoPlanError
from buildplan.segments.run import split_part
from buildplan.segments.solid import solid_of

BUILD = Path(__file__).parents[3] / "parts" / "sprout_house" / "build.toml"
WINDOW_H = 6.0


@pytest.fixture(scope="module")
def shell():
    build = bp.load_build(BUILD)
    return build, build.parts[0], bp.read_part(build.parts[0].path)


def hold(plan, boxes):
    """Every named box lies in one piece as it lies in the part."""
    for joint in plan.joints:
        assert joint.proof.faults == ()
        normal = np.array(joint.plane.normal)
        for box in boxes:
            ends = np.array(box.box_mm).reshape(2, 3)
            middle, half = ends.mean(axis=0), np.ptp(ends, axis=0) / 2
            crossed = abs(normal @ middle - joint.plane.offset_mm) < abs(normal) @ half - 1e-6
            if crossed:
                # beside the box in a piece that does not hold it
                low, high = np.array(joint.above.bounding_box()).reshape(2, 3)
                other = np.array(joint.below.bounding_box()).reshape(2, 3)
                low, high = np.minimum(low, other[0]), np.maximum(high, other[1])
                inside = (np.minimum(ends[1], high) > np.maximum(ends[0], low)).all()
                assert not inside


@pytest.mark.slow
def test_the_shell_is_cut_for_the_small_printer_and_its_features_stay_whole(shell):
    build, row, part = shell
    plan = split_part(
        part,
        row.printers[0],
        row.feedstock,
        row.recipe,
        features=row.features,
        keep_outs=row.keep_outs,
        prices=build.prices,
    )
    assert not plan.table[0].fits
    assert all(piece.fit.fits for piece in plan.pieces)
    assert min(piece.part.volume_mm3 for piece in plan.pieces) >= 0.04 * part.volume_mm3
    hold(plan, (*row.features, *row.keep_outs))
    assert not [finding for finding in plan.findings if finding.severity == "stop"]
    for a, first in enumerate(plan.pieces):
        for second in plan.pieces[:a]:
            assert (solid_of(first.part) ^ solid_of(second.part)).volume() <= 1e-3


@pytest.mark.slow
def test_the_shell_is_cut_for_a_window_of_six_hours_where_its_bay_may_be_cut(shell):
    build, row, part = shell
    hinges = row.keep_outs[:2]
    plan = split_part(
        part,
        row.printers[1],
        row.feedstock,
        row.recipe,
        most_h=WINDOW_H,
        keep_outs=hinges,
        prices=build.prices,
        check_pieces=False,
    )
    assert all(piece.estimate.time_h <= WINDOW_H for piece in plan.pieces)
    hold(plan, hinges)
    assert plan.table[plan.chosen].run.high_h < plan.table[0].run.high_h


@pytest.mark.slow
def test_a_bay_that_alone_takes_longer_than_the_window_is_named_with_its_hours(shell):
    build, row, part = shell
    said = r"the longest takes 1\d\.\d h .*6 h are allowed; bay in it must stay whole"
    with pytest.raises(NoPlanError, match=said):
        split_part(
            part,
            row.printers[1],
            row.feedstock,
            row.recipe,
            most_h=WINDOW_H,
            most_pieces=5,
            features=row.features,
            keep_outs=row.keep_outs,
            prices=build.prices,
        )
