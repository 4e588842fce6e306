"""The 3-D view in a real Chromium, drawn without a graphics card: what is seen, clicked and typed."""

import colorsys
import os
from dataclasses import replace
from pathlib import Path

import bare_parts
import nbformat
import numpy as np
import pytest
import shown_scenes
import solids
import view_pages

from buildplan.notebook.viewer.colours import COLOURS
from buildplan.notebook.viewer.scenes import part_scene
from buildplan.notebook.viewer.still import draw_still
from buildplan.report.style import TOKENS

pytestmark = pytest.mark.browser


@pytest.fixture
def show(visit, request, tmp_path):
    made = []

    def open_view(*scenes, width_px=1280, dark=False, **state):
        seen = visit(width_px, height_px=900, dark=dark)
        shown = view_pages.Shown(seen.page, *scenes, dark=dark, **state)
        made.append((seen, shown))
        return shown

    yield open_view
    for seen, shown in made:
        shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
        seen.page.screenshot(path=str(shots / f"{request.node.name}.png"))
        assert seen.errors == []
        assert shown.errors() == []
        assert seen.outside() == []


def test_a_part_is_drawn_and_turned_by_mouse_and_keys(show):
    shown = show(shown_scenes.findings())
    first = shown.picture()
    assert 0.1 < view_pages.covered(first) < 0.9
    eye = shown.get("eye_mm")
    shown.page.locator(".bp-frame").focus()
    for _ in range(4):
        shown.page.keyboard.press("ArrowRight")
    shown.rest()
    assert shown.get("eye_mm") != eye
    assert view_pages.differing(first, shown.picture()) > 0.02
    shown.page.keyboard.press("Home")
    shown.rest()
    assert shown.get("eye_mm") == pytest.approx(eye, abs=1e-3)
    shown.page.mouse.move(300, 300)
    shown.page.mouse.down()
    shown.page.mouse.move(420, 300, steps=4)
    shown.page.mouse.up()
    shown.rest()
    assert shown.get("eye_mm") != pytest.approx(eye, abs=1e-3)


def test_a_finding_chosen_by_keyboard_is_flown_to_and_read(show):
    scene = shown_scenes.findings()
    shown = show(scene)
    before = shown.picture()
    shown.page.locator(".bp-spot").first.focus()
    shown.page.keyboard.press("Tab")
    shown.page.keyboard.press("Enter")
    shown.rest()
    assert shown.get("chosen") == 1
    box = np.array(scene.spots[1].box_mm)
    assert shown.get("target_mm") == pytest.approx(((box[:3] + box[3:]) / 2).tolist(), abs=0.1)
    assert shown.get("eye_mm")[2] > box[5]
    assert "2 caution, here: the top leans" in shown.page.locator(".bp-read").inner_text()
    chosen = shown.page.locator(".bp-spot[aria-pressed=true]")
    assert "Do: thicken it" in chosen.inner_text()
    assert view_pages.differing(before, shown.picture()) > 0.02
    shown.page.get_by_role("button", name="Show the whole part").click()
    shown.rest()
    assert shown.get("chosen") == -1


def test_a_click_on_painted_facets_chooses_their_finding_and_texts_stay_texts(show):
    shown = show(shown_scenes.findings())
    shown.page.locator(".bp-frame").click(position=shown.place((70.0, 0.0, 12.0)))
    shown.rest()
    assert shown.get("chosen") == 0
    assert "the front is <b>thin</b>" in shown.page.locator(".bp-read").inner_text()
    assert shown.page.locator(".bp-what b").count() == 0


def test_a_place_inside_is_shown_by_cutting_the_part_open(show):
    shell = solids.box(100.0, 60.0, 40.0) - solids.box(80.0, 40.0, 20.0, (10.0, 10.0, 10.0))
    part = bare_parts.solid_part(shell, name="shell")
    low = np.flatnonzero(np.abs(part.vertices_mm[part.facets][:, :, 2] - 10.0).max(axis=1) < 1e-9)
    spots = (shown_scenes.spot("caution", "the inner floor", part, low),)
    shown = show(replace(part_scene(part), spots=spots))
    shown.page.locator(".bp-spot").first.click()
    shown.rest()
    assert set(shown.get("section")) == {"axis", "at_mm", "far"}
    orange = shown.picture() - np.array([0xE6, 0x9F, 0x00])
    assert (np.abs(orange).max(axis=2) < 60).mean() > 0.01
    shown.page.get_by_role("button", name="Show the whole part").click()
    shown.rest()
    assert shown.get("section") == {}


