"""The bad-day card with every way to get the part: in one piece, in several, sent out."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildplan.decide.card.day import bad_day
from buildplan.decide.card.exact import (
    Doubt,
    any_failure_frac,
    doubt_of,
    endless_mean_h,
    mean_h,
    shown_h,
)
from buildplan.decide.card.model import BadDay, Chances
from buildplan.decide.card.runs import Run, run_of_whole
from buildplan.decide.card.tries import hours_of_tries
from buildplan.decide.card.when import SPARE_G
from buildplan.decide.sending.compare import SendRow
from buildplan.errors import InputError
from buildplan.journal.failures import FailureModel, draw_odds
from buildplan.process.estimate import PrintEstimate

MOST_TRIES = 5
"""Tries of one print. Source: ours; after five failures in a row another try mends nothing."""

DRAWS = 20_000
"""Days drawn for the bad one of each way: its hours are then good to about 1 %."""

SHARES = (0.25, 0.5, 0.75, 0.9)
"""Shares of all failures whose hour is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HomeWay:
    """One way of printing a part at home, on a usual and on a bad day.

    Attributes:
        label: "in one piece", "in 3 pieces".
        prints: Starts that it takes when nothing fails; longest_h: of the longest print.
        usual_h: Machine hours when nothing fails.
        median_h, high_h: Until all is done or given up: every second day, 1 day in 20.
        mean_h: Likewise, the average over what the log leaves open; computed, not drawn.
        any_failure_frac: Chance of at least one failed try; computed, not drawn.
        gives_up_frac: Chance that one of its prints fails in every try.
        usual_g, usual_cost: When nothing fails; own time is in the money.
        lost_g, lost_cost: Average loss in failed tries; high_lost_g, high_lost_cost: 1 day in 20.
        own_h: Own hours when nothing fails.
        exact: Whether the hours of every print are known, or shared out from the row's sums.
        reason: Why it cannot be done, or an empty text.
    """

    label: str
    pieces: int
    prints: int
    longest_h: float
    usual_h: float
    median_h: float
    high_h: float
    mean_h: float
    any_failure_frac: float
    gives_up_frac: float
    usual_g: float
    usual_cost: float
    lost_g: float
    lost_cost: float
    high_lost_g: float
    high_lost_cost: float
    own_h: float
    exact: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskMark:
    """An hour by which a share of the failures of one try has come.

    Attributes:
        share_frac: Of all failures.
        layer: The layer that is then laid, from 1; lost_g: what is laid by then.
    """

    share_frac: float
    after_h: float
    layer: int
    lost_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spool:
    """Feedstock on hand against what the print takes.

    Attributes:
        need_g: Of one try; high_need_g: with what a bad day (1 in 20) wastes before it.
        usable_g: Of what is on hand: the end of a reel is not printed.
        short_g, high_short_g: What is lacking for each; 0 where it is enough.
        packs, high_packs: Whole packs to buy for each.
    """

    need_g: float
    high_need_g: float
    on_hand_g: float
    usable_g: float
    short_g: float
    high_short_g: float
    packs: int
    high_packs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BadDayCard:
    """What a part takes when it does not go as usual, by every way to get it.

    Attributes:
        day: Of the print in one piece, with the moments to look at it.
        home: In one piece first, then in pieces, as they were given.
        sent: By service, as they were given.
        marks: When the failures of the print in one piece come.
        tries: After so many failures a print is given up; tries_reason: why so many.
        endless_mean_h: Mean hours without that limit; infinite where it does not exist.
        mean_words: What that says, in one sentence.
    """

    part: str
    day: BadDay
    home: tuple[HomeWay, ...]
    sent: tuple[SendRow, ...]
    marks: tuple[RiskMark, ...]
    spool: Spool
    tries: int
    tries_reason: str
    endless_mean_h: float
    mean_words: str


