"""After the print: a print is begun and ended in the log of a build, each once."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import get_args

from buildplan.build import Build
from buildplan.errors import InputError
from buildplan.journal import (
    CAUSES,
    LoggedPrint,
    Outcome,
    PrintLog,
    clean_utc,
    now_utc,
    open_prints,
    read_log,
    record_outcome,
)
from buildplan.journal.model import End
from buildplan.notebook.answers.answer import Answer, sentences
from buildplan.notebook.answers.logged import (
    accepted_table,
    nothing_logged,
    read_log_of,
    where_kept,
)
from buildplan.notebook.answers.memory import current
from buildplan.plan import promise_print
from buildplan.plan.logbook import (
    begin_print,
    end_time,
    hold_against,
    hours_since,
    open_log_of,
)
from buildplan.report import numbers
from buildplan.report.journal_text import promise_lines
from buildplan.report.sections import capital, words
from buildplan.tables.wording import not_known, show

UID_LETTERS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a print ended, as a maker says it.

    Attributes:
        hours: Left out, the clock since the start.
        at: When; left out, now. On your clock, "2031-03-23 07:10".
    """

    end: End
    hours: float | None
    grams: float | None
    size_mm: tuple[float, float, float] | None
    cause: str
    note: str
    at: str


def start_print(
    build: Build, part: str = "", *, printer: str = "", at: str = "", write: bool = False
) -> Answer:
    """What is promised of a print; with ``write`` it is put into the log, once.

    Args:
        build: Whose part it is.
        part: Its name; left empty, nothing is begun.
        printer: Left out, the plan's choice.
        at: When it begins on your clock, "2031-03-22 08:30". A print is known by part, printer and
            this moment: the same again is the same print.
        write: Whether to write it down.

    Raises:
        InputError: There is no such part or printer, or the moment is none.
    """
    now = current(build)
    if not part:
        known = ", ".join(f'"{request.name}"' for request in now.parts)
        return Answer(
            heading="Nothing is begun: name the part that you start",
            html=sentences([f"Parts: {known}."]),
            severity="note",
        )
    begun = utc_of(at, "start") if at else now_utc()
    promised = promise_print(now, part, printer)
    lines = [capital(f"{line}.") for line in promise_lines(promised.learned, begun, promised.basis)]
    on = f"{words(part)} on {promised.printer.name}"
    if not write:
        stamp = at or f"{datetime.now():%Y-%m-%d %H:%M}"
        how = f'start_print(build, "{part}", at="{stamp}", write=True)'
        said = f"Not written yet. To write it down: nb.{how}"
        return Answer(
            heading=f"Promised of the {on}", html=sentences([*lines, said]), severity="note"
        )
    if not at:
        return Answer(
            heading="Not written: say when it began",
            html=sentences(
                [
                    f'Add at="{datetime.now():%Y-%m-%d %H:%M}": running the cell again then names '
                    "the same print instead of a second one."
                ]
            ),
            severity="caution",
        )
    return _written_start(now, part, promised.printer.name, begun, lines)


def _written_start(
    build: Build, part: str, printer: str, begun: str, lines: Sequence[str]
) -> Answer:
    on = f"{words(part)} on {printer}"
    path, _ = open_log_of(build)
    log = read_log(path) if path.exists() else PrintLog(prints=(), changes=())
    uid = uid_of(part, printer, begun)
    known = next((item for item in log.prints if item.attempt.uid == uid), None)
    if known is not None:
        heading = f"Print {known.number}, {on}, was written down before"
        return Answer(heading=heading, html=sentences([*lines, where_kept(build)]), severity="ok")
    busy = next((item for item in open_prints(log) if item.attempt.printer == printer), None)
    if busy is not None:
        return Answer(
            heading=f"Not written: print {busy.number} still runs on {printer}",
            html=sentences(
                [
                    f"The log has no end yet of the {words(busy.attempt.part)} that began "
                    f"{busy.attempt.started_utc}. Enter its end first, below."
                ]
            ),
            severity="stop",
        )
    made = begin_print(build, part, printer, at=begun, uid=uid)
    heading = f"Print {made.number}, {on}, is written down"
    return Answer(heading=heading, html=sentences([*lines, where_kept(build)]), severity="ok")


def end_print(  # noqa: PLR0913 - what may be said about an end
    build: Build,
    number: int | None = None,
    end: End = "done",
    *,
    hours: float | None = None,
    grams: float | None = None,
    size_mm: tuple[float, float, float] | None = None,
    cause: str = "",
    note: str = "",
    at: str = "",
    write: bool = False,
) -> Answer:
    """What happened against what was promised; with ``write`` it is put into the log, once.

    Args:
        build: Whose log it is.
        number: Of the print; left out, the only one that runs.
        end: "done", "failed", "aborted" (you stopped it), or "void" (the entry was a mistake).
        hours: It ran; left out, the clock from its start to ``at``.
        grams: On the kitchen scale.
        size_mm: Width, depth and height by the caliper.
        cause: Of a failure; the answer lists those that the log knows.
        note: Anything worth remembering.
        at: When it ended on your clock; left out, now.
        write: Whether to write it down.

    Raises:
        InputError: There is no such print, or what is said cannot be.
    """
    now = current(build)
    log = read_log_of(now)
    if log is None or not log.prints:
        return nothing_logged(now)
    if end not in get_args(End):
        raise InputError(not_known("end", end, get_args(End)))
    item = _meant(now, log, number)
    if isinstance(item, Answer):
        return item
    said = Ended(end=end, hours=hours, grams=grams, size_mm=size_mm, cause=cause, note=note, at=at)
    if end == "failed" and cause not in CAUSES:
        return _which_cause(item, cause)
    nothing = hours is None and grams is None and size_mm is None and not at
    if nothing and not write and end == "done":
        return _to_measure(item)
    return _ended(now, item, said, write=write)


