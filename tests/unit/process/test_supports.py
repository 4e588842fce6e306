"""Support columns: closed forms on solids made of boxes, and what the record says about them."""

import math

import hanging_solids as hs
import numpy as np
import pytest
import rows
import solids

from buildplan.errors import InputError
from buildplan.process.layers import cut_layers
from buildplan.process.roles import Role
from buildplan.process.supports import plan_supports


@pytest.mark.parametrize("pitch", [0.5, 1.0])
def test_under_a_t_columns_fill_all_but_the_foot(pitch):
    _, supports = hs.plan(solids.tee(), bead_mm=pitch)
    assert supports.column_volume_mm3 == pytest.approx((30**2 - 6**2) * 20, abs=1e-6)
    assert supports.supported_area_mm2 == pytest.approx(30**2 - 6**2, abs=1e-6)
    assert supports.on_part_area_mm2 == pytest.approx(0.0, abs=1e-9)


def test_under_a_table_columns_fill_all_but_the_legs():
    assert hs.volume(hs.table()) == pytest.approx((40**2 - 4 * 4**2) * 20, abs=1e-6)


@pytest.mark.parametrize("turn", [0, 90])
def test_a_beam_needs_columns_only_past_the_bridge_limit_whichever_way_it_runs(turn):
    solid = hs.beam().rotate((0, 0, turn))
    assert hs.volume(solid, bridge_limit_mm=10.0) == 0.0
    assert hs.volume(solid, bridge_limit_mm=5.0) == pytest.approx(8 * 10 * 10, abs=1e-6)


def test_columns_under_an_arm_stop_on_its_own_foot():
    _, supports = hs.plan(hs.arm())
    assert supports.column_volume_mm3 == pytest.approx(24 * 6 * 12, abs=1e-6)
    assert supports.on_part_area_mm2 == pytest.approx(24 * 6, abs=1e-6)


def test_gap_layers_shorten_every_column():
    assert hs.volume(solids.tee(), support_gap_layers=2) == pytest.approx(864 * (20 - 0.4))


def test_the_clearance_keeps_columns_off_the_foot():
    got = hs.volume(solids.tee(), support_clearance_mm=1.0)
    assert got == pytest.approx((30**2 - 8**2) * 20, abs=1e-6)


def test_face_layers_are_full_and_the_rest_is_laid_by_its_share():
    layers, supports = hs.plan(solids.tee(), support_face_layers=3, support_frac=0.2)
    per_layer = 864 * 0.2
    assert np.allclose(supports.volume_mm3[:97], per_layer * 0.2)
    assert np.allclose(supports.volume_mm3[97:100], per_layer)
    assert not supports.volume_mm3[100:].any()
    assert len(supports.volume_mm3) == len(layers.z_mm)


def test_the_laid_spans_carry_the_volume_of_the_record():
    _, supports = hs.plan(solids.tee(), support_face_layers=3, support_frac=0.2)
    length = np.diff(supports.span_mm, axis=1)[:, 0]
    laid = length.sum() * supports.pitch_mm * 0.2
    assert laid == pytest.approx(supports.volume_mm3.sum(), rel=0.03)
    face = length[supports.span_role == Role.SUPPORT_FACE].sum() * supports.pitch_mm
    assert face == pytest.approx(3 * 864, abs=1e-6)


def test_spans_stand_on_the_lines_that_the_offsets_name():
    layers, supports = hs.plan(solids.tee())
    assert len(supports.line_off) == len(layers.z_mm) * supports.n_lines + 1
    assert supports.line_off[-1] == len(supports.span_mm)
    y = (supports.first_line + np.arange(supports.n_lines) + 0.5) * supports.pitch_mm
    assert y.min() == pytest.approx(-14.75)
    assert y.max() == pytest.approx(14.75)
    assert np.all(supports.span_mm[:, 1] > supports.span_mm[:, 0])


