"""The call of the solver: quiet, one thread, and never trusted about limits."""

import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from time import monotonic

import numpy as np

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import Case
from buildplan.decide.choice.program import Program
from buildplan.errors import NoPlanError

NO_PICKS: tuple[int, ...] = ()
OUT_OF_TIME = 1
"""Status of scipy.optimize.milp where a limit was reached."""


def solved(
    program: Program,
    case: Case,
    gap_frac: float,
    limit_s: float,
    *,
    in_hand: Sequence[int] = NO_PICKS,
) -> tuple[int, ...] | None:
    """Picks that the program proposes and that keep every limit exactly; None where none do.

    The solver keeps its rows to a millionth only. A proposal that breaks a limit by less than that
    is taken out of the program, and the solver is asked again.

    Args:
        program: As program_of makes it.
        case: The case it was made of.
        gap_frac: How far from the least it may stay.
        limit_s: Longest for all asking together.
        in_hand: Picks that will do if time runs out.

    Raises:
        NoPlanError: Time ran out with nothing in hand.
    """
    end = monotonic() + limit_s
    while True:
        left_s = max(end - monotonic(), 1e-3)
        picks, late = _ask(program, case, gap_frac, left_s)
        if picks is None:
            if late and not in_hand:
                raise NoPlanError(
                    f"choice: nothing found in {limit_s:g} s for {len(case.parts)} parts; this "
                    "does not say that there is none; allow more time or give fewer options"
                )
            return None
        if not evaluate(case, picks).broken:
            return picks
        same = [(("pick", i, k), 1.0) for i, k in enumerate(picks)]
        program.row(same, -np.inf, len(picks) - 1.0)


def _ask(
    program: Program, case: Case, gap_frac: float, limit_s: float
) -> tuple[tuple[int, ...] | None, bool]:
    """Picks or None, and whether the time ran out."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    rows, columns, factors = (np.array(side) for side in zip(*program.entries, strict=True))
    shape = (len(program.least), len(program.cost))
    matrix = coo_array((factors.astype(float), (rows, columns)), shape=shape).tocsr()
    options: Mapping[str, float] = {"mip_rel_gap": gap_frac, "time_limit": limit_s}
    with _quiet_solver():
        answer = milp(
            np.array(program.cost, dtype=float),
            constraints=LinearConstraint(matrix, program.least, program.most),
            bounds=Bounds(program.low, program.high),
            integrality=np.array(program.whole),
            options=options,
        )
    if answer.x is None:
        return None, answer.status == OUT_OF_TIME
    picks = tuple(
        int(np.argmax([answer.x[program.at["pick", i, k]] for k in range(len(part.options))]))
        for i, part in enumerate(case.parts)
    )
    return picks, False


@contextmanager
def _quiet_solver() -> Iterator[None]:
    """Keep stray lines of the solver's C++ off the screen and out of JSON on standard output."""
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
