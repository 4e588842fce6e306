"""The 3-D view without a browser: scenes, bytes, colours, the still picture, the shipped bundle."""

import hashlib
import io
import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace

import bare_parts
import numpy as np
import pytest
import shown_scenes
import solids
from matplotlib.colors import to_rgb
from PIL import Image

import buildplan as bp
from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.chain.placed import place_parts
from buildplan.device.chain.run import study_device
from buildplan.errors import InputError
from buildplan.notebook.viewer import values_on
from buildplan.notebook.viewer.colours import COLOURS, colour_steps
from buildplan.notebook.viewer.legend import scale_of, ticks_of
from buildplan.notebook.viewer.pack import pack_scene
from buildplan.notebook.viewer.scenes import (
    device_scene,
    findings_scene,
    part_scene,
    segments_scene,
)
from buildplan.notebook.viewer.still import draw_still
from buildplan.notebook.viewer.widget import WIDGET_VIEW, View
from buildplan.report.picture import aim_camera
from buildplan.report.style import TOKENS
from buildplan.segments.joints import JointSpec
from buildplan.segments.planes import make_plane
from buildplan.segments.run import split_part

VIEWER = files("buildplan.notebook.viewer")
SOURCE = Path(str(VIEWER)) / "source"


@pytest.fixture(scope="module")
def demo_build():
    return load_build(demo_folder())


@pytest.fixture(scope="module")
def planned(demo_build):
    """A part of the demo with its own checks, as a plan holds them, without the print."""
    request = next(part for part in demo_build.parts if part.name == "camera_arm")
    part = bp.read_part(request.path, unit=request.unit, name=request.name)
    checks = bp.inspect_part(part, request.printers[0], request.feedstock, request.recipe)
    return SimpleNamespace(name=part.name, part=part, checks=checks, marks=checks.marks)


def pixels(png):
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)


def nearest(picture, colour):
    """Pixels of nearly this colour."""
    wanted = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)])
    return int((np.abs(picture - wanted).max(axis=2) <= 2).sum())


# --- bytes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("scene", [shown_scenes.findings, shown_scenes.pieces, shown_scenes.device])
def test_every_array_comes_back_from_the_bytes(scene):
    scene = scene()
    header, data = pack_scene(scene)
    header = json.loads(json.dumps(header))
    for told, item in zip(header["items"], scene.items, strict=True):
        vertices = shown_scenes.read_back(data, told["vertices"], "<f4", 3)
        assert np.allclose(vertices, item.part.vertices_mm, atol=1e-5)
        facets = shown_scenes.read_back(data, told["facets"], "<u4", 3)
        assert np.array_equal(facets, item.part.facets)
    for told, spot in zip(header["spots"], scene.spots, strict=True):
        assert np.array_equal(shown_scenes.read_back(data, told["facets"], "<u4"), spot.facets)
    for told, values in zip(header["values"], scene.values, strict=True):
        assert np.allclose(shown_scenes.read_back(data, told["data"], "<f4"), values.data)
    if scene.poses is not None:
        place = header["poses"]["groups"]["hinge"]
        matrices = shown_scenes.read_back(data, place, "<f4", 16).reshape(-1, 4, 4)
        assert np.allclose(matrices, scene.poses.matrices["hinge"], atol=1e-5)


def test_a_large_mesh_takes_twelve_bytes_a_vertex_and_a_facet():
    part = bare_parts.solid_part(solids.sphere(20.0, 128))
    _, data = pack_scene(part_scene(part))
    assert len(data) == 12 * (len(part.vertices_mm) + len(part.facets))


# --- scenes --------------------------------------------------------------------------------------


def test_the_regions_of_a_part_are_the_facets_of_its_marks(planned):
    scene = findings_scene(planned)
    assert len(scene.spots) == len(planned.marks) > 0
    assert any(len(spot.facets) for spot in scene.spots)
    for spot, mark in zip(scene.spots, planned.marks, strict=True):
        assert np.array_equal(spot.facets, mark.facets)
        assert (spot.kind, spot.what) == (mark.finding.severity, mark.finding.what)
        if len(spot.facets):
            assert (len(spot.box_mm), spot.item) == (6, 0)


def test_wall_thickness_is_shown_up_to_what_was_looked_for(planned):
    walls = findings_scene(planned).values[0]
    surface = planned.checks.surface
    assert (walls.name, walls.unit, walls.per) == ("wall thickness", "mm", "facet")
    assert walls.high == surface.inside_cap_mm
    assert np.nanmin(walls.data) >= surface.thickness_mm.min()
    seen = np.zeros(len(planned.part.facets), bool)
    seen[surface.part_facet[surface.facet]] = True
    assert np.array_equal(np.isnan(walls.data), ~seen)
    assert [limit for limit, _ in walls.limits] == [planned.checks.walls.limit_mm]


