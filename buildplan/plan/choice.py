"""Every part at home, in pieces or sent out: the options of all parts, decided together."""

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from buildplan.build import Build
from buildplan.decide.calendar import make_windows, may_run_alone
from buildplan.decide.card import Run, run_of_estimates, runs_of_plan
from buildplan.decide.choice import (
    AtHome,
    Case,
    Machine,
    NoChoiceError,
    PartOptions,
    SentOut,
    Service,
    Stock,
    Terms,
    choose,
    evaluate,
    front,
    quote_changes,
    settle,
    supervision_price,
)
from buildplan.decide.sending import (
    SendRow,
    SentFacts,
    SentPart,
    ServiceTable,
    quote_findings,
    send_rows,
)
from buildplan.plan.learned import Experience, odds_from
from buildplan.plan.model import ChoicePlan, PartPlan, SplitAnswer, chosen_option
from buildplan.plan.takes import pack_g_of
from buildplan.segments.restart import FailureOdds, expected_time_h, success_frac
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.rows import find_row

LONG_PRINT_H = 8.0
"""Losing a print that takes longer is a thing to avoid (ours)."""

BUSY_FRAC = 0.75
"""Share of a day that a printer which may run alone prints: set-up waits for somebody (ours)."""

ATTENDED_H = 4.0
"""Own hours a day where the build file does not say when somebody is there (ours)."""

ORDER_MIN = 10
"""Own minutes to order a part and look at it, beside what the service's row says (ours)."""

FRONT_HAZARDS = (None, 0.3, 0.1)


def plan_choice(
    build: Build,
    planned: Sequence[PartPlan],
    must: Sequence[SplitAnswer],
    may: Sequence[SplitAnswer],
    experience: Experience | None,
) -> ChoicePlan | None:
    """The choice for all parts; None where no part has two ways.

    Args:
        build: With services, quotes and what is asked.
        planned: Every part on its printers.
        must: Parts that are too large or too long, cut into pieces.
        may: Long parts, cut into pieces to compare.
        experience: From the print log.
    """
    rows = send_rows_of(build, planned)
    found = _case(build, planned, (*must, *may), rows, experience)
    if found is None:
        return None
    case, prints = found
    services = build.decisions.services
    names = {item.name: names_of(item.feedstock) for item in planned}
    said = quote_findings(build.decisions.quotes, services, names, today_of(build))
    keys = {printer.key: printer.name for printer in build.printers}
    as_planned = evaluate(case, _as_planned(case, planned, keys, must))
    try:
        chosen, reasons = settle(case, choose(case))
        price = supervision_price(case) if any_alone(case) else None
    except NoChoiceError as error:
        return ChoicePlan(
            case=case,
            prints=prints,
            chosen=None,
            as_planned=as_planned,
            reasons=(),
            front=(),
            quotes=(),
            supervision=None,
            rows=rows,
            refused=str(error),
            findings=said,
        )
    return ChoicePlan(
        case=case,
        prints=prints,
        chosen=chosen,
        as_planned=as_planned,
        reasons=reasons,
        front=front(case, FRONT_HAZARDS),
        quotes=quote_changes(case, chosen),
        supervision=price,
        rows=rows,
        refused="",
        findings=said,
    )


def any_alone(case: Case) -> bool:
    """Whether some print outlasts the hours somebody is there and its printer may run alone."""
    if not case.terms.may_run_alone:
        return False
    options = (option for part in case.parts for option in part.options)
    return any(isinstance(option, AtHome) and option.alone for option in options)


def send_rows_of(build: Build, planned: Sequence[PartPlan]) -> tuple[SendRow, ...]:
    """Every part at every service of the build file."""
    if not build.decisions.services:
        return ()
    return send_rows(
        [_sent_part(item) for item in planned],
        build.decisions.services,
        build.decisions.quotes,
        today=today_of(build),
        own_cost_h=build.prices.own_time_cost_h,
    )


def today_of(build: Build) -> date:
    """The day a plan is made for: the first attended day, so that the same file plans the same."""
    attended = build.decisions.attended
    if attended is not None:
        return make_windows(attended).first_day
    days = [quote.said_on for quote in build.decisions.quotes if quote.said_on]
    return date.fromisoformat(max(days)) if days else date.today()


def names_of(feedstock: Feedstock) -> tuple[str, ...]:
    """How a service may call a feedstock: by its key, its name or what stands before its comma."""
    name = feedstock.name
    return tuple(dict.fromkeys((feedstock.key, name, name.split(",")[0])))


def _sent_part(item: PartPlan) -> SentPart:
    walls = item.checks.walls.walls
    sizes = item.part.size_mm
    return SentPart(
        facts=SentFacts(
            name=item.name,
            size_mm=(float(sizes[0]), float(sizes[1]), float(sizes[2])),
            least_wall_mm=min((wall.region.least_mm for wall in walls), default=None),
            feedstocks=names_of(item.feedstock),
            closed=item.part.closed,
        ),
        volume_cm3=item.part.volume_mm3 / 1000.0,
        quantity=item.quantity,
    )


