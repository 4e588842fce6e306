"""A panel in which the results of the tests before a long print are entered."""

from collections.abc import Mapping, Sequence
from datetime import date
from html import escape

from buildplan.build import Build
from buildplan.build.keep import Change
from buildplan.build.keep_many import OwnRow
from buildplan.notebook.answers.answer import Answer
from buildplan.notebook.answers.memory import plan_of
from buildplan.notebook.answers.readiness import (
    RESULTS,
    claim_names,
    result_changes,
    results_of,
    verdict_heading,
)
from buildplan.notebook.controls import Control, Values
from buildplan.notebook.kept import Kept
from buildplan.notebook.panel import Live, Panel
from buildplan.plan import Plan
from buildplan.plan.model import ReadyPrint
from buildplan.plan.ready import ready_again
from buildplan.report import numbers, style
from buildplan.report.calendar_section import SIGNS
from buildplan.report.sections import words

CHOICES = tuple(
    (result, {"held": "it held", "failed": "it failed"}.get(result, result)) for result in RESULTS
)


def try_claims(build: Build) -> Panel[tuple[ReadyPrint, ...]] | Answer:
    """A row a claim: what its test showed. Every choice is kept in the build file at once.

    Shown are the claims whose test pays, and those with a result.
    """
    plan = plan_of(build)
    if not plan.ready:
        return Answer(heading="No print is long enough to ask for tests", html="", severity="ok")
    names = _shown(build, plan)
    live: Live[tuple[ReadyPrint, ...]] = Live(
        title="What the tests have shown",
        note=lambda now: words(now.name),
        controls=lambda _: [_control(name, plan) for name in names],
        read=lambda now: {name: results_of(now, plan)[name] for name in names},
        keep=lambda now, values: _changes(now, values),
        work=lambda now: ready_again(now, plan),
        draw=_draw,
        says=lambda now, answer: _says(answer, names),
    )
    return Panel(live, Kept(build.path))


def _shown(build: Build, plan: Plan) -> list[str]:
    results = results_of(build, plan)
    listed = {
        line.claim.name
        for ready in plan.ready
        for line in ready.readiness.lines
        if line.band != "skip"
    }
    return [name for name in claim_names(plan) if name in listed or results[name] != "not tried"]


def _control(name: str, plan: Plan) -> Control:
    claims = [
        *(claim for ready in plan.ready for claim in ready.readiness.stops),
        *(line.claim for ready in plan.ready for line in ready.readiness.lines),
    ]
    test = next(claim.test for claim in claims if claim.name == name)
    hours = numbers.plain(numbers.hours(test.hours))
    about = f"{words(test.what)}, {hours}"
    return Control(key=name, label=words(name), about=about, kind="choice", choices=CHOICES)


def _changes(now: Build, values: Values) -> tuple[Sequence[Change], Sequence[OwnRow]]:
    results = {name: str(value) for name, value in values.items()}
    return result_changes(now, results, date.today().isoformat())


def _says(answer: tuple[ReadyPrint, ...], names: list[str]) -> Mapping[str, str]:
    said = dict.fromkeys(names, "")
    for ready in reversed(answer):
        for line in ready.readiness.lines:
            if line.claim.name in said:
                said[line.claim.name] = f"{line.band}: {line.text}"
        for claim in ready.readiness.stops:
            if claim.name in said:
                said[claim.name] = f"mend first: {claim.because}"
    return said


def _draw(answer: tuple[ReadyPrint, ...], before: tuple[ReadyPrint, ...] | None) -> str:
    """The verdict on each long print, and what it was before the last change."""
    shown = []
    for number, ready in enumerate(answer):
        found = ready.readiness
        severity = SIGNS[found.verdict]
        mark = style.sign(None if severity == "none" else severity, 20)  # type: ignore[arg-type]
        lost = (
            f"Expected to be lost: {numbers.num(found.untested_h, 1, 'h')} when nothing more is "
            f"tried, {numbers.num(found.tested_h, 1, 'h')} with the tests that pay, of it "
            f"{numbers.num(found.tests_h, 1, 'h')} for the tests."
        )
        if before is not None and number < len(before):
            old = before[number].readiness
            if old.verdict != found.verdict or abs(old.untested_h - found.untested_h) > 0.05:
                lost += (
                    f" Before this change: {old.verdict}, "
                    f"{numbers.num(old.untested_h, 1, 'h')} when nothing more is tried."
                )
        shown.append(
            f'<p class="verdict">{mark} <b>{escape(verdict_heading(ready))}</b></p>'
            f"<p>{escape(words(found.reason))}</p><p>{escape(lost)}</p>"
        )
    return "".join(shown)