def test_pieces_move_apart_by_keyboard_and_can_be_hidden(show):
    shown = show(shown_scenes.pieces())
    together = shown.picture()
    shown.control("apart").focus()
    shown.page.keyboard.press("End")
    shown.rest()
    assert shown.get("apart_frac") == 1.0
    apart = shown.picture()
    assert view_pages.differing(together, apart) > 0.02
    shown.page.locator(".bp-parts input").nth(1).focus()
    shown.page.keyboard.press("Space")
    shown.rest()
    assert shown.get("hidden") == [1]
    assert view_pages.covered(shown.picture()) < 0.75 * view_pages.covered(apart)


def test_the_lid_follows_its_slider_and_the_kernel(show):
    shown = show(shown_scenes.device())
    shut = shown.picture()
    shown.control("pose").focus()
    for _ in range(4):
        shown.page.keyboard.press("ArrowRight")
    shown.rest()
    assert shown.get("pose") == 4
    assert shown.control("pose").get_attribute("aria-valuetext") == "60°"
    wide = shown.picture()
    assert view_pages.differing(shut, wide) > 0.02
    shown.page.evaluate("() => window.models[0].set('pose', 0)")
    shown.rest()
    assert shown.control("pose").input_value() == "0"
    assert view_pages.differing(shut, shown.picture()) < 0.001


def test_a_plane_cuts_the_part_open_where_the_slider_stands(show):
    shown = show(part_scene(bare_parts.solid_part(solids.tube(40.0, 34.0, 50.0))))
    whole = shown.picture()
    shown.control("cut").focus()
    shown.page.keyboard.type("across y")
    shown.rest()
    section = shown.get("section")
    assert (section["axis"], section["at_mm"]) == (1, pytest.approx(0.0, abs=1e-3))
    half = shown.picture()
    assert view_pages.covered(half) < 0.95 * view_pages.covered(whole)
    shown.control("section").focus()
    shown.page.keyboard.press("PageUp")
    shown.rest()
    assert shown.get("section")["at_mm"] > 1.0
    assert view_pages.differing(half, shown.picture()) > 0.005


@pytest.mark.parametrize(
    ("choice", "toward"),
    [
        ("a corner, isometric", (1.0, -1.0, 1.0)),
        ("the front", (0.0, -1.0, 0.0)),
        ("behind", (0.0, 1.0, 0.0)),
        ("above", (0.0, 0.0, 1.0)),
    ],
)
def test_a_side_is_looked_at_without_perspective(show, choice, toward):
    shown = show(shown_scenes.findings())
    shown.control("look").select_option(label=choice)
    shown.rest()
    assert shown.get("flat") is True
    looked = np.array(shown.get("eye_mm")) - np.array(shown.get("target_mm"))
    wanted = np.array(toward) / np.linalg.norm(toward)
    assert looked / np.linalg.norm(looked) @ wanted > 0.99999
    if choice == "the front":  # the block is 100 x 40 mm, whatever its depth
        rows, columns = np.nonzero(np.abs(shown.picture() - 255).max(axis=2) > 6)
        assert np.ptp(columns) / np.ptp(rows) == pytest.approx(100 / 40, rel=0.02)
        rule = shown.page.locator(".bp-rule")
        length = float(rule.inner_text().split()[0])
        wide = rule.bounding_box()["width"]
        assert wide / length == pytest.approx(np.ptp(columns) / 100.0, rel=0.03)


