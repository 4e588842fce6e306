"""Hours, grams and money of one part while its recipe and the prices are changed."""

from collections.abc import Hashable
from dataclasses import replace
from pathlib import Path

from buildplan.build import Build
from buildplan.journal import learned_estimate
from buildplan.notebook.hours.drawing import HoursAnswer, draw_hours
from buildplan.notebook.hours.inputs import SPEED, controls_of, values_of
from buildplan.notebook.hours.keeping import what_to_keep
from buildplan.notebook.hours.subject import (
    WORKERS,
    Subject,
    base_recipe,
    nozzle_of_mm,
    printer_of,
    read_subject,
    request_of,
)
from buildplan.notebook.kept import Kept
from buildplan.notebook.panel import Live, Panel
from buildplan.plan import read_experience
from buildplan.plan.learned import Experience, basis_of, log_path, table_path
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print, price_again
from buildplan.report import numbers
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rows import Kind

LOGGED: tuple[Kind, ...] = ("printer", "feedstock")
"""Kinds of rows that a print log names."""


def hours_panel(build_path: Path | str, part: str) -> Panel[HoursAnswer]:
    """A panel of one part: what layer, beads, infill, speed and prices do to hours and money.

    Every change is kept in the build file: settings in a recipe of the part's own, which begins as
    the recipe that the part has; prices where all parts see them.

    Raises:
        InputError: There is no such part in the build file, or its mesh cannot be read.
    """
    kept = Kept(build_path)
    subject = read_subject(kept.build, part)
    return Panel(live_hours(subject), kept)


def live_hours(subject: Subject) -> Live[HoursAnswer]:
    """The panel's pure functions for one part."""
    name = subject.name
    memory = Memory(subject)
    return Live(
        title="Hours, grams, money",
        note=lambda build: note_of(build, subject),
        controls=lambda build: controls_of(build, subject),
        read=lambda build: values_of(build, name),
        keep=lambda build, values: what_to_keep(build, name, values),
        work=lambda build: answer_of(build, subject, memory),
        draw=draw_hours,
        says=lambda build, answer: words_of(build, subject, answer),
    )


class Memory:
    """What one panel remembers of its last answer: the estimate before prices, and the log.

    Both are kept under all that they depend on, so they are never older than the question.
    """

    def __init__(self, subject: Subject) -> None:
        self._subject = subject
        self._estimate: tuple[Hashable, PrintEstimate] | None = None
        self._experience: tuple[Hashable, Experience | None] | None = None

    def estimate(
        self, printer: Printer, feedstock: Feedstock, recipe: Recipe, prices: Prices
    ) -> PrintEstimate:
        """The part's estimate; where only prices changed, only money is worked out."""
        key = (printer, _unpriced(feedstock), recipe)
        last = self._estimate
        if last is not None and last[0] == key:
            return price_again(last[1], printer, feedstock, prices)
        part = self._subject.part
        made = estimate_print(part, printer, feedstock, recipe, prices=prices, workers=WORKERS)
        self._estimate = (key, made)
        return made

    def experience(self, build: Build) -> Experience | None:
        """What the log teaches, read again when a file or the names of rows changed."""
        files = (log_path(build), table_path(build))
        names = [(r.key, r.name) for k in LOGGED for r in build.tables[k].rows.values()]
        key = (*((file, _stamp_of(file)) for file in files if file is not None), tuple(names))
        last = self._experience
        if last is not None and last[0] == key:
            return last[1]
        made = read_experience(build)
        self._experience = (key, made)
        return made


def _unpriced(feedstock: Feedstock) -> Feedstock:
    """The feedstock at no price: equal for all that hours and grams depend on."""
    if isinstance(feedstock, ExtrusionFeedstock):
        return replace(feedstock, price_cost_kg=0.0)
    return replace(feedstock, price_cost_l=0.0)


def _stamp_of(file: Path) -> tuple[int, int, int] | None:
    """What changes when a file does; a log that is being written also changes its size or time."""
    try:
        found = file.stat()
    except OSError:
        return None
    return (found.st_mtime_ns, found.st_size, found.st_ino)


def answer_of(build: Build, subject: Subject, memory: Memory | None = None) -> HoursAnswer:
    """Hours, grams and money of the part by what the build file says now, with the log's factors.

    Args:
        build: As the file has it.
        subject: The part and its printer.
        memory: Of the panel, which saves what the last answer did already.

    Raises:
        InputError: A number of the recipe is impossible on this printer.
    """
    request = request_of(build, subject.name)
    printer = printer_of(request, subject)
    memory = memory or Memory(subject)
    raw = memory.estimate(printer, request.feedstock, request.recipe, build.prices)
    experience = memory.experience(build)
    values = values_of(build, subject.name)
    estimate = raw if experience is None else learned_estimate(raw, experience.learned)
    return HoursAnswer(
        estimate=estimate,
        currency=build.currency,
        basis=basis_of(experience, raw, printer.name),
        settings=tuple(
            (c.label, numbers.num(values[c.key], c.digits, c.unit))
            for c in controls_of(build, subject)
        ),
    )


def words_of(build: Build, subject: Subject, answer: HoursAnswer) -> dict[str, str]:
    """Quiet words beside the controls."""
    request = request_of(build, subject.name)
    estimate = answer.estimate
    said = dict.fromkeys((c.key for c in controls_of(build, subject)), "")
    said["layer_mm"] = numbers.count(estimate.layers, "layer")
    said["price"] = f"{numbers.money(estimate.feedstock_cost, build.currency)} in this part"
    said["energy_cost_kwh"] = f"{numbers.num(estimate.energy_kwh, 2, 'kWh')} in this print"
    said["own_time_cost_h"] = f"{numbers.hours(estimate.own_time_h)} to set up and clear"
    recipe = request.recipe
    if isinstance(recipe, ExtrusionRecipe):
        least = 2.0 * recipe.wall_beads * recipe.bead_mm
        said["bead_mm"] = f"nozzle {numbers.num(nozzle_of_mm(request, subject), 2, 'mm')}"
        said["wall_beads"] = f"fill walls of {numbers.num(least, 2, 'mm')} without infill"
        said["infill_frac"] = f"in style {recipe.infill_style.replace('_', ' ')}"
        base = base_recipe(build, request)
        said[SPEED] = f"wall beads at {numbers.num(recipe.wall_mm_s, 0, 'mm/s')}; as in {base.name}"
        said[SPEED] += "" if base is request.recipe else " at 1.00"
    return said


def note_of(build: Build, subject: Subject) -> str:
    """Part, feedstock, printer and recipe in one line."""
    request = request_of(build, subject.name)
    part = request.name.replace("_", " ")
    printer = printer_of(request, subject).name
    return f"{part}, {request.feedstock.name}, {printer}, recipe {request.recipe.name}"
