"""Springs that carry a lid's weight: the best ideal one, and real torsion springs of music wire."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.errors import InputError, NoPlanError

WIRE_SIZES_MM = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.4, 1.5, 1.6, 1.8, 2.0, 2.2, 2.5, 3.0)
"""Diameters of music wire that shops keep (common practice, no source)."""

SPRING_INDEXES = (6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)
"""Coil over wire diameter: 4 to 16 can be wound, 6 to 12 are easy (common practice)."""

FATIGUE_FRAC = 0.5
"""Bending stress over strength for more than 1e5 cycles: 0.45 to 0.55 (common practice)."""

PIN_CLEARANCE_FRAC = 1.1
"""Least inside of the wound coil over its pin (common practice: a tenth of clearance)."""

MOST_WOUND_DEG = 540.0
"""Most winding asked of a spring: one and a half turns (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpSpring:
    """A spring that opens: its torque falls with the angle and never pushes shut.

    Attributes:
        shut_n_mm: Torque with the lid shut.
        rate_n_mm_deg: How much it loses a degree.
    """

    shut_n_mm: float
    rate_n_mm_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceSpring:
    """The spring of least peak torque, and what it leaves to the drive.

    Attributes:
        peak_n_mm: Greatest |weight - spring|, times the weighting where one was given.
        without_n_mm: The same without a spring.
        kept_shut_n_mm: Weight less spring with the lid at the start of its travel.
        wound_deg: From slack to the start of the travel.
    """

    spring: HelpSpring
    peak_n_mm: float
    without_n_mm: float
    kept_shut_n_mm: float
    wound_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TorsionSpring:
    """A coil of music wire with two legs, wound up by the shut lid.

    Attributes:
        coil_mm: Mean diameter.
        turns: Active turns.
        stress_mpa: Bending stress at the inner fibre, wound up.
        strength_mpa: Tensile strength of the wire.
        stress_frac: The first over the second.
        wound_deg: From free to wound up.
        inside_mm: Inner diameter, wound up.
        body_mm: Length of the coil, wound up.
    """

    wire_mm: float
    coil_mm: float
    turns: float
    rate_n_mm_deg: float
    torque_n_mm: float
    stress_mpa: float
    strength_mpa: float
    stress_frac: float
    wound_deg: float
    inside_mm: float
    body_mm: float


def spring_n_mm(spring: HelpSpring | None, angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Torque of a spring at each angle: max(0, shut - rate angle); 0 without one."""
    angle = np.asarray(angle_deg, dtype=np.float64)
    if spring is None:
        return np.zeros_like(angle)
    return np.maximum(spring.shut_n_mm - spring.rate_n_mm_deg * angle, 0.0)


def music_wire_modulus_mpa(wire_mm: float) -> float:
    """Young's modulus of music wire by its diameter.

    Source: Shigley, Mechanical Engineering Design, 9th ed., Table 10-5.
    """
    for limit_mm, modulus in ((0.82, 203_400.0), (1.615, 200_000.0), (3.18, 196_500.0)):
        if wire_mm < limit_mm:
            return modulus
    return 193_000.0


def music_wire_strength_mpa(wire_mm: float) -> float:
    """Tensile strength of music wire: 2211 / wire^0.145, for 0.1 to 6.5 mm.

    Source: Shigley, Mechanical Engineering Design, 10th ed., Table 10-4 (A = 2211 MPa mm^m).

    Raises:
        InputError: The wire is outside the range of the formula.
    """
    if not 0.1 <= wire_mm <= 6.5:
        raise InputError(f"music wire of {wire_mm:g} mm; the strength formula holds for 0.1 to 6.5")
    return float(2211.0 / wire_mm**0.145)


def curvature_factor(index: float) -> float:
    """Stress at the inner fibre of a bent coil over that of a straight wire, in bending.

    K = (4 C^2 - C - 1) / (4 C (C - 1)), C = coil / wire.

    Source: Shigley, Mechanical Engineering Design, 10th ed., eq. 10-43 (Wahl).
    """
    return (4.0 * index * index - index - 1.0) / (4.0 * index * (index - 1.0))


def torsion_rate_n_mm_turn(
    *, wire_mm: float, coil_mm: float, turns: float, modulus_mpa: float = 0.0
) -> float:
    """Rate of a torsion spring a whole turn: E wire^4 / (10.8 coil turns).

    The 10.8 stands for 64/(2 pi) = 10.2 with the friction of coils on their pin.

    Args:
        wire_mm: Diameter of the wire.
        coil_mm: Mean diameter of the coil.
        turns: Active turns, legs included.
        modulus_mpa: Of the wire; music wire where left at 0.

    Source: Shigley, Mechanical Engineering Design, 10th ed., eq. 10-51.
    """
    modulus = modulus_mpa or music_wire_modulus_mpa(wire_mm)
    return modulus * wire_mm**4 / (10.8 * coil_mm * turns)


def torsion_stress_mpa(*, wire_mm: float, coil_mm: float, torque_n_mm: float) -> float:
    """Bending stress at the inner fibre: K 32 M / (pi wire^3).

    Source: Shigley, Mechanical Engineering Design, 10th ed., eq. 10-44.
    """
    bending = 32.0 * torque_n_mm / (math.pi * wire_mm**3)
    return curvature_factor(coil_mm / wire_mm) * bending


def balance_spring(
    angle_deg: ArrayLike,
    weight_n_mm: ArrayLike,
    *,
    keep_shut_n_mm: float = 0.0,
    weighting: ArrayLike | None = None,
    most_wound_deg: float = MOST_WOUND_DEG,
) -> BalanceSpring:
    """The spring that leaves the least peak |weight - spring|, as a linear programme.

    The spring still pushes at the end of the travel, leaves keep_shut_n_mm of the weight at its
    start, and is wound by most_wound_deg at the most: without that limit the best spring has no
    rate, which no coil has.

    Args:
        angle_deg: (n,) angles of the lid, rising, at least 2.
        weight_n_mm: (n,) torque of the weight.
        keep_shut_n_mm: So much of the weight keeps the lid shut.
        weighting: (n,) drive torque over lid torque, as 1 / |ratio|; 1 where left out.
        most_wound_deg: From slack to shut.

    Raises:
        InputError: The arrays do not match.
        NoPlanError: The limits leave no spring (said with the numbers).
    """
    from scipy.optimize import linprog

    angle = np.asarray(angle_deg, dtype=np.float64)
    weight = np.asarray(weight_n_mm, dtype=np.float64)
    if angle.ndim != 1 or angle.shape != weight.shape or len(angle) < 2:
        raise InputError(
            f"balance spring: angles have the shape {angle.shape} and weights {weight.shape}; two "
            "rows of the same length, at least 2, are needed"
        )
    share = np.ones_like(angle) if weighting is None else np.abs(np.asarray(weighting, float))
    without = float(np.max(share * np.abs(weight)))
    room = float(weight[0]) - keep_shut_n_mm
    if room <= 0.0:
        raise NoPlanError(
            f"balance spring: the shut lid pulls {weight[0]:.1f} N mm and {keep_shut_n_mm:g} are "
            "to keep it shut; ask for less to keep it shut, or fit a latch and no spring"
        )
    one = np.ones_like(angle)
    start, end = float(angle[0]), float(angle[-1])
    above = np.column_stack((-share, share * angle, -one))
    below = np.column_stack((share, -share * angle, -one))
    limits = np.array([[1.0, -start, 0.0], [-1.0, end, 0.0], [1.0, -(start + most_wound_deg), 0.0]])
    found = linprog(
        [0.0, 0.0, 1.0],
        A_ub=np.vstack((above, below, limits)),
        b_ub=np.concatenate((-share * weight, share * weight, [room, 0.0, 0.0])),
        bounds=[(0.0, None)] * 3,
    )
    if not found.success:
        raise NoPlanError(
            f"balance spring: none is wound by {most_wound_deg:g} degrees or less and still pushes "
            f"at {end:g} degrees; allow more winding than the travel of {end - start:g} degrees"
        )
    shut, rate = float(found.x[0]), float(found.x[1])
    return BalanceSpring(
        spring=HelpSpring(shut_n_mm=shut, rate_n_mm_deg=rate),
        peak_n_mm=float(found.x[2]),
        without_n_mm=without,
        kept_shut_n_mm=float(weight[0]) - (shut - rate * start),
        wound_deg=shut / rate - start if rate > 0.0 else 0.0,
    )


def torsion_springs(
    spring: HelpSpring,
    *,
    pin_mm: float,
    longest_mm: float = 60.0,
    stress_frac: float = FATIGUE_FRAC,
    springs: int = 1,
) -> tuple[TorsionSpring, ...]:
    """Real springs of music wire that give the torque and rate asked for, smallest first.

    turns = E wire^4 / (10.8 coil rate 360); wound up the coil has turns + wound/360 turns, so its
    mean diameter shrinks by turns / (turns + wound/360).

    Args:
        spring: Torque at shut and rate, of all springs together.
        pin_mm: Diameter of the pin inside the coil.
        longest_mm: Room for one coil along the pin.
        stress_frac: Most stress over strength.
        springs: How many share the load (a pair loads the lid evenly).

    Raises:
        InputError: The spring has no torque or no rate, or there is none of them.
        NoPlanError: No wire of WIRE_SIZES_MM does it (the nearest is said with its numbers).

    Source: Shigley, Mechanical Engineering Design, 10th ed., sec. 10-12.
    """
    if not (spring.shut_n_mm > 0.0 and spring.rate_n_mm_deg > 0.0 and springs >= 1):
        raise InputError(
            f"torsion springs: {springs} springs of {spring.shut_n_mm:g} N mm and "
            f"{spring.rate_n_mm_deg:g} N mm a degree; all three must be more than 0"
        )
    made = [
        _coil(wire, index, spring.shut_n_mm / springs, spring.rate_n_mm_deg / springs)
        for wire in WIRE_SIZES_MM
        for index in SPRING_INDEXES
    ]

    def lacks(coil: TorsionSpring) -> float:
        return max(
            0.0,
            2.0 / coil.turns - 1.0,
            PIN_CLEARANCE_FRAC * pin_mm / max(coil.inside_mm, 1e-3) - 1.0,
            coil.body_mm / longest_mm - 1.0,
            coil.stress_frac / stress_frac - 1.0,
        )

    fit = [coil for coil in made if lacks(coil) == 0.0]
    if not fit:
        near = min(made, key=lacks)
        raise NoPlanError(
            f"no torsion spring: the nearest, {near.wire_mm:g} mm wire on a coil of "
            f"{near.coil_mm:g} mm with {near.turns:.1f} turns, is stressed to "
            f"{near.stress_frac:.2f} of its strength (allowed {stress_frac:g}), {near.body_mm:.0f} "
            f"mm long (allowed {longest_mm:g}) and {near.inside_mm:.1f} mm inside (needed "
            f"{PIN_CLEARANCE_FRAC * pin_mm:.1f}); share the load among more than {springs} springs"
        )
    return tuple(sorted(fit, key=lambda coil: coil.body_mm * coil.coil_mm**2))


def _coil(wire_mm: float, index: float, torque_n_mm: float, rate_n_mm_deg: float) -> TorsionSpring:
    """The coil of a wire and index that has a rate, wound up to a torque."""
    coil_mm = index * wire_mm
    turns = torsion_rate_n_mm_turn(wire_mm=wire_mm, coil_mm=coil_mm, turns=1.0)
    turns /= rate_n_mm_deg * 360.0
    wound_deg = torque_n_mm / rate_n_mm_deg
    wound_turns = turns + wound_deg / 360.0
    stress = torsion_stress_mpa(wire_mm=wire_mm, coil_mm=coil_mm, torque_n_mm=torque_n_mm)
    strength = music_wire_strength_mpa(wire_mm)
    return TorsionSpring(
        wire_mm=wire_mm,
        coil_mm=coil_mm,
        turns=turns,
        rate_n_mm_deg=rate_n_mm_deg,
        torque_n_mm=torque_n_mm,
        stress_mpa=stress,
        strength_mpa=strength,
        stress_frac=stress / strength,
        wound_deg=wound_deg,
        inside_mm=coil_mm * turns / wound_turns - wire_mm,
        body_mm=wire_mm * (wound_turns + 1.0),
    )
