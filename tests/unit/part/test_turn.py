"""Turning a part keeps what a rotation keeps and refuses what is no rotation."""

import numpy as np
import pytest
import solids

from buildplan.errors import InputError
from buildplan.part import part_from_mesh
from buildplan.part.turn import AS_PLACED, turn_part


def quarter_turn():
    return (1, 0, 0, 5, 0, 0, -1, 0, 0, 1, 0, 0, 0, 0, 0, 1)


def test_a_quarter_turn_swaps_the_sides_and_keeps_volume_and_area():
    part = part_from_mesh(*solids.arrays(solids.box(10, 20, 30)), name="box")
    turned = turn_part(part, quarter_turn())
    assert turned.size_mm == pytest.approx((10, 30, 20))
    assert (turned.volume_mm3, turned.area_mm2) == (part.volume_mm3, part.area_mm2)
    assert turned.centre_of_mass_mm == pytest.approx((10, -15, 10))
    assert turned.key != part.key
    assert not turned.vertices_mm.flags.writeable


def test_no_turn_gives_the_very_part():
    part = part_from_mesh(*solids.arrays(solids.box()), name="box")
    assert turn_part(part, AS_PLACED) is part


@pytest.mark.parametrize(
    "matrix",
    [
        tuple(2 * np.eye(4).ravel()),
        tuple(np.diag([-1.0, 1, 1, 1]).ravel()),
        (1.0,) * 15,
        (float("nan"), *AS_PLACED[1:]),
    ],
)
def test_what_is_no_rotation_is_refused(matrix):
    part = part_from_mesh(*solids.arrays(solids.box()), name="box")
    with pytest.raises(InputError, match="part box: "):
        turn_part(part, matrix)
