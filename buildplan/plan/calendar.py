"""When all is finished: build cycles, deliveries and assembly laid into the attended hours."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from buildplan.bill import RollUp
from buildplan.build import Build
from buildplan.checks.packing import Cycle, CyclePlan
from buildplan.decide.calendar import (
    Bar,
    Finish,
    Job,
    OrderLine,
    Posterior,
    Step,
    attended_jobs,
    bars,
    check_attended,
    make_windows,
    may_run_alone,
    order_by,
    permission_findings,
    schedule,
    simulate,
    what_holds_up,
    worth_of_running_alone,
)
from buildplan.errors import NoPlanError
from buildplan.findings import Spread
from buildplan.journal import factor_for
from buildplan.plan.learned import Experience, odds_from
from buildplan.plan.model import CalendarPlan, PartPlan, SplitAnswer, chosen_option
from buildplan.segments.restart import FailureOdds
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.printer import Printer
from buildplan.tables.rows import find_row

TENTH_SD = 1.2815515655446004
"""Standard normal quantile at 0.9: low and high of a spread lie so many deviations off."""

LATE_FRAC, EARLY_FRAC = 1.5, 0.8
"""1 delivery in 10 takes half as long again, 1 in 10 a fifth less (common practice, no source)."""

DRAWS = 4000


def plan_calendar(
    build: Build,
    planned: Sequence[PartPlan],
    cycles: Sequence[CyclePlan],
    splits: Sequence[SplitAnswer],
    orders: RollUp,
    experience: Experience | None,
) -> CalendarPlan | None:
    """The calendar of a build; None where the file does not say when somebody is there.

    Printers run alone only where the file states it; a print that fits no attended window is then
    refused with the longest that does.
    """
    decisions = build.decisions
    if decisions.attended is None:
        return None
    windows = make_windows(decisions.attended)
    alone_names = may_run_alone(decisions.unattended, windows.first_day)
    alone = tuple(printer_key(build, name) for name in alone_names)
    findings, cautions = permission_findings(decisions.unattended, windows.first_day)
    jobs, where = _jobs(build, planned, cycles, splits, experience)
    steps = steps_of(build, orders, where)
    printers = tuple(dict.fromkeys(name for job in jobs for name in job.printers))
    allowed = attended_jobs(jobs, alone)
    posterior = posterior_of(experience)
    try:
        check_attended(allowed, windows)
        order = schedule(allowed, steps, windows, printers)
        finish = simulate(allowed, steps, windows, printers, order, DRAWS, 0, posterior)
        taught = tuple(_taught(job, experience) for job in allowed)
        shown = bars(taught, steps, windows, printers, order, finish)
    except NoPlanError as error:
        return CalendarPlan(
            windows=windows,
            finish=None,
            bars=(),
            holds=(),
            orders=(),
            attendance=None,
            refused=str(error),
            findings=findings,
            cautions=cautions,
        )
    attendance = worth_of_running_alone(jobs, steps, windows, printers, finish, DRAWS, 0, posterior)
    return CalendarPlan(
        windows=windows,
        finish=finish,
        bars=shown,
        holds=what_holds_up(allowed, steps, windows, printers, order, finish, DRAWS, 0, posterior),
        orders=_order_lines(orders, steps, shown, finish, windows.first_day, build),
        attendance=attendance if alone else None,
        refused="",
        findings=findings,
        cautions=cautions,
    )


def printer_key(build: Build, name: str) -> str:
    """Key of a printer of the build by its name or key."""
    row = find_row({printer.key: printer for printer in build.printers}, name)
    return name if row is None else row.key


def _jobs(
    build: Build,
    planned: Sequence[PartPlan],
    cycles: Sequence[CyclePlan],
    splits: Sequence[SplitAnswer],
    experience: Experience | None,
) -> tuple[tuple[Job, ...], dict[str, list[str]]]:
    """One print a build cycle or piece, and which prints hold which part."""
    by_name = {item.name: item for item in planned}
    jobs: list[Job] = []
    where: dict[str, list[str]] = {}
    for one in cycles:
        for cycle in one.cycles:
            name = f"{one.printer.name} {cycle.number}"
            parts = list(dict.fromkeys(placing.name for placing in cycle.placings))
            item = by_name[parts[0]]
            jobs.append(_cycle_job(name, cycle, one.printer, item, experience))
            for part in parts:
                where.setdefault(part, []).append(name)
    rows = {printer.key: printer for printer in build.printers}
    cut = {answer.part for answer in splits if answer.plan is not None and answer.plan.joints}
    for item in planned:
        if item.name in where or item.name in cut or item.sent is not None:
            continue
        option = chosen_option(item)
        for copy in range(1, item.quantity + 1):
            name = item.name if item.quantity == 1 else f"{item.name} {copy}"
            printer = rows[option.printer]
            own_h = option.raw.own_time_h
            jobs.append(job_of(name, option.raw.time_h, own_h, printer, item, experience))
            where.setdefault(item.name, []).append(name)
    for answer in splits:
        if answer.plan is None or not answer.plan.joints:
            continue
        item = by_name[answer.part]
        printer = rows[chosen_option(item).printer]
        for piece in (*answer.plan.pieces, *answer.plan.loose):
            hours = piece.estimate.time_h
            jobs.append(job_of(piece.name, hours, 0.25, printer, item, experience))
            where.setdefault(answer.part, []).append(piece.name)
    return tuple(jobs), where


def _cycle_job(
    name: str, cycle: Cycle, printer: Printer, item: PartPlan, experience: Experience | None
) -> Job:
    return job_of(name, cycle.time_h, cycle.own_time_h, printer, item, experience)


def job_of(
    name: str,
    hours: float,
    own_h: float,
    printer: Printer,
    item: PartPlan,
    experience: Experience | None,
) -> Job:
    """One print with the odds of its printer; hours before what the log taught."""
    odds = odds_from(experience, printer.key, item.feedstock.key) or FailureOdds()
    washes = isinstance(item.feedstock, VatFeedstock)
    return Job(
        name=name,
        printers=(printer.key,),
        feedstock=item.feedstock.key,
        print_h=hours,
        log_sd_frac=0.0 if experience else math.log1p(printer.time_spread_frac) / TENTH_SD,
        set_up_h=max(0.7 * own_h, 0.05),
        removal_h=max(0.3 * own_h, 0.05),
        wash_h=item.feedstock.wash_min / 60.0 if isinstance(item.feedstock, VatFeedstock) else 0.0,
        cure_h=item.feedstock.cure_min / 60.0 if isinstance(item.feedstock, VatFeedstock) else 0.0,
        dry_h=0.0 if washes else _drying_h(item),
        hazard_frac_h=odds.hazard_frac_h,
        start_fail_frac=odds.start_fail_frac,
        start_loss_h=odds.start_loss_h,
    )


def _drying_h(item: PartPlan) -> float:
    """Feedstocks that must be dry are dried before every long print."""
    feedstock = item.feedstock
    if isinstance(feedstock, VatFeedstock):
        return 0.0
    return feedstock.dry_h if chosen_option(item).estimate.time_h >= 8.0 else 0.0


def _taught(job: Job, experience: Experience | None) -> Job:
    """The same print with the log's usual hours, for the calendar that is shown."""
    if experience is None:
        return job
    factor = factor_for(experience.learned.time, job.printers[0], job.feedstock)
    return replace(job, print_h=job.print_h * factor.likely_frac)