def test_pieces_smaller_than_the_least_area_are_left_out():
    post = hs.block(-20, -5, 0, -10, 5, 20)
    small = hs.block(-10, -0.5, 10, -9, 0.5, 20)
    large = hs.block(-30, -5, 10, -20, 5, 20)
    both = post + small + large
    assert hs.volume(both) == pytest.approx((1 + 100) * 10, abs=1e-6)
    assert hs.volume(both, support_least_mm2=2.0) == pytest.approx(100 * 10, abs=1e-6)


def test_a_curved_overhang_is_not_dropped_as_slender_strips():
    all_of_it = hs.volume(solids.sphere(segments=128))
    assert hs.volume(solids.sphere(segments=128), support_least_mm2=2.0) > 0.98 * all_of_it


def test_a_part_that_stands_by_itself_gets_none():
    _, supports = hs.plan(solids.box())
    assert supports.column_volume_mm3 == 0.0
    assert len(supports.span_mm) == 0
    assert supports.line_off[-1] == 0


def test_supports_off_gives_an_empty_record():
    layers, supports = hs.plan(solids.tee(), supports=False)
    assert supports.column_volume_mm3 == 0.0
    assert len(supports.volume_mm3) == len(layers.z_mm)


@pytest.mark.parametrize("lean", [46.0, 50.0, 60.0])
@pytest.mark.parametrize("turn", [0, 90, 33])
def test_a_leaning_side_is_carried_whole_whichever_way_it_faces(lean, turn):
    # triangle below the leaning side, less the first layer, which has nothing below
    exact = 0.5 * 10 * 10 * math.tan(math.radians(lean)) * 30
    got = hs.volume(hs.wedge(lean).rotate((0, 0, turn)))
    assert got == pytest.approx(0.98 * exact, rel=0.035)


@pytest.mark.parametrize("clearance", [0.5, 0.8, 2.0])
@pytest.mark.parametrize("turn", [0, 90])
def test_columns_under_a_leaning_side_begin_where_they_have_come_away_from_it(clearance, turn):
    """The triangle below the side is narrower by the clearance at every height, and no more."""
    lean = 55.0
    wide = 10 * math.tan(math.radians(lean))
    exact = 0.5 * (wide - clearance) ** 2 / wide * 10 * 30
    got = hs.volume(hs.wedge(lean).rotate((0, 0, turn)), support_clearance_mm=clearance)
    assert got == pytest.approx(0.98 * exact, rel=0.05)


def test_a_lean_of_just_the_limit_holds():
    assert hs.volume(hs.wedge(45.0)) == 0.0
    assert hs.volume(hs.wedge(45.0).rotate((0, 0, 90))) == 0.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("overhang_limit_deg", 90.0),
        ("overhang_limit_deg", -1.0),
        ("bridge_limit_mm", -1.0),
        ("support_frac", 1.5),
        ("support_gap_layers", -1),
        ("support_clearance_mm", math.nan),
        ("support_least_mm2", -0.1),
    ],
)
def test_an_impossible_setting_is_refused_by_name(name, value):
    with pytest.raises(InputError, match=name):
        hs.plan(solids.tee(), **{name: value})


def test_the_record_is_closed_to_writing_and_the_layers_are_left_alone():
    layers = cut_layers(hs.as_part(solids.tee()), 0.2)
    before = layers.xy_mm.copy()
    supports = plan_supports(layers, rows.recipe(**hs.USUAL))
    assert np.array_equal(before, layers.xy_mm)
    for name in ("span_mm", "span_role", "line_off", "volume_mm3"):
        assert not getattr(supports, name).flags.writeable


def test_the_key_changes_with_every_support_setting_and_with_nothing_else():
    layers = cut_layers(hs.as_part(solids.tee()), 0.2)
    first = plan_supports(layers, rows.recipe(**hs.USUAL)).key
    same = rows.recipe(**(hs.USUAL | {"infill_mm_s": 33.0, "infill_frac": 0.7}))
    assert plan_supports(layers, same).key == first
    for name, value in hs.PLAIN.items():
        if name in ("layer_mm", "supports") or value == hs.USUAL[name]:
            continue
        other = rows.recipe(**(hs.USUAL | {name: value}))
        assert plan_supports(layers, other).key != first, name
