"""The push rod of least peak servo torque within limits, and of those the one of least force."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.device.mechanism.bound import TorqueBound, torque_bound
from buildplan.device.mechanism.judge import POSES, Judged, Range, RodLimits, check_limits, judge
from buildplan.device.mechanism.load import HingeLoad, greatest_n_mm
from buildplan.device.mechanism.rod import Floats, RodLinkage, rod_linkage
from buildplan.errors import NoPlanError

SAMPLES = 8192
"""Candidates of the first look, even over the limits (Sobol's sequence)."""

STARTS = 6
"""Candidates that are polished, spread over the limits."""

APART_FRAC = 0.15
"""Starts lie at least so far from each other, in ranges."""

STEP = 1e-6
"""Step of difference quotients, in ranges."""

SLACK = 1e-6
"""A limit counts as kept within this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BestRod:
    """A push rod found by best_rod.

    Attributes:
        peak_n_mm: Greatest torque of the servo, opening and closing.
        least_peak_n_mm: What the first stage reached.
        link_n: Greatest force in the rod.
        first_link_n: The same after the first stage.
        bound: What no mechanism can beat.
        excess_frac: peak / bound - 1.
    """

    linkage: RodLinkage
    peak_n_mm: float
    least_peak_n_mm: float
    link_n: float
    first_link_n: float
    bound: TorqueBound
    excess_frac: float


def best_rod(
    load: HingeLoad,
    limits: RodLimits,
    *,
    holes_mm: tuple[float, ...] = (),
    ease_frac: float = 0.02,
    seed: int = 0,
) -> BestRod:
    """The push rod of least peak servo torque, opening and closing, within limits.

    First a look at SAMPLES even candidates, then sequential quadratic programming from STARTS of
    them on the epigraph form (least t with torque <= t at every angle), all candidates of one
    difference quotient computed at once. Many rods share the least peak: among those within
    ease_frac of it the second stage takes the one of least force in the rod.

    Args:
        load: Over the travel.
        limits: Ranges of pins, least angles, sweep.
        holes_mm: Radii of the horn's holes; each is tried, in place of limits.horn_mm.
        ease_frac: Share of the least peak that may be given for less force; 0 leaves the second
            stage out.
        seed: Of the even candidates.

    Raises:
        InputError: A range runs backwards.
        NoPlanError: No rod within the limits was found (with what is needed).

    Source: Kraft (1988), DFVLR-FB 88-28 (the quadratic programme); Sobol (1967).
    """
    check_limits(limits)
    if not holes_mm:
        return _search(_task(load, limits), ease_frac, seed)
    found: list[BestRod] = []
    said = ""
    for hole_mm in holes_mm:
        try:
            one = replace(limits, horn_mm=(hole_mm, hole_mm))
            found.append(_search(_task(load, one), ease_frac, seed))
        except NoPlanError as error:
            said = str(error)
    if not found:
        raise NoPlanError(f"{said} (tried the holes {', '.join(f'{h:g}' for h in holes_mm)} mm)")
    return min(found, key=lambda rod: rod.peak_n_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """One search: the load at POSES angles, and the variables that are free.

    Attributes:
        need_n_mm, angle_rad: (POSES,) of the lid.
        low, span: (6,) ranges of a candidate; free tells which have any width.
    """

    load: HingeLoad
    limits: RodLimits
    need_n_mm: Floats
    angle_rad: Floats
    low: Floats
    span: Floats
    free: NDArray[np.bool_]


Rows = Callable[[Judged, Floats], Floats]
"""Constraint rows, 0 or more where kept, from a batch and its heights."""


def _task(load: HingeLoad, limits: RodLimits) -> _Task:
    angle = np.linspace(load.angle_deg[0], load.angle_deg[-1], POSES)
    ranges = (
        limits.servo_forward_mm,
        limits.servo_up_mm,
        limits.horn_mm,
        (-math.pi, math.pi),
        limits.lid_forward_mm,
        limits.lid_up_mm,
    )
    span = np.array([high - low for low, high in ranges])
    return _Task(
        load=load,
        limits=limits,
        need_n_mm=np.interp(angle, load.angle_deg, greatest_n_mm(load)),
        angle_rad=np.radians(angle),
        low=np.array([low for low, _ in ranges]),
        span=span,
        free=span > 1e-9,
    )


def _full(task: _Task, shares: Floats) -> Floats:
    """Candidates (k, 6) from shares (k, free) of the ranges."""
    designs = np.tile(task.low, (len(shares), 1))
    designs[:, task.free] += shares * task.span[task.free]
    return designs


def _judged(task: _Task, shares: Floats) -> Judged:
    return judge(_full(task, shares), task.need_n_mm, task.angle_rad, task.limits)


def _search(task: _Task, ease_frac: float, seed: int) -> BestRod:
    """Both stages for one set of ranges."""
    starts, unit = _look(task, seed)

    def torque_rows(judged: Judged, height: Floats) -> Floats:
        return np.concatenate((height - judged.torque_n_mm / unit, judged.margins), axis=1)

    ends = [_polish(task, start, torque_rows) for start in starts]
    done = [end for end in ends if end is not None]
    if not done:
        raise NoPlanError(_why_not(task))
    first = min(done, key=lambda end: float(end[-1]))
    share = first[:-1]
    if ease_frac > 0.0:
        share = _eased(task, first, (*done, *starts), unit, ease_frac)
    return _result(task, share, first[:-1])


def _look(task: _Task, seed: int) -> tuple[list[Floats], float]:
    """Even candidates: the best ones that lie apart (with their heights), the unit of torque."""
    from scipy.stats import qmc

    shares = qmc.Sobol(int(task.free.sum()), seed=seed).random(SAMPLES)
    judged = _judged(task, shares)
    peak = judged.torque_n_mm.max(axis=1)
    lacking = np.column_stack(
        (
            judged.margins[:, :POSES].min(axis=1),
            judged.margins[:, POSES : 2 * POSES].min(axis=1),
            judged.margins[:, 2 * POSES :],
            judged.reaches,
        )
    )
    lacks = -np.minimum(lacking, 0.0).sum(axis=1)
    order = np.lexsort((peak, np.round(lacks, 6)))[:400]
    picked: list[int] = []
    for number in order:
        gaps = [np.linalg.norm(shares[number] - shares[other]) for other in picked]
        if all(gap > APART_FRAC for gap in gaps):
            picked.append(int(number))
        if len(picked) == STARTS:
            break
    unit = max(float(np.median(peak[order[:50]])), 1e-6)
    return [np.append(shares[i], min(peak[i] / unit, 50.0)) for i in picked], unit


def _polish(task: _Task, start: Floats, rows: Rows) -> Floats | None:
    """The end of one run from a start (shares and height), or None where it breaks a limit."""
    from scipy.optimize import minimize

    def values(points: Floats) -> Floats:
        return rows(_judged(task, points[:, :-1]), points[:, -1:])

    def value(point: Floats) -> Floats:
        return np.asarray(values(point[None])[0])

    def slope(point: Floats) -> Floats:
        both = values(np.vstack((point, point + STEP * np.eye(len(point)))))
        return np.asarray(((both[1:] - both[0]) / STEP).T)

    upward = np.zeros(len(start))
    upward[-1] = 1.0
    found = minimize(
        lambda point: float(point[-1]),
        start,
        jac=lambda _: upward,
        constraints={"type": "ineq", "fun": value, "jac": slope},
        bounds=[(0.0, 1.0)] * (len(start) - 1) + [(0.0, None)],
        method="SLSQP",
        options={"maxiter": 120, "ftol": 1e-9},
    )
    end = np.asarray(found.x, dtype=np.float64)
    end[:-1] = np.clip(end[:-1], 0.0, 1.0)
    return end if float(value(end).min()) > -SLACK else None


def _eased(
    task: _Task, first: Floats, begun: tuple[Floats, ...], unit: float, ease_frac: float
) -> Floats:
    """Within a share of the least peak, the candidate of least force in the rod."""
    cap = float(first[-1]) * (1.0 + ease_frac)
    newton = float(_judged(task, first[None, :-1]).force_n.max())

    def force_rows(judged: Judged, height: Floats) -> Floats:
        rows = (cap - judged.torque_n_mm / unit, height - judged.force_n / newton)
        return np.concatenate((*rows, judged.margins), axis=1)

    ends = [_polish(task, np.append(point[:-1], 2.0), force_rows) for point in begun]
    done = [end for end in ends if end is not None]
    best = min(done, key=lambda end: float(end[-1]), default=None)
    return first[:-1] if best is None or best[-1] >= 1.0 else best[:-1]


def _result(task: _Task, share: Floats, first: Floats) -> BestRod:
    judged = _judged(task, np.vstack((share, first)))
    peaks, forces = judged.torque_n_mm.max(axis=1), judged.force_n.max(axis=1)
    sx, sy, horn, shut, bx, by = (float(value) for value in _full(task, share[None])[0])
    bound = torque_bound(task.load, task.limits.sweep_deg)
    return BestRod(
        linkage=rod_linkage(
            servo_mm=(sx, sy),
            horn_mm=horn,
            horn_shut_deg=math.degrees(shut),
            lid_pin_mm=(bx, by),
        ),
        peak_n_mm=float(peaks[0]),
        least_peak_n_mm=float(peaks[1]),
        link_n=float(forces[0]),
        first_link_n=float(forces[1]),
        bound=bound,
        excess_frac=float(peaks[0]) / bound.least_n_mm - 1.0 if bound.least_n_mm else math.inf,
    )


def _why_not(task: _Task) -> str:
    """What every rod must keep, with the numbers: lever sin(angle) travel <= horn sweep."""
    limits = task.limits
    travel = math.degrees(float(task.angle_rad[-1] - task.angle_rad[0]))
    nearest = _nearest(limits.lid_forward_mm, limits.lid_up_mm)
    pull = nearest * math.sin(math.radians(limits.least_transmission_deg)) * travel
    need = (
        f"no push rod within the limits: the lid pin is {nearest:g} mm or more from the hinge, "
        f"and at {limits.least_transmission_deg:g} degrees over {travel:g} degrees of travel "
        f"it asks for a horn of {pull / limits.sweep_deg:.1f} mm or more with "
        f"{limits.sweep_deg:g} degrees of sweep; {limits.horn_mm[1]:g} mm is allowed"
    )
    if pull > limits.horn_mm[1] * limits.sweep_deg:
        return need + ". Allow a longer horn or a lid pin nearer to the hinge"
    return (
        need + ", so that the ranges of the pins are at fault. Widen servo_forward_mm, "
        "servo_up_mm, lid_forward_mm or lid_up_mm"
    )


def _nearest(first: Range, second: Range) -> float:
    """Least distance from the origin to a rectangle."""
    return math.hypot(*(max(low, -high, 0.0) for low, high in (first, second)))
