"""The choice played through the calendar: the program proposes, drawn outcomes decide."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from buildplan.bill import RollUp
from buildplan.build import Build
from buildplan.decide.calendar import Job, Step, make_windows, may_run_alone, simulator_for
from buildplan.decide.choice import AtHome, Case, Refined, evaluate, refine
from buildplan.errors import InputError
from buildplan.findings import Spread
from buildplan.plan.calendar import job_of, posterior_of, printer_key, steps_of
from buildplan.plan.learned import Experience
from buildplan.plan.model import ChoicePlan, PartPlan, Plan, chosen_option
from buildplan.tables.printer import Printer

Picks = tuple[int, ...]
Network = tuple[tuple[Job, ...], tuple[Step, ...]]

MOST_PLAYED = 60
DRAWS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedChoice:
    """The choice that the calendar likes best.

    Attributes:
        case: All options; refined: what was found; each part is a print by itself here.
        first_day: Day 0.
    """

    case: Case
    first_day: date
    refined: Refined


def refine_choice(
    build: Build,
    plan: Plan,
    experience: Experience | None,
    *,
    most_played: int = MOST_PLAYED,
    draws: int = DRAWS,
    progress: Callable[[], None] | None = None,
) -> PlayedChoice:
    """Play shortlisted choices through the calendar and better the best one part at a time.

    Args:
        build: The build that was planned.
        plan: Its plan.
        experience: From its print log, or None.
        most_played: Choices to play at most.
        draws: Outcomes for each.
        progress: Called after each choice that was played.

    Raises:
        InputError: The build file says not when somebody is there, or nothing is to be chosen.
        NoChoiceError: No choice comes to an end.
    """
    attended, choice = build.decisions.attended, plan.choice
    if attended is None:
        raise InputError(
            f"{build.path.name}: without [attended] there is no calendar to play the choice on; "
            "write when somebody is there"
        )
    if choice is None:
        raise InputError(f"{build.path.name}: every part has one way only; nothing is to be chosen")
    windows = make_windows(attended)
    alone = tuple(
        printer_key(build, name)
        for name in may_run_alone(build.decisions.unattended, windows.first_day)
    )
    play: Callable[[Picks], tuple[float, float, int]] = simulator_for(
        lambda picks: network_of(build, plan, choice, picks, experience),
        lambda picks: _cents(choice.case, picks),
        windows,
        tuple(printer.key for printer in build.printers),
        alone,
        draws=draws,
        posterior=posterior_of(experience),
    )

    def told(picks: Picks) -> tuple[float, float, int]:
        answer = play(picks)
        if progress is not None:
            progress()
        return answer

    found = refine(choice.case, told, most_played=most_played)
    return PlayedChoice(case=choice.case, first_day=windows.first_day, refined=found)


def network_of(
    build: Build,
    plan: Plan,
    choice: ChoicePlan,
    picks: Sequence[int],
    experience: Experience | None,
) -> Network:
    """Prints and steps of one choice: each piece of each copy prints, what is sent out arrives."""
    items = {item.name: item for item in plan.parts}
    printers = {printer.name: printer for printer in build.printers}
    rows = {(row.part, row.service): row for row in choice.rows}
    jobs: list[Job] = []
    sent: list[Step] = []
    where: dict[str, list[str]] = {}
    for part, pick in zip(choice.case.parts, picks, strict=True):
        option = part.options[pick]
        if isinstance(option, AtHome):
            made = _prints(items[part.name], choice, pick, printers[option.printer], experience)
            jobs += made
            where[part.name] = [job.name for job in made]
        else:
            days = rows[part.name, option.service].lead_d
            name = f"{part.name} from {option.service}"
            arrives = Spread(low=24.0 * days.low, likely=24.0 * days.likely, high=24.0 * days.high)
            sent.append(Step(name=name, arrives=arrives))
            where[part.name] = [name]
    return tuple(jobs), (*sent, *steps_of(build, _bought(build, plan.orders), where))


def _bought(build: Build, orders: RollUp) -> RollUp:
    """The orders without those at services: the choice says itself what is sent out."""
    services = {table.name for table in build.decisions.services}
    kept = tuple(order for order in orders.orders if order.supplier not in services)
    return replace(orders, orders=kept)


def _prints(
    item: PartPlan, choice: ChoicePlan, pick: int, printer: Printer, experience: Experience | None
) -> list[Job]:
    """Jobs of one part; hours before what the log taught, which the calendar draws itself."""
    run = choice.prints[item.name][pick]
    option = next((one for one in item.options if one.printer == printer.key), chosen_option(item))
    untaught = option.raw.time_h / option.estimate.time_h if run.pieces == 1 else 1.0
    own_h = run.own_h / len(run.times_h)
    jobs = []
    for copy in range(1, item.quantity + 1):
        for number, hours in enumerate(run.times_h, start=1):
            name = item.name if item.quantity == 1 else f"{item.name} {copy}"
            if len(run.times_h) > 1:
                name += f", piece {number}"
            jobs.append(job_of(name, hours * untaught, own_h, printer, item, experience))
    return jobs


def _cents(case: Case, picks: Picks) -> int:
    totals = evaluate(case, picks)
    return totals.total - totals.day
