"""The first notebook in a real JupyterLab: opened, run from top to bottom, read by eye's rules."""

import os
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

NAME = "01-meet-the-parts.ipynb"


def test_runs_whole_in_jupyterlab_and_asks_nothing_outside(lab, visit, tmp_path):
    seen = visit(1280, height_px=1400)
    lab.open(seen, NAME)
    cells = lab.run_all(seen)
    assert all(cell["count"] for cell in cells)
    kinds = [out["output_type"] for cell in cells for out in cell["outputs"]]
    assert "error" not in kinds
    assert "stream" not in kinds
    seen.page.wait_for_selector(".bp table")
    wide = "all => all.filter(t => t.scrollWidth > t.closest('.jp-OutputArea-output').clientWidth + 1).length"
    assert seen.page.locator(".bp table").evaluate_all(wide) == 0
    assert lab.outside(seen) == []
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    seen.page.screenshot(path=str(shots / f"{Path(NAME).stem}.png"))
