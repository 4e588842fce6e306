"""What a service would ask for a part, from a few of its quotes for others.

cost = fixed + rate times volume, by least squares of the relative errors (weights 1 / cost
squared), neither below 0; the range by Student's t for a new quote. Source of the range: NIST/
SEMATECH e-Handbook 4.5.1.2, prediction interval of weighted least squares.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Spread

LEAST_QUOTES = 3
"""Two numbers are fitted: a third quote is needed to say anything of the error."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PriceModel:
    """Price of a part by its volume at one service.

    Attributes:
        fixed_cost: Of any part; rate_cost_cm3: more for each cubic centimetre of solid.
        error_frac: Standard error of one quote about the line, relative.
        quotes: How many it rests on; freedom: less the numbers that were fitted.
        covariance: (2, 2) of fixed and rate, in units of error_frac squared.
        least_cm3, most_cm3: Volumes that were quoted: beyond them it is a guess.
    """

    fixed_cost: float
    rate_cost_cm3: float
    error_frac: float
    quotes: int
    freedom: int
    covariance: NDArray[np.float64]
    least_cm3: float
    most_cm3: float


def fit_prices(volume_cm3: Sequence[float], cost: Sequence[float]) -> PriceModel:
    """Fit a service's prices.

    Args:
        volume_cm3: Of each quoted part, solid.
        cost: What was asked for one copy.

    Raises:
        InputError: Fewer than three quotes, not as many volumes, or a number not above 0.
    """
    if len(volume_cm3) != len(cost) or len(cost) < LEAST_QUOTES:
        raise InputError(
            f"prices: {len(cost)} quotes for {len(volume_cm3)} volumes found; {LEAST_QUOTES} "
            "quotes of different parts are the least that say something of the next"
        )
    volumes, costs = np.asarray(volume_cm3, float), np.asarray(cost, float)
    if not (np.isfinite(costs).all() and (costs > 0).all() and (volumes > 0).all()):
        raise InputError("prices: a quote or a volume is not above 0; correct it")
    scaled = np.stack([1.0 / costs, volumes / costs], axis=1)
    used = _signs(scaled)
    side = scaled[:, used]
    inverse = np.linalg.pinv(side.T @ side)
    found = np.zeros(2)
    found[used] = inverse @ side.sum(axis=0)
    covariance = np.zeros((2, 2))
    covariance[np.ix_(used, used)] = inverse
    freedom = len(costs) - len(used)
    error = float(np.sqrt(((1.0 - scaled @ found) ** 2).sum() / freedom))
    covariance.flags.writeable = False
    return PriceModel(
        fixed_cost=float(found[0]),
        rate_cost_cm3=float(found[1]),
        error_frac=error,
        quotes=len(costs),
        freedom=freedom,
        covariance=covariance,
        least_cm3=float(volumes.min()),
        most_cm3=float(volumes.max()),
    )


def predict_price(model: PriceModel, volume_cm3: float) -> Spread:
    """Price of a part of a volume: 8 quotes in 10 lie within.

    The error of a new quote counts as well as that of the line; it is relative to the price.

    Raises:
        InputError: The volume is not above 0.
    """
    from scipy.stats import t

    if not 0.0 < volume_cm3 < math.inf:
        raise InputError(f"prices: a volume of {volume_cm3} cm3 found; more than 0 needed")
    row = np.array([1.0, volume_cm3])
    likely = model.fixed_cost + model.rate_cost_cm3 * volume_cm3
    line = float(row @ model.covariance @ row)
    wide = float(t.ppf(0.9, model.freedom)) * model.error_frac * math.sqrt(likely**2 + line)
    return Spread(low=max(likely - wide, 0.0), likely=likely, high=likely + wide)


def _signs(scaled: NDArray[np.float64]) -> list[int]:
    """Which of fixed and rate are fitted, so that none comes out below 0."""
    both = np.linalg.pinv(scaled) @ np.ones(len(scaled))
    if both[0] < 0.0:
        return [1]
    if both[1] < 0.0:
        return [0]
    return [0, 1]
