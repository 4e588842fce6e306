"""The budget with its spread: what the bill may come to, and which line decides it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from buildplan.bill.lines import BillLine, Wanted, packs_of
from buildplan.bill.shops import Shop, roll_up
from buildplan.errors import InputError

Floats = NDArray[np.float64]
Shape = Literal["pert", "triangular"]
What = Literal["need", "price"]

DRAWS = 20_000
PERT_WEIGHT = 4.0
"""How much the likely value counts: mean = (low + 4 likely + high) / 6 (Malcolm et al. 1959)."""

TENTH_FRAC = 0.1
"""Low and high are passed 1 time in 10 on either side; the drawn range reaches beyond them."""

ROUNDS = 200
"""Most turns in which the two ends of a range are settled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """What one uncertain number does to the total.

    Attributes:
        what: "need" or "price".
        low_cost, high_cost: Change of the total with this number at its low and its high value,
            all others likely.
        share_frac: Share of the total's variance that goes when this number is known.
    """

    item: str
    what: What
    low_cost: float
    high_cost: float
    share_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The total of a bill as a spread.

    Attributes:
        low_cost, median_cost, high_cost: Passed 9, 5 and 1 times in 10.
        plain_cost: The total with every number at its likely value.
        plain_frac: Share of draws that stay below it: what looks likely is often too little.
        swings: The numbers that move the total, the widest first.
    """

    low_cost: float
    median_cost: float
    high_cost: float
    plain_cost: float
    plain_frac: float
    shape: Shape
    draws: int
    swings: tuple[Swing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    """A bill as arrays: one row a line."""

    lines: tuple[BillLine, ...]
    rates: Floats
    suppliers: tuple[str, ...]
    shops: Mapping[str, Shop]


def budget(
    lines: Sequence[BillLine],
    *,
    shops: Mapping[str, Shop] | None = None,
    currency: str = "",
    rates: Mapping[str, Decimal] | None = None,
    shape: Shape = "pert",
    draws: int = DRAWS,
    seed: int = 0,
) -> Budget:
    """Percentiles of the total: every need and price drawn from its range, then bought by packs.

    Lines in the same foreign currency are not drawn together (their rate is taken as known).

    Args:
        lines: Of the bill.
        shops: Terms by supplier, as roll_up.
        currency: Of the build, as roll_up.
        rates: Of other currencies, as roll_up.
        shape: "pert" leans on the likely value; "triangular" is the careful one.
        draws: How many; 1000 or more.
        seed: Of the draws.

    Raises:
        InputError: As roll_up, too few draws or an unknown shape.

    Source: Malcolm et al. (1959) for the beta shape with weight 4 on the likely value.
    """
    if shape not in ("pert", "triangular") or draws < 1000:
        raise InputError(
            f"budget: shape {shape!r} with {draws} draws; pert or triangular with 1000 or more"
        )
    shops, rates = shops or {}, rates or {}
    rolled = roll_up(lines, shops=shops, currency=currency, rates=rates)
    model = _model(lines, shops, currency, rates)
    drawn = {key: _draw(key, values, shape, draws, seed) for key, values in _ranges(lines).items()}
    totals = _totals(model, drawn, draws)
    plain = float(rolled.total_cost)
    low, middle, high = np.percentile(totals, (10.0, 50.0, 90.0))
    below = float((totals < plain - 0.005).mean())
    return Budget(
        low_cost=float(low),
        median_cost=float(middle),
        high_cost=float(high),
        plain_cost=plain,
        plain_frac=below if drawn else 1.0,
        shape=shape,
        draws=draws,
        swings=_swings(model, lines, drawn, totals, plain, draws),
    )


Key = tuple[int, What]
Range3 = tuple[float, float, float]


def _ranges(lines: Sequence[BillLine]) -> dict[Key, Range3]:
    """Every need and price that is not known, by line: low, likely, high."""
    found: dict[Key, Range3] = {}
    for place, line in enumerate(lines):
        wanted = line.wanted
        rows: tuple[tuple[What, Decimal, Decimal, Decimal], ...] = (
            ("need", wanted.need_low, wanted.need, wanted.need_high),
            ("price", wanted.pack_low_cost, wanted.pack_cost, wanted.pack_high_cost),
        )
        for what, low, likely, high in rows:
            if (high or likely) > (low or likely) and line.wanted.state != "have":
                values = (float(low or likely), float(likely), float(high or likely))
                found[place, what] = values
    return found


def _draw(key: Key, values: Range3, shape: Shape, draws: int, seed: int) -> Floats:
    """Draws of one number, from a generator of its own: another line never changes them."""
    rng = np.random.default_rng([seed, key[0], int(key[1] == "price")])
    return draw_range(values, shape, draws, rng)


def draw_range(values: Range3, shape: Shape, draws: int, rng: np.random.Generator) -> Floats:
    """Draws of a number whose low and high are each passed 1 time in 10; none below 0.

    Args:
        values: Low, likely, high.
        shape: "pert": first + (last - first) beta(1 + 4 (m - first) / w, 1 + 4 (last - m) / w), of
            mean (first + 4 m + last) / 6; "triangular": straight sides up to the likely value.
        draws: How many.
        rng: Where they come from.
    """
    first, last = range_ends(values, shape)
    likely, width = values[1], last - first
    if not width > 0.0:
        return np.full(draws, likely)
    if shape == "triangular":
        found = rng.triangular(first, likely, last, draws)
    else:
        a, b = _beta_of(likely - first, last - likely)
        found = first + width * rng.beta(a, b, draws)
    return cast("Floats", np.maximum(found, 0.0))


def range_ends(values: Range3, shape: Shape) -> tuple[float, float]:
    """Where a range begins and ends so that 1 in 10 falls below its low and above its high value.

    Both tails are solved together, by turns: each end is moved until its tail holds a tenth.
    """
    low, likely, high = values
    arms = (likely - low, high - likely)
    if not high > low:
        return likely, likely
    ends = [arm * 2.0 + 0.2 * (high - low) for arm in arms]
    for _ in range(ROUNDS):
        before = tuple(ends)
        ends[0] = _reach(arms[0], ends[1], shape)
        ends[1] = _reach(arms[1], ends[0], shape)
        if max(abs(new - old) for new, old in zip(ends, before, strict=True)) < 1e-9 * sum(ends):
            break
    return likely - ends[0], likely + ends[1]


def _reach(arm: float, other: float, shape: Shape) -> float:
    """How far one side reaches, so that a tenth lies farther out than ``arm``."""
    from scipy.optimize import brentq

    def over(reach: float) -> float:
        return _tail_frac(arm, reach, other, shape) - TENTH_FRAC

    least = max(arm, 1e-9 * (arm + other))
    return float(brentq(over, least, 50.0 * (arm + other), xtol=1e-12, rtol=1e-12))


def _tail_frac(arm: float, reach: float, other: float, shape: Shape) -> float:
    """Share of draws beyond ``arm`` on a side that reaches ``reach``, the other ``other``."""
    width = reach + other
    if shape == "triangular":
        return (reach - arm) ** 2 / (width * reach)
    from scipy.special import betainc

    a, b = _beta_of(reach, other)
    return float(betainc(a, b, (reach - arm) / width))


def _beta_of(down: float, up: float) -> tuple[float, float]:
    """Both parameters of the beta whose likely value lies ``down`` above its start."""
    width = down + up
    return 1.0 + PERT_WEIGHT * down / width, 1.0 + PERT_WEIGHT * up / width


def _model(
    lines: Sequence[BillLine],
    shops: Mapping[str, Shop],
    currency: str,
    rates: Mapping[str, Decimal],
) -> _Model:
    found = []
    for line in lines:
        shop = shops.get(line.wanted.supplier)
        own = line.wanted.currency or (shop.currency if shop else "")
        found.append(float(rates[own]) if own and own != currency else 1.0)
    suppliers = tuple(line.wanted.supplier or line.wanted.item for line in lines)
    return _Model(lines=tuple(lines), rates=np.array(found), suppliers=suppliers, shops=shops)


def _totals(model: _Model, drawn: Mapping[Key, Floats], draws: int) -> Floats:
    """Total of every draw; (draws,)."""
    goods: dict[str, Floats] = {}
    for place, line in enumerate(model.lines):
        wanted = line.wanted
        need = drawn.get((place, "need"), np.full(1, float(wanted.need)))
        price = drawn.get((place, "price"))
        scale = price / float(wanted.pack_cost) if price is not None else np.ones(1)
        cost = _buy(wanted, need) * scale * model.rates[place]
        if not wanted.with_tax:
            cost = cost * (1.0 + float(wanted.tax_frac))
        order = model.suppliers[place]
        goods[order] = goods.get(order, np.zeros(draws)) + cost
    total = np.zeros(draws)
    for order, value in goods.items():
        total += value + _extras(model, order, value)
    return total


def _buy(wanted: Wanted, need: Floats) -> Floats:
    """Price of the cheapest packs for every need, in the line's currency and its likely prices."""
    if wanted.state == "have":
        return np.zeros_like(need)
    pack = float(wanted.pack)
    open_need = np.maximum(need * (1.0 + float(wanted.spare_frac)) - float(wanted.on_hand), 0.0)
    packs = np.maximum(np.ceil(open_need / pack - 1e-9), packs_of(wanted.least, wanted.pack))
    steps = [1, *(packs_of(one.from_quantity, wanted.pack) for one in wanted.breaks)]
    prices = np.array([float(wanted.pack_cost), *(float(one.pack_cost) for one in wanted.breaks)])
    costs = []
    for step in steps:
        count = np.maximum(packs, step)
        costs.append(count * prices[np.searchsorted(steps, count, side="right") - 1])
    return np.where(open_need > 1e-9, np.min(costs, axis=0), 0.0)


