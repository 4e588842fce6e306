"""The report as one self-contained HTML page: every heading is its answer, computed."""

from collections.abc import Callable
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildplan.findings import Severity
from buildplan.plan import PartPlan, Plan, chosen_option
from buildplan.plan.revision import mark_of
from buildplan.plan.takes import longest_print_h
from buildplan.report import numbers, style
from buildplan.report.bill_section import bill_section, is_order
from buildplan.report.calendar_section import (
    bad_day_heading,
    bad_day_section,
    calendar_section,
    ready_heading,
    ready_section,
)
from buildplan.report.cautions import cautions_for
from buildplan.report.choice_section import choice_section
from buildplan.report.cycles_section import cycles_section
from buildplan.report.device_section import device_section
from buildplan.report.embed import bar, fill_variables
from buildplan.report.parts_section import parts_section
from buildplan.report.pieces_section import pieces_section
from buildplan.report.sections import (
    hours_rows,
    material_rows,
    more_steps,
    todo_steps,
    todo_sub,
    words,
)
from buildplan.report.trust_section import trust_section
from buildplan.report.verdict import (
    count_of,
    longest_print,
    verdict_sentence,
    what_sets_the_date,
)
from buildplan.report.ways_section import ways_section

if TYPE_CHECKING:
    from jinja2 import Template

Progress = Callable[[int, int], None]


def report_page(plan: Plan, progress: Progress | None = None) -> str:
    """The whole report as HTML text; it asks nothing of any other host or file."""
    css = (files("buildplan.report") / "templates" / "report.css").read_text("utf-8")
    page = template_named("report.html.j2").render(_context(plan, progress, css))
    return numbers.bind_units(page)