def bad_day_card(  # noqa: PLR0913 - each argument is one thing a maker may say about the print
    estimate: PrintEstimate,
    posterior: FailureModel,
    *,
    pack_g: float,
    on_hand_g: float | None = None,
    overhang_z_mm: tuple[float, ...] = (),
    in_pieces: Sequence[Run] = (),
    sent: Sequence[SendRow] = (),
    tries: int = MOST_TRIES,
    draws: int = DRAWS,
    seed: int = 0,
) -> BadDayCard:
    """What a print takes on a bad day in one piece, in pieces and sent out.

    Chances and means are computed over the whole posterior; medians and bad days are drawn.

    Args:
        estimate: Of one copy in one piece, with what the log taught.
        posterior: What the log says of failures, from journal.fit_failures.
        pack_g: Net mass of a full reel; for resin, of a bottle.
        on_hand_g: Feedstock at hand; left out, a full pack.
        overhang_z_mm: Height of each place that leans out or bridges.
        in_pieces: From ``runs_of_rows`` or ``run_of_estimates``.
        sent: From sending.send_rows; rows of other parts are left out.
        tries: After so many failures a print is given up.
        draws: Days that are drawn.
        seed: The same seed gives the same card.

    Raises:
        InputError: Grams or draws that cannot be, tries not from 1 to 10, hours negative.
    """
    on_hand = pack_g if on_hand_g is None else on_hand_g
    _check(pack_g, on_hand, draws)
    doubt = doubt_of(posterior, estimate.printer, estimate.feedstock)
    chances = _drawn(posterior, estimate, doubt, draws, seed)
    day = bad_day(
        estimate,
        chances,
        pack_g=pack_g,
        have_g=min(on_hand, pack_g) if on_hand > 0.0 else pack_g,
        overhang_z_mm=overhang_z_mm,
        tries=tries,
        seed=seed,
    )
    whole = _of_whole(day, estimate, doubt, tries)
    ways = (_way(run, chances, doubt, tries, seed) for run in in_pieces)
    endless = endless_mean_h(doubt, estimate.time_h)
    return BadDayCard(
        part=estimate.part,
        day=day,
        home=(whole, *ways),
        sent=tuple(row for row in sent if row.part == estimate.part),
        marks=_marks(estimate, doubt),
        spool=spool_of(estimate.mass_g, day.high_lost_g, pack_g=pack_g, on_hand_g=on_hand),
        tries=tries,
        tries_reason=_tries_reason(tries, day.gives_up_frac),
        endless_mean_h=endless,
        mean_words=mean_words(estimate.time_h, endless, day, doubt.logged_h, tries),
    )


def spool_of(need_g: float, lost_g: float, *, pack_g: float, on_hand_g: float) -> Spool:
    """Feedstock on hand against one try, and against one with so many grams lost before it.

    Of every reel, the end is left: it is glued or kinked. What is on hand counts as one reel.
    """
    usable, each = max(on_hand_g - SPARE_G, 0.0), max(pack_g - SPARE_G, 1.0)
    short, high = (max(grams - usable, 0.0) for grams in (need_g, need_g + lost_g))
    return Spool(
        need_g=need_g,
        high_need_g=need_g + lost_g,
        on_hand_g=on_hand_g,
        usable_g=usable,
        short_g=short,
        high_short_g=high,
        packs=math.ceil(short / each - 1e-9),
        high_packs=math.ceil(high / each - 1e-9),
    )


def mean_words(time_h: float, endless_h: float, day: BadDay, logged_h: float, tries: int) -> str:
    """Whether an average exists, and what is said in its place."""
    if math.isinf(endless_h):
        return (
            f"No average exists for printing until it holds: your log has {logged_h:.0f} h of this "
            f"feedstock on this printer and one try takes {time_h:.0f} h, so a print that never "
            f"ends cannot be ruled out. The median is {day.median_h:.1f} h; with at most {tries} "
            f"tries the average is {day.mean_h:.1f} h."
        )
    return (
        f"On average {endless_h:.1f} h until it holds, and {day.mean_h:.1f} h with at most {tries} "
        f"tries; the median is {day.median_h:.1f} h."
    )


def in_100(chance: float) -> str:
    """A chance as a maker counts it: "28 times in 100"."""
    count = round(100.0 * chance)
    if count == 0:
        return "less than 1 time in 100"
    return "1 time in 100" if count == 1 else f"{count} times in 100"


