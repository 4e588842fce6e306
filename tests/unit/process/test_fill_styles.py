"""Infill styles: how much every one of them lays, layer by layer."""

import numpy as np
import pytest
import shapely
from fill_samples import layers_of, make_recipe, role_lengths, walls_of
from scipy.integrate import quad

from buildplan.process.fill.infill import WAVE_MM, WAVELENGTH_MM, wave_length_factor
from buildplan.process.paths import plan_paths
from buildplan.process.roles import Role

STYLES = ("parallel", "crossed", "three_way", "wave", "concentric")


def plan(sections, **changes):
    layers = layers_of(sections)
    recipe = make_recipe(**changes)
    return plan_paths(layers, recipe, walls=walls_of(layers, recipe))


def beads_mm(paths, role):
    """Length of the moves of a role that carry volume, in every layer."""
    return paths.volume_mm3[:, role] / paths.layers.thickness_mm / paths.recipe.bead_mm


def test_the_wave_is_as_long_as_its_arc_integral():
    turn = 2 * np.pi / WAVELENGTH_MM

    def slope(x):
        return np.sqrt(1 + (WAVE_MM * turn * np.cos(turn * x)) ** 2)

    arc, _ = quad(slope, 0, WAVELENGTH_MM)
    assert wave_length_factor(WAVE_MM, WAVELENGTH_MM) == pytest.approx(arc / WAVELENGTH_MM, 1e-9)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("share", [0.1, 0.15, 0.3, 1.0])
def test_infill_volume_per_area_is_the_asked_share(style, share):
    plate = shapely.box(-60, -40, 60, 40).difference(shapely.Point(20, 10).buffer(9))
    paths = plan([plate] * 24, infill_frac=share, infill_style=style, floor_layers=2)
    inside = slice(2, 20)
    border = plate.buffer(-0.9, join_style="mitre").area
    got = beads_mm(paths, Role.INFILL)[inside] * 0.45 / border
    assert got == pytest.approx(share, rel=0.01)


@pytest.mark.parametrize("style", ["parallel", "crossed", "three_way", "wave"])
@pytest.mark.parametrize("share", [0.15, 0.3, 1.0])
def test_line_length_per_area_is_share_over_bead_within_a_hundredth(style, share):
    from buildplan.kernels.chains import layer_lengths
    from buildplan.process.fill import plan_infill, scan_outlines

    disc = shapely.Point(3.3, 1.7).buffer(95, quad_segs=64)
    layers = layers_of([disc] * 16)
    recipe = make_recipe(infill_frac=share, infill_style=style, floor_layers=0, roof_layers=0)
    walls = walls_of(layers, recipe)
    infill = plan_infill(layers, recipe, walls, scan_outlines(layers, recipe))
    total = np.zeros(16)
    for lines in infill.lines:
        grid = lines.grid
        _, laid, _ = layer_lengths(lines.span_mm, lines.layer_off, grid.wave_mm, grid.wavelength_mm)
        total += laid
    area = disc.buffer(-0.9).area
    assert area > 100 * (recipe.bead_mm / share) ** 2
    assert total * recipe.bead_mm / area == pytest.approx(share, rel=0.01)


@pytest.mark.parametrize("style", STYLES)
def test_no_infill_at_share_0_and_floors_stay(style):
    paths = plan([shapely.box(0, 0, 30, 20)] * 20, infill_frac=0.0, infill_style=style)
    assert paths.volume_mm3[:, Role.INFILL].sum() == 0.0
    assert not (paths.role == Role.INFILL).any()
    assert (paths.volume_mm3[:4, Role.FLOOR_ROOF] > 0.0).all()
    assert (paths.volume_mm3[16:, Role.FLOOR_ROOF] > 0.0).all()


def test_styles_lay_as_many_directions_as_their_names_say():
    plate = [shapely.box(-40, -30, 40, 30)] * 6
    for style, per_layer in (("parallel", 1), ("crossed", 2), ("three_way", 3)):
        paths = plan(plate, infill_style=style, floor_layers=0, roof_layers=0)
        for k in range(6):
            run = slice(paths.point_off[k] + 1, paths.point_off[k + 1])
            step = np.hypot(
                np.diff(paths.x_mm, prepend=0.0)[run], np.diff(paths.y_mm, prepend=0.0)[run]
            )
            long = (paths.role[run] == Role.INFILL) & (step > 25.0)
            angle = np.degrees(
                np.arctan2(
                    np.diff(paths.y_mm, prepend=0.0)[run], np.diff(paths.x_mm, prepend=0.0)[run]
                )
            )
            ways = {round(a) % 180 for a in angle[long]}
            assert len(ways) == per_layer, (style, k, ways)


def test_concentric_loops_stay_inside_the_border_and_close_the_area():
    shape = shapely.union_all([shapely.box(0, 0, 40, 12), shapely.box(0, 0, 12, 40)])
    paths = plan([shape] * 12, infill_style="concentric", floor_layers=0, roof_layers=0)
    border = shape.buffer(-0.9, join_style="mitre")
    of_role = paths.role == Role.INFILL
    points = shapely.points(paths.x_mm[of_role], paths.y_mm[of_role])
    assert shapely.covers(border.buffer(1e-6), points).all()
    got = paths.volume_mm3[:, Role.INFILL] / 0.2 / border.area
    assert got == pytest.approx(0.15, rel=1e-3)


def test_wave_points_lie_on_the_wave():
    paths = plan(
        [shapely.box(-40, -30, 40, 30)] * 2, infill_style="wave", floor_layers=0, roof_layers=0
    )
    run = slice(paths.point_off[0], paths.point_off[1])
    inner = paths.role[run] == Role.INFILL
    x, y = paths.x_mm[run][inner], paths.y_mm[run][inner]
    pitch = wave_length_factor(WAVE_MM, WAVELENGTH_MM) * 0.45 / 0.15
    line = (y - WAVE_MM * np.sin(2 * np.pi * x / WAVELENGTH_MM)) / pitch - 0.5
    assert np.abs(line - np.round(line)).max() < 1e-9
    assert role_lengths(paths)[Role.INFILL] > 0