def test_colours_of_values_are_those_of_their_bar(show):
    shown = show(shown_scenes.findings(), colour_by=0)
    assert "height, mm" in shown.page.locator(".bp-bar").inner_text()
    assert "low below 15.00\u00a0mm" in shown.page.locator(".bp-notes").inner_text()
    picture = shown.picture()
    place = shown.place((70.0, 40.0, 40.0))
    top = picture[round(place["y"]), round(place["x"])]
    bar = [int(COLOURS[-1][k : k + 2], 16) for k in (1, 3, 5)]
    (h, s, _), (wanted_h, wanted_s, _) = (
        colorsys.rgb_to_hsv(*(np.array(c) / 255)) for c in (top, bar)
    )
    assert abs(h - wanted_h) < 0.03
    assert s > 0.8 * wanted_s, "washed out: sRGB taken for linear light"
    line = shown.place((70.0, 0.0, 15.0))  # dark where the numbers cross the limit
    y, x = round(line["y"]), round(line["x"])
    assert picture[y - 2 : y + 3, x].sum(axis=1).min() < 180


def test_it_keeps_to_the_width_and_follows_it(show):
    shown = show(shown_scenes.device())
    page = shown.page
    for width in (1280, 700, 400):
        page.set_viewport_size({"width": width, "height": 900})
        shown.rest()
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width
        canvas = page.locator("canvas").bounding_box()
        frame = page.locator(".bp-frame").bounding_box()
        assert canvas["width"] == pytest.approx(frame["width"], abs=1)
        assert 0.05 < view_pages.covered(shown.picture()) < 0.95


def test_dark_pages_have_light_words_and_a_clear_ground(show):
    shown = show(shown_scenes.findings(), dark=True)
    colour = "() => getComputedStyle(document.querySelector('.bp-title')).color"
    ink = TOKENS["ink"][1]
    wanted = ", ".join(str(int(ink[k : k + 2], 16)) for k in (1, 3, 5))
    assert shown.page.evaluate(colour) == f"rgb({wanted})"
    assert shown.picture()[2, 2].tolist() == [0x11] * 3
    shown.page.get_by_label("white ground").check()
    shown.rest()
    assert shown.picture()[2, 2].tolist() == [255] * 3


def test_many_views_take_the_means_to_draw_only_in_sight(show):
    shown = show(*[shown_scenes.findings()] * 18)
    page = shown.page
    states = "() => [...document.querySelectorAll('.bp-view')].map(v => v.dataset.picture ?? '')"
    assert 0 < page.evaluate(states).count("live") <= 4
    for k in range(18):
        page.locator(".bp-view").nth(k).scroll_into_view_if_needed()
        page.wait_for_function(
            "k => document.querySelectorAll('.bp-view')[k].dataset.frames > 0", arg=k
        )
    page.wait_for_function(f"() => ({states})().filter(s => s === 'live').length <= 4")
    assert page.evaluate(states).count("kept") >= 14
    assert page.locator("canvas").count() <= 4
    page.evaluate("() => window.scrollTo(0, 0)")
    page.wait_for_function(f"() => ({states})()[0] === 'live'")
    assert page.locator(".bp-frame").first.locator("canvas").count() == 1


def test_a_picture_stays_the_same_when_it_is_put_to_sleep(show):
    shown = show(shown_scenes.findings())
    shown.page.locator(".bp-spot").nth(1).click()
    shown.rest()
    before, eye = shown.picture(), shown.get("eye_mm")
    shown.page.evaluate(
        "() => { const d = document.createElement('div'); d.style.height = '4000px'; d.id = 'tall';"
        " document.body.prepend(d); window.scrollTo(0, 0); }"
    )
    shown.page.wait_for_function(
        "() => document.querySelector('.bp-view').dataset.picture === 'kept'"
    )
    assert shown.page.locator("canvas").count() == 0
    assert shown.page.locator(".bp-frame img").count() == 1
    shown.page.evaluate("() => document.getElementById('tall').remove()")
    shown.page.wait_for_selector("canvas")
    shown.rest()
    assert shown.get("eye_mm") == pytest.approx(eye, abs=1e-3)
    assert view_pages.differing(before, shown.picture()) < 0.01


def test_what_the_browser_took_away_comes_back(show):
    shown = show(shown_scenes.findings())
    before = shown.picture()
    shown.page.evaluate(
        "() => document.querySelector('canvas').getContext('webgl2')"
        ".getExtension('WEBGL_lose_context').loseContext()"
    )
    shown.page.wait_for_function(
        "() => document.querySelector('.bp-view').dataset.picture === 'kept'"
    )
    shown.page.mouse.move(5, 5)
    shown.page.locator(".bp-frame").hover()
    shown.page.wait_for_selector("canvas")
    shown.rest()
    assert view_pages.differing(before, shown.picture()) < 0.01