def test_pieces_move_apart_and_are_told_how_to_join():
    part = bare_parts.solid_part(solids.box(60.0, 20.0, 20.0), name="bar")
    made = split_part(
        part,
        bp.printer("small_moving_bed"),
        bp.feedstock("pla"),
        replace(bp.recipe("everyday"), layer_mm=0.3),
        planes=[make_plane((1.0, 0.0, 0.0), 30.0)],
        joints=(JointSpec(kind="glue", size_mm=1.0, depth_mm=3.0, clearance_mm=0.0),),
        check_pieces=False,
    )
    scene = segments_scene(made)
    assert [item.name for item in scene.items] == ["piece 1", "piece 2"]
    ends = [(item.part.vertices_mm + np.array(item.apart_mm))[:, 0] for item in scene.items]
    first, second = sorted(ends, key=lambda x: x.mean())
    assert second.min() - first.max() > 10.0
    steps = [spot for spot in scene.spots if spot.kind == "step"]
    assert len(steps) == len(made.joints) == 1
    assert steps[0].box_mm[0] <= 30.0 <= steps[0].box_mm[3]


def test_a_device_stands_where_its_study_has_it(demo_build):
    requests = [request for request in demo_build.parts if request.moves_with]
    rows = [
        (bp.read_part(r.path, unit=r.unit, name=r.name, health="quick"), r.poses, r.moves_with)
        for r in requests
    ]
    plain = replace(demo_build.device.device, screw=(), plug=(), component=(), put_on=())
    study = study_device(
        replace(demo_build.device, device=plain, views=None, heat=None), place_parts(rows)
    )
    scene = device_scene(study)
    assert len(scene.items) == len(study.placed)
    assert scene.poses is not None
    assert {item.group for item in scene.items} <= {*scene.poses.matrices, ""}
    assert all(len(m) == len(scene.poses.at) for m in scene.poses.matrices.values())
    assert [spot.what for spot in scene.spots] == [finding.what for finding in study.findings]


@pytest.mark.parametrize(
    ("data", "ends", "said"),
    [
        (np.zeros(5), {}, "8 vertices"),
        (np.full(8, np.nan), {}, "finite"),
        (np.arange(8.0), {"low": 3.0, "high": 3.0}, "above"),
        (np.arange(8.0), {"low": np.inf}, "above"),
    ],
)
def test_values_that_cannot_be_shown_are_refused(data, ends, said):
    part = bare_parts.solid_part(solids.box())
    with pytest.raises(InputError, match=said):
        values_on(part, data, name="heat", unit="°C", **ends)


# --- colours -------------------------------------------------------------------------------------


def test_the_scale_is_even_and_climbs_in_lightness():
    """CIE 1976 lightness L* from sRGB (IEC 61966-2-1) rises by even steps, for grey print too."""
    linear = np.array([to_rgb(code) for code in COLOURS])
    linear = np.where(linear <= 0.04045, linear / 12.92, ((linear + 0.055) / 1.055) ** 2.4)
    y = linear @ [0.2126, 0.7152, 0.0722]
    lightness = 116.0 * np.cbrt(y) - 16.0
    steps = np.diff(lightness)
    assert steps.min() > 0.0
    assert steps.max() < 2.5 * steps.mean()


def test_colours_clip_at_the_ends_and_leave_out_what_was_not_measured():
    steps = colour_steps(np.array([-5.0, 0.0, 1.0, 2.0, 9.0, np.nan]), 0.0, 2.0)
    last = len(COLOURS) - 1
    assert steps.tolist() == [0, 0, round(last / 2), last, last, -1]


@pytest.mark.parametrize(
    ("low", "high", "ticks", "digits"),
    [
        (0.0, 1.5, (0.0, 0.5, 1.0, 1.5), 1),
        (0.0, 1.0, (0.0, 0.25, 0.5, 0.75, 1.0), 2),
        (-7.0, 13.0, (-5.0, 0.0, 5.0, 10.0), 0),
    ],
)
def test_ticks_are_round_and_have_the_decimals_they_need(low, high, ticks, digits):
    assert ticks_of(low, high) == (pytest.approx(ticks), digits)


# --- the still picture ---------------------------------------------------------------------------


def test_the_still_is_the_same_bytes_each_time_and_shows_what_is_set():
    scene = shown_scenes.device()
    base = draw_still(scene)
    assert base == draw_still(scene)
    assert Image.open(io.BytesIO(base)).size == (760, 500)
    assert len({base, draw_still(scene, pose=4), draw_still(scene, hidden=(1,))}) == 3
    pieces = shown_scenes.pieces()
    assert draw_still(pieces) != draw_still(pieces, apart_frac=1.0)
    with pytest.raises(InputError, match="hidden"):
        draw_still(scene, hidden=(0, 1))


