"""Before a long print: what must be true, which tests pay, the verdict, when to look."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from buildplan.build import Build
from buildplan.build.keep_many import OwnRow, keep_values
from buildplan.decide.readiness import Readiness
from buildplan.errors import InputError
from buildplan.notebook.answers.answer import Answer, sentences, table
from buildplan.notebook.answers.memory import current, plan_of
from buildplan.notebook.answers.power import muted
from buildplan.plan import Plan
from buildplan.plan.model import ReadyPrint
from buildplan.plan.ready import LONG_PRINT_H
from buildplan.report import numbers
from buildplan.report.calendar_section import SIGNS, ready_section
from buildplan.report.card_words import look_rows
from buildplan.report.embed import bar
from buildplan.report.sections import words
from buildplan.tables.wording import normal_key, not_known, show

RESULTS = ("not tried", "held", "failed")
"""What a test may have shown; the first takes an entry back."""

BAR_PX = 320

KEYS = {"held": "proved_on", "failed": "failed_on"}


def show_verdict(build: Build, part: str = "") -> Answer:
    """Go, go with these open, or no-go, with the reason and the hours at stake."""
    plan = plan_of(build)
    ready = ready_of(plan, part)
    if ready is None:
        return _no_long_print(plan)
    found = ready.readiness
    told = {
        "when nothing is tried": found.untested_h,
        "with the tests that pay": found.tested_h,
        "of it, the tests themselves": found.tests_h,
    }
    rows = [
        {
            "what": what,
            "bar": bar(hours, found.long_print_h, BAR_PX),
            "hours": numbers.num(hours, 1),
        }
        for what, hours in told.items()
    ]
    stops = [
        f"Mend first: {words(claim.name)}. {claim.because[:1].upper()}{claim.because[1:]}. "
        f"{claim.remedy}"
        for claim in found.stops
    ]
    html = sentences(stops or [words(found.reason)]) + table(
        (
            ("what", "expected to be lost on this print", ""),
            ("bar", f"of its {numbers.hours(found.long_print_h)}", ""),
            ("hours", "", "h"),
        ),
        rows,
        right=("hours",),
    )
    return Answer(heading=verdict_heading(ready), html=html, severity=_sign(found))


def verdict_heading(ready: ReadyPrint) -> str:
    """The verdict on a print in one line."""
    verdict = ready.readiness.verdict
    hours = numbers.hours(ready.readiness.long_print_h)
    return f"{verdict[:1].upper()}{verdict[1:]} for the {hours} of the {words(ready.part)}"


def show_claims(build: Build, part: str = "") -> Answer:
    """What must be true, in three bands, with the test of each and what skipping it costs."""
    plan = plan_of(build)
    ready = ready_of(plan, part)
    if ready is None:
        return _no_long_print(plan)
    row = next(one for one in ready_section(plan) if one["part"] == words(ready.part))
    lines = ready.readiness.lines
    listed = [line for line in lines if line.band != "skip"]
    html = table(
        (
            ("band", "do it", ""),
            ("name", "what must be true", ""),
            ("evidence", "rests on", ""),
            ("wrong", "wrong", "times in 100"),
            ("test", "test", ""),
            ("text", "worth it?", ""),
        ),
        [_quiet(line) if line["quiet"] else line for line in row["lines"]],
        right=("wrong",),
    )
    html += sentences(
        [
            "The chances are assumed starting values, no source, unless you set p_wrong_frac of "
            "your own in a [[claim]]. Each was drawn off by up to twice: a test that nearly every "
            "draw lists is for now."
        ],
        "muted",
    )
    count = numbers.count(len(listed), "test saves", "tests save")
    return Answer(
        heading=f"{count} more hours than {'it costs' if len(listed) == 1 else 'they cost'}",
        html=html,
    )


def show_looks(build: Build, part: str = "", start: str = "") -> Answer:
    """When to look at the running print, and for what.

    Args:
        build: Whose print it is.
        part: Left out, the longest print.
        start: When it begins, as "2031-03-22 08:30" on your clock: the looks then get theirs.

    Raises:
        InputError: The start is no moment, or there is no such part.
    """
    plan = plan_of(build)
    ready = ready_of(plan, part)
    if ready is None:
        return _no_long_print(plan)
    begun = _clock(start) if start else None
    rows = []
    for look, texts in zip(ready.card.day.looks, look_rows(ready.card), strict=True):
        hours, layer, height, why = texts
        at = f"{begun + timedelta(hours=look.after_h):%a %d %b, %H:%M}" if begun else ""
        rows.append({"at": at, "hours": hours, "layer": layer, "height": height, "why": words(why)})
    columns = [
        ("hours", "after the start", "h"),
        ("layer", "layer", ""),
        ("height", "height", "mm"),
        ("why", "look for", ""),
    ]
    if begun:
        columns.insert(0, ("at", "on your clock", ""))
    html = table(columns, rows, right=("hours", "layer", "height"))
    if not begun:
        html += sentences(['Give start="2031-03-22 08:30" to see the hours of the clock.'], "muted")
    looks = numbers.count(len(rows), "look", "looks")
    return Answer(heading=f"{looks} at the {words(ready.part)} are worth the walk", html=html)


def keep_result(build: Build, claim: str, result: str, on: str = "") -> Answer:
    """Write what a test showed into the build file, and the verdict that follows.

    Writing the same again changes nothing.

    Args:
        build: Its build file is written.
        claim: What must be true, or some words of it that only one claim has.
        result: "held", "failed", or "not tried" to take an entry back.
        on: Day of the test, "2031-03-17"; today where left out.

    Raises:
        InputError: No claim or several are meant, the result is not known, or the day is none.
    """
    now, plan = current(build), plan_of(build)
    name = _claim_named(plan, claim)
    changes, rows = result_changes(now, {name: result}, on or date.today().isoformat())
    if changes:
        now = keep_values(now.path, changes, rows=rows)
    answer = show_verdict(now)
    kept = "kept" if changes else "was kept before"
    said = f"“{words(name)}”: {result}, {kept} in [[claim]] of {now.path.absolute()}."
    return Answer(
        heading=answer.heading, html=sentences([said]) + answer.html, severity=answer.severity
    )


def results_of(build: Build, plan: Plan) -> dict[str, str]:
    """What the tests of all claims showed, by name of the claim."""
    own = {claim.name: claim for claim in build.decisions.claims}
    found = {}
    for name in claim_names(plan):
        given = own.get(name)
        if given is None or not (given.proved_on or given.failed_on):
            found[name] = "not tried"
        else:
            found[name] = "failed" if given.failed_on else "held"
    return found


def claim_names(plan: Plan) -> list[str]:
    """Every claim of every long print once, the tests that pay first."""
    names: list[str] = []
    for ready in plan.ready:
        names += [claim.name for claim in ready.readiness.stops]
        names += [line.claim.name for line in ready.readiness.lines]
    return list(dict.fromkeys(names))


def result_changes(
    build: Build, results: Mapping[str, str], day: str
) -> tuple[list[tuple[tuple[str, str], str, str]], list[OwnRow]]:
    """What to write for the results of tests: only what differs from the build file.

    Args:
        build: As its file has it now.
        results: By name of the claim.
        day: Of the tests.

    Raises:
        InputError: A result is not known, or the day is none.
    """
    own = {claim.name: claim for claim in build.decisions.claims}
    changes: list[tuple[tuple[str, str], str, str]] = []
    rows = []
    for name, result in results.items():
        if result not in RESULTS:
            raise InputError(f"{name}: {not_known('result', result, RESULTS)}")
        given = own.get(name)
        for what, key in KEYS.items():
            kept = getattr(given, key) if given is not None else ""
            if (what == result) == bool(kept):
                continue
            changes.append((("claim", name), key, _day(day) if what == result else ""))
        if any(path[1] == name for path, _, _ in changes):
            rows.append(OwnRow(kind="claim", name=name))
    return changes, rows


def ready_of(plan: Plan, part: str) -> ReadyPrint | None:
    """The list of a long print; the longest where no part is named; None where none is long.

    Raises:
        InputError: The part has no long print.
    """
    if not part:
        return plan.ready[0] if plan.ready else None
    found = [one for one in plan.ready if normal_key(one.part) == normal_key(part)]
    if not found:
        long = [one.part for one in plan.ready]
        raise InputError(not_known("long print", part, long))
    return found[0]


def _claim_named(plan: Plan, text: str) -> str:
    names = claim_names(plan)
    hits = [name for name in names if normal_key(text) == normal_key(name)] or [
        name for name in names if text.strip() and text.strip().lower() in words(name).lower()
    ]
    if len(hits) != 1:
        found = "several claims hold" if hits else "no claim holds"
        listed = "; ".join(words(name) for name in hits or names)
        raise InputError(f"{found} the words {show(text)}. Those there are: {listed}")
    return hits[0]


def _quiet(line: Mapping[str, Any]) -> dict[str, Any]:
    """A line that asks for nothing, in grey."""
    return {key: muted(text) if isinstance(text, str) else text for key, text in line.items()}


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(f'{show(text)} is no day; write it like "2031-03-17"') from None


def _clock(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f'{show(text)} is no moment; write it like "2031-03-22 08:30"') from None
    return moment if moment.tzinfo is None else moment.astimezone(UTC)


def _sign(found: Readiness) -> str:
    sign: str = SIGNS[found.verdict]
    return "ok" if sign == "none" else sign


def _no_long_print(plan: Plan) -> Answer:
    longest = max(
        (
            option.estimate.time_h
            for item in plan.parts
            for option in item.options[item.chosen :][:1]
        ),
        default=0.0,
    )
    rows: list[Any] = [
        f"The longest print takes {numbers.hours(longest)}. From {numbers.hours(LONG_PRINT_H)} on, "
        "a list of what must be true first is worth its hours; below, just print."
    ]
    return Answer(heading="No print is long enough to ask", html=sentences(rows), severity="ok")