def test_a_removed_view_gives_everything_back(show):
    shown = show(shown_scenes.findings())
    lost = shown.page.evaluate(
        "async () => { const gl = document.querySelector('canvas').getContext('webgl2');"
        " window.remove[0](); await new Promise(r => setTimeout(r, 50)); return gl.isContextLost(); }"
    )
    assert lost
    saved = shown.page.evaluate(
        "async () => { window.models[0].set('pose', 1); return window.models[0].saved; }"
    )
    shown.page.wait_for_timeout(200)
    assert shown.page.evaluate("() => window.models[0].saved") == saved


def test_without_webgl_the_still_is_shown_with_a_sentence(visit):
    seen = visit(1280)
    seen.page.evaluate("() => { HTMLCanvasElement.prototype.getContext = () => null; }")
    scene = shown_scenes.findings()
    shown = view_pages.Shown(seen.page, scene, still=draw_still(scene))
    assert "draws no 3-D picture" in seen.page.locator(".bp-broken").inner_text()
    seen.page.wait_for_function(
        "() => document.querySelector('.bp-frame img').naturalWidth === 760"
    )
    seen.page.locator(".bp-spot").first.click()
    assert shown.get("chosen") == 0
    assert seen.errors == shown.errors() == []


def test_two_hundred_thousand_facets_are_drawn(show):
    part = bare_parts.solid_part(solids.tub(1024), name="tub")
    assert len(part.facets) > 200_000
    shown = show(part_scene(part))
    assert 0.1 < view_pages.covered(shown.picture()) < 0.9
    shown.page.locator(".bp-frame").click(position=shown.place((0.0, -139.0, 118.0)))
    shown.page.wait_for_function(
        "() => document.querySelector('.bp-read').innerText.startsWith('tub')"
    )


CELLS = (
    "import buildplan as bp\nfrom buildplan.demo import demo_folder\n"
    "from buildplan.notebook.viewer import view_part",
    "part = bp.read_part(demo_folder() / 'camera_arm.stl', unit='mm')\n"
    "view = view_part(part)\nview",
    "view.section = {'axis': 0, 'at_mm': float(part.vertices_mm[:, 0].mean()), 'far': True}",
)


def test_it_lives_in_a_notebook_and_leaves_a_picture_there(lab, visit, tmp_path):
    seen = visit(1280, height_px=1000)
    said = []
    seen.page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in CELLS])
    book.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(book, lab.work / "view.ipynb")
    lab.show(seen, "view.ipynb")
    said.clear()  # of the pages' own start
    cells = lab.run_all(seen)
    kinds = [out["output_type"] for cell in cells for out in cell["outputs"]]
    assert set(kinds) <= {"display_data", "execute_result"}
    data = cells[1]["outputs"][0]["data"]
    assert {"application/vnd.jupyter.widget-view+json", "image/png", "text/plain"} <= set(data)
    page = seen.page
    page.wait_for_selector(".bp-view[data-frames] canvas")
    page.wait_for_function("() => document.querySelector('[data-control=section]').offsetWidth > 0")
    frame = page.locator(".bp-picture").bounding_box()
    assert frame["width"] <= 1280
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    page.screenshot(path=str(shots / "view-in-lab.png"))
    assert page.locator(".bp-kept").is_hidden()
    assert said == []
    page.evaluate(
        """async () => { const shown = window.jupyterapp.shell.currentWidget;
        await shown.context.save(); await shown.sessionContext.shutdown(); }"""
    )
    lab.show(seen, "view.ipynb")
    page.wait_for_selector(".bp-kept img")
    page.wait_for_function("() => document.querySelector('.bp-kept img').naturalWidth === 760")
    assert page.locator(".bp-kept img").bounding_box()["width"] > 600
    assert page.locator(".bp-view").count() == 0
    page.screenshot(path=str(shots / "view-without-kernel.png"))
    assert lab.outside(seen) == []
    assert seen.errors == []