def test_the_still_paints_stops_and_cautions_and_no_notes():
    scene = shown_scenes.findings()
    plain = pixels(draw_still(replace(scene, spots=())))
    grave = pixels(draw_still(scene))
    notes = pixels(draw_still(replace(scene, spots=scene.spots[2:])))
    reds = [int(((p[..., 0] - p[..., 2]) > 90).sum()) for p in (plain, grave, notes)]
    assert reds[0] == reds[2] == 0
    assert reds[1] > 20_000


def test_the_scale_bar_is_as_long_as_it_says():
    scene = shown_scenes.findings()
    part = scene.items[0].part
    camera = aim_camera(part, width_px=760, height_px=500)
    length, wide = scale_of(camera)
    ends = [
        np.asarray(camera.centre_mm) + s * length / 2 * np.asarray(camera.right) for s in (-1, 1)
    ]
    left, right = (camera.at(end)[0] * 760 for end in ends)
    assert right - left == pytest.approx(wide, rel=1e-6)
    row = pixels(draw_still(scene))[486]
    ink = np.flatnonzero(np.abs(row - [0x1D, 0x21, 0x25]).max(axis=1) < 8)
    assert ink.max() - ink.min() == pytest.approx(wide, abs=2.0)


def test_values_come_with_their_bar_in_the_still():
    picture = pixels(draw_still(shown_scenes.findings(), colour_by=0))
    strip = picture[500 - 78 + 34]
    assert nearest(strip[None, 24:60], COLOURS[0]) > 3
    assert nearest(strip[None, 700:736], COLOURS[-1]) > 3
    limit_x = 24 + round((736 - 24) * 15.0 / 40.0)
    assert nearest(strip[None, limit_x - 2 : limit_x + 3], TOKENS["ink"][0]) >= 2


# --- the widget ----------------------------------------------------------------------------------


def test_the_message_holds_view_picture_and_words():
    view = View(shown_scenes.findings())
    bundle, about = view._repr_mimebundle_()
    assert {WIDGET_VIEW, "image/png", "text/plain"} <= set(bundle)
    assert bundle[WIDGET_VIEW]["model_id"] == view.model_id
    assert "1 stop, here: the front is <b>thin</b>" in bundle["text/plain"]
    assert about["image/png"]["width"] == 760
    assert view.still.startswith(b"\x89PNG")
    state = view.get_state()
    assert {"header", "data", "still", "chosen", "apart_frac", "pose", "section"} <= set(state)
    view.close()


def test_a_cell_shows_the_view_and_keeps_its_picture_beside_it(monkeypatch):
    shown = []
    monkeypatch.setattr("IPython.display.display", lambda data, **_: shown.append(data))
    scene = shown_scenes.findings()
    view = View(replace(scene, title='a "<b>block"'))
    view._ipython_display_()
    live, kept = shown
    assert live[WIDGET_VIEW]["model_id"] == view.model_id
    assert f"data:image/png;base64,{live['image/png']}" in kept["text/html"]
    assert 'alt="a &quot;&lt;b&gt;block&quot;"' in kept["text/html"]
    view.close()


def test_the_picture_follows_what_is_set():
    view = View(shown_scenes.device())
    shut = view.picture()
    view.pose = 4
    assert view.picture() != shut
    view.hidden = [0, 1]
    assert view.picture()
    view.close()


# --- the shipped bundle --------------------------------------------------------------------------


def test_the_bundle_was_built_from_the_source_beside_it():
    names = sorted(path.name for path in SOURCE.glob("*.js"))
    whole = b"".join((SOURCE / name).read_bytes() for name in [*names, "view.css", "package.json"])
    bundle = (VIEWER / "bundle" / "view.js").read_text("utf-8")
    told = re.search(r"sha256 ([0-9a-f]{64})", bundle.splitlines()[0])
    assert told is not None
    assert told[1] == hashlib.sha256(whole).hexdigest(), "run source/build.sh"
    assert (VIEWER / "bundle" / "view.css").read_bytes() == (SOURCE / "view.css").read_bytes()


def test_the_bundle_says_what_is_inside_and_names_no_host():
    bundle = (VIEWER / "bundle" / "view.js").read_text("utf-8")
    notice = (VIEWER / "bundle" / "three.LICENSE.txt").read_text("utf-8")
    assert "MIT License" in notice
    assert "three.js authors" in notice
    wanted = json.loads((SOURCE / "package.json").read_text())["dependencies"]["three"]
    assert f'"{wanted.split(".")[1]}"' in bundle  # its own number of the release
    names = set(re.findall(r"https?://[^\s\"'`)]+", bundle))
    assert names <= {"http://www.w3.org/1999/xhtml"}, names
    assert "http" not in (SOURCE / "package-lock.json").read_text()