def template_named(name: str) -> "Template":
    """A template of the report; every text that it shows is escaped."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    folder = files("buildplan.report") / "templates"
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        loader=FunctionLoader(lambda name: (folder / name).read_text("utf-8")),
    )
    return environment.get_template(name)


def _context(plan: Plan, progress: Progress | None, css: str) -> dict[str, Any]:
    from markupsafe import Markup

    def sign(severity: Severity | None, size_px: int = 16) -> Markup:
        return Markup(style.sign(severity, size_px))

    parts, ways, cycles = parts_section(plan, progress), ways_section(plan), cycles_section(plan)
    longest = longest_print(plan)
    materials = material_rows(longest)
    contents = [("first", "What to do first")] if plan.first else []
    contents += [("parts", "Parts")]
    contents += [("ways", "Ways up")] if ways["parts"] else []
    contents += [("cycles", "Build cycles")] if cycles["printers"] else []
    contents += [("pieces", "Pieces and coupons")] if plan.splits or plan.coupons else []
    contents += [("hours", "Hours")]
    contents += [("feedstock", "Feedstock")] if materials else []
    contents += [("badday", "The bad day")] if plan.ready else []
    contents += [("choice", "At home or sent out")] if plan.choice else []
    contents += [("device", "Device")] if plan.device else []
    contents += [("bill", "Bill")]
    contents += [("calendar", "When it is done")] if plan.calendar else []
    contents += [("ready", "Before the long print")] if plan.ready else []
    contents += [("trust", "How far to trust it"), ("cautions", "Cautions")]
    return {
        "fonts": Markup(style.font_faces()),
        "variables": Markup(style.css_variables() + fill_variables()),
        "css": Markup(css),
        "sign": sign,
        "none": None,
        "name": plan.name,
        "revision": plan.revision,
        "file": Path(plan.file).name,
        "mark_text": f"{plan.sha256[:4]} {plan.sha256[4:8]}",
        "emboss": mark_of(plan),
        "currency": plan.currency,
        "invented": plan.invented,
        "verdict": plan.verdict,
        "counts": _counts(plan),
        "headline": verdict_sentence(plan),
        "lede": _lede(plan),
        "sets_date": what_sets_the_date(plan),
        "hero": parts["hero"],
        "keys": _keys(plan),
        "contents": contents,
        "todo": todo_steps(plan),
        "todo_more": more_steps(plan),
        "todo_heading": _todo_heading(plan),
        "todo_sub": todo_sub(plan),
        "parts": parts,
        "ways": ways,
        "cycles": cycles,
        "pieces": pieces_section(plan),
        "choice": choice_section(plan),
        "device": device_section(plan.device, plan.currency) if plan.device else None,
        "hours": hours_rows(plan, bar),
        "hours_heading": _hours_heading(plan),
        "hours_sub": "One copy's hours times its count. The bar shows the usual hours.",
        "hours_total": numbers.num(plan.time_h.likely, 1),
        "hours_high": numbers.num(plan.time_h.high, 1),
        "materials": materials,
        "materials_heading": _materials_heading(longest),
        "materials_sub": f"One {words(longest.name)}, {words(chosen_option(longest).printer)}.",
        "bill": bill_section(plan),
        "calendar": calendar_section(plan),
        "bad_days": bad_day_section(plan),
        "bad_day_heading": bad_day_heading(plan) if plan.ready else "",
        "ready": ready_section(plan),
        "ready_heading": ready_heading(plan) if plan.ready else "",
        "trust": trust_section(plan),
        "cautions": cautions_for(plan),
        "cautions_heading": _cautions_heading(plan),
        "version": version("buildplan"),
    }


def _cautions_heading(plan: Plan) -> str:
    count = len(cautions_for(plan))
    holds = "caution holds" if count == 1 else "cautions hold"
    return f"{count} {holds} for this build, whatever the numbers say"


def _counts(plan: Plan) -> str:
    names: tuple[Severity, ...] = ("stop", "caution", "note")
    found = [(count_of(plan, name), name) for name in names]
    said = [numbers.count(n, name) for n, name in found if n]
    return ", ".join(said).capitalize() if said else "Nothing found to look at"


def _lede(plan: Plan) -> str:
    time, bill = plan.time_h, numbers.money(float(plan.bill_cost), plan.currency)
    return (
        f"All parts take {numbers.num(time.likely, 1, 'h')} of printing, 8 times in 10 between "
        f"{numbers.num(time.low, 0)} and {numbers.num(time.high, 0, 'h')}, and "
        f"{numbers.num(plan.mass_g.likely, 0, 'g')} of feedstock. What is on the bill costs {bill}."
    )


def _keys(plan: Plan) -> list[dict[str, str]]:
    packs = sum(line.packs for line in plan.bill if line.wanted.kind == "feedstock")
    orders = sum(is_order(order) for order in plan.orders.orders)
    return [
        {
            "name": "printing",
            "value": numbers.num(plan.time_h.likely, 1),
            "unit": "h",
            "below": f"1 time in 10 over {numbers.num(plan.time_h.high, 0, 'h')}",
        },
        {
            "name": "feedstock",
            "value": numbers.num(plan.mass_g.likely, 0),
            "unit": "g",
            "below": f"in {numbers.count(packs, 'pack')}",
        },
        {
            "name": "to buy",
            "value": numbers.num(float(plan.bill_cost), 0),
            "unit": plan.currency,
            "below": f"in {numbers.count(orders, 'order')}, with shipping",
        },
        {
            "name": "your own time at the printers",
            "value": numbers.num(plan.own_time_h, 1),
            "unit": "h",
            "below": "set-up, clearing, washing, curing",
        },
    ]


def _todo_heading(plan: Plan) -> str:
    steps = len(plan.first)
    return (
        "One thing to do before the long print"
        if steps == 1
        else f"{steps} things to do before the long print"
    )


def _hours_heading(plan: Plan) -> str:
    longest_h = longest_print_h(longest_print(plan), plan.splits)
    return (
        f"{numbers.num(plan.time_h.likely, 1)} h in all; the longest print takes "
        f"{numbers.num(longest_h, 1)} h"
    )


def _materials_heading(item: PartPlan) -> str:
    able = [row for row in item.comparison if row.runs]
    if not able:
        return ""
    cheapest = min(able, key=lambda row: row.total_cost)
    hottest = max(able, key=lambda row: row.service_c)
    return (
        f"{words(cheapest.feedstock)} is the cheapest for the {words(item.name)}; "
        f"{words(hottest.feedstock)} stands the most heat, {numbers.num(hottest.service_c, 0)} °C"
    )
