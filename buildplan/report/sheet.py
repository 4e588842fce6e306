"""The one page for the workshop wall: what to order, what to try, what to print, what never to do.

Every row has a fixed height and the rows are counted before the page is written, so that it is one
A4 page on every printer. Where it would be more, rows get smaller and the rest is in the report.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from buildplan.plan import Plan
from buildplan.report import numbers, style
from buildplan.report.embed import data_address
from buildplan.report.page import template_named
from buildplan.report.picture import draw_part
from buildplan.report.sheet_rows import (
    assembly_rows,
    feedstock_rows,
    never_lines,
    order_rows,
    sheet_prints,
    tests_rows,
)
from buildplan.report.sheet_text import bare, tidy
from buildplan.report.verdict import longest_print, verdict_sentence

PAGE_PX = 1123 - 28 - 24
"""Height of A4 at 96 px an inch, less the margins of the sheet's style."""

HEAD_PX, FOOT_PX, GAP_PX = 52, 26, 9
SECTION_PX, COLUMNS_PX, TWO_LINES_PX = 33, 20, 35
NEVER_PX, NEVER_LINE_PX = 42, 18
VERDICT_LINE_PX, VERDICT_LINE_CHARS = 24, 78
PICTURE_PX = (70, 330)
"""Least and greatest height of the picture; with less room there is none."""

DENSITIES = ((22, 16, True), (22, 16, False), (20, 16, False), (17, 14, False))
"""Height of a row of one line, of each line in it, and whether prints say when they start."""

