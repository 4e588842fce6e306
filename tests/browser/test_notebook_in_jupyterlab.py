"""The first notebook in a real JupyterLab: opened, run from top to bottom, read by eye's rules."""

import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import pytest

pytestmark = pytest.mark.browser

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
TOKEN = "only-on-this-machine"
READY = """async () => {
  const end = Date.now() + 60000; let shown;
  while (!(shown = window.jupyterapp?.shell?.currentWidget)?.sessionContext) {
    if (Date.now() > end) throw new Error('no notebook'); await new Promise(r => setTimeout(r, 50)); }
  await shown.context.ready; await shown.sessionContext.ready;
  await shown.sessionContext.session?.kernel?.info;
  while (shown.sessionContext.session?.kernel?.status !== 'idle') {
    if (Date.now() > end) throw new Error('kernel not idle'); await new Promise(r => setTimeout(r, 50)); }
}"""
RUN_ALL = "async () => await window.jupyterapp.commands.execute('notebook:run-all-cells')"
CELLS = """() => [...window.jupyterapp.shell.currentWidget.content.model.cells]
  .filter(c => c.type === 'code').map(c => ({count: c.executionCount, outputs: c.outputs.toJSON()}))"""


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    root = tmp_path_factory.mktemp("lab")
    work = root / "work"
    work.mkdir()
    for notebook in NOTEBOOKS.glob("*.ipynb"):
        shutil.copy(notebook, work)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {
        name: str(root / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR",
            "JUPYTER_DATA_DIR",
            "JUPYTER_RUNTIME_DIR",
            "JUPYTERLAB_SETTINGS_DIR",
            "JUPYTERLAB_WORKSPACES_DIR",
            "IPYTHONDIR",
        )
    }
    settings = Path(own["JUPYTER_CONFIG_DIR"]) / "labconfig"
    settings.mkdir(parents=True)
    (settings / "default_setting_overrides.json").write_text(
        '{"@jupyterlab/apputils-extension:notification": {"fetchNews": "false",'
        ' "checkForUpdates": false, "doNotDisturbMode": true}}'
    )
    log = (root / "lab.log").open("wb")
    server = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "jupyterlab",
            "--no-browser",
            "--allow-root",
            "--expose-app-in-browser",
            "--ServerApp.ip=127.0.0.1",
            f"--ServerApp.port={port}",
            "--ServerApp.port_retries=0",
            f"--IdentityProvider.token={TOKEN}",
            f"--ServerApp.root_dir={work}",
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            "--LabApp.news_url=None",
        ],
        env=os.environ | own,
        stdout=log,
        stderr=subprocess.STDOUT,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{address}/api?token={TOKEN}", server)
        yield address
    finally:
        server.terminate()
        server.wait(20)
        log.close()


def _wait_for(address, server):
    end = time.monotonic() + 60
    while time.monotonic() < end:
        assert server.poll() is None, "JupyterLab stopped; see its log"
        try:
            with urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    pytest.fail("JupyterLab did not answer within 60 s")


@pytest.mark.parametrize("name", [path.name for path in sorted(NOTEBOOKS.glob("*.ipynb"))])
def test_runs_whole_in_jupyterlab_and_asks_nothing_outside(lab, visit, name, tmp_path):
    seen = visit(1280, height_px=1400)
    seen.page.set_default_timeout(300_000)
    seen.page.goto(f"{lab}/doc/tree/{name}?token={TOKEN}&reset", wait_until="domcontentloaded")
    seen.page.wait_for_selector(".jp-Notebook .jp-Cell")
    seen.page.evaluate(READY)
    seen.page.evaluate(RUN_ALL)
    cells = seen.page.evaluate(CELLS)
    assert all(cell["count"] for cell in cells)
    kinds = [out["output_type"] for cell in cells for out in cell["outputs"]]
    assert "error" not in kinds
    assert "stream" not in kinds
    seen.page.wait_for_selector(".bp table")
    wide = "all => all.filter(t => t.scrollWidth > t.closest('.jp-OutputArea-output').clientWidth + 1).length"
    assert seen.page.locator(".bp table").evaluate_all(wide) == 0
    assert seen.outside(lab, lab.replace("http", "ws")) == []
    shots = Path(os.environ.get("BUILDPLAN_SHOTS", tmp_path))
    seen.page.screenshot(path=str(shots / f"{Path(name).stem}.png"))
