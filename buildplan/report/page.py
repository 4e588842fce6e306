"""The report as one self-contained HTML page: every heading is its answer, computed."""

from base64 import b64encode
from collections.abc import Callable
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any

from buildplan.findings import Finding, Severity, worst
from buildplan.plan import PartPlan, Plan, chosen_option
from buildplan.report import numbers, style
from buildplan.report.cautions import cautions_for
from buildplan.report.picture import draw_part
from buildplan.report.sections import (
    bill_rows,
    capital,
    hours_rows,
    material_rows,
    todo_steps,
    trust_rows,
    words,
)
from buildplan.report.verdict import count_of, longest_print, verdict_sentence

Progress = Callable[[int, int], None]
LARGE_SHARE = 0.2
"""A part whose print takes this share of the longest one, or that has a stop, is shown large."""


def report_page(plan: Plan, progress: Progress | None = None) -> str:
    """The whole report as HTML text; it asks nothing of any other host or file."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    folder = files("buildplan.report") / "templates"
    template = environment.from_string((folder / "report.html.j2").read_text("utf-8"))
    page = template.render(_context(plan, progress, (folder / "report.css").read_text("utf-8")))
    return numbers.bind_units(page)


def _context(plan: Plan, progress: Progress | None, css: str) -> dict[str, Any]:
    from markupsafe import Markup

    def sign(severity: Severity | None, size_px: int = 16) -> Markup:
        return Markup(style.sign(severity, size_px))

    large, small = _pictures(plan, progress)
    longest = longest_print(plan)
    materials = material_rows(longest)
    bill = bill_rows(plan)
    contents = [("first", "What to do first")] if plan.first else []
    contents += [("parts", "Parts"), ("hours", "Hours")]
    contents += [("feedstock", "Feedstock")] if materials else []
    contents += [("bill", "Bill"), ("trust", "How far to trust it"), ("cautions", "Cautions")]
    hero = next(p for p in large if p["key"] == longest.name)
    return {
        "fonts": Markup(style.font_faces()),
        "variables": Markup(style.css_variables()),
        "css": Markup(css),
        "sign": sign,
        "none": None,
        "name": plan.name,
        "revision": plan.revision,
        "file": Path(plan.file).name,
        "mark_text": f"{plan.sha256[:4]} {plan.sha256[4:8]}",
        "currency": plan.currency,
        "invented": plan.invented,
        "verdict": plan.verdict,
        "counts": _counts(plan),
        "headline": verdict_sentence(plan),
        "lede": _lede(plan),
        "hero": {"src": hero["plain_src"], "alt": hero["name"]},
        "keys": _keys(plan),
        "contents": contents,
        "todo": todo_steps(plan),
        "todo_heading": _todo_heading(plan),
        "large": large,
        "small": small,
        "parts_heading": _parts_heading(plan),
        "parts_sub": _parts_sub(plan),
        "hours": hours_rows(plan, _bar),
        "hours_heading": _hours_heading(plan),
        "hours_sub": "One copy's hours times its count. The bar shows the usual hours.",
        "hours_total": numbers.num(plan.time_h.likely, 1),
        "hours_high": numbers.num(plan.time_h.high, 1),
        "materials": materials,
        "materials_heading": _materials_heading(longest),
        "materials_sub": f"One {words(longest.name)}, {words(chosen_option(longest).printer)}.",
        "bill": bill,
        "suppliers": any(row["supplier"] for row in bill),
        "bill_heading": _bill_heading(plan),
        "bill_total": numbers.num(float(plan.bill_cost), 2),
        "trust": trust_rows(plan),
        "trust_heading": "Hours are good to a fifth until the print log says otherwise",
        "cautions": cautions_for(plan),
        "version": version("buildplan"),
    }


def _pictures(
    plan: Plan, progress: Progress | None
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    longest_h = chosen_option(longest_print(plan)).estimate.time_h
    scale_h = max(item.quantity * chosen_option(item).estimate.time_h for item in plan.parts)
    large: list[dict[str, Any]] = []
    small: list[dict[str, Any]] = []
    for index, item in enumerate(plan.parts):
        share = chosen_option(item).estimate.time_h / max(longest_h, 1e-9)
        if share >= LARGE_SHARE or worst(item.findings) == "stop":
            large.append(_large(plan, item))
        else:
            small.append(_small(plan, item, scale_h))
        if progress is not None:
            progress(index + 1, len(plan.parts))
    large.sort(key=lambda part: -part["time_h"])
    return large, small


def _large(plan: Plan, item: PartPlan) -> dict[str, Any]:
    estimate = chosen_option(item).estimate
    picture = draw_part(item.part, width_px=820, height_px=600)
    listed = sorted(item.findings, key=lambda f: ("stop", "caution", "note").index(f.severity))
    pins = []
    for number, finding in enumerate(listed, 1):
        point = finding.where.point_mm or _middle(finding.where.box_mm)
        if point:
            x, y = picture.at(point)
            pins.append({"n": number, "x": round(100 * x, 2), "y": round(100 * y, 2)})
    grade = item.part.health.grade
    return {
        "key": item.name,
        "time_h": estimate.time_h,
        "name": words(item.name) + _copies(item),
        "src": _data_address(picture.data, picture.kind),
        "plain_src": _data_address(picture.data, picture.kind),
        "pins": pins,
        "facts": [
            {"value": numbers.num(estimate.time_h, 1), "unit": "h"},
            {"value": numbers.num(estimate.mass_g, 0), "unit": f"g {item.feedstock.key}"},
            {"value": numbers.num(estimate.total_cost, 2), "unit": plan.currency},
        ],
        "note": f"{numbers.size(item.part.size_mm)}, recipe {item.recipe.name}, mesh {grade}; "
        f"{words(chosen_option(item).printer)}: {item.reason}.",
        "findings": [
            {
                "n": number,
                "severity": f.severity,
                "what": capital(f.what),
                "why": _why(f),
                "remedy": f.remedy,
            }
            for number, f in enumerate(listed, 1)
        ],
    }


def _small(plan: Plan, item: PartPlan, scale_h: float) -> dict[str, Any]:
    option = chosen_option(item)
    picture = draw_part(item.part, width_px=360, height_px=260)
    copies = item.quantity
    return {
        "name": words(item.name),
        "copies": f" × {copies}" if copies > 1 else "",
        "src": _data_address(picture.data, picture.kind),
        "nums": [
            numbers.hours(copies * option.estimate.time_h),
            numbers.grams(copies * option.estimate.mass_g),
            numbers.money(copies * option.estimate.total_cost, plan.currency),
        ],
        "bar": _bar(copies * option.estimate.time_h, scale_h, 110),
        "where": words(option.printer),
        "findings": [{"severity": f.severity, "what": capital(f.what)} for f in item.findings],
    }


def _bar(value: float, scale: float, width_px: int) -> Any:
    from markupsafe import Markup

    length = max(1.0, value / max(scale, 1e-9) * width_px)
    return Markup(
        f'<svg class="bar" width="{width_px}" height="10" viewBox="0 0 {width_px} 10" '
        f'aria-hidden="true"><rect width="{length:.1f}" height="10" fill="var(--blue)"/></svg>'
    )


def _data_address(data: bytes, kind: str) -> str:
    return f"data:image/{kind};base64,{b64encode(data).decode()}"


def _middle(box_mm: tuple[float, ...]) -> tuple[float, ...]:
    return tuple((box_mm[i] + box_mm[i + 3]) / 2 for i in range(3)) if box_mm else ()


def _why(finding: Finding) -> str:
    place = f"{capital(finding.where.text)}: " if finding.where.text else ""
    return f"{place}{finding.measured}; {finding.required} ({finding.source})."


def _copies(item: PartPlan) -> str:
    return f" × {item.quantity}" if item.quantity > 1 else ""


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
            "below": f"{numbers.count(len(plan.bill), 'line')}, before shipping",
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


def _parts_heading(plan: Plan) -> str:
    longest = longest_print(plan)
    share = longest.quantity * chosen_option(longest).estimate.time_h / plan.time_h.likely
    return f"The {words(longest.name)} is {numbers.num(100 * share, 0)} % of the printing"


def _parts_sub(plan: Plan) -> str:
    pieces = sum(item.quantity for item in plan.parts)
    kinds = numbers.count(len(plan.parts), "kind of part", "kinds of part")
    return (
        f"{kinds}, {numbers.count(pieces, 'piece')}. Pictures show each part the way it is printed."
    )


def _hours_heading(plan: Plan) -> str:
    longest = chosen_option(longest_print(plan)).estimate
    return (
        f"{numbers.num(plan.time_h.likely, 1)} h in all; the longest print takes "
        f"{numbers.num(longest.time_h, 1)} h"
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


def _bill_heading(plan: Plan) -> str:
    waits = [line for line in plan.bill if line.wanted.lead_d > 0]
    total = numbers.money(float(plan.bill_cost), plan.currency)
    if not waits:
        return f"{total} for what is to buy"
    slowest = max(waits, key=lambda line: line.wanted.lead_d)
    days = numbers.num(slowest.wanted.lead_d, 0)
    return f"{total} for what is to buy; the {slowest.wanted.item} takes {days} days to come"