TESTS_WHEN_FULL = 8
ORDERS_SHOWN, FEEDSTOCKS_SHOWN = 6, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What one page holds.

    Attributes:
        starts: Whether prints have a second line that says when they start.
        tests, prints, steps: How many rows are shown.
        picture_px: Height of the picture; 0 where there is no room.
    """

    row_px: int
    line_px: int
    starts: bool
    tests: int
    prints: int
    steps: int
    picture_px: int


def build_sheet(plan: Plan) -> str:
    """The sheet as HTML text, always light, with nothing outside of it."""
    prints, tests = sheet_prints(plan), tests_rows(plan)
    orders, feedstocks = order_rows(plan, ORDERS_SHOWN), feedstock_rows(plan)[:FEEDSTOCKS_SHOWN]
    never, verdict = never_lines(plan), bare(verdict_sentence(plan))
    steps = assembly_rows(plan)
    left = ([1 for _ in orders], [row["lines"] for row in feedstocks])
    lines = [(row["lines"], row["tall"]) for row in prints]
    fit = fit_page(_lines(verdict), left, len(steps), len(never), len(tests), lines)
    context = {
        **_head(plan),
        "headline": verdict,
        "orders": orders,
        "dated": plan.calendar is not None and bool(plan.calendar.orders),
        "feedstocks": feedstocks,
        "steps": steps[: fit.steps],
        "steps_more": _more(len(steps) - fit.steps),
        "never": never,
        "tests": tests[: fit.tests],
        "tests_more": _more(len(tests) - fit.tests),
        "tests_heading": _tests_heading(plan),
        "prints": prints[: fit.prints],
        "prints_more": _more(len(prints) - fit.prints),
        "picture": _picture(plan, fit.picture_px),
        "fit": fit,
    }
    return numbers.bind_units(style.for_paper(template_named("sheet.html.j2").render(context)))


def fit_page(
    verdict_lines: int,
    left: tuple[list[int], list[int]],
    steps: int,
    never: int,
    tests: int,
    prints: Sequence[tuple[int, int]],
) -> Fit:
    """The roomiest rows with which everything is on one page; else what must go to the report.

    Args:
        verdict_lines: Of the verdict at the head.
        left: Lines of every order and every feedstock, beside the picture and the cautions.
        steps: Of the assembly; they are shown where room is left under the feedstocks.
        never: Cautions.
        tests: Rows of tests.
        prints: Lines of every row of prints, without its start and with it.
    """
    for row_px, line_px, starts in DENSITIES:
        tests_shown = tests if row_px > DENSITIES[-1][0] else min(tests, TESTS_WHEN_FULL)
        taken = HEAD_PX + FOOT_PX + 3 * GAP_PX + verdict_lines * VERDICT_LINE_PX + 6
        heads_px = (SECTION_PX + COLUMNS_PX, SECTION_PX + TWO_LINES_PX)
        left_px = sum(
            head_px + sum(_row_px(n, row_px, line_px) for n in rows) + GAP_PX
            for head_px, rows in zip(heads_px, left, strict=True)
            if rows
        )
        right_px = NEVER_PX + never * NEVER_LINE_PX
        more_px = row_px if tests_shown < tests else 0
        taken += SECTION_PX + COLUMNS_PX + tests_shown * row_px + more_px if tests else 0
        taken += SECTION_PX + TWO_LINES_PX
        room_px = PAGE_PX - taken - max(left_px, right_px)
        single = row_px == DENSITIES[-1][0]
        rows = [1 if single else lines[starts] for lines in prints]
        need_px = sum(_row_px(lines, row_px, line_px) for lines in rows)
        if need_px <= room_px:
            spare_px = room_px - need_px + max(left_px - right_px, 0) - GAP_PX
            picture_px = min(spare_px, PICTURE_PX[1])
            break
    else:
        room_px -= row_px
        picture_px = left_px - right_px - GAP_PX
    shown = 0
    for lines in rows:
        room_px -= _row_px(lines, row_px, line_px)
        if room_px < 0:
            break
        shown += 1
    picture_px = picture_px if picture_px >= PICTURE_PX[0] else 0
    beside_px = right_px + picture_px + GAP_PX - left_px - SECTION_PX
    return Fit(
        row_px=row_px,
        line_px=line_px,
        starts=starts,
        steps=_steps_shown(steps, beside_px // row_px),
        tests=tests_shown,
        prints=shown,
        picture_px=picture_px,
    )


def _steps_shown(steps: int, rows: int) -> int:
    """All of them, or all but those whose line says how many more there are."""
    return steps if steps <= rows else max(rows - 1, 0) if rows > 2 else 0


def _row_px(lines: int, row_px: int, line_px: int) -> int:
    return row_px + (lines - 1) * line_px


def _lines(verdict: str) -> int:
    return 1 if len(verdict) <= VERDICT_LINE_CHARS else 2


def _head(plan: Plan) -> dict[str, Any]:
    from markupsafe import Markup

    css = (files("buildplan.report") / "templates" / "sheet.css").read_text("utf-8")
    light = ";".join(f"--{name}:{pair[0]}" for name, pair in style.TOKENS.items())
    return {
        "fonts": Markup(style.font_faces()),
        "css": Markup(f":root{{color-scheme:light;{light}}}\n{css}"),
        "sign": Markup(style.sign(plan.verdict, 22)),
        "name": tidy(plan.name),
        "revision": tidy(plan.revision),
        "file": tidy(Path(plan.file).name),
        "mark_text": f"{plan.sha256[:4]} {plan.sha256[4:8]}",
        "invented": plan.invented,
        "first_day": f"{plan.calendar.windows.first_day:%a %d %b %Y}" if plan.calendar else "",
    }


def _tests_heading(plan: Plan) -> str:
    if not any(ready.readiness.lines or ready.readiness.stops for ready in plan.ready):
        return "Do first"
    longest = plan.ready[0]
    hours = numbers.hours(longest.readiness.long_print_h)
    return f"Before the {hours} of the {tidy(longest.part)}"


def _more(count: int) -> str:
    return f"And {count} more in the report." if count > 0 else ""


def _picture(plan: Plan, height_px: int) -> dict[str, Any] | None:
    if not height_px:
        return None
    longest = longest_print(plan)
    drawn = draw_part(longest.part, width_px=632, height_px=2 * height_px)
    return {"src": data_address(drawn), "alt": tidy(longest.name), "height_px": height_px}