def _case(
    build: Build,
    planned: Sequence[PartPlan],
    offers: Sequence[SplitAnswer],
    rows: Sequence[SendRow],
    experience: Experience | None,
) -> tuple[Case, dict[str, tuple[Run, ...]]] | None:
    """All options in whole cents, minutes and grams, with the prints of those at home.

    None where nothing is to be chosen.
    """
    known = {service.name: service for service in build.decisions.services}
    longest_h, alone = _attendance(build)
    parts: list[PartOptions] = []
    prints: dict[str, tuple[Run, ...]] = {}
    for item in planned:
        at_home = _at_home(build, item, offers, experience, longest_h, alone)
        sent = [_sent(row, known[row.service]) for row in rows if row.part == item.name]
        options: tuple[AtHome | SentOut, ...] = (
            *(option for option, _ in at_home),
            *(option for option in sent if option is not None),
        )
        prints[item.name] = tuple(run for _, run in at_home)
        if not options:
            continue  # it fits nowhere, and its findings say so
        parts.append(PartOptions(name=item.name, options=options))
    if all(len(part.options) == 1 for part in parts):
        return None
    hours = _attended_h_per_day(build)
    feedstocks = {item.feedstock.key: item.feedstock for item in planned}
    case = Case(
        parts=tuple(parts),
        services=tuple(_service(table) for table in known.values()),
        stocks=tuple(_stock(row) for row in feedstocks.values()),
        machines=tuple(
            Machine(
                name=printer.name,
                minutes_per_day=max(
                    round(60.0 * (24.0 * BUSY_FRAC if printer.name in alone else hours)), 1
                ),
            )
            for printer in build.printers
        ),
        terms=_terms(build, hours, may_run_alone=not _stuck(parts, alone)),
    )
    return case, prints


def _at_home(
    build: Build,
    item: PartPlan,
    offers: Sequence[SplitAnswer],
    experience: Experience | None,
    longest_h: float,
    alone: frozenset[str],
) -> list[tuple[AtHome, Run]]:
    """Whole on every printer that takes it as it stands, and in pieces on the chosen one."""
    names = {printer.key: printer.name for printer in build.printers}
    best = chosen_option(item)
    runs: list[tuple[str, Run]] = [
        (option.printer, run_of_estimates([option.estimate], pieces=1))
        for option in item.options
        if option.fit.fits and (option is best or option.fit.how != "any rotation")
    ]
    answer = next((one for one in offers if one.part == item.name), None)
    if answer is not None and answer.plan is not None:
        own_h = best.estimate.own_time_h
        cost_h = build.prices.own_time_cost_h
        cut = runs_of_plan(answer.plan, own_cost_h=cost_h, set_up_h=own_h)
        runs += [(best.printer, run) for run in cut if not run.reason]
    most_h = build.longest_print_h if build.longest_print_h > 0.0 else math.inf
    found = []
    for key, run in runs:
        odds = odds_from(experience, key, item.feedstock.key) or FailureOdds()
        if max(run.times_h) <= most_h or len(runs) == 1:
            stays = max(run.times_h) > longest_h
            found.append((_option(run, names[key], item, odds, alone=stays), run))
    allowed = [one for one in found if not one[0].alone or one[0].printer in alone]
    return allowed or found


def _option(run: Run, printer: str, item: PartPlan, odds: FailureOdds, *, alone: bool) -> AtHome:
    """All copies of a part by one way, with the failed tries that are to be expected."""
    expected_h = risk = hazard = 0.0
    for hours, running, again in zip(run.times_h, run.running_costs, run.again_costs, strict=True):
        tried_h, held = expected_time_h(hours, odds), success_frac(hours, odds)
        expected_h += tried_h
        risk += (tried_h / hours - 1.0) * running + (1.0 / held - 1.0) * again
        hazard -= math.log(held) if hours >= LONG_PRINT_H else 0.0
    paid = max(sum(run.running_costs) - _feedstock_cost(item, sum(run.masses_g)), 0.0)
    copies = item.quantity
    return AtHome(
        printer=printer,
        feedstock=item.feedstock.key,
        pieces=run.pieces,
        expected_min=round(60.0 * expected_h * copies),
        grams=math.ceil(sum(run.masses_g) * copies),
        own_min=round(60.0 * run.own_h * copies),
        machine_cents=round(100.0 * paid * copies),
        risk_cents=round(100.0 * risk * copies),
        long_hazard=hazard * copies,
        alone=alone,
    )


def _feedstock_cost(item: PartPlan, grams: float) -> float:
    """What grams cost by the estimate's own price; in the choice they are bought by whole packs."""
    estimate = chosen_option(item).estimate
    return estimate.feedstock_cost * grams / estimate.mass_g if estimate.mass_g > 0.0 else 0.0


