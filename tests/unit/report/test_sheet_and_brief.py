"""The wall sheet and the brief: one page each, whatever the build; PDF without any request."""

import io
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from pypdf import PdfReader

from buildplan.errors import BuildplanError
from buildplan.report import pdf as pdf_file
from buildplan.report.brief import build_brief
from buildplan.report.page import report_page
from buildplan.report.pdf import css_text, for_pdf, page_pdf
from buildplan.report.print_rows import print_rows
from buildplan.report.sheet import build_sheet, fit_page
from buildplan.report.sheet_text import shorten, tidy
from buildplan.report.style import TEXT_COLOURS, TOKENS, contrast_frac
from buildplan.tables.cautions import caution_texts

HOSTILE = "<script>alert(1)</script>\u202e../../etc/=SUM(A1)&\"'{{7*7}}"


def pages_of(page):
    return PdfReader(io.BytesIO(page_pdf(page))).pages


def text_of(page):
    return " ".join(re.sub(r"<[^>]*>", " ", page.rpartition("</style>")[2]).split())


def with_parts(plan, count, name="a part of a name that is rather long {}"):
    """A plan of so many kinds of part, each printed by itself."""
    parts = tuple(
        replace(plan.parts[k % len(plan.parts)], name=name.format(k)) for k in range(count)
    )
    return replace(plan, parts=parts, cycles=(), ready=(), splits=(), coupons=())


def test_sheet_and_brief_are_one_page_in_the_pdf_maker(plan):
    for page in (build_sheet(plan), build_brief(plan)):
        (only,) = pages_of(page)
        assert float(only.mediabox.width) == pytest.approx(595.3, abs=1)
        assert float(only.mediabox.height) == pytest.approx(841.9, abs=1)


@pytest.mark.parametrize("count", [1, 25, 60])
def test_any_number_of_parts_is_one_page_and_what_is_left_out_is_said(plan, count):
    page = build_sheet(with_parts(plan, count))
    (only,) = pages_of(page)
    text = only.extract_text()
    shown = page.partition("Print, in this order")[2].count("a part of a name")
    assert shown == count or f"And {count - shown} more in the report." in text
    assert shown >= min(count, 18)
    assert "Write down hours and grams" in text


@pytest.mark.parametrize("prints", [0, 1, 5, 12, 25, 80])
@pytest.mark.parametrize("tests", [0, 3, 9, 30])
@pytest.mark.parametrize("never", [2, 13])
def test_rows_never_take_more_than_the_page_has(prints, tests, never):
    fit = fit_page(2, ([1] * 6, [2] * 4), 5, never, tests, [(1, 2)] * prints)
    assert fit.prints <= prints
    assert fit.tests <= tests
    rows = fit.tests * fit.row_px
    rows += fit.prints * (fit.row_px + (fit.line_px if fit.starts else 0))
    beside = max(fit.picture_px + 9 + 42 + 18 * never, 33 * 2 + 55 + 14 * fit.row_px)
    assert rows + beside + 52 + 48 + 26 + 33 + 35 <= 1071 + 9


def test_every_print_has_its_printer_hours_grams_and_first_look(plan):
    page, rows = text_of(build_sheet(plan)), print_rows(plan)
    homes = {name for row in rows for name, _ in row.parts}
    assert homes == {item.name for item in plan.parts if item.sent is None}
    for row in rows:
        assert row.time_h > 0.0
        assert row.mass_g > 0.0
        assert row.looks[0].why.startswith("first layers")
        assert row.printer.replace("_", " ") in page


def test_the_sheet_says_when_to_order_and_to_print(plan):
    page = text_of(build_sheet(plan))
    for order in plan.calendar.orders:
        assert f"{order.by:%a %d %b}" in page
    assert all(row.start_h is not None for row in print_rows(plan))


def test_every_caution_that_applies_stands_in_the_never_frame(plan):
    from buildplan.report.cautions import cautions_for

    page = build_sheet(plan).partition("<b>Never</b>")[2].partition("</div></div></div>")[0]
    for one in cautions_for(plan):
        assert caution_texts()[one.key].never.split()[0] in page
    assert page.count("<i>×</i>") == len(cautions_for(plan))


def test_a_never_line_fits_its_frame():
    for key, row in caution_texts().items():
        assert row.never.endswith("."), key
        assert len(row.never) <= 48, key


