"""Many parts on many printers, of many feedstocks, many ways up: every combination estimated."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from buildplan.build import Build, PartRequest
from buildplan.checks.fit import check_fit
from buildplan.checks.orientation import rank_orientations
from buildplan.errors import BuildplanError, InputError
from buildplan.part import Part, read_part
from buildplan.part.turn import turn_part
from buildplan.process.estimate import Prices, estimate_print
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.match import why_not
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rows import find_row
from buildplan.tables.wording import normal_key, not_known

Matrix = tuple[float, ...]
Progress = Callable[[int, int], None]
"""Called with (jobs done, jobs in all); a job is one part, one way up, with one recipe."""

AS_IT_IS: Matrix = tuple(float(x) for x in np.eye(4).ravel())
MOST_WAYS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPart:
    """A part of a study, with what it may be made of.

    Attributes:
        feedstocks: At least one.
        recipes: Process settings to compare, at least one.
    """

    part: Part
    feedstocks: tuple[Feedstock, ...]
    recipes: tuple[Recipe, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRow:
    """One combination.

    Attributes:
        way: 0 for as the part is given, then the best other ways up.
        matrix: 16 numbers, row by row, that turn the part for it.
        fits: Whether it fits the printer so; ``how`` in words.
        time_h, mass_g, cost: Usual, of one copy; nan where it cannot be computed.
        support_g: Of the mass.
        refused: Why it cannot be computed, or empty.
    """

    part: str
    way: int
    recipe: str
    feedstock: str
    printer: str
    matrix: Matrix
    fits: bool
    how: str
    time_h: float
    mass_g: float
    cost: float
    support_g: float
    refused: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """One part, turned one way, with one recipe: its combinations share layers and paths."""

    item: StudyPart
    way: int
    matrix: Matrix
    recipe: Recipe


def study_parts(
    items: Sequence[StudyPart],
    printers: Sequence[Printer],
    *,
    ways: int = 1,
    prices: Prices | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> tuple[StudyRow, ...]:
    """Every combination of part, way up, recipe, feedstock and printer, in that order.

    The numbers are those of ``estimate_print``, bit for bit, whatever runs them. A combination
    that cannot be computed has a row that says why; it stops no other.

    Args:
        items: Parts, each with its feedstocks and recipes.
        printers: Machines.
        ways: Ways up of each part: 1 for as it is given, up to 5 with the best others.
        prices: Energy and own time; common values where None.
        workers: Jobs side by side; None takes the number of the joblib backend in force (one where
            none is set), so that threads, processes and clusters run the same call.
        progress: Called after each finished job.

    Raises:
        InputError: Nothing to combine, or ``ways`` out of range.
    """
    if not items or not printers or any(not (i.feedstocks and i.recipes) for i in items):
        raise InputError(
            f"study: {len(items)} parts and {len(printers)} printers found; at least one part, "
            "printer, feedstock and recipe are needed"
        )
    if not 1 <= ways <= MOST_WAYS:
        raise InputError(f"study: ways is {ways}; allowed: 1 to {MOST_WAYS}")
    used = prices if prices is not None else Prices()
    turned = (
        [(AS_IT_IS,)] * len(items)
        if ways == 1
        else _run(partial(_ways_of, printers=printers, ways=ways), items, workers, None)
    )
    jobs = [
        _Job(item=item, way=way, matrix=matrix, recipe=recipe)
        for item, found in zip(items, turned, strict=True)
        for way, matrix in enumerate(found)
        for recipe in item.recipes
    ]
    rows = _run(partial(_rows_of, printers=tuple(printers), prices=used), jobs, workers, progress)
    return tuple(row for group in rows for row in group)


def study_build(
    build: Build,
    *,
    parts: Iterable[str] = (),
    printers: Iterable[str] = (),
    feedstocks: Iterable[Feedstock] = (),
    ways: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> tuple[StudyRow, ...]:
    """A study of the parts of a build, as they are oriented there.

    Args:
        build: A loaded build file.
        parts: Names; empty for all.
        printers: Names or keys of the build's printers; empty for all.
        feedstocks: Each is tried for every part of its process; empty for each part's own.
        ways: As in ``study_parts``.
        workers: Likewise.
        progress: Likewise.

    Raises:
        InputError: A name is not known, or a part cannot be read.
    """
    chosen = _known_parts(build, parts) or list(build.parts)
    able = _known_printers(build, printers)
    extra = tuple(feedstocks)
    items = []
    for request in chosen:
        part = read_part(request.path, unit=request.unit, name=request.name)
        same = [one for one in extra if one.process == request.feedstock.process]
        items.append(
            StudyPart(
                part=turn_part(part, request.orientation),
                feedstocks=tuple(same) or (request.feedstock,),
                recipes=(request.recipe,),
            )
        )
    return study_parts(
        items,
        able or list(build.printers),
        ways=ways,
        prices=build.prices,
        workers=workers,
        progress=progress,
    )


def _known_parts(build: Build, names: Iterable[str]) -> list[PartRequest]:
    known = {normal_key(request.name): request for request in build.parts}
    found = []
    for name in names:
        request = known.get(normal_key(name))
        if request is None:
            listed = [one.name for one in build.parts]
            raise InputError(f"{build.path.name}: {not_known('part', name, listed)}")
        found.append(request)
    return found


def _known_printers(build: Build, names: Iterable[str]) -> list[Printer]:
    machines = {printer.key: printer for printer in build.printers}
    found = []
    for name in names:
        printer = find_row(machines, name)
        if printer is None:
            raise InputError(f"{build.path.name}: {not_known('printer', name, machines)}")
        found.append(printer)
    return found


def _run(
    work: Callable[[Any], Any],
    asked: Sequence[Any],
    workers: int | None,
    progress: Progress | None,
) -> list[Any]:
    """The answers in the order asked, by the joblib backend in force; loops where one is enough."""
    from joblib import Parallel, delayed

    if workers == 1 or (len(asked) == 1 and workers is None):
        answers: Iterable[Any] = (work(one) for one in asked)
    else:
        answers = Parallel(n_jobs=workers, return_as="generator")(
            delayed(work)(one) for one in asked
        )
    found = []
    for answer in answers:
        found.append(answer)
        if progress is not None:
            progress(len(found), len(asked))
    return found


def _ways_of(item: StudyPart, *, printers: Sequence[Printer], ways: int) -> tuple[Matrix, ...]:
    """As the part is given, then the best other ways up on the first printer that runs it."""
    trio = next(
        (
            (printer, feedstock, recipe)
            for printer in printers
            for feedstock in item.feedstocks
            for recipe in item.recipes
            if not _cannot(printer, feedstock, recipe)
        ),
        None,
    )
    if trio is None:
        return (AS_IT_IS,)
    try:
        best = rank_orientations(item.part, *trio).best
    except BuildplanError:
        return (AS_IT_IS,)
    others = [tuple(float(x) for x in way.matrix) for way in best]
    turned = [matrix for matrix in others if not np.allclose(matrix, AS_IT_IS, atol=1e-9)]
    return (AS_IT_IS, *turned[: ways - 1])


def _cannot(printer: Printer, feedstock: Feedstock, recipe: Recipe) -> str:
    """Why a printer, a feedstock and a recipe do not go together, or an empty text."""
    wrong = why_not(printer, feedstock)
    if not wrong and recipe.process != printer.process:
        wrong = f"recipe {recipe.key} is for {recipe.process}, {printer.key} for {printer.process}"
    return wrong


def _rows_of(job: _Job, *, printers: tuple[Printer, ...], prices: Prices) -> tuple[StudyRow, ...]:
    try:
        part = turn_part(job.item.part, job.matrix) if job.way else job.item.part
    except BuildplanError as error:
        part, wrong = job.item.part, str(error)
    else:
        wrong = ""
    return tuple(
        _row(job, part, feedstock, printer, prices, wrong)
        for feedstock in job.item.feedstocks
        for printer in printers
    )


def _row(
    job: _Job, part: Part, feedstock: Feedstock, printer: Printer, prices: Prices, wrong: str
) -> StudyRow:
    refused = wrong or _cannot(printer, feedstock, job.recipe)
    numbers, fits, how = (math.nan,) * 4, False, ""
    if not refused:
        try:
            fit = check_fit(part, printer)
            made = estimate_print(part, printer, feedstock, job.recipe, prices=prices)
            fits, how = fit.fits, fit.how
            numbers = made.time_h, made.mass_g, made.total_cost, made.support_mass_g
        except BuildplanError as error:
            refused = str(error)
    time_h, mass_g, cost, support_g = numbers
    return StudyRow(
        part=part.name,
        way=job.way,
        recipe=job.recipe.key,
        feedstock=feedstock.key,
        printer=printer.key,
        matrix=job.matrix,
        fits=fits,
        how=how,
        time_h=time_h,
        mass_g=mass_g,
        cost=cost,
        support_g=support_g,
        refused=refused,
    )
