"""The report as a person sees it: whole, offline, never wider than the window, legible."""

import pytest

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
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || e.closest('svg')) continue;
    const [a, b] = [light(parse(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) bad.push([e.tagName, e.textContent.slice(0, 40), ratio]);
  }
  return bad; }"""


@pytest.fixture
def report(demo_run):
    return demo_run.out / "report.html"


@pytest.mark.parametrize("width_px", [1280, 900, 400])
def test_the_page_is_never_wider_than_the_window_and_asks_nothing_outside(report, visit, width_px):
    seen = visit(width_px)
    seen.page.goto(report.as_uri())
    assert seen.page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert seen.outside("file:") == []
    assert seen.requests.count(report.as_uri()) == 1
    assert not [url for url in seen.requests if url.startswith("file:") and url != report.as_uri()]
    assert seen.errors == []
    assert seen.page.locator("img").evaluate_all("all => all.every(i => i.naturalWidth > 0)")


@pytest.mark.parametrize("dark", [False, True])
def test_every_text_reaches_wcag_contrast_in_both_themes(report, visit, dark):
    """WCAG 2.2, 1.4.3: at least 4.5 to 1."""
    seen = visit(1280, dark=dark)
    seen.page.goto(report.as_uri())
    assert seen.page.evaluate(LEGIBLE) == []


def test_every_pin_has_its_finding(report, visit):
    seen = visit(1280)
    seen.page.goto(report.as_uri())
    on_picture = seen.page.locator(".pinned .pin").all_inner_texts()
    listed = seen.page.locator("ul.findings .pin").all_inner_texts()
    assert set(on_picture) <= set(listed)
    assert listed


def test_every_picture_says_what_it_shows_and_every_close_view_is_beside_its_finding(report, visit):
    seen = visit(1280)
    seen.page.goto(report.as_uri())
    assert seen.page.locator("img:not([alt]), img[alt='']").count() == 0
    assert seen.page.locator("svg[role=img]:not([aria-label])").count() == 0
    close = seen.page.locator("ul.findings .close")
    assert close.count() > 0
    inside = close.evaluate_all(
        "all => all.every(e => e.getBoundingClientRect().bottom <= "
        "e.closest('li').getBoundingClientRect().bottom + 1)"
    )
    assert inside


def test_the_ways_up_open_by_keyboard_and_show_their_pictures(report, visit):
    seen = visit(1280)
    seen.page.goto(report.as_uri())
    shut = seen.page.locator("details.ways:not([open])").first
    name = shut.locator("summary b").inner_text()
    shut.locator("summary").focus()
    seen.page.keyboard.press("Enter")
    now = seen.page.locator("details.ways[open]", has=seen.page.get_by_text(name, exact=True))
    assert now.locator("tbody tr").first.is_visible()
    assert now.locator("tr.pick").count() == 1


def test_build_cycles_have_a_drawing_each_that_fits_its_column(report, visit):
    seen = visit(400)
    seen.page.goto(report.as_uri())
    rows = seen.page.locator("#cycles table.cycles tbody tr").count()
    drawings = seen.page.locator("#cycles .platforms svg")
    assert drawings.count() == rows > 0
    assert drawings.evaluate_all("all => all.every(e => e.getBoundingClientRect().width > 200)")


def test_the_page_weighs_less_than_four_megabytes(report):
    assert report.stat().st_size < 4_000_000
