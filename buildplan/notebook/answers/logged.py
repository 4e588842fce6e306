"""The print log in a notebook: what it holds, what it teaches, one print against its promise."""

from collections.abc import Sequence
from typing import Any

from buildplan.build import Build
from buildplan.journal import (
    LoggedPrint,
    PrintLog,
    fit_failures,
    learn,
    open_prints,
    read_csv,
    read_log,
    tally_log,
)
from buildplan.journal.accept import FEW_G, Accepted
from buildplan.notebook.answers.answer import Answer, sentences, table
from buildplan.notebook.answers.memory import current
from buildplan.plan import log_path, table_path
from buildplan.report import numbers
from buildplan.report.journal_text import END_SIGNS, NOTHING_LEARNED, learned_lines, log_row
from buildplan.report.sections import words

NO_LOG = "No print is logged yet"


def show_log(build: Build) -> Answer:
    """Every print of the log: what was promised, what happened, how it ended."""
    now = current(build)
    log = read_log_of(now)
    if log is None or not log.prints:
        return nothing_logged(now)
    prints = sorted(log.prints, key=lambda item: (item.attempt.started_utc, item.number))
    rows = [_row(item) for item in prints]
    columns = [
        ("number", "no.", ""),
        ("day", "started", ""),
        ("part", "part", ""),
        ("printer", "printer", ""),
        ("promised", "promised", "h"),
        ("ran", "ran", "h"),
        ("ratio", "of promised", "%"),
        ("grams", "promised", "g"),
        ("mass", "weighed", "g"),
        ("end", "end", ""),
    ]
    if not any(row["grams"] for row in rows):
        columns = [column for column in columns if column[0] != "grams"]
    html = table(columns, rows, right=("number", "promised", "ran", "ratio", "grams", "mass"))
    running = len(open_prints(log))
    done = sum(1 for item in prints if item.outcome is not None and item.outcome.end == "done")
    failed = sum(1 for item in prints if item.outcome is not None and item.outcome.end == "failed")
    heading = f"{numbers.count(len(prints), 'print')} logged: {done} done, {failed} failed"
    if running:
        heading += f", {running} without an end yet"
    return Answer(heading=heading, html=html + sentences([where_kept(now)], "muted"))


def show_learned(build: Build) -> Answer:
    """What the log teaches: hours, grams and failures of every printer and feedstock."""
    now = current(build)
    log = read_log_of(now)
    told = learned_lines(log, learn(log), fit_failures(tally_log(log))) if log is not None else []
    if log is None or not told:
        return Answer(
            heading="Nothing is learned yet", html=sentences([NOTHING_LEARNED]), severity="note"
        )
    from markupsafe import escape

    html = "".join(
        f"<h3>{escape(words(head))}</h3>" + sentences([" ".join(map(words, lines))])
        for head, lines in told
    )
    html += sentences(
        ["Every estimate, the calendar and the bad day take this in by themselves from now on."],
        "muted",
    )
    pairs = numbers.count(
        len(told), "pair of printer and feedstock", "pairs of printer and feedstock"
    )
    count = numbers.count(len(log.prints), "print")
    return Answer(heading=f"What {count} on {pairs} teach", html=html)


def accepted_table(found: Sequence[Accepted]) -> str:
    """What was measured against what was promised, with the likely cause where it differs."""
    if not found:
        return ""
    rows = []
    for one in found:
        unit = {"hours": "h", "grams": "g"}.get(one.what, "mm")
        digits = 1 if unit != "g" or one.expected < FEW_G else 0
        rows.append(
            {
                "severity": "ok" if one.verdict == "within" else "caution",
                "what": one.what,
                "found": numbers.num(one.found, digits, unit),
                "expected": numbers.num(one.expected, digits),
                "range": f"{numbers.num(one.low, digits)} to {numbers.num(one.high, digits)}",
                "cause": one.cause or "none: within what was promised",
            }
        )
    columns = (
        ("severity", "", ""),
        ("what", "measured", ""),
        ("found", "found", ""),
        ("expected", "promised", ""),
        ("range", "from, to", ""),
        ("cause", "likely cause", ""),
    )
    return table(columns, rows, right=("found", "expected"))


def read_log_of(build: Build) -> PrintLog | None:
    """The log as it stands; a table that is not taken in yet is read as it is."""
    path, csv = log_path(build), table_path(build)
    if path.exists():
        return read_log(path)
    return read_csv(csv) if csv is not None and csv.exists() else None


def nothing_logged(build: Build) -> Answer:
    """The answer where the log is empty or not there."""
    return Answer(
        heading=NO_LOG,
        html=sentences(
            [
                "It begins with the first print that you start below, as "
                f"{log_path(build).absolute()}.",
                "Another file is named by file in [journal] of the build file.",
            ]
        ),
        severity="note",
    )


def where_kept(build: Build) -> str:
    """Where the log of a build is."""
    path = log_path(build)
    if path.exists():
        return f"Kept in {path.absolute()}."
    return f"Read from {table_path(build)}; the first print you enter begins {path.absolute()}."


def _row(item: LoggedPrint) -> dict[str, Any]:
    number, day, part, printer, _, promised, ran, mass, end = log_row(item)
    outcome, attempt = item.outcome, item.attempt
    whole = outcome is not None and outcome.end == "done" and outcome.ran_h is not None
    ratio = outcome.ran_h / attempt.predicted_h if whole and outcome and outcome.ran_h else None
    return {
        "number": number,
        "day": day,
        "part": words(part),
        "printer": words(printer),
        "promised": promised,
        "ran": ran,
        "ratio": "" if ratio is None else numbers.num(100.0 * ratio, 0),
        "grams": "" if attempt.predicted_g is None else numbers.num(attempt.predicted_g, 0),
        "mass": mass,
        "end": end if outcome is not None else f"{END_SIGNS['running']} runs",
    }
