"""The plan as a spreadsheet: formulas with their results beside them, the same bytes always."""

import io
from datetime import datetime
from typing import TYPE_CHECKING, Any

from buildplan.bill import BillLine
from buildplan.plan import Plan, chosen_option
from buildplan.plan.takes import takes_of, where_got
from buildplan.report.gather import place_and_numbers, written
from buildplan.report.sections import words

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

CREATED = datetime(2020, 1, 1)
"""Written into the file instead of the clock, so that the same plan gives the same bytes."""

WIDEST = 60


def workbook_bytes(plan: Plan) -> bytes:
    """An XLSX file with the sheets Bill, Orders, Asked, Machine, Parts, Findings and Device.

    Texts are written as texts, whatever they begin with. Sums and costs are formulas that carry
    their results, so that readers without a calculator show them too.
    """
    from xlsxwriter import Workbook

    file = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    book = Workbook(file, options)
    book.set_properties({"title": plan.name, "created": CREATED})
    look = {
        "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
        "text": book.add_format({"text_wrap": True, "valign": "top"}),
        "money": book.add_format({"num_format": "0.00", "valign": "top"}),
        "number": book.add_format({"num_format": "0.0", "valign": "top"}),
        "count": book.add_format({"num_format": "0", "valign": "top"}),
        "sum": book.add_format({"bold": True, "num_format": "0.00", "top": 1}),
        "name": book.add_format({"bold": True, "top": 1}),
    }
    _bill(book, plan, look)
    _orders(book, plan, look)
    _asked(book, plan, look)
    _machine(book, plan, look)
    _parts(book, plan, look)
    _findings(book, plan, look)
    if plan.device is not None:
        _device(book, plan, look)
    book.close()
    return file.getvalue()


def _sheet(
    book: "Workbook", name: str, columns: list[tuple[str, float]], look: dict[str, Any]
) -> "Worksheet":
    """A sheet with its head frozen, ready to print on whole pages across."""
    sheet = book.add_worksheet(name)
    for place, (title, width) in enumerate(columns):
        sheet.set_column(place, place, width)
        sheet.write_string(0, place, title, look["head"])
    sheet.freeze_panes(1, 0)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    return sheet


