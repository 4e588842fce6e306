"""One print, pieces or sent out, in a real JupyterLab: run whole, pieces moved, a way kept."""

import os
from pathlib import Path

import pytest
from answer_builds import write_build

from buildplan.build import load_build

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NAME = "04-one-print-segments-or-send-out.ipynb"
WIDE = """all => all.filter(t => t.scrollWidth > t.closest('.jp-OutputArea-output').clientWidth + 1)
  .length"""
IDLE = """async () => { const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  await new Promise(r => setTimeout(r, 100));
  while (kernel.status !== 'idle') await new Promise(r => setTimeout(r, 50)); }"""


def type_and_run(page, text):
    """Write the whole of the last code cell anew with the keyboard and run it."""
    cell = page.locator(".jp-CodeCell").filter(has_text="keep_way")
    cell.scroll_into_view_if_needed()
    cell.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    page.keyboard.press("Escape")  # no list of completions
    page.keyboard.press("Control+Enter")
    page.evaluate(IDLE)
    return cell.locator(".jp-OutputArea-output")


def test_pieces_are_moved_and_a_way_is_kept_with_the_keyboard(lab, visit, tmp_path):
    file = write_build(lab.work / "choose", whole=False)
    seen = visit(1280, height_px=1400)
    lab.open(seen, NAME, folder="choose")
    cells = lab.run_all(seen)
    assert all(cell["count"] for cell in cells)
    kinds = {out["output_type"] for cell in cells for out in cell["outputs"]}
    assert not kinds & {"error", "stream"}
    first = file.read_bytes()

    page = seen.page
    assert "in 20 over" in " ".join(page.locator(".bp-answer > h2").all_text_contents())
    assert page.locator(".bp-answer table").evaluate_all(WIDE) == 0
    slider = page.locator(".bp-view input[type=range]").first
    slider.scroll_into_view_if_needed()
    before = slider.input_value()
    box = slider.bounding_box()
    page.mouse.click(box["x"] + 0.9 * box["width"], box["y"] + box["height"] / 2.0)
    assert float(slider.input_value()) > float(before)
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    page.screenshot(path=str(shots / f"{Path(NAME).stem}.png"))

    out = type_and_run(page, 'nb.keep_way(build, "bottom_plate", way="by magic")')
    said = out.first.text_content()
    assert "by magic" in said
    assert "whole" in said
    assert "Traceback" not in said
    assert file.read_bytes() == first

    out = type_and_run(page, 'nb.keep_way(build, "bottom_plate", way="2 pieces")')
    assert "in 2 pieces from now on" in out.first.text_content()
    assert load_build(file).parts[0].way.pieces == 2
    assert lab.outside(seen) == []
