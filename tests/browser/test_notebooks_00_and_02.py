"""The first notebook and the hours panel in a real JupyterLab: asked, chosen, moved, kept."""

import os
from pathlib import Path

import pytest
from answer_builds import write_build

from buildplan.build import load_build

pytestmark = [pytest.mark.browser, pytest.mark.slow]

START = "00-start-here.ipynb"
HOURS = "02-hours-grams-money.ipynb"
WIDE = """all => all.filter(t => t.scrollWidth > t.closest('.jp-OutputArea-output').clientWidth + 1)
  .length"""
OVER = """() => { const page = document.querySelector('.jp-WindowedPanel-outer') || document.body;
  return [page.scrollWidth - page.clientWidth, document.body.scrollWidth - innerWidth]; }"""
RESTART = """async () => { const shown = window.jupyterapp.shell.currentWidget;
  await shown.sessionContext.session.kernel.restart();
  await shown.sessionContext.session.kernel.info;
  while (shown.sessionContext.session.kernel.status !== 'idle')
    await new Promise(r => setTimeout(r, 50)); }"""
BIG = ".bp-panel .big b"
FIRST_SLIDER = ".bp-panel .bp-row .noUi-handle"
INFILL = 3  # of the sliders: layer, bead, wall beads, infill


def run_whole(lab, seen):
    cells = lab.run_all(seen)
    assert all(cell["count"] for cell in cells)
    kinds = {out["output_type"] for cell in cells for out in cell["outputs"]}
    assert not kinds & {"error", "stream"}


def assert_quiet_and_inside(lab, seen, logged):
    page = seen.page
    assert page.locator(".bp-answer, .bp-answer table, .bp-panel").evaluate_all(WIDE) == 0
    assert max(page.evaluate(OVER)) <= 0
    assert lab.outside(seen) == []
    assert seen.errors == []
    assert logged == []


def listen(seen):
    """Errors on the page's console; JupyterLab's own requests for what is not there left out."""
    logged = []

    def keep(message):
        if message.type == "error" and "Failed to load resource" not in message.text:
            logged.append(message.text)

    seen.page.on("console", keep)
    return logged


def wait_for_words(page, where, words):
    """Until they stand there, seen or scrolled away."""
    page.wait_for_function(
        "([where, words]) => document.querySelector(where)?.textContent.includes(words)",
        arg=[where, words],
        timeout=20_000,
    )


def take_picture(seen, name, tmp_path):
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    seen.page.screenshot(path=str(shots / f"{name}.png"))


def test_the_first_notebook_hears_the_page_and_takes_another_build(lab, visit, tmp_path):
    folder = lab.work / "begin"
    write_build(folder)
    other = write_build(folder / "other", slow=True)
    seen = visit(1280, height_px=2600)
    logged = listen(seen)
    lab.open(seen, START, folder="begin")
    run_whole(lab, seen)
    page = seen.page
    heading = page.locator(".bp-answer > h2", has_text="3-D pictures")
    heading.wait_for(timeout=30_000)
    assert "Controls and 3-D pictures work in this browser" in heading.inner_text()
    row = page.locator("tr", has_text="to kernel and back").inner_text()
    assert "ok," in row
    assert "ms" in row

    field = page.locator(".bp-panel .bp-row input[type=text]")
    field.fill("other")
    field.press("Enter")
    page.locator(".bp-panel .answer", has_text=str(other)).wait_for(timeout=20_000)
    assert (folder / "chosen_build.txt").read_text("utf-8") == "other/build.toml\n"
    assert "other/build.toml" in page.locator(".bp-panel select option:checked").inner_text()
    take_picture(seen, Path(START).stem, tmp_path)
    run_whole(lab, seen)
    assert page.locator("tr", has_text="build file").get_by_text(str(other)).count() > 0
    assert_quiet_and_inside(lab, seen, logged)


def test_a_slider_moved_by_keyboard_changes_hours_and_outlives_the_kernel(lab, visit, tmp_path):
    file = write_build(lab.work / "hours")
    before = load_build(file).parts[0].recipe.infill_frac
    seen = visit(1280, height_px=1800)
    logged = listen(seen)
    lab.open(seen, HOURS, folder="hours")
    run_whole(lab, seen)
    page = seen.page
    said = page.locator(BIG).first
    said.wait_for()
    hours = said.inner_text()

    handle = page.locator(FIRST_SLIDER).nth(INFILL)
    handle.focus()
    page.keyboard.press("End")  # one message, so that the next answer is the last
    page.wait_for_function(
        "([where, old]) => document.querySelector(where).innerText !== old",
        arg=[BIG, hours],
        timeout=30_000,
    )
    wait_for_words(page, ".bp-panel .foot", "Up to date. 1 key pressed")
    changed = said.inner_text()
    assert "infill saved to build.toml" in page.locator(".bp-panel .title").first.inner_text()
    kept = load_build(file).parts[0].recipe.infill_frac
    assert before < 0.9
    assert kept == 1.0
    take_picture(seen, Path(HOURS).stem, tmp_path)

    page.evaluate(RESTART)
    first = file.read_bytes()
    run_whole(lab, seen)
    wait_for_words(page, ".bp-panel .title", "read from build.toml")
    shown = page.locator(FIRST_SLIDER).nth(INFILL).get_attribute("aria-valuenow")
    assert float(shown) == pytest.approx(kept)
    assert page.locator(BIG).first.inner_text() == changed
    assert file.read_bytes() == first
    assert_quiet_and_inside(lab, seen, logged)