def test_the_brief_has_the_budget_the_chances_and_the_orders(plan):
    text = text_of(build_brief(plan)).replace("\u00a0", " ").replace("\u202f", "")
    budget = plan.budget
    for amount in (budget.low_cost, budget.median_cost, budget.high_cost):
        assert f"{amount:.0f}" in text
    assert f"{float(plan.bill_cost):.2f}" in text
    assert f"Half the time by {plan.calendar.finish.p50_day:%d %b}" in text
    asked = int(re.search(r"EUR (\d+), which covers", text)[1])
    assert budget.high_cost <= asked < budget.high_cost + 1.0


def test_orders_of_the_brief_add_up_to_the_bill(plan):
    table = build_brief(plan).partition("order from</th>")[2]
    costs = re.findall(r'class="r"><div>([\d.]+)</div>', table)
    assert sum(map(float, costs[:-1])) == pytest.approx(float(costs[-1]), abs=0.005)
    assert float(costs[-1]) == pytest.approx(float(plan.bill_cost), abs=0.005)


def test_hostile_names_are_text(plan):
    parts = tuple(replace(item, name=HOSTILE) for item in plan.parts[:1])
    bad = replace(
        plan, name=HOSTILE, revision=HOSTILE, parts=parts, cycles=(), splits=(), coupons=()
    )
    for page in (build_sheet(bad), build_brief(bad)):
        assert "<script" not in page
        assert "\u202e" not in page
        assert "49" not in page.partition("<title>")[2].partition("</title>")[0]
        assert len(pages_of(page)) == 1


def test_same_plan_same_bytes(plan):
    sheet, brief = build_sheet(plan), build_brief(plan)
    assert build_sheet(plan) == sheet
    assert build_brief(plan) == brief
    day = date(2031, 3, 17)
    made = page_pdf(sheet, foot="a", made_on=day)
    assert page_pdf(sheet, foot="a", made_on=day) == made
    assert made != page_pdf(sheet, foot="a", made_on=day + timedelta(days=1))


def test_the_pdf_maker_reads_nothing_outside_of_the_page(plan, tmp_path, monkeypatch):
    from weasyprint.urls import URLFetcher

    asked = []
    inner = URLFetcher.fetch

    def watched(self, url, headers=None):
        asked.append((url, getattr(self, "_allowed_protocols", None)))
        return inner(self, url, headers)

    monkeypatch.setattr(URLFetcher, "fetch", watched)
    secret = tmp_path / "secret.svg"
    secret.write_text("<svg xmlns='http://www.w3.org/2000/svg'><text>SECRET</text></svg>")
    outside = f'<img src="{secret.as_uri()}"><img src="http://127.0.0.1:9/x.png">'
    made = page_pdf(f"<html><body><title>x</title>{outside}seen</body></html>")
    assert [url.partition(":")[0] for url, _ in asked] == ["file", "http"]
    assert all(allowed == ["data"] for _, allowed in asked)
    assert "SECRET" not in PdfReader(io.BytesIO(made)).pages[0].extract_text()
    asked.clear()
    page_pdf(build_sheet(plan))
    assert asked
    assert all(url.startswith("data:") for url, _ in asked)


def test_the_report_on_paper_has_its_colours_written_out_and_its_pages_numbered(plan):
    page = report_page(plan)
    paper = for_pdf(page)
    assert not re.search(r"(fill|stroke)[=:]\"?\s*var\(", paper)
    assert "prefers-color-scheme" not in paper
    pages = PdfReader(io.BytesIO(page_pdf(page, foot='sprout "house"; } x'))).pages
    assert f"page 1 of {len(pages)}" in pages[0].extract_text()
    assert 'sprout "house"; } x' in pages[0].extract_text()


def test_without_the_extra_one_sentence_says_how_to_get_it(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(BuildplanError, match=r"pip install 'buildplan\[pdf\]'"):
        page_pdf("<p>x</p>")
    assert "\n" not in pdf_file.HOW_TO_INSTALL


def test_names_are_shortened_at_a_word_and_lose_hidden_marks():
    assert tidy("a_b\u202ec\u2066\x00\n") == "a bc"
    assert shorten("one two three", 9) == "one two…"
    assert len(shorten("x" * 50, 10)) == 10
    assert css_text('a"}') == "a\\000022 \\00007d "


def test_colours_of_text_reach_wcag_contrast_on_white():
    for name in TEXT_COLOURS:
        assert contrast_frac(TOKENS[name][0], "#FFFFFF") >= 4.5, name