def steps_of(build: Build, orders: RollUp, where: dict[str, list[str]]) -> tuple[Step, ...]:
    """Deliveries by supplier, then the steps of the assembly."""
    by_item: dict[str, str] = {}
    steps = []
    late_d = {one.name: one.lead_high_d for one in build.decisions.services}
    for order in orders.orders:
        if not order.lead_d > 0.0:
            continue
        name = f"order from {order.supplier}"
        hours = 24.0 * order.lead_d
        late_h = 24.0 * late_d.get(order.supplier, 0.0)
        high = late_h if late_h >= hours else LATE_FRAC * hours
        arrives = Spread(low=EARLY_FRAC * hours, likely=hours, high=high)
        steps.append(Step(name=name, arrives=arrives))
        by_item.update(dict.fromkeys(order.items, name))
    for table in build.decisions.assembly:
        after: list[str] = []
        for name in table.after:
            if name in where:
                after += where[name]
            elif name in by_item:
                after.append(by_item[name])
            elif any(other.name == name for other in build.decisions.assembly):
                after.append(name)
        steps.append(
            Step(
                name=table.name,
                after=tuple(dict.fromkeys(after)),
                work_h=table.work_h,
                cure_h=table.cure_h,
            )
        )
    return tuple(steps)


def posterior_of(experience: Experience | None) -> Posterior | None:
    """What the log leaves open, for the draws; None without a log."""
    if experience is None:
        return None
    return Posterior(failures=experience.failures, time=experience.learned.time)


def _order_lines(
    orders: RollUp,
    steps: Sequence[Step],
    shown: Sequence[Bar],
    finish: Finish,
    first_day: date,
    build: Build,
) -> tuple[OrderLine, ...]:
    """The last day to order from every supplier so that its first use does not wait.

    What is ordered, has arrived or is at hand asks for no order any more.
    """
    begins: dict[str, float] = {}
    for bar in shown:
        if bar.kind == "assembly":
            begins[bar.task] = min(begins.get(bar.task, math.inf), bar.start_h)
    on_its_way = {item.name for item in build.bought if item.state != "to order"}
    lines = []
    for order in orders.orders:
        still = [item for item in order.items if item not in on_its_way]
        if not (order.lead_d > 0.0 and still):
            continue
        name = f"order from {order.supplier}"
        uses = [begins[s.name] for s in steps if name in s.after and s.name in begins]
        needed_h = min(uses) if uses else finish.p50_h
        needed = first_day + timedelta(days=int(needed_h // 24.0))
        by = max(order_by(needed, LATE_FRAC * order.lead_d), first_day)
        lines.append(OrderLine(name=f"{order.supplier}: {', '.join(still)}", by=by))
    return tuple(sorted(lines, key=lambda line: (line.by, line.name)))
