"""Expected hours at stake and the best set of tests."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.readiness.model import Claim
from buildplan.errors import InputError

EXHAUSTIVE = 16
"""Up to this many claims every set of tests is looked at."""

LEAST_GAIN_H = 1e-12
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def hours_at_stake(
    claims: Sequence[Claim], long_print_h: float, redo_h: float, tested: Sequence[bool] = ()
) -> float:
    """Expected hours of tests, changes and lost prints.

    sum over stop points g: (1 - prod(1 - q_i)) (g H + redo) + tests + alarms redo, where
    q = p untested and p (1 - sensitivity) tested, and the product runs over the claims that show
    at g: they cost one print together.

    Args:
        claims: What must be true.
        long_print_h: H, hours of the print.
        redo_h: Own hours to change the drawing after an alarm or a lost print.
        tested: Whether each claim is tried first; none where empty.

    Raises:
        InputError: A number is out of range.
    """
    flags = np.array(tested or [False] * len(claims), dtype=np.bool_)[None, :]
    return float(hours_of_sets(claims, flags, long_print_h, redo_h)[0])


def hours_of_sets(
    claims: Sequence[Claim], sets: Bools, long_print_h: float, redo_h: float
) -> Floats:
    """``hours_at_stake`` for many sets of tests (m, n) at once -> (m,).

    Raises:
        InputError: As hours_at_stake.
    """
    p, slip, cost, at = _numbers(claims, long_print_h, redo_h)
    total = (sets * cost).sum(axis=1)
    q = np.where(sets, slip, p)
    for share in np.unique(at):
        held = np.prod(1.0 - q[:, at == share], axis=1)
        total = total + (1.0 - held) * (share * long_print_h + redo_h)
    return np.asarray(total, dtype=np.float64)


def best_tests(
    claims: Sequence[Claim], long_print_h: float, redo_h: float, *, exhaustive: int = EXHAUSTIVE
) -> tuple[float, tuple[bool, ...]]:
    """Least expected hours and the tests that give them.

    Every set where there are at most ``exhaustive`` claims; else single changes, once from no test
    and once from all, since the gains of tests support each other.

    Raises:
        InputError: As hours_at_stake.
    """
    count = len(claims)
    if count <= exhaustive:
        hours = _every_set(claims, long_print_h, redo_h)
        best = int(hours.argmin())
        return float(hours[best]), tuple(bool(best >> i & 1) for i in range(count))
    able = np.array([claim.p_wrong_frac > 0.0 for claim in claims], dtype=np.bool_)
    starts = (np.zeros(count, np.bool_), able)
    found = [_local(claims, start, long_print_h, redo_h) for start in starts]
    return min(found, key=lambda pair: pair[0])


def fail_fast(claims: Sequence[Claim]) -> tuple[Claim, ...]:
    """Tests in the order of alarm chance per hour, the highest first.

    Least expected hours until the first alarm (Smith's ratio rule, 1956, for tests that stop the
    round; proved against all orders in the tests).
    """
    return tuple(sorted(claims, key=lambda claim: (-_per_hour(claim), claim.name)))


def alarm_frac(claim: Claim) -> float:
    """Chance that the test of a claim raises an alarm."""
    p, test = claim.p_wrong_frac, claim.test
    return p * test.sensitivity_frac + (1.0 - p) * test.false_alarm_frac


def _per_hour(claim: Claim) -> float:
    return alarm_frac(claim) / claim.test.hours if claim.test.hours > 0.0 else math.inf


def _numbers(
    claims: Sequence[Claim], long_print_h: float, redo_h: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Chance, chance after the test, cost of the test in hours and stop point, each (n,)."""
    for name, hours in (("long_print_h", long_print_h), ("redo_h", redo_h)):
        if not 0.0 <= hours < math.inf:
            raise InputError(f"readiness: {name} is {hours} h; 0 or more is needed")
    for claim in claims:
        test = claim.test
        shares = [claim.p_wrong_frac, claim.seen_at_frac]
        shares += [test.sensitivity_frac, test.false_alarm_frac]
        if not all(0.0 <= share <= 1.0 for share in shares):
            found = ", ".join(f"{share:g}" for share in shares)
            raise InputError(
                f"readiness: claim {claim.name!r} has the shares {found}; 0 to 1 is allowed: set "
                "p_wrong_frac, seen_at_frac, sensitivity_frac and false_alarm_frac"
            )
        if not 0.0 <= test.hours < math.inf:
            raise InputError(
                f"readiness: the test of claim {claim.name!r} takes {test.hours} h; 0 or more is "
                "needed"
            )
    p = np.array([claim.p_wrong_frac for claim in claims], dtype=np.float64)
    sees = np.array([claim.test.sensitivity_frac for claim in claims], dtype=np.float64)
    alarms = np.array([alarm_frac(claim) for claim in claims], dtype=np.float64)
    hours_each = np.array([claim.test.hours for claim in claims], dtype=np.float64)
    at = np.array([claim.seen_at_frac for claim in claims], dtype=np.float64)
    return p, p * (1.0 - sees), hours_each + alarms * redo_h, at


def _every_set(claims: Sequence[Claim], long_print_h: float, redo_h: float) -> Floats:
    """Hours of all 2^n sets; claim i is tested in set s where bit i of s is 1."""
    p, slip, cost, at = _numbers(claims, long_print_h, redo_h)
    total = np.zeros(1)
    held = {float(share): np.ones(1) for share in np.unique(at)}
    for i in range(len(claims)):
        total = np.concatenate([total, total + cost[i]])
        for share, chance in held.items():
            is_here = float(at[i]) == share
            without, tested = (1.0 - p[i], 1.0 - slip[i]) if is_here else (1.0, 1.0)
            held[share] = np.concatenate([chance * without, chance * tested])
    for share, chance in held.items():
        total = total + (1.0 - chance) * (share * long_print_h + redo_h)
    return total


def _local(
    claims: Sequence[Claim], start: Bools, long_print_h: float, redo_h: float
) -> tuple[float, tuple[bool, ...]]:
    chosen = start.copy()
    least = float(hours_of_sets(claims, chosen[None, :], long_print_h, redo_h)[0])
    count = len(claims)
    while count:
        near = np.repeat(chosen[None, :], count, axis=0) ^ np.eye(count, dtype=np.bool_)
        hours = hours_of_sets(claims, near, long_print_h, redo_h)
        best = int(hours.argmin())
        if hours[best] >= least - LEAST_GAIN_H:
            break
        chosen, least = near[best], float(hours[best])
    return least, tuple(bool(flag) for flag in chosen)
