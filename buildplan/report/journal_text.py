"""The print log on the terminal: its prints, what was learned, whether the file is whole."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.journal import (
    CsvTaken,
    FailureModel,
    Learned,
    LogCheck,
    LoggedPrint,
    PrintLog,
    factor_for,
    factor_words,
    odds_for,
    odds_words,
    open_prints,
)
from buildplan.journal.accept import Accepted
from buildplan.process.estimate import PrintEstimate
from buildplan.report import numbers
from buildplan.report.terminal import hanging, sign, table

NOTHING_LEARNED = "Nothing is logged yet: every estimate rests on the tables alone."

END_SIGNS = {"done": "✓", "failed": "■", "aborted": "○", "running": "…", "void": "·"}


def print_log(to: Console, log: PrintLog, last: int | None = None) -> None:
    """A row a print, oldest first (the ``last`` ones), then what still runs and what changed."""
    made = table(
        ("no.", "", True),
        ("started", "", True),
        ("part", "", False),
        ("printer", "", False),
        ("feedstock", "", False),
        ("predicted", "h", True),
        ("ran", "h", True),
        ("mass", "g", True),
        ("end", "", False),
    )
    prints = sorted(log.prints, key=lambda item: (item.attempt.started_utc, item.number))
    shown = prints if last is None else prints[max(len(prints) - last, 0) :]
    for item in shown:
        made.add_row(*log_row(item))
    to.print(made)
    to.print()
    running = len(open_prints(log))
    text = numbers.count(len(prints), "print")
    if len(shown) < len(prints):
        text += f", the last {len(shown)} shown"
    to.print(f"{text}; {running} without an end yet.")
    for change in log.changes:
        what = "nozzle" if change.kind == "nozzle" else f"{change.feedstock}"
        to.print(Text(f"{change.at_utc[:10]}  new {what} on {change.printer}", style="quiet"))


def print_recorded(to: Console, path: Path, number: int, what: str, kind: str = "print") -> None:
    """That a row is safely on the disk, and how to go on."""
    to.print(Text.assemble(sign(None), f"  {kind} {number}: {what}, written to {path.name}"))


def print_started(to: Console, estimate: PrintEstimate, begun_utc: str, basis: str) -> None:
    """What is promised of a print that has begun, and when to look at it."""
    for line in promise_lines(estimate, begun_utc, basis):
        to.print(f"   {numbers.plain(line)}")


def promise_lines(estimate: PrintEstimate, begun_utc: str, basis: str) -> list[str]:
    """What is promised of a print, when it is done, and when to look at it.

    Args:
        estimate: With what the log taught.
        begun_utc: As the log writes it; a date alone gives no end.
        basis: Whose prints the hours rest on.
    """
    spread = estimate.time_spread_h
    hours = (
        f"{numbers.hours(estimate.time_h)}, 1 time in 10 over {numbers.hours(spread.high)}; "
        f"{numbers.grams(estimate.mass_g)}"
    )
    lines = [f"promised: {hours}, {basis}"]
    if "T" in begun_utc:
        begun = datetime.strptime(begun_utc, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
        ends = [begun + timedelta(hours=h) for h in (estimate.time_h, spread.high)]
        usual, late = (f"{end.astimezone():%a %d %b %H:%M}" for end in ends)
        lines.append(f"done {usual} as usual, {late} on a slow day")
    first = float(estimate.layer_time_s[:3].sum()) / 60.0
    lines.append(f"look at it after the first layers, {first:.0f} min from the start")
    return lines


def print_acceptance(to: Console, accepted: Sequence[Accepted]) -> None:
    """Each thing that was measured, against what was promised."""
    for one in accepted:
        mark = sign(None if one.verdict == "within" else "caution")
        to.print(hanging(mark, one.text))


def print_learned(to: Console, log: PrintLog, learned: Learned, failures: FailureModel) -> None:
    """Hours, grams and failures of every printer and feedstock in the log, in sentences."""
    told = learned_lines(log, learned, failures)
    if not told:
        to.print(NOTHING_LEARNED)
    for head, lines in told:
        to.print(Text(head, style="head"))
        for line in lines:
            to.print("  " + line)
        to.print()


def learned_lines(
    log: PrintLog, learned: Learned, failures: FailureModel
) -> list[tuple[str, list[str]]]:
    """Printer and feedstock, and the sentences on what the log says of them."""
    pairs = sorted({(item.attempt.printer, item.attempt.feedstock) for item in log.prints})
    told = []
    for printer, feedstock in pairs:
        hours = factor_for(learned.time, printer, feedstock)
        grams = factor_for(learned.mass, printer, feedstock)
        lines = [factor_words(hours, printer, feedstock, "hours")]
        if grams.prints:
            lines.append(factor_words(grams, printer, feedstock, "grams"))
        lines.append(odds_words(odds_for(failures, printer, feedstock), printer, feedstock))
        told.append((f"{printer}, {feedstock}", lines))
    return told


def print_check(to: Console, path: Path, found: LogCheck) -> None:
    """Whether the file is whole; where not, what is wrong and what to do."""
    if found.fault:
        to.print(Text.assemble(sign("stop"), f"  {path.name}: {found.fault}."))
        good = numbers.count(found.rows, "row")
        to.print(f"   {good} before it hold; put a backup in its place.")
        return
    rows = numbers.count(found.rows, "row")
    to.print(Text.assemble(sign(None), f"  {path.name}: {rows}, each as it was written"))
    to.print(Text(f"   last seal {found.last_sha256[:16]}", style="quiet"))


def print_taken(to: Console, path: Path, taken: CsvTaken) -> None:
    """What reading a table put into the log."""
    to.print(
        Text.assemble(
            sign(None),
            f"  {path.name}: {numbers.count(taken.prints, 'new print')}, "
            f"{numbers.count(taken.outcomes, 'new end')}, "
            f"{numbers.count(taken.changes, 'change')} of nozzle or feedstock; "
            f"{numbers.count(taken.known, 'row')} known already",
        )
    )


def log_row(item: LoggedPrint) -> tuple[str, ...]:
    """Number, day, part, printer, feedstock, promised hours, hours it ran, grams, end."""
    attempt, outcome = item.attempt, item.outcome
    part = attempt.part if attempt.piece == 1 else f"{attempt.part} ({attempt.piece})"
    end = "started"
    if outcome is not None:
        cause = f" ({outcome.cause.replace('_', ' ')})" if outcome.cause else ""
        end = f"{END_SIGNS[outcome.end]} {outcome.end}{cause}"
    ran = None if outcome is None else outcome.ran_h
    mass = None if outcome is None else outcome.mass_g
    return (
        str(item.number),
        attempt.started_utc[:10],
        part,
        attempt.printer,
        attempt.feedstock,
        f"{attempt.predicted_h:.1f}",
        "" if ran is None else f"{ran:.1f}",
        "" if mass is None else f"{mass:.0f}",
        end,
    )