def _ended(build: Build, item: LoggedPrint, said: Ended, *, write: bool) -> Answer:
    moment = end_time(utc_of(said.at, "end") if said.at else "")
    old = item.outcome
    ran = said.hours
    if ran is None and said.end != "void":
        same = old is not None and old.end == said.end
        ran = (
            old.ran_h
            if same and old is not None
            else hours_since(item, moment, given=bool(said.at))
        )
    done = said.end == "done"
    found = hold_against(build, item, ran, said.grams, said.size_mm) if done else ()
    note = "; ".join([*([said.note] if said.note else []), *(one.text for one in found)])
    outcome = Outcome(
        end=said.end, at_utc=moment, ran_h=ran, mass_g=said.grams, cause=said.cause, note=note
    )
    name = f"print {item.number}, the {words(item.attempt.part)} on {item.attempt.printer}"
    html = accepted_table(found)
    look = [one for one in found if one.verdict == "look"]
    verdict = "look at what is marked" if look else "as promised" if found else said.end
    sign = "caution" if look else "ok"
    if old is not None and _same(old, outcome):
        html += sentences([f"It was in the log before; nothing is written. {where_kept(build)}"])
        return Answer(heading=f"{capital(name)}: {verdict}", html=html, severity=sign)
    if not write:
        html += sentences(["Not written yet: add write=True to put it into the log."])
        return Answer(heading=f"{capital(name)}: {verdict}", html=html, severity=sign)
    path, _ = open_log_of(build)
    record_outcome(path, item.number, outcome)
    corrected = "It corrects the end that was there; both stay in the file. " if old else ""
    html += sentences([f"{corrected}Written down. {where_kept(build)}"])
    return Answer(heading=f"{capital(name)}: {verdict}", html=html, severity=sign)


def utc_of(text: str, what: str) -> str:
    """A moment on the maker's own clock, in UTC as the log writes it; a day stays a day.

    Raises:
        InputError: It is neither.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f'{what} {show(text)} is no moment; write "2031-03-22 08:30"') from None
    if len(text.strip()) == len("2031-03-22"):
        return clean_utc(text, what)
    return clean_utc(moment.astimezone(UTC).isoformat(), what)


def uid_of(part: str, printer: str, begun_utc: str) -> str:
    """The name in the log of a print that is begun here: the same print has the same name."""
    text = f"begun by hand: {part}, {printer}, {begun_utc}"
    return hashlib.sha256(text.encode()).hexdigest()[:UID_LETTERS]


def _same(old: Outcome, new: Outcome) -> bool:
    """Whether an end says nothing new; when it was written down does not count."""
    kept = (old.end, old.cause, old.mass_g, None if old.ran_h is None else round(old.ran_h, 6))
    asked = (new.end, new.cause, new.mass_g, None if new.ran_h is None else round(new.ran_h, 6))
    return kept == asked


def _meant(build: Build, log: PrintLog, number: int | None) -> LoggedPrint | Answer:
    running = open_prints(log)
    if number is not None:
        found = next((item for item in log.prints if item.number == number), None)
        if found is None:
            raise InputError(f"the log has no print {number}; its numbers stand in the table above")
        return found
    if len(running) == 1:
        return running[0]
    if not running:
        return _last_ended(build, log)
    names = "; ".join(f"{item.number} {words(item.attempt.part)}" for item in running)
    return Answer(
        heading="Several prints run: say which, by its number",
        html=sentences([names]),
        severity="note",
    )


def _last_ended(build: Build, log: PrintLog) -> Answer:
    """Where nothing runs: the print that ended last, against what was promised."""
    more = "To correct a print that has ended, give its number from the table above."
    ended = [item for item in log.prints if item.outcome and item.outcome.end == "done"]
    if not ended:
        return Answer(
            heading="No print runs: nothing to end", html=sentences([more]), severity="note"
        )
    item = max(ended, key=lambda one: (one.attempt.started_utc, one.number))
    done = item.outcome
    ran, grams = (done.ran_h, done.mass_g) if done is not None else (None, None)
    found = hold_against(build, item, ran, grams, None)
    look = any(one.verdict == "look" for one in found)
    said = "look at what is marked" if look else "as promised"
    return Answer(
        heading=f"No print runs. The last one done was print {item.number}, the "
        f"{words(item.attempt.part)}: {said}",
        html=accepted_table(found) + sentences([more], "muted"),
        severity="caution" if look else "ok",
    )


def _to_measure(item: LoggedPrint) -> Answer:
    attempt = item.attempt
    grams = f" and {numbers.grams(attempt.predicted_g)}" if attempt.predicted_g else ""
    return Answer(
        heading=f"Print {item.number}, the {words(attempt.part)}, was promised "
        f"{numbers.hours(attempt.predicted_h)}{grams}",
        html=sentences(
            [
                "Take it off, let it cool, remove supports and rim, and put it on the scale: "
                "grams=. Measure width, depth and height: size_mm=(…, …, …). Hours by the clock: "
                "hours=. What you leave out is not held against anything."
            ]
        ),
        severity="note",
    )


def _which_cause(item: LoggedPrint, cause: str) -> Answer:
    said = f"{show(cause)} is not one of them. " if cause else ""
    listed = ", ".join(f'"{one}"' for one in CAUSES)
    return Answer(
        heading=f"Not written: say why print {item.number} failed",
        html=sentences([f"{said}cause= one of {listed}."]),
        severity="note",
    )
