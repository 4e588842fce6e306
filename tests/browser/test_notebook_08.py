"""Before the long print, in a real JupyterLab: run whole, a result entered with the keyboard."""

import os
from pathlib import Path

import pytest
from answer_builds import write_build

from buildplan.build import load_build

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NAME = "08-before-the-long-print.ipynb"
ROW = ".bp-panel .bp-row"
WIDE = """all => all.filter(t => t.scrollWidth > t.closest('.jp-OutputArea-output').clientWidth + 1)
  .length"""


def test_a_result_is_entered_with_the_keyboard_kept_and_answered(lab, visit, tmp_path):
    file = write_build(lab.work / "ready", slow=True)
    seen = visit(1280, height_px=1400)
    lab.open(seen, NAME, folder="ready")
    cells = lab.run_all(seen)
    assert all(cell["count"] for cell in cells)
    kinds = {out["output_type"] for cell in cells for out in cell["outputs"]}
    assert not kinds & {"error", "stream"}

    page = seen.page
    verdict = page.locator(".bp-panel .answer").first
    verdict.wait_for()
    before = verdict.inner_text()
    assert "of the bottom plate" in before

    page.locator(f"{ROW} select").last.focus()
    for key in ("Alt+ArrowDown", "ArrowDown", "Enter"):  # plain arrows move between cells
        page.keyboard.press(key)
    page.wait_for_function(
        "old => document.querySelector('.bp-panel .answer').innerText !== old",
        arg=before,
        timeout=20_000,
    )
    (claim,) = load_build(file).decisions.claims
    assert claim.proved_on
    assert "saved to build.toml" in page.locator(".bp-panel .title").first.inner_text()

    first = file.read_bytes()
    again = lab.run_all(seen)
    assert file.read_bytes() == first
    assert not {out["output_type"] for cell in again for out in cell["outputs"]} & {"error"}
    assert page.locator(".bp-answer table, .bp-panel").evaluate_all(WIDE) == 0
    assert lab.outside(seen) == []
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    page.screenshot(path=str(shots / f"{Path(NAME).stem}.png"))
