"""All parts of a build, side by side, and what they come to together."""

from collections.abc import Callable, Iterable
from functools import partial

from buildplan.bill import budget, cents, roll_up
from buildplan.build import Build, PartRequest
from buildplan.findings import worst
from buildplan.part import read_part
from buildplan.part.turn import turn_features, turn_part
from buildplan.plan.calendar import plan_calendar
from buildplan.plan.choice import plan_choice, send_rows_of
from buildplan.plan.cycles import plan_cycles
from buildplan.plan.derived import derive_bill
from buildplan.plan.device import plan_device
from buildplan.plan.first import list_first, supplier_of_date
from buildplan.plan.learned import Experience, read_experience
from buildplan.plan.lines import bought_lines, coupon_grams, feedstock_lines, joint_lines
from buildplan.plan.model import PartPlan, Plan
from buildplan.plan.part import plan_part
from buildplan.plan.pieces import plan_coupons, plan_offers, plan_splits, with_pieces
from buildplan.plan.ready import plan_ready
from buildplan.plan.sent import sent_lines, shops_of, with_ways
from buildplan.plan.takes import add_spreads, longest_print_h, pieces_of, takes_of
from buildplan.tables import rules_for
from buildplan.tables.feedstock import Feedstock

Progress = Callable[[int, int], None]
"""Called with (parts done, parts in all)."""


def make_plan(
    build: Build,
    *,
    workers: int | None = None,
    materials: Iterable[Feedstock] = (),
    progress: Progress | None = None,
) -> Plan:
    """Every stage for every part of a build, parts side by side.

    Args:
        build: A loaded build file.
        workers: Processes of joblib; None takes the number of the joblib backend in force (one
            where none is set), so that the same call runs on a cluster.
        materials: Feedstocks to compare for each part.
        progress: Called after each finished part.

    Raises:
        InputError: a part cannot be read or planned, or the print log cannot be read; the message
            names it.
    """
    from joblib import Parallel, delayed

    requests = build.parts
    experience = read_experience(build)
    work = partial(_plan_request, build=build, materials=tuple(materials), experience=experience)
    planned: list[PartPlan] = []
    if workers == 1 or (len(requests) == 1 and workers is None):
        results: Iterable[PartPlan] = (work(request) for request in requests)
    else:
        results = Parallel(n_jobs=workers, return_as="generator")(
            delayed(work)(request) for request in requests
        )
    for result in results:
        planned.append(result)
        if progress is not None:
            progress(len(planned), len(requests))
    return _sum_up(build, tuple(planned), experience)


def _plan_request(
    request: PartRequest,
    *,
    build: Build,
    materials: tuple[Feedstock, ...],
    experience: Experience | None,
) -> PartPlan:
    read = read_part(request.path, unit=request.unit, name=request.name)
    part = turn_part(read, request.orientation)
    return plan_part(
        part,
        request.printers,
        request.feedstock,
        request.recipe,
        quantity=request.quantity,
        prices=build.prices,
        materials=[m for m in materials if m.process == request.feedstock.process],
        features=turn_features(request.features, request.orientation),
        rules=rules_for(request.feedstock, build.tables["rule"].rows),
        experience=experience,
    )


def _sum_up(build: Build, planned: tuple[PartPlan, ...], experience: Experience | None) -> Plan:
    planned = with_ways(build, planned, send_rows_of(build, planned))
    splits = plan_splits(build, planned, experience)
    planned = tuple(with_pieces(item, splits) for item in planned)
    offers = plan_offers(build, planned, splits, experience)
    takes = [(item.quantity, takes_of(item, splits)) for item in planned]
    cycles = plan_cycles(build, [item for item in planned if pieces_of(item, splits) is None])
    device = plan_device(build, planned)
    coupons = plan_coupons(build, planned)
    choice = plan_choice(build, planned, splits, offers, experience)
    ready = plan_ready(
        build,
        [(item, longest_print_h(item, splits)) for item in planned],
        coupons,
        device,
        (*splits, *offers),
        choice.rows if choice else send_rows_of(build, planned),
        experience,
    )
    derived = derive_bill(build, planned, device, splits)
    bill = (
        *feedstock_lines(planned, splits, build, coupon_grams(planned, ready)),
        *joint_lines(planned, splits, build),
        *sent_lines(planned, build),
        *bought_lines(build),
        *derived.lines,
    )
    shops = shops_of(build)
    orders = roll_up(bill, shops=shops, currency=build.currency, rates=build.rates)
    calendar = plan_calendar(build, planned, cycles, splits, orders, experience)
    findings = [finding for p in planned for finding in p.findings]
    findings.extend(mark.finding for plan in cycles for mark in plan.marks)
    for answer in (device, derived, calendar, choice):
        findings.extend(answer.findings if answer else ())
    return Plan(
        name=build.name,
        file=str(build.path),
        sha256=build.sha256,
        revision=build.revision,
        currency=build.currency,
        invented=build.data == "invented",
        parts=planned,
        logged=experience.prints if experience else 0,
        time_h=add_spreads((n, t.time_h) for n, t in takes),
        mass_g=add_spreads((n, t.mass_g) for n, t in takes),
        own_time_h=sum(n * t.own_time_h for n, t in takes),
        print_cost=cents(sum(n * t.cost for n, t in takes)),
        cycles=cycles,
        splits=splits,
        coupons=coupons,
        derived=derived,
        bill=bill,
        bill_cost=orders.total_cost,
        orders=orders,
        budget=budget(bill, shops=shops, currency=build.currency, rates=build.rates),
        verdict=worst(tuple(findings)),
        device=device,
        ready=ready,
        calendar=calendar,
        choice=choice,
        first=list_first(
            planned, cycles, bill, device, derived.findings, supplier_of_date(calendar)
        ),
    )
