"""Supports: more allowance never means more columns; columns never stand in the part."""

from functools import partial

import hanging_solids as hs
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildplan.process.supports.hanging import lay_grid, ring_off_of_layers, scan_along_x

FEW = settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def brackets(draw):
    """A foot with one to four blocks that stick out of a post, on a 0.5 mm grid."""
    post = hs.block(-3, -3, 0, 3, 3, 16)
    for _ in range(draw(st.integers(1, 4))):
        x, y = draw(st.integers(-14, 10)), draw(st.integers(-14, 10))
        z = draw(st.integers(2, 12))
        post += hs.block(min(x, 0), min(y, 0), z, max(x + 4, 1), max(y + 4, 1), z + 3)
    return post


@FEW
@given(brackets(), st.floats(5.0, 60.0), st.floats(0.0, 20.0))
def test_a_wider_allowed_lean_never_adds_columns(solid, limit, more):
    less = hs.volume(solid, overhang_limit_deg=limit)
    assert hs.volume(solid, overhang_limit_deg=min(limit + more, 64.0)) <= less + 1e-6


@pytest.mark.parametrize("make", [hs.ball, partial(hs.cone, 50.0), hs.small_tub])
def test_columns_of_curved_parts_only_shrink_as_more_lean_is_allowed(make):
    found = [hs.volume(make(), overhang_limit_deg=a) for a in (10, 25, 40, 45, 50, 60)]
    assert found == sorted(found, reverse=True)


@FEW
@given(brackets(), st.floats(0.0, 12.0), st.floats(0.0, 12.0))
def test_longer_bridges_never_add_columns(solid, limit, more):
    less = hs.volume(solid, bridge_limit_mm=limit, support_least_mm2=2.0)
    more_allowed = hs.volume(solid, bridge_limit_mm=limit + more, support_least_mm2=2.0)
    assert more_allowed <= less + 1e-6


@FEW
@given(brackets(), st.sampled_from([0.0, 4.0, 8.0]))
def test_x_and_y_are_alike(solid, bridge):
    along = hs.volume(solid, bridge_limit_mm=bridge)
    across = hs.volume(solid.rotate((0, 0, 90)), bridge_limit_mm=bridge)
    assert across == pytest.approx(along, rel=1e-9, abs=1e-6)


@FEW
@given(brackets(), st.floats(0.5, 4.0))
def test_a_foot_under_the_part_only_saves_columns(solid, height):
    without = hs.volume(solid.translate((0, 0, height)) + hs.block(-3, -3, 0, 3, 3, height))
    foot = hs.block(-15, -15, 0, 15, 15, height)
    assert hs.volume(solid.translate((0, 0, height)) + foot) <= without + 1e-6


@pytest.mark.parametrize("lean", [10.0, 30.0, 44.0])
@pytest.mark.parametrize("segments", [16, 128, 1024])
def test_a_cone_below_the_limit_needs_none(lean, segments):
    assert hs.volume(hs.cone(lean, segments)) == 0.0


@pytest.mark.parametrize("clearance", [0.0, 0.8])
@pytest.mark.parametrize("make", [hs.arm, hs.ball, hs.small_tub])
def test_columns_never_overlap_the_part(make, clearance):
    layers, supports = hs.plan(make(), hs.USUAL, support_clearance_mm=clearance)
    grid = lay_grid(layers, supports.pitch_mm)
    off, cross = scan_along_x(layers, ring_off_of_layers(layers), grid, 1)
    move = supports.first_line - grid.first_line
    for cell in np.flatnonzero(np.diff(supports.line_off)):
        layer, line = divmod(int(cell), supports.n_lines)
        at = layer * grid.n_lines + line + move
        part = cross[off[at] : off[at + 1]].reshape(-1, 2)
        for low, high in supports.span_mm[supports.line_off[cell] : supports.line_off[cell + 1]]:
            overlap = np.minimum(high, part[:, 1]) - np.maximum(low, part[:, 0])
            assert (overlap <= 1e-9 - clearance).all()


def test_columns_keep_the_clearance_in_every_direction():
    layers, supports = hs.plan(hs.small_tub(), hs.USUAL)
    rings = ring_off_of_layers(layers)
    cells = np.flatnonzero(np.diff(supports.line_off))
    for cell in cells[:: max(1, len(cells) // 300)]:
        layer, line = divmod(int(cell), supports.n_lines)
        outlines = shapely.MultiLineString(
            [
                np.vstack([ring, ring[:1]])
                for r in range(rings[layer], rings[layer + 1])
                for ring in [layers.xy_mm[layers.ring_off[r] : layers.ring_off[r + 1]]]
            ]
        )
        y = (supports.first_line + line + 0.5) * supports.pitch_mm
        for low, high in supports.span_mm[supports.line_off[cell] : supports.line_off[cell + 1]]:
            assert shapely.LineString([(low, y), (high, y)]).distance(outlines) >= 0.8 - 1e-6


@pytest.mark.parametrize("make", [hs.table, hs.ball, hs.small_tub])
def test_numbers_do_not_depend_on_the_number_of_workers(make):
    _, one = hs.plan(make(), hs.USUAL)
    for workers in (2, 3):
        _, other = hs.plan(make(), hs.USUAL, workers=workers)
        for name in ("span_mm", "span_role", "line_off", "volume_mm3"):
            assert getattr(one, name).tobytes() == getattr(other, name).tobytes()
        assert one.column_volume_mm3 == other.column_volume_mm3
        assert one.on_part_area_mm2 == other.on_part_area_mm2


@pytest.mark.parametrize(
    "make", [hs.arm, hs.ball, hs.small_tub, partial(hs.cone, 50.0), partial(hs.wedge, 47.0)]
)
def test_the_quick_sieve_never_loses_what_hangs(make, monkeypatch):
    sieved = hs.plan(make(), bridge_limit_mm=4.0)[1].supported_area_mm2
    monkeypatch.setattr(
        "buildplan.process.supports.hanging._sieve", lambda outlines, rows, *rest: rows
    )
    whole = hs.plan(make(), bridge_limit_mm=4.0)[1].supported_area_mm2
    assert sieved == pytest.approx(whole, rel=2e-3)
