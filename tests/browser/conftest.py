"""A real Chromium for the browser tests."""

import os
import shutil

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
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