def _sent(row: SendRow, service: ServiceTable) -> SentOut | None:
    """A part at a service that would take it, by its likely price and a late delivery."""
    if row.stops or row.goods_cost is None:
        return None
    goods = row.goods_cost.likely * (1.0 + service.import_frac)
    return SentOut(
        service=row.service,
        cents=round(100.0 * goods),
        lead_d=math.ceil(row.lead_d.high),
        own_min=round(60.0 * row.own_h) + ORDER_MIN,
        what="" if row.quoted else "price guessed",
    )


def _service(table: ServiceTable) -> Service:
    free = round(100.0 * table.free_from_cost)
    return Service(
        name=table.name,
        shipping_cents=round(100.0 * (table.shipping_cost + table.import_cost)),
        least_cents=round(100.0 * table.least_order_cost * (1.0 + table.import_frac)),
        free_from_cents=free if free and not table.import_cost else None,
    )


def _stock(feedstock: Feedstock) -> Stock:
    pack_g = pack_g_of(feedstock)
    price = (
        feedstock.pack_ml * feedstock.price_cost_l / 1000.0
        if feedstock.process == "vat"
        else feedstock.pack_g * feedstock.price_cost_kg / 1000.0
    )
    return Stock(
        feedstock=feedstock.key, pack_g=max(round(pack_g), 1), pack_cents=round(100.0 * price)
    )


def _attendance(build: Build) -> tuple[float, frozenset[str]]:
    """Longest unbroken attended hours, and the printers that may run alone; no limit unsaid."""
    attended = build.decisions.attended
    if attended is None:
        return math.inf, frozenset(printer.name for printer in build.printers)
    windows = make_windows(attended)
    names = may_run_alone(build.decisions.unattended, windows.first_day)
    rows = {printer.key: printer for printer in build.printers}
    found = (find_row(rows, name) for name in names)
    longest = float((windows.end_h - windows.start_h).max())
    return longest, frozenset(row.name for row in found if row is not None)


def _attended_h_per_day(build: Build) -> float:
    attended = build.decisions.attended
    if attended is None:
        return ATTENDED_H
    windows = make_windows(attended)
    return float(windows.before_h[-1]) / max(len(windows.day_end_h), 1)


def longest_lead_d(build: Build) -> float:
    """Days until the last bought item is there."""
    waits = [
        item.lead_d or (build.shops[item.supplier].lead_d if item.supplier in build.shops else 0.0)
        for item in build.bought
        if item.needed and item.state == "to order"
    ]
    return max(waits, default=0.0)


def _stuck(parts: Sequence[PartOptions], alone: frozenset[str]) -> bool:
    """Whether a part has no way but a print that outlasts all windows on a printer not allowed."""
    return any(
        all(
            isinstance(option, AtHome) and option.alone and option.printer not in alone
            for option in part.options
        )
        for part in parts
    )


def _terms(build: Build, hours: float, *, may_run_alone: bool) -> Terms:
    asked = build.decisions.choice
    steps = build.decisions.assembly
    tail = sum(step.cure_h for step in steps) / 24.0
    tail += sum(step.work_h for step in steps) / max(hours, 1e-9)
    deadline = None
    if asked.done_by:
        deadline = max((date.fromisoformat(asked.done_by) - today_of(build)).days, 0)
    most = None if asked.most_loss_frac >= 1.0 else -math.log1p(-asked.most_loss_frac)
    return Terms(
        own_cents_per_min=round(100.0 * build.prices.own_time_cost_h / 60.0),
        day_cents=round(100.0 * asked.day_cost),
        attended_min_per_day=max(round(60.0 * hours), 1),
        tail_d=math.ceil(tail),
        least_d=math.ceil(longest_lead_d(build)),
        deadline_d=deadline,
        most_hazard=most,
        may_run_alone=may_run_alone,
    )


def _as_planned(
    case: Case, planned: Iterable[PartPlan], names: Mapping[str, str], offers: Sequence[SplitAnswer]
) -> tuple[int, ...]:
    """Every part the way the rest of the plan counts it: sent out, on its printer, or cut."""
    by_name = {item.name: item for item in planned}
    cut = {one.part: one.plan for one in offers if one.plan is not None and one.plan.joints}
    picks = []
    for part in case.parts:
        item = by_name[part.name]
        if item.sent is not None:
            picks.append(_pick_sent(part, item.sent.service))
            continue
        printer = names[chosen_option(item).printer]
        plan = cut.get(part.name)
        pieces = 1 if plan is None else plan.table[plan.chosen].pieces
        same = (
            k
            for k, option in enumerate(part.options)
            if isinstance(option, AtHome) and (option.printer, option.pieces) == (printer, pieces)
        )
        picks.append(next(same, 0))
    return tuple(picks)


def _pick_sent(part: PartOptions, service: str) -> int:
    """The option of a service; the first where its own limits refuse the part."""
    hits = (
        k
        for k, option in enumerate(part.options)
        if isinstance(option, SentOut) and option.service == service
    )
    return next(hits, 0)
