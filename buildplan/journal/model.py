"""What the print log holds: attempts, and what happened to them."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from buildplan.errors import InputError

End = Literal["done", "failed", "aborted", "running", "void"]
ENDS: tuple[End, ...] = ("done", "failed", "aborted", "running", "void")

Change = Literal["nozzle", "feedstock"]
CHANGES: tuple[Change, ...] = ("nozzle", "feedstock")

CAUSES = (
    "no_adhesion",
    "warp",
    "jam",
    "runout",
    "shift",
    "power",
    "sagging",
    "user",
    "other",
    "unknown",
)
"""Why a print failed or was aborted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One print that was started, with what was predicted; never changed afterwards.

    Attributes:
        uid: Its name that no other attempt in any log has.
        started_utc: "2031-02-03" or "2031-02-03T18:20:00Z".
        piece: Number of the piece of a split part; 1 for a whole one.
        predicted_h, predicted_g: The estimator's own numbers, before anything learned from the
            log is put on them: else the log would learn from itself. Grams are None where nothing
            was predicted.
        walls_frac: Share of the predicted hours in beads along walls, or None: machines differ in
            corners more than on straights.
        mesh_sha256: Of the part's file, or empty.
        estimator: Version of the estimator that predicted, or empty.
    """

    uid: str
    started_utc: str
    part: str
    printer: str
    feedstock: str
    predicted_h: float
    predicted_g: float | None = None
    walls_frac: float | None = None
    piece: int = 1
    recipe: str = ""
    mesh_sha256: str = ""
    estimator: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What happened to an attempt; a later one corrects an earlier one.

    Attributes:
        end: "done", "failed", "aborted" (stopped by choice), "running" (looked at, still going) or
            "void" (the attempt was entered by mistake and counts for nothing).
        ran_h: Hours it ran, None only for void.
        mass_g: Feedstock on the scale, or None.
        cause: One of CAUSES; failed needs one.
    """

    end: End
    at_utc: str
    ran_h: float | None = None
    mass_g: float | None = None
    cause: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedPrint:
    """An attempt with its latest outcome; outcome None: started, nothing heard since.

    Attributes:
        number: What the log calls it; the command line takes this number.
    """

    number: int
    attempt: Attempt
    outcome: Outcome | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineChange:
    """A new nozzle, or a new make or batch of a feedstock: old prints say less about new ones.

    Attributes:
        feedstock: Which one, for a change of feedstock; empty for a nozzle.
    """

    number: int
    uid: str
    at_utc: str
    kind: Change
    printer: str
    feedstock: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintLog:
    """All that a log says, in the order it was written."""

    prints: tuple[LoggedPrint, ...]
    changes: tuple[MachineChange, ...]


def now_utc() -> str:
    """This moment as the log writes it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def clean_utc(text: str, what: str) -> str:
    """A date or a moment as the log writes it: "2031-02-03" or "2031-02-03T18:20:00Z".

    A moment without a zone is taken as UTC.

    Raises:
        InputError: It is neither.
    """
    stripped = text.strip()
    try:
        moment = datetime.fromisoformat(stripped)
        if len(stripped) == len("2031-02-03"):
            return moment.date().isoformat()
        zoned = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        return zoned.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    except (ValueError, OverflowError):
        raise InputError(
            f"print log, {what}: {text!r} is no date; write 2031-02-03 or 2031-02-03T18:20:00Z"
        ) from None


def check_attempt(attempt: Attempt) -> None:
    """Refuse an attempt that cannot be.

    Raises:
        InputError: A name is empty, a number not above 0, a date no date.
    """
    for what in ("uid", "part", "printer", "feedstock"):
        if not getattr(attempt, what).strip():
            raise InputError(f"print log, start: {what} is empty; name it")
    for what in ("uid", "part", "printer", "feedstock", "recipe", "mesh_sha256", "estimator"):
        check_text(getattr(attempt, what), what)
    if clean_utc(attempt.started_utc, "started") != attempt.started_utc:
        raise InputError(f"print log, started: {attempt.started_utc!r} must be put in UTC first")
    _check_number(attempt.predicted_h, "predicted_h", above=True)
    if attempt.predicted_g is not None:
        _check_number(attempt.predicted_g, "predicted_g", above=True)
    if attempt.walls_frac is not None and not 0.0 <= attempt.walls_frac <= 1.0:
        raise InputError(f"print log: walls_frac is {attempt.walls_frac}; 0 to 1 allowed")
    if not 1 <= attempt.piece <= 10_000:
        raise InputError(f"print log, start: piece {attempt.piece} found, 1 to 10000 allowed")


def check_outcome(outcome: Outcome) -> None:
    """Refuse an outcome that cannot be.

    Raises:
        InputError: Unknown end or cause, hours missing, a number negative or not finite.
    """
    if outcome.end not in ENDS:
        raise InputError(f"print log: end {outcome.end!r} found; allowed: {', '.join(ENDS)}")
    if outcome.cause and outcome.cause not in CAUSES:
        raise InputError(f"print log: cause {outcome.cause!r} found; allowed: {', '.join(CAUSES)}")
    if outcome.end == "failed" and not outcome.cause:
        raise InputError(f"print log: a failed print needs a cause; allowed: {', '.join(CAUSES)}")
    if outcome.ran_h is None and outcome.end != "void":
        raise InputError(f"print log: a print that is {outcome.end} needs the hours it ran")
    if outcome.ran_h is not None:
        _check_number(outcome.ran_h, "ran_h", above=outcome.end == "done")
    if outcome.mass_g is not None:
        _check_number(outcome.mass_g, "mass_g", above=False)
    if clean_utc(outcome.at_utc, "ended") != outcome.at_utc:
        raise InputError(f"print log, ended: {outcome.at_utc!r} must be put in UTC first")
    check_text(outcome.note, "note")


def check_text(text: str, what: str) -> None:
    """Refuse text that no file could hold: a zero character or half a surrogate pair."""
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise InputError(f"print log: {what} holds a character that cannot be stored; retype it")


def _check_number(value: float, what: str, *, above: bool) -> None:
    least = value > 0.0 if above else value >= 0.0
    if not (math.isfinite(value) and least):
        need = "above 0" if above else "0 or more"
        raise InputError(f"print log: {what} is {value}; it must be {need} and finite")
