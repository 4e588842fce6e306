"""Hours, grams and money of one part while its recipe and the prices are changed."""

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
from buildplan.plan.learned import basis_of
from buildplan.process.estimate import estimate_print
from buildplan.report import numbers
from buildplan.tables.recipe import ExtrusionRecipe


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
    return Live(
        title="Hours, grams, money",
        note=lambda build: note_of(build, subject),
        controls=lambda build: controls_of(build, subject),
        read=lambda build: values_of(build, name),
        keep=lambda build, values: what_to_keep(build, name, values),
        work=lambda build: answer_of(build, subject),
        draw=draw_hours,
        says=lambda build, answer: words_of(build, subject, answer),
    )


def answer_of(build: Build, subject: Subject) -> HoursAnswer:
    """Hours, grams and money of the part by what the build file says now, with the log's factors.

    Raises:
        InputError: A number of the recipe is impossible on this printer.
    """
    request = request_of(build, subject.name)
    printer = printer_of(request, subject)
    raw = estimate_print(
        subject.part,
        printer,
        request.feedstock,
        request.recipe,
        prices=build.prices,
        workers=WORKERS,
    )
    experience = read_experience(build)
    estimate = raw if experience is None else learned_estimate(raw, experience.learned)
    return HoursAnswer(
        estimate=estimate,
        currency=build.currency,
        basis=basis_of(experience, raw, printer.name),
        settings=tuple(
            (c.label, numbers.num(float(v), c.digits, c.unit))
            for c in controls_of(build, subject)
            for v in (values_of(build, subject.name)[c.key],)
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