def _of_whole(day: BadDay, estimate: PrintEstimate, doubt: Doubt, tries: int) -> HomeWay:
    """The print in one piece, its losses by its own layers."""
    run = run_of_whole(estimate)
    return HomeWay(
        label=run.label,
        pieces=1,
        prints=1,
        longest_h=estimate.time_h,
        usual_h=estimate.time_h,
        median_h=day.median_h,
        high_h=day.high_h,
        mean_h=mean_h(doubt, run.times_h, tries),
        any_failure_frac=any_failure_frac(doubt, run.times_h),
        gives_up_frac=day.gives_up_frac,
        usual_g=estimate.mass_g,
        usual_cost=estimate.total_cost,
        lost_g=day.lost_g,
        lost_cost=day.lost_cost,
        high_lost_g=day.high_lost_g,
        high_lost_cost=day.high_lost_cost,
        own_h=estimate.own_time_h,
        exact=True,
        reason=run.reason,
    )


def _way(run: Run, chances: Chances, doubt: Doubt, tries: int, seed: int) -> HomeWay:
    """A part in pieces: what a failed try loses grows evenly with its hours."""
    days = hours_of_tries(run.times_h, chances, tries=tries, seed=seed)
    failed = np.isfinite(days.lost_at_h)
    hours = np.where(failed, days.lost_at_h, 0.0)
    rate_g = np.array(run.masses_g) / np.maximum(run.times_h, 1e-9)
    rate_cost = np.array(run.running_costs) / np.maximum(run.times_h, 1e-9)
    by_print = hours.sum(axis=2)
    grams = by_print @ rate_g
    cost = by_print @ rate_cost + failed.sum(axis=2) @ np.array(run.again_costs)
    median, high = np.quantile(days.total_h, [0.5, 0.95])
    return HomeWay(
        label=run.label,
        pieces=run.pieces,
        prints=len(run.times_h),
        longest_h=max(run.times_h),
        usual_h=math.fsum(run.times_h),
        median_h=float(median),
        high_h=float(high),
        mean_h=mean_h(doubt, run.times_h, tries),
        any_failure_frac=any_failure_frac(doubt, run.times_h),
        gives_up_frac=float(days.gave_up.mean()),
        usual_g=math.fsum(run.masses_g),
        usual_cost=run.cost,
        lost_g=float(grams.mean()),
        lost_cost=float(cost.mean()),
        high_lost_g=float(np.quantile(grams, 0.95)),
        high_lost_cost=float(np.quantile(cost, 0.95)),
        own_h=run.own_h,
        exact=run.exact,
        reason=run.reason,
    )


def _drawn(
    posterior: FailureModel, estimate: PrintEstimate, doubt: Doubt, draws: int, seed: int
) -> Chances:
    hazard, start = draw_odds(posterior, estimate.printer, estimate.feedstock, draws, seed)
    return Chances(
        hazard_frac_h=hazard,
        start_fail_frac=start,
        start_loss_h=doubt.start_loss_h,
        recovery_h=doubt.recovery_h,
        logged_h=doubt.logged_h,
        prints=doubt.prints,
    )


def _marks(estimate: PrintEstimate, doubt: Doubt) -> tuple[RiskMark, ...]:
    """Hours, layers and grams at the usual shares of all failures."""
    seconds = np.cumsum(estimate.layer_time_s)
    if not len(seconds):
        return ()
    ahead_h = max(estimate.time_h - float(seconds[-1]) / 3600.0, 0.0)
    ends_h, laid = ahead_h + seconds / 3600.0, np.cumsum(estimate.layer_mass_g)
    found = []
    for share in SHARES:
        after = shown_h(doubt, estimate.time_h, share)
        layer = min(int(np.searchsorted(ends_h, after)), len(ends_h) - 1)
        grams = float(np.interp(after, [ahead_h, *ends_h], [0.0, *laid]))
        found.append(RiskMark(share_frac=share, after_h=after, layer=layer + 1, lost_g=grams))
    return tuple(found)


def _tries_reason(tries: int, gives_up: float) -> str:
    return (
        f"{tries} tries are counted: after {tries} failures in a row something is wrong that "
        f"another try does not mend; it comes to that {in_100(gives_up)}"
    )


def _check(pack_g: float, on_hand_g: float, draws: int) -> None:
    if not (0.0 < pack_g < math.inf and 0.0 <= on_hand_g < math.inf):
        raise InputError(
            f"bad-day card: a pack of {pack_g} g and {on_hand_g} g on hand found; a pack above 0 "
            "and 0 or more on hand are needed"
        )
    if not 100 <= draws <= 10_000_000:
        raise InputError(f"bad-day card: {draws} draws found; 100 to 10000000 allowed")
