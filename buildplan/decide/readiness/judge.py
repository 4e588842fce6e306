"""The three bands and the verdict before a long print."""

import dataclasses
from collections.abc import Sequence

import numpy as np

from buildplan.decide.readiness.model import Band, Claim, Readiness, ReadinessLine, Verdict
from buildplan.decide.readiness.stake import best_tests, fail_fast, hours_at_stake

DRAWS = 200
OFF_BY = 2.0
MOST_P = 0.9
"""Chances are drawn off by up to this factor either way, and capped here."""

SURE_FRAC = 0.9
"""A test that this share of the draws lists is for now (ours)."""

NO_GO_FRAC = 0.1
"""Open tests that save more than this share of the print's hours must be done first (ours)."""

BANDS: tuple[Band, ...] = ("now", "before printing", "skip")


def judge_readiness(
    claims: Sequence[Claim],
    long_print_h: float,
    redo_h: float,
    *,
    draws: int = DRAWS,
    seed: int = 0,
) -> Readiness:
    """Whether to start the long print: verdict, bands, hours.

    Args:
        claims: From claims_for.
        long_print_h: Hours of the print.
        redo_h: Own hours to change the drawing.
        draws: How often the chances are drawn off by up to 2x, to see whether the list holds.
        seed: Of the draws.

    Raises:
        InputError: A number is out of range.
    """
    stops = tuple(claim for claim in claims if claim.p_wrong_frac >= 1.0)
    open_claims = [claim for claim in claims if claim.p_wrong_frac < 1.0]
    least, chosen = best_tests(open_claims, long_print_h, redo_h)
    untested = hours_at_stake(open_claims, long_print_h, redo_h)
    shares = _listed(open_claims, long_print_h, redo_h, draws, seed)
    lines = []
    for i, claim in enumerate(open_claims):
        other = tuple(flag != (i == j) for j, flag in enumerate(chosen))
        change = hours_at_stake(open_claims, long_print_h, redo_h, other) - least
        lines.append(_line(claim, chosen[i], change, shares[i]))
    tests_h = sum(claim.test.hours for claim, flag in zip(open_claims, chosen, strict=True) if flag)
    listed = [line for line in lines if line.band != "skip"]
    verdict, reason = _verdict(stops, listed, untested - least, long_print_h)
    return Readiness(
        verdict=verdict,
        reason=reason,
        long_print_h=long_print_h,
        redo_h=redo_h,
        untested_h=untested,
        tested_h=least,
        tests_h=tests_h,
        lines=_ordered(lines),
        stops=stops,
    )


def _listed(
    claims: Sequence[Claim], long_print_h: float, redo_h: float, draws: int, seed: int
) -> list[float]:
    """Share of the draws in which each claim's test is listed."""
    random = np.random.default_rng(seed)
    counts = np.zeros(len(claims))
    for _ in range(draws):
        factors = OFF_BY ** random.uniform(-1.0, 1.0, len(claims))
        drawn = [
            dataclasses.replace(claim, p_wrong_frac=min(MOST_P, claim.p_wrong_frac * float(factor)))
            for claim, factor in zip(claims, factors, strict=True)
        ]
        counts += best_tests(drawn, long_print_h, redo_h)[1]
    return [float(share) for share in counts / max(draws, 1)]


def _line(claim: Claim, is_chosen: bool, change_h: float, share: float) -> ReadinessLine:
    hours = claim.test.hours
    if is_chosen:
        is_now = share >= SURE_FRAC or claim.test.wait_d > 0.0
        wait = f", start it first: {claim.test.wait_d:g} d of waiting" if claim.test.wait_d else ""
        text = f"skip it: +{change_h:.2f} h, costs {hours:.2f} h{wait}"
        band: Band = "now" if is_now else "before printing"
        return ReadinessLine(claim=claim, band=band, skip_h=change_h, listed_frac=share, text=text)
    text = f"the test costs {change_h:.2f} h more than it saves"
    return ReadinessLine(claim=claim, band="skip", skip_h=-change_h, listed_frac=share, text=text)


def _ordered(lines: Sequence[ReadinessLine]) -> tuple[ReadinessLine, ...]:
    """By band; what waits longest first, then the alarm chance per hour."""
    place = {id(claim): i for i, claim in enumerate(fail_fast([line.claim for line in lines]))}

    def rank(line: ReadinessLine) -> tuple[int, float, int]:
        return BANDS.index(line.band), -line.claim.test.wait_d, place[id(line.claim)]

    return tuple(sorted(lines, key=rank))


def _verdict(
    stops: Sequence[Claim], listed: Sequence[ReadinessLine], saves_h: float, long_print_h: float
) -> tuple[Verdict, str]:
    if stops:
        first = stops[0]
        more = f" (and {len(stops) - 1} more)" if len(stops) > 1 else ""
        remedy = f" {first.remedy}" if first.remedy else ""
        return "no-go", f'Not so: "{first.name}": {first.because}{more}.{remedy}'
    if not listed:
        return "go", "No test saves more hours than it costs."
    saving = f"{saves_h:.1f} h expected over a print of {long_print_h:.1f} h"
    one = len(listed) == 1
    if saves_h > NO_GO_FRAC * long_print_h:
        if one:
            return "no-go", f"Do the open test first: it saves {saving}."
        return "no-go", f"Do the {len(listed)} open tests first: together they save {saving}."
    names = "open test" if one else f"{len(listed)} open tests"
    return "go with these open", f"The {names} would save only {saving}; you may start."
