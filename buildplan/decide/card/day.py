"""The card of one print."""

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.card.model import BadDay, Chances, TryHours
from buildplan.decide.card.tries import hours_of_tries
from buildplan.decide.card.when import SPARE_G, looks_of
from buildplan.process.estimate import PrintEstimate

FEW_PRINTS = 5
"""Below this many logged tries on a printer the chances are mostly assumption."""


def bad_day(
    estimate: PrintEstimate,
    chances: Chances,
    *,
    pack_g: float,
    have_g: float | None = None,
    overhang_z_mm: tuple[float, ...] = (),
    tries: int = 3,
    seed: int = 0,
) -> BadDay:
    """What a print takes when it does not go as usual.

    Args:
        estimate: Of one copy, with what the log taught.
        chances: Draws of how it may fail.
        pack_g: Net mass of a full reel; for resin, of a bottle.
        have_g: On the reel at the start; left out, a full one.
        overhang_z_mm: Height of each place that leans out or bridges.
        tries: After so many failures it is given up: with few hours in the log an average over
            endless tries does not exist.
        seed: The same seed gives the same card.

    Raises:
        InputError: As hours_of_tries.
    """
    days = hours_of_tries([estimate.time_h], chances, tries=tries, seed=seed)
    median, high = np.quantile(days.total_h, [0.5, 0.95])
    grams, cost = _lost(estimate, days)
    have = pack_g if have_g is None else have_g
    more = max(estimate.mass_g - (have - SPARE_G), 0.0)
    return BadDay(
        part=estimate.part,
        printer=estimate.printer,
        feedstock=estimate.feedstock,
        usual_h=estimate.time_h,
        median_h=float(median),
        high_h=float(high),
        mean_h=float(days.total_h.mean()),
        any_failure_frac=_any_failure(estimate.time_h, chances),
        gives_up_frac=_gives_up(estimate.time_h, chances, tries),
        tries=tries,
        lost_g=float(grams.mean()),
        lost_cost=float(cost.mean()),
        high_lost_g=float(np.quantile(grams, 0.95)),
        high_lost_cost=float(np.quantile(cost, 0.95)),
        reels=1 + int(np.ceil(more / max(pack_g - SPARE_G, 1.0))),
        need_g=estimate.mass_g,
        have_g=have,
        mean_exists=chances.logged_h > estimate.time_h,
        looks=looks_of(estimate, pack_g=pack_g, have_g=have_g, overhang_z_mm=overhang_z_mm),
        basis=_basis(chances),
    )


def _fails(time_h: float, chances: Chances) -> NDArray[np.float64]:
    """Chance that one try fails, for every draw: 1 - (1 - p) e^(-l t)."""
    held = (1.0 - chances.start_fail_frac) * np.exp(-chances.hazard_frac_h * time_h)
    return np.asarray(1.0 - held)


def _any_failure(time_h: float, chances: Chances) -> float:
    return float(_fails(time_h, chances).mean())


def _gives_up(time_h: float, chances: Chances, tries: int) -> float:
    return float((_fails(time_h, chances) ** tries).mean())


def _lost(
    estimate: PrintEstimate, days: TryHours
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Grams and money of failed tries, (n,) each: as far as each try had come.

    Feedstock and its cost go by the grams laid down until then, energy and machine by the hours;
    own time to set up is spent whole.
    """
    seconds = np.cumsum(estimate.layer_time_s)
    ahead_h = max(estimate.time_h - float(seconds[-1] if len(seconds) else 0.0) / 3600.0, 0.0)
    at_h = np.concatenate([[0.0, ahead_h], ahead_h + seconds / 3600.0])
    laid = np.concatenate([[0.0, 0.0], np.cumsum(estimate.layer_mass_g)])
    total_g = float(laid[-1])
    lost_h = days.lost_at_h
    failed = np.isfinite(lost_h)
    grams = np.where(failed, np.interp(np.nan_to_num(lost_h), at_h, laid), 0.0).sum(axis=(1, 2))
    hours = np.where(failed, lost_h, 0.0).sum(axis=(1, 2))
    per_g = estimate.feedstock_cost / total_g if total_g > 0.0 else 0.0
    per_h = (estimate.energy_cost + estimate.machine_cost) / max(estimate.time_h, 1e-9)
    again = failed.sum(axis=(1, 2)) * estimate.own_time_cost
    return grams, grams * per_g + hours * per_h + again


def _basis(chances: Chances) -> str:
    if chances.prints == 0:
        return "nothing is logged on this printer: these chances are wide assumptions"
    said = (
        f"from your {chances.prints} logged tries on this printer, {chances.logged_h:.0f} h of "
        "them with this feedstock"
    )
    if chances.prints < FEW_PRINTS:
        said += f"; with fewer than {FEW_PRINTS} tries this is mostly assumption"
    return said
