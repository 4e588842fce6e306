"""Coupons: the region is the part's own, prints by itself, and keeps to a limit of minutes."""

import math

import numpy as np
import pytest
import solids
from manifold3d import Manifold

import buildplan as bp
from buildplan.errors import InputError, NoPlanError
from buildplan.part import part_from_mesh
from buildplan.part.feature import Feature
from buildplan.part.turn import turn_part
from buildplan.segments.coupon import coupon_within, cut_coupon, cut_pair
from buildplan.segments.solid import solid_of


def as_part(solid, name="part"):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


@pytest.fixture(scope="module")
def tub():
    return as_part(solids.tub(128), "tub")


@pytest.fixture(scope="module")
def printing():
    return bp.printer("small_moving_bed"), bp.feedstock("pla"), bp.recipe("everyday")


def boxes_of(part):
    """Boxes along the rim and the floor of the tub."""
    low, high = part.vertices_mm.min(axis=0), part.vertices_mm.max(axis=0)
    middle = (low + high) / 2
    return {
        "rim": (
            high[0] - 15.0,
            middle[1] - 15.0,
            high[2] - 30.0,
            high[0],
            middle[1] + 15.0,
            high[2],
        ),
        "floor": (middle[0], middle[1], low[2], middle[0] + 25.0, middle[1] + 25.0, low[2] + 20.0),
        "long wall": (middle[0], low[1], low[2] + 30.0, high[0], middle[1], low[2] + 70.0),
    }


def difference_mm3(a, b):
    return (a - b).volume() + (b - a).volume()


@pytest.mark.parametrize("where", ["rim", "floor", "long wall"])
def test_inside_its_box_a_coupon_is_the_part_itself(tub, where):
    box = np.array(boxes_of(tub)[where])
    coupon = cut_coupon(tub, box)
    assert coupon.part.closed
    assert coupon.part.shells == 1
    bottom = coupon.part.vertices_mm[:, 2].min()
    floor = max(box[2], bottom + 1.3) if coupon.has_base else box[2]
    block = Manifold.cube((box[3] - box[0], box[4] - box[1], box[5] - floor)).translate(
        (box[0], box[1], floor)
    )
    # a base may reach up by its overlap of 0.2 mm, never into the box
    assert floor <= box[2] + 1e-9
    assert difference_mm3(solid_of(coupon.part) ^ block, solid_of(tub) ^ block) <= 1e-6
    assert 0.0 < coupon.volume_frac < 0.2


def test_a_coupon_that_stands_on_too_little_gets_a_base():
    arm = as_part(solids.tee(foot=3.0, foot_height=30.0, top=30.0), "arm")
    coupon = cut_coupon(arm, (-16.0, -16.0, 25.0, 16.0, 16.0, 35.0))
    assert coupon.has_base
    assert coupon.part.shells == 1
    foot = solid_of(coupon.part).slice(coupon.part.vertices_mm[:, 2].min() + 0.1).area()
    assert foot > 30.0 * 30.0


def test_two_walls_in_one_box_are_joined_by_a_base():
    comb = (
        solids.box(60, 20, 4) + solids.box(4, 20, 40, (0, 0, 0)) + solids.box(4, 20, 40, (20, 0, 0))
    )
    coupon = cut_coupon(as_part(comb), (-1.0, -1.0, 20.0, 30.0, 21.0, 41.0))
    assert coupon.has_base
    assert coupon.part.shells == 1


def test_loose_splinters_are_dropped_and_told():
    body = solids.box(30, 30, 30) + solids.box(1, 1, 2, (40, 40, 0)) + solids.box(41, 41, 1)
    coupon = cut_coupon(as_part(body), (0.0, 0.0, 3.0, 45.0, 45.0, 32.0), margin_mm=1.9)
    assert coupon.dropped == 1
    assert coupon.dropped_mm3 == pytest.approx(0.9, rel=1e-6)


def test_a_named_feature_gives_the_coupon_its_name(tub):
    box = boxes_of(tub)["rim"]
    coupon = cut_coupon(tub, Feature(name="hinge", kind="hinge", box_mm=box))
    assert (coupon.feature, coupon.of) == ("hinge", "tub")
    assert coupon.part.name == "tub coupon hinge"


def test_the_margin_is_shrunk_until_the_estimate_allows_it(tub, printing):
    box = boxes_of(tub)["long wall"]
    wide = bp.estimate_print(cut_coupon(tub, box, margin_mm=8.0).part, *printing)
    bare = bp.estimate_print(cut_coupon(tub, box, margin_mm=0.0).part, *printing)
    limit = 30.0 * (wide.time_h + bare.time_h)
    coupon, estimate = coupon_within(tub, box, *printing, limit_min=limit, margin_mm=8.0)
    assert 60.0 * estimate.time_h <= limit
    assert 0.0 < coupon.margin_mm < 8.0
    again = bp.estimate_print(cut_coupon(tub, box, margin_mm=coupon.margin_mm).part, *printing)
    assert again.time_h == estimate.time_h


def test_a_limit_that_no_margin_meets_says_how_long_it_takes(tub, printing):
    box = boxes_of(tub)["long wall"]
    bare = bp.estimate_print(cut_coupon(tub, box, margin_mm=0.0).part, *printing)
    with pytest.raises(NoPlanError, match=rf"takes {60 * bare.time_h:.0f} min.*5 min are allowed"):
        coupon_within(tub, box, *printing, limit_min=5.0)


def test_a_pair_is_cut_by_one_box_where_the_parts_stand_together():
    """A plate with a hole, and a pin printed upright elsewhere that sits in it in the device."""
    hole = Manifold.cylinder(10.0, 3.2, 3.2, 64).translate((50.0, 50.0, -1.0))
    plate = as_part(solids.box(100, 100, 6) - hole, "plate")
    pin = as_part(Manifold.cylinder(80.0, 3.0, 3.0, 64), "pin")
    still = np.eye(4)
    lying = np.eye(4)
    lying[:3, 3] = (50.0, 50.0, -20.0)
    first, second = cut_pair(
        (plate, still.ravel()), (pin, lying.ravel()), (42.0, 42.0, 0.0, 58.0, 58.0, 6.0)
    )
    assert first.of == "plate"
    assert second.of == "pin"
    # the pin comes back where it is printed: around its own axis, 18 to 28 mm up
    box = second.part.vertices_mm
    assert box[:, :2].min() == pytest.approx(-3.0, abs=1e-6)
    assert box[:, 2].max() == pytest.approx(28.0, abs=1e-6)
    placed = turn_part(second.part, lying.ravel())
    assert (solid_of(first.part) ^ solid_of(placed)).volume() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    "box",
    [(0, 0, 0, 1, 1), (0, 0, 0, 1, 1, 0), (0, 0, math.nan, 1, 1, 1), (5, 0, 0, 1, 1, 1)],
)
def test_a_box_that_is_none_is_refused(tub, box):
    with pytest.raises(InputError, match="six finite numbers"):
        cut_coupon(tub, box)


def test_a_box_in_the_air_says_where_the_part_is(tub):
    with pytest.raises(NoPlanError, match=r"holds nothing of it; it reaches from"):
        cut_coupon(tub, (900.0, 0.0, 0.0, 910.0, 10.0, 10.0))


def test_a_negative_margin_is_refused(tub):
    with pytest.raises(InputError, match="margin"):
        cut_coupon(tub, boxes_of(tub)["rim"], margin_mm=-1.0)
