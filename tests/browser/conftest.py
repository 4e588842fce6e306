"""A real Chromium and a JupyterLab for the browser tests, each started once."""

import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import pytest

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

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    # the 3-D view is drawn without a graphics card
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def browser():
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is not installed; the gate installs it")
        pytest.skip("Chromium is not installed (Debian package chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


class Visit:
    """A page that remembers every request it made and every error it logged."""

    def __init__(self, browser, width_px, height_px=1000, dark=False):
        self.context = browser.new_context(
            viewport={"width": width_px, "height": height_px},
            color_scheme="dark" if dark else "light",
        )
        self.page = self.context.new_page()
        self.requests, self.errors = [], []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))

    def outside(self, *allowed):
        """Requests that went anywhere else than the places allowed."""
        own = ("data:", "blob:", "about:", *allowed)
        return sorted({url for url in self.requests if not url.startswith(own)})


@pytest.fixture
def visit(browser):
    made = []

    def open_page(width_px, **options):
        made.append(Visit(browser, width_px, **options))
        return made[-1]

    yield open_page
    for each in made:
        each.context.close()


class Lab:
    """A running JupyterLab.

    Attributes:
        address: Without a path.
        work: The folder that it serves.
    """

    def __init__(self, address, work):
        self.address, self.work = address, work

    def open(self, seen, name, folder="."):
        """Copy a notebook into a folder of its own, open it, and wait for its kernel."""
        place = self.work / folder
        place.mkdir(parents=True, exist_ok=True)
        shutil.copy(NOTEBOOKS / name, place)
        self.show(seen, f"{folder}/{name}")

    def show(self, seen, where):
        """Open a notebook that is in the served folder, and wait for its kernel."""
        seen.page.set_default_timeout(300_000)
        address = f"{self.address}/doc/tree/{where}?token={TOKEN}&reset"
        seen.page.goto(address, wait_until="domcontentloaded")
        seen.page.wait_for_selector(".jp-Notebook .jp-Cell")
        seen.page.evaluate(READY)

    def run_all(self, seen):
        """Run every cell; their counts and outputs."""
        seen.page.evaluate(RUN_ALL)
        return seen.page.evaluate(CELLS)

    def outside(self, seen):
        """Requests that went to any other host."""
        return seen.outside(self.address, self.address.replace("http", "ws"))


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    root = tmp_path_factory.mktemp("lab")
    work = root / "work"
    work.mkdir()
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
        yield Lab(address, work)
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