def _extras(model: _Model, order: str, goods: Floats) -> Floats:
    """Shipping, duty and handling of one order."""
    shop = model.shops.get(order)
    places = [i for i, name in enumerate(model.suppliers) if name == order]
    if shop is None:
        own = max(float(model.lines[i].wanted.shipping_cost) for i in places)
        return np.where(goods > 0.0, own, 0.0)
    rate = float(model.rates[places[0]])
    own = max(float(model.lines[i].wanted.shipping_cost) for i in places)
    shipping = np.full_like(goods, (float(shop.shipping_cost) or own) * rate)
    if shop.free_from_cost:
        shipping[goods >= float(shop.free_from_cost) * rate - 1e-9] = 0.0
    duty = goods * float(shop.import_frac) + float(shop.import_cost) * rate
    return np.where(goods > 0.0, shipping + duty, 0.0)


def _swings(
    model: _Model,
    lines: Sequence[BillLine],
    drawn: Mapping[Key, Floats],
    totals: Floats,
    plain: float,
    draws: int,
) -> tuple[Swing, ...]:
    """One number at its ends, and what is left of the variance when it is known."""
    variance = float(totals.var())
    found = []
    for key, values in _ranges(lines).items():
        place, what = key
        ends = []
        for value in (values[0], values[2]):
            fixed = {key: np.full(1, value)}
            ends.append(float(_totals(model, fixed, 1)[0]) - plain)
        known = {**drawn, key: np.full(1, float(drawn[key].mean()))}
        left = float(_totals(model, known, draws).var())
        found.append(
            Swing(
                item=lines[place].wanted.item,
                what=what,
                low_cost=ends[0],
                high_cost=ends[1],
                share_frac=max(0.0, 1.0 - left / variance) if variance > 0.0 else 0.0,
            )
        )
    return tuple(sorted(found, key=lambda one: -abs(one.high_cost - one.low_cost)))
