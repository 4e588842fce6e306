"""One print, pieces or sent out: bad days, pieces, the choice, what would change it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from buildplan.build import Build
from buildplan.build.keep_many import keep_values
from buildplan.build.ways import MOST_PIECES, Way
from buildplan.decide.card import BadDayCard, HomeWay, way_sentences
from buildplan.decide.choice import QuoteChange, supervision_words
from buildplan.errors import InputError
from buildplan.notebook.answers.answer import Answer, figure, sentences, table, template
from buildplan.notebook.answers.day_picture import draw_days
from buildplan.notebook.answers.memory import (
    card_of_part,
    current,
    name_of,
    part_of,
    pieces_of,
    plan_of,
    time_h,
)
from buildplan.plan import PartPlan, Plan
from buildplan.plan.pieces import OFFER_H
from buildplan.report import numbers
from buildplan.report.choice_section import choice_heading, choice_rows, choice_sentences
from buildplan.report.gather import written
from buildplan.report.pieces_section import split_rows
from buildplan.report.sections import capital, words

if TYPE_CHECKING:
    from buildplan.notebook.viewer.widget import View

AS_IT_MUST = "as it must be"
"""What clears the way of a part again: at home, cut only where it must be."""

QUOTES_SHOWN = 8


def show_bad_day(build: Build, part: str = "") -> Answer:
    """Every way to get a part on a usual day and on 1 day in 20, whole, in pieces and sent out.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
    """
    plan = plan_of(build)
    item = part_of(plan, part)
    card = card_of_part(build, item)
    said = way_sentences(card, plan.currency)[len(card.home) + len(card.sent) :]
    drawn = figure(
        draw_days(card),
        "days",
        "Dot: usual hours. Diamond: 1 day in 20 takes longer, failed tries printed again. Machine "
        "hours, without the nights between prints.",
    )
    html = drawn + _home_table(card, plan.currency) + _sent_table(card, plan.currency)
    lines = [written(line, [item.name]) for line in said]
    lines.append(f"These chances rest on: {card.day.basis}.")
    return Answer(heading=_bad_day_heading(item, card), html=html + sentences(lines))


def show_pieces(build: Build, part: str = "", pieces: int = 0) -> Answer:
    """A part cut into 1 to 8 pieces: the table, the pieces with their hours, how they go together.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
        pieces: Show exactly so many, 2 to 8; 0 for as many as are best.

    Raises:
        InputError: More pieces than may be asked for.
    """
    plan = plan_of(build)
    item = part_of(plan, part)
    answer = pieces_of(build, item, _pieces_asked(pieces))
    if answer is None:
        return _not_cut(item)
    rows = split_rows(answer)
    section = {"heading": "", "currency": plan.currency, "splits": [rows], "coupons": []}
    name, made = words(item.name), answer.plan
    if made is None:
        heading = f"No way was found to print the {name} in {pieces or 'several'} pieces"
        return Answer(heading=heading, html=sentences([rows["summary"]]), severity="caution")
    html = template("pieces.html.j2", pieces=section) + sentences(
        [_why_other_hours(plan)], "small muted"
    )
    if len(made.pieces) == 1:
        return Answer(heading=f"The {name} is best left whole", html=html)
    longest = max(piece.estimate.time_h for piece in (*made.pieces, *made.loose))
    heading = (
        f"The {name} in {len(made.pieces)} pieces: the longest print takes "
        f"{numbers.hours(longest)} instead of {numbers.hours(made.table[0].longest_h)}"
    )
    return Answer(heading=heading, html=html)


def look_at_pieces(build: Build, part: str = "", pieces: int = 0) -> "View | Answer":
    """The pieces in three dimensions, to be moved apart, with the steps that put them together.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
        pieces: Show exactly so many, 2 to 8; 0 for as many as are best.

    Raises:
        InputError: More pieces than may be asked for.
    """
    from buildplan.notebook.viewer import view_segments

    item = part_of(plan_of(build), part)
    answer = pieces_of(build, item, _pieces_asked(pieces))
    if answer is None or answer.plan is None or not answer.plan.joints:
        return _not_cut(item)
    return view_segments(answer.plan)


def show_choice(build: Build) -> Answer:
    """Every part at home, in pieces or sent out, decided together, with the next best and why."""
    plan = plan_of(build)
    choice = plan.choice
    if choice is None:
        return _one_way_only()
    rows = [dict(row, how=capital(row["how"])) for row in choice_rows(choice, plan.currency)]
    columns = (
        ("part", "part", ""),
        ("how", "best", ""),
        ("instead", "next best", ""),
        ("more", "which costs more", ""),
        ("why", "because of", ""),
    )
    said = choice_sentences(choice, plan.currency)[:1]
    said.append(
        "All parts are decided together: one shipping an order, least orders, whole packs and your "
        "own time count."
    )
    return Answer(
        heading=choice_heading(choice, plan.currency),
        html=table(columns, rows, right=("more",)) + sentences(said),
        severity="stop" if choice.chosen is None else "",
    )


def show_changes(build: Build) -> Answer:
    """What would change the choice: quotes, an earlier day, staying by the printers."""
    plan = plan_of(build)
    choice = plan.choice
    if choice is None:
        return _one_way_only()
    said = []
    if choice.supervision is not None:
        said.append(words(supervision_words(choice.supervision, plan.currency)))
    if choice.chosen is not None:
        sooner = choice_sentences(choice, plan.currency)[1]
        said.append(sooner)
    said += [f"{capital(words(f.what))}: {f.remedy}." for f in choice.findings]
    able = [q for q in choice.quotes if q.at_most_cents >= 0]
    never = len(choice.quotes) - len(able)
    near = sorted(able, key=lambda one: one.quoted_cents - one.at_most_cents)[:QUOTES_SHOWN]
    if never:
        said.append(
            f"{numbers.count(never, 'more quote')} would not do at any price: shipping, days and "
            "own time alone cost more than printing the part."
        )
    said.append(
        "What a day earlier is worth (day_cost), the latest day (done_by) and how often a long "
        "print may be lost (most_loss_frac) stand in [choice] of the build file."
    )
    columns = (
        ("part", "part", ""),
        ("service", "service", ""),
        ("now", "asks now", plan.currency),
        ("most", "is chosen at", plan.currency),
    )
    rows = [_quote_row(one) for one in near]
    quotes = table(columns, rows, right=("now", "most")) if rows else ""
    return Answer(heading=_changes_heading(near, plan.currency), html=quotes + sentences(said))


def keep_way(build: Build, part: str = "", way: str = "") -> Answer:
    """Keep in the build file how a part is got; an empty way changes nothing.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
        way: "whole", "2 pieces" to "8 pieces", the name of a service, or "as it must be".

    Raises:
        BuildFileError: There is no such way, or the file cannot be changed.
    """
    named, now = name_of(build, part), current(build)
    name = words(named)
    request = next(one for one in now.parts if one.name == named)
    services = [table.name for table in now.decisions.services]
    allowed = ["“whole”", f"“2 pieces” to “{MOST_PIECES} pieces”"]
    allowed += [f"“{service}”" for service in services] + [f"“{AS_IT_MUST}”"]
    if not way:
        return Answer(
            heading=f"The {name} is {_way_words(request.way)}, as the build file says",
            html=sentences([f"Give way one of these to change it: {', '.join(allowed)}."]),
        )
    text = "" if way == AS_IT_MUST else way
    kept = keep_values(now.path, [(("part", named), "way", text)])
    after = next(one for one in kept.parts if one.name == named)
    if after.way == request.way:
        return Answer(
            heading=f"The {name} is {_way_words(after.way)} already; nothing was changed", html=""
        )
    return Answer(
        heading=f"The {name} is {_way_words(after.way)} from now on",
        html=sentences(
            [
                f"Kept as way in the part's table of {now.path.absolute()}. Set way back to an "
                "empty text, then run the notebook again: hours, bill and dates are of the new way."
            ]
        ),
        severity="ok",
    )


def _way_words(way: Way) -> str:
    if way.service:
        return f"made by {way.service}"
    if way.pieces > 1:
        return f"printed at home in {way.pieces} pieces"
    if way.pieces == 1:
        return "printed at home in one piece"
    return "printed at home, cut only where it must be"


def _bad_day_heading(item: PartPlan, card: BadDayCard) -> str:
    whole = card.home[0]
    name = capital(words(item.name))
    able = [way for way in card.home[1:] if not way.reason]
    best = min(able, key=lambda way: (way.high_h, way.pieces), default=None)
    if whole.reason:
        if best is None:
            return f"{name}: {whole.reason}"
        return (
            f"{name}: not possible in one piece; {best.label} usually "
            f"{numbers.hours(best.usual_h)}, 1 day in 20 over {numbers.hours(best.high_h)}"
        )
    said = (
        f"{name} in one piece: usually {numbers.hours(whole.usual_h)}, 1 day in 20 over "
        f"{numbers.hours(whole.high_h)}"
    )
    if best is None or best.high_h >= whole.high_h:
        return said
    return f"{said}; {best.label} over {numbers.hours(best.high_h)}"


def _home_table(card: BadDayCard, currency: str) -> str:
    columns: tuple[tuple[str, str, str], ...] = (
        ("way", "at home", ""),
        ("prints", "prints", ""),
        ("longest", "longest", "h"),
        ("usual", "usual", "h"),
        ("high", "1 day in 20 over", "h"),
        ("fails", "some try fails", "times in 100"),
        ("lost", "then lost, 1 in 20", "g"),
        ("own", "own time", "h"),
        ("cost", "usual cost", currency),
        ("reason", "why not", ""),
    )
    rows = [_home_row(way) for way in card.home]
    if not any(row["reason"] for row in rows):
        columns = columns[:-1]
    right = [key for key, _, _ in columns if key not in ("way", "reason")]
    return table(columns, rows, right=right)


def _home_row(way: HomeWay) -> dict[str, Any]:
    about = "" if way.exact else "about "
    values = {
        "prints": str(way.prints),
        "longest": numbers.num(way.longest_h, 1),
        "usual": about + numbers.num(way.usual_h, 1),
        "high": numbers.num(way.high_h, 1),
        "fails": numbers.num(100.0 * way.any_failure_frac, 0),
        "lost": numbers.num(way.high_lost_g, 0),
        "own": numbers.num(way.own_h, 1),
        "cost": numbers.num(way.usual_cost, 2),
    }
    if way.reason:
        values = dict.fromkeys(values, "")
    return {"way": capital(way.label), "reason": written(way.reason), **values}


def _sent_table(card: BadDayCard, currency: str) -> str:
    if not card.sent:
        return ""
    columns = (
        ("service", "sent out", ""),
        ("cost", "order of it alone", currency),
        ("days", "days to the door", ""),
        ("own", "own time", "min"),
        ("says", "rests on, or why not", ""),
    )
    rows = [
        {
            "service": row.service,
            "cost": "not known"
            if row.order_cost is None
            else numbers.num(row.order_cost.likely, 2),
            "days": f"{row.lead_d.likely:.0f}, 1 time in 10 over {row.lead_d.high:.0f}",
            "own": numbers.num(60.0 * row.own_h, 0),
            "says": written("; ".join(row.stops) or row.basis, [row.part]),
        }
        for row in card.sent
    ]
    return table(columns, rows, right=("cost", "own"))


def _quote_row(one: QuoteChange) -> dict[str, str]:
    return {
        "part": words(one.part),
        "service": one.service,
        "now": numbers.num(one.quoted_cents / 100.0, 2),
        "most": f"{numbers.num(one.at_most_cents / 100.0, 2)} or less",
    }


def _changes_heading(near: Sequence[QuoteChange], currency: str) -> str:
    if not near:
        return "No quote would change the choice by a better price alone"
    first = near[0]
    less = (first.quoted_cents - first.at_most_cents) / 100.0
    return (
        f"Nearest to changing the choice: {first.service} with {numbers.money(less, currency)} "
        f"less for the {words(first.part)}"
    )


def _pieces_asked(pieces: int) -> int:
    if pieces not in (0, *range(2, MOST_PIECES + 1)):
        raise InputError(
            f"pieces = {pieces}: give 2 to {MOST_PIECES}, or 0 for as many as are best"
        )
    return pieces


def _why_other_hours(plan: Plan) -> str:
    """Why these hours differ from those of the bad day."""
    joints = "The marked row is with its joints cut in, the others without"
    if not plan.logged:
        return f"{joints}."
    return (
        f"{joints}. All hours here are the estimator's own: what your print log taught is not in "
        "them, so they differ a little from those of the bad day."
    )


def _not_cut(item: PartPlan) -> Answer:
    hours = time_h(item)
    if hours < OFFER_H:
        why = (
            f"It takes {numbers.hours(hours)}. Pieces are worked out for parts that fit no "
            f"printer, that take over {numbers.num(OFFER_H, 0, 'h')} or over longest_print_h of "
            "[build], and for those whose way says so."
        )
    else:
        why = "No way to cut it was found that keeps its named features whole and fits the printer."
    return Answer(
        heading=f"The {words(item.name)} is not cut",
        html=sentences([why, "To see it in pieces all the same, ask for pieces = 2 or more."]),
    )


def _one_way_only() -> Answer:
    lines = [
        "Each part has one way only: one printer at home takes it, it need not be cut, and the "
        "build file names no service. To compare, add a [[service]] with what it asks in a "
        "[[quote]], or wish for more printers.",
    ]
    return Answer(heading="There is nothing to choose", html=sentences(lines))
