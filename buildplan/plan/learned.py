"""What the print log of a build teaches: factors on hours and grams, odds of failing."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from buildplan.build import Build
from buildplan.checks.fit import check_fit
from buildplan.errors import InputError
from buildplan.journal import (
    FailureModel,
    Learned,
    PrintLog,
    basis_words,
    factor_for,
    fit_failures,
    learn,
    learned_estimate,
    next_odds,
    read_csv,
    read_log,
    tally_log,
    walls_frac_of,
)
from buildplan.part import read_part
from buildplan.part.turn import turn_part
from buildplan.process.estimate import PrintEstimate, estimate_print
from buildplan.segments.restart import FailureOdds
from buildplan.tables.printer import Printer
from buildplan.tables.rows import find_row
from buildplan.tables.wording import not_known

DEFAULT_LOG = "print_log.sqlite"
TABLE_SUFFIX = ".csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class Experience:
    """What was learned from a log, its names those of the build's rows.

    Attributes:
        source: The file it was read from.
        prints: Prints in it.
    """

    source: Path
    log: PrintLog
    learned: Learned
    failures: FailureModel
    prints: int


def log_path(build: Build) -> Path:
    """The log of a build: beside the build file, by its name in `[journal]` or the usual one.

    A CSV table named there is what the log takes in at first; the log itself is a file of the same
    name with the ending .sqlite.
    """
    named = _named(build)
    if named is None:
        return build.path.parent / DEFAULT_LOG
    return named.with_suffix(".sqlite") if named.suffix.lower() == TABLE_SUFFIX else named


def table_path(build: Build) -> Path | None:
    """The CSV table that a build file names as its log, or None."""
    named = _named(build)
    return named if named is not None and named.suffix.lower() == TABLE_SUFFIX else None


def read_experience(build: Build) -> Experience | None:
    """What a build's log teaches; None where nothing is logged.

    The log is read where it is there, else the table that the build file names.

    Raises:
        InputError: The file is there and cannot be read, or the build file names one that is not.
    """
    path, table = log_path(build), table_path(build)
    if path.exists():
        log, source = read_log(path), path
    elif table is not None:
        log, source = read_csv(table), table
    elif _named(build) is not None:
        raise InputError(
            f"print log: {path} is named in [journal] but not there; start one with "
            f"`buildplan log start {build.path.name} PART`, or take the line out"
        )
    else:
        return None
    known = in_rows(log, build)
    if not known.prints:
        return None
    return Experience(
        source=source,
        log=known,
        learned=learn(known),
        failures=fit_failures(tally_log(known)),
        prints=len(known.prints),
    )


def in_rows(log: PrintLog, build: Build) -> PrintLog:
    """The log with printers and feedstocks by the keys of the build's rows, where it has them."""
    printers, feedstocks = build.tables["printer"].rows, build.tables["feedstock"].rows

    def key(rows: Mapping[str, Any], name: str) -> str:
        row = find_row(rows, name)
        return name if row is None else str(row.key)

    prints = tuple(
        replace(
            item,
            attempt=replace(
                item.attempt,
                printer=key(printers, item.attempt.printer),
                feedstock=key(feedstocks, item.attempt.feedstock),
            ),
        )
        for item in log.prints
    )
    changes = tuple(
        replace(
            change,
            printer=key(printers, change.printer),
            feedstock=key(feedstocks, change.feedstock) if change.feedstock else "",
        )
        for change in log.changes
    )
    return PrintLog(prints=prints, changes=changes)


def odds_from(experience: Experience | None, printer: str, feedstock: str) -> FailureOdds | None:
    """How the next print fails by the log; None where there is none."""
    if experience is None:
        return None
    return next_odds(experience.failures, printer, feedstock)


def basis_of(experience: Experience | None, estimate: PrintEstimate, printer: str) -> str:
    """Whose prints the hours rest on, in words."""
    if experience is None:
        return "from the tables alone: nothing is logged yet"
    walls = walls_frac_of(estimate)
    factor = factor_for(experience.learned.time, estimate.printer, estimate.feedstock, walls)
    return basis_words(factor, printer)


def _named(build: Build) -> Path | None:
    section = build.sections.get("journal")
    name = section.get("file") if isinstance(section, dict) else None
    if name is None:
        return None
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"{build.path.name}, [journal]: file {name!r}; write the log's file name")
    return build.path.parent / name


@dataclass(frozen=True, slots=True, kw_only=True)
class PromisedPrint:
    """What is promised of one print of a part, or of a piece of it.

    Attributes:
        raw: The estimator's own numbers, as the log keeps them.
        learned: The same with what the log taught.
        basis: Whose prints the hours rest on, in words.
        mesh_sha256: Of the mesh that is printed.
    """

    raw: PrintEstimate
    learned: PrintEstimate
    printer: Printer
    basis: str
    mesh_sha256: str


def promise_print(
    build: Build, part: str, printer: str = "", *, mesh: Path | None = None
) -> PromisedPrint:
    """What is promised of one part on one printer.

    Args:
        build: A loaded build.
        part: Name of a part in it.
        printer: Key or name; left out, the cheapest that takes the part.
        mesh: A piece of the part, in mm and as it is laid on the platform; left out, the whole
            part as the build file lays it.

    Raises:
        InputError: There is no such part, or its printer is not known.
        MeshError: The mesh cannot be read.
    """
    request = next((one for one in build.parts if one.name == part), None)
    if request is None:
        raise InputError(not_known("part", part, [one.name for one in build.parts]))
    able = {row.key: row for row in request.printers}
    if printer:
        row = find_row(able, printer)
        if row is None:
            known = [one.name for one in request.printers]
            raise InputError(f"part {part}: {not_known('printer', printer, known)}")
        able = {row.key: row}
    if mesh is None:
        read = read_part(request.path, unit=request.unit, name=part, health="quick")
        turned = turn_part(read, request.orientation)
    else:
        read = turned = read_part(mesh, unit="mm", name=part, health="quick")
    rows = []
    for row in able.values():
        raw = estimate_print(turned, row, request.feedstock, request.recipe, prices=build.prices)
        rows.append((not check_fit(turned, row).fits, raw.total_cost, row, raw))
    _, _, chosen, raw = min(rows, key=lambda one: one[:2])
    experience = read_experience(build)
    taught = raw if experience is None else learned_estimate(raw, experience.learned)
    return PromisedPrint(
        raw=raw,
        learned=taught,
        printer=chosen,
        basis=basis_of(experience, raw, chosen.name),
        mesh_sha256=read.sha256,
    )
