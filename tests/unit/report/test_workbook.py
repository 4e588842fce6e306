"""The spreadsheet, read back by another library: numbers, formulas, harmless texts, same bytes."""

import io
from dataclasses import replace

import openpyxl
import pytest

from buildplan.report.workbook import workbook_bytes

HOSTILE = '=HYPERLINK("x","y") \u202e@SUM(1)'


def opened(data, **options):
    return openpyxl.load_workbook(io.BytesIO(data), **options)


def test_sums_are_formulas_that_carry_their_results(plan):
    data = workbook_bytes(plan)
    formulas, values = opened(data)["Bill"], opened(data, data_only=True)["Bill"]
    last = len(plan.bill) + 2
    assert formulas.cell(last, 8).value == f"=SUM(H2:H{last - 1})"
    assert values.cell(last, 8).value == pytest.approx(float(plan.orders.goods_cost))
    for row, line in enumerate(plan.bill, start=2):
        assert formulas.cell(row, 8).value == f"=ROUND(F{row}*G{row},2)"
        assert values.cell(row, 8).value == pytest.approx(float(line.cost))
        each = values.cell(row, 7).value
        assert round(line.packs * each, 2) == pytest.approx(float(line.cost))


def test_orders_and_parts_add_up_to_the_plan(plan):
    book = opened(workbook_bytes(plan), data_only=True)
    orders = book["Orders"]
    assert orders.cell(len(plan.orders.orders) + 2, 6).value == pytest.approx(float(plan.bill_cost))
    parts = book["Parts"]
    assert parts.cell(len(plan.parts) + 2, 5).value == pytest.approx(plan.time_h.likely)
    assert parts.cell(len(plan.parts) + 2, 7).value == pytest.approx(plan.mass_g.likely)


def test_what_asks_for_itself_and_the_machine_have_their_sheets(plan):
    book = opened(workbook_bytes(plan), data_only=True)
    asked = [row[0].value for row in book["Asked"].iter_rows(min_row=2)]
    assert asked == [need.item for need in plan.derived.needs]
    shares = plan.derived.shares
    total = book["Machine"].cell(len(shares) + 2, 4).value
    assert total == pytest.approx(float(sum(line.wanted.pack_cost for line in shares)))
    marks = [book["Bill"].cell(row, 20).value for row in range(2, len(plan.bill) + 2)]
    assert marks == [line.wanted.asked_by for line in plan.bill]


def test_the_same_plan_gives_the_same_bytes(plan):
    assert workbook_bytes(plan) == workbook_bytes(plan)


def test_no_text_is_ever_a_formula(plan):
    line = plan.bill[0]
    wanted = replace(line.wanted, item=HOSTILE, used_in=HOSTILE, supplier=HOSTILE)
    bad = replace(plan, bill=(replace(line, wanted=wanted), *plan.bill[1:]))
    sheet = opened(workbook_bytes(bad))["Bill"]
    for column in (1, 9, 12):
        cell = sheet.cell(2, column)
        assert cell.data_type == "s"
        assert cell.value == HOSTILE
    for name in ("Bill", "Findings", "Parts", "Orders", "Asked", "Machine"):
        for row in opened(workbook_bytes(bad))[name].iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert str(cell.value).startswith(("=ROUND(F", "=SUM(", "=C"))


def test_heads_stay_in_view_and_pages_are_whole(plan):
    sheet = opened(workbook_bytes(plan))["Bill"]
    assert sheet.freeze_panes == "A2"
    assert sheet.print_title_rows == "$1:$1"
    assert sheet.page_setup.fitToHeight == 0
