"""The wall sheet and the brief in a real browser: offline, legible, one page of paper, uncut."""

import io

import pytest
from pypdf import PdfReader

pytestmark = pytest.mark.browser

LEGIBLE = """() => {
  const parse = c => c.match(/[\\d.]+/g).map(Number);
  const linear = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4 };
  const light = c => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
  const ground = e => { for (; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; }
    return [255, 255, 255]; };
  const bad = [];
  for (const e of document.querySelectorAll('body *')) {
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) continue;
    if (e.closest('svg')) continue;
    const [a, b] = [light(parse(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) bad.push(e.textContent.slice(0, 40));
  }
  return bad; }"""
BELOW_THE_FOOT = """() => { const top = document.querySelector('.foot').getBoundingClientRect().top;
  return [...document.querySelectorAll('body tr, body h2, .never, .more')]
    .filter(e => e.getBoundingClientRect().bottom > top).map(e => e.textContent.slice(0, 40)); }"""


@pytest.mark.parametrize("name", ["build-sheet", "brief"])
@pytest.mark.parametrize("dark", [False, True])
def test_one_page_that_asks_nothing_and_is_legible(demo_run, visit, name, dark):
    """WCAG 2.2, 1.4.3: at least 4.5 to 1."""
    seen = visit(900, dark=dark)
    logged = []
    seen.page.on("console", lambda said: logged.append(said.text) if said.type == "error" else None)
    address = (demo_run.out / f"{name}.html").as_uri()
    seen.page.goto(address)
    assert [url for url in seen.requests if not url.startswith("data:")] == [address]
    assert seen.errors == logged == []
    assert seen.page.evaluate(LEGIBLE) == []
    assert seen.page.evaluate(BELOW_THE_FOOT) == []
    paper = seen.page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(PdfReader(io.BytesIO(paper)).pages) == 1