def _bill(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    columns = [
        ("item", 34.0),
        ("kind", 10.0),
        ("need", 9.0),
        ("unit", 8.0),
        ("in a pack", 9.0),
        ("packs", 7.0),
        (f"a pack, {plan.currency}", 11.0),
        (f"cost, {plan.currency}", 11.0),
        ("supplier", 16.0),
        ("days", 6.0),
        ("state", 10.0),
        ("used in", 40.0),
        ("need, 1 in 10 below", 9.0),
        ("need, 1 in 10 over", 9.0),
        ("least sold", 8.0),
        ("on hand", 8.0),
        ("lower price from", 20.0),
        ("currency", 9.0),
        ("tax share", 8.0),
        ("asked by", 11.0),
    ]
    sheet = _sheet(book, "Bill", columns, look)
    for row, line in enumerate(plan.bill, start=1):
        wanted = line.wanted
        sheet.write_string(row, 0, wanted.item, look["text"])
        sheet.write_string(row, 1, wanted.kind, look["text"])
        sheet.write_number(row, 2, float(wanted.need), look["number"])
        sheet.write_string(row, 3, wanted.unit, look["text"])
        sheet.write_number(row, 4, float(wanted.pack), look["number"])
        sheet.write_number(row, 5, line.packs, look["count"])
        each = float(line.cost) / line.packs if line.packs else float(wanted.pack_cost)
        sheet.write_number(row, 6, each, look["money"])
        formula = f"=ROUND(F{row + 1}*G{row + 1},2)"
        sheet.write_formula(row, 7, formula, look["money"], float(line.cost))
        sheet.write_string(row, 8, wanted.supplier, look["text"])
        sheet.write_number(row, 9, wanted.lead_d, look["count"])
        sheet.write_string(row, 10, wanted.state, look["text"])
        sheet.write_string(row, 11, words(wanted.used_in), look["text"])
        _terms(sheet, row, line, plan.currency, look)
    last = len(plan.bill)
    sheet.write_string(last + 1, 0, "goods", look["name"])
    goods = float(sum(line.cost for line in plan.bill))
    sheet.write_formula(last + 1, 7, f"=SUM(H2:H{last + 1})", look["sum"], goods)


def _terms(
    sheet: "Worksheet", row: int, line: BillLine, currency: str, look: dict[str, Any]
) -> None:
    """The spread of a line's need, its terms, and the mark of what asked for it."""
    wanted = line.wanted
    breaks = "; ".join(f"{one.from_quantity:f}: {one.pack_cost:f}" for one in wanted.breaks)
    sheet.write_number(row, 12, float(wanted.need_low or wanted.need), look["number"])
    sheet.write_number(row, 13, float(wanted.need_high or wanted.need), look["number"])
    sheet.write_number(row, 14, float(wanted.least), look["number"])
    sheet.write_number(row, 15, float(wanted.on_hand), look["number"])
    sheet.write_string(row, 16, breaks, look["text"])
    sheet.write_string(row, 17, wanted.currency or currency, look["text"])
    sheet.write_number(row, 18, float(wanted.tax_frac), look["money"])
    sheet.write_string(row, 19, wanted.asked_by, look["text"])


def _asked(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    """What holes, wires, heat and liquid ask for, also where the list covers it, with reasons."""
    columns = [
        ("item", 30.0),
        ("kind", 11.0),
        ("need", 9.0),
        ("1 in 10 below", 9.0),
        ("1 in 10 over", 9.0),
        ("unit", 8.0),
        ("used in", 40.0),
        ("why", WIDEST),
        ("source", 40.0),
        ("asked by", 11.0),
    ]
    sheet = _sheet(book, "Asked", columns, look)
    for row, need in enumerate(plan.derived.needs, start=1):
        sheet.write_string(row, 0, need.item, look["text"])
        sheet.write_string(row, 1, need.kind, look["text"])
        for column, amount in enumerate((need.quantity, need.low, need.high), start=2):
            sheet.write_number(row, column, float(amount), look["number"])
        texts = (need.unit, words(need.used_in), written(need.why), need.source, need.asked_by)
        for column, text in enumerate(texts, start=5):
            sheet.write_string(row, column, text, look["text"])


def _machine(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    """What wear and energy come to by part: no order."""
    columns = [
        ("part, all copies", 40.0),
        ("printer", 20.0),
        ("hours", 9.0),
        (f"wear and energy, {plan.currency}", 13.0),
        ("asked by", 11.0),
    ]
    sheet = _sheet(book, "Machine", columns, look)
    shares = plan.derived.shares
    for row, line in enumerate(shares, start=1):
        wanted = line.wanted
        sheet.write_string(row, 0, wanted.item, look["text"])
        sheet.write_string(row, 1, words(wanted.used_in), look["text"])
        sheet.write_number(row, 2, float(wanted.need), look["number"])
        sheet.write_number(row, 3, float(wanted.pack_cost), look["money"])
        sheet.write_string(row, 4, wanted.asked_by, look["text"])
    if not shares:
        return
    last = len(shares)
    sheet.write_string(last + 1, 0, "all parts, in no order", look["name"])
    for column, letter in ((2, "C"), (3, "D")):
        total = sum(line.wanted.need if column == 2 else line.wanted.pack_cost for line in shares)
        formula = f"=SUM({letter}2:{letter}{last + 1})"
        sheet.write_formula(last + 1, column, formula, look["sum"], float(total))


def _orders(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    columns = [
        ("order from", 24.0),
        ("lines", 7.0),
        (f"goods, {plan.currency}", 12.0),
        (f"shipping, {plan.currency}", 13.0),
        (f"duty, {plan.currency}", 12.0),
        (f"order, {plan.currency}", 12.0),
        ("days", 6.0),
        ("what", WIDEST),
    ]
    sheet = _sheet(book, "Orders", columns, look)
    orders = plan.orders.orders
    for row, order in enumerate(orders, start=1):
        sheet.write_string(row, 0, order.supplier, look["text"])
        sheet.write_number(row, 1, len(order.items), look["count"])
        sheet.write_number(row, 2, float(order.goods_cost), look["money"])
        sheet.write_number(row, 3, float(order.shipping_cost), look["money"])
        sheet.write_number(row, 4, float(order.import_cost), look["money"])
        formula = f"=C{row + 1}+D{row + 1}+E{row + 1}"
        sheet.write_formula(row, 5, formula, look["money"], float(order.total_cost))
        sheet.write_number(row, 6, order.lead_d, look["count"])
        sheet.write_string(row, 7, ", ".join(order.items), look["text"])
    last = len(orders)
    sheet.write_string(last + 1, 0, "all orders", look["name"])
    total = float(plan.orders.total_cost)
    sheet.write_formula(last + 1, 5, f"=SUM(F2:F{last + 1})", look["sum"], total)


def _parts(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    columns = [
        ("part", 22.0),
        ("copies", 7.0),
        ("printer", 16.0),
        ("feedstock", 26.0),
        ("usual, h", 9.0),
        ("1 in 10 over, h", 12.0),
        ("mass, g", 9.0),
        (f"printing, {plan.currency}", 12.0),
        ("hours rest on", WIDEST),
    ]
    sheet = _sheet(book, "Parts", columns, look)
    for row, item in enumerate(plan.parts, start=1):
        option, takes = chosen_option(item), takes_of(item, plan.splits)
        sheet.write_string(row, 0, words(item.name), look["text"])
        sheet.write_number(row, 1, item.quantity, look["count"])
        sheet.write_string(row, 2, where_got(item, plan.splits), look["text"])
        sheet.write_string(row, 3, item.feedstock.name, look["text"])
        sheet.write_number(row, 4, item.quantity * takes.time_h.likely, look["number"])
        sheet.write_number(row, 5, item.quantity * takes.time_h.high, look["number"])
        sheet.write_number(row, 6, item.quantity * takes.mass_g.likely, look["number"])
        sheet.write_number(row, 7, item.quantity * takes.cost, look["money"])
        basis = option.basis if item.sent is None else item.sent.basis
        sheet.write_string(row, 8, basis, look["text"])
    last = len(plan.parts)
    sheet.write_string(last + 1, 0, "all parts", look["name"])
    sums = {4: "E", 5: "F", 6: "G", 7: "H"}
    rows = [(takes_of(item, plan.splits), item.quantity) for item in plan.parts]
    totals = {
        4: sum(n * takes.time_h.likely for takes, n in rows),
        5: sum(n * takes.time_h.high for takes, n in rows),
        6: sum(n * takes.mass_g.likely for takes, n in rows),
        7: sum(n * takes.cost for takes, n in rows),
    }
    for column, letter in sums.items():
        formula = f"=SUM({letter}2:{letter}{last + 1})"
        sheet.write_formula(last + 1, column, formula, look["sum"], totals[column])


def _findings(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    columns = [
        ("about", 22.0),
        ("gravity", 9.0),
        ("what", WIDEST),
        ("measured; required", WIDEST),
        ("what to do", WIDEST),
        ("source", 40.0),
    ]
    sheet = _sheet(book, "Findings", columns, look)
    rows = [(words(item.name), finding) for item in plan.parts for finding in item.findings]
    rows += [("device", finding) for finding in (plan.device.findings if plan.device else ())]
    rows += [("bill", finding) for finding in plan.derived.findings]
    for row, (about, finding) in enumerate(rows, start=1):
        cells = (
            about,
            finding.severity,
            written(finding.what),
            place_and_numbers(finding),
            written(finding.remedy),
            written(finding.source),
        )
        for column, text in enumerate(cells):
            sheet.write_string(row, column, text, look["text"])


def _device(book: "Workbook", plan: Plan, look: dict[str, Any]) -> None:
    columns = [
        ("question", 40.0),
        ("it needs", WIDEST),
        ("it has", WIDEST),
        ("within limits", 14.0),
    ]
    sheet = _sheet(book, "Device", columns, look)
    for row, need in enumerate(plan.device.needs if plan.device else (), start=1):
        for column, text in enumerate((need.question, need.needs, need.has, need.verdict)):
            sheet.write_string(row, column, written(text), look["text"])
