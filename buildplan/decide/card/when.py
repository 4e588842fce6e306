"""When a look at a print is worth the walk, from what each layer takes."""

from collections.abc import Iterable

import numpy as np

from buildplan.decide.card.model import Look
from buildplan.process.estimate import PrintEstimate

FIRST_LAYERS = 3
"""A first layer that lets go shows within these (common practice, no source)."""

SPARE_G = 20.0
"""Left on a reel when it is changed: its end is glued or kinked (common practice, no source)."""


def looks_of(
    estimate: PrintEstimate,
    *,
    pack_g: float,
    have_g: float | None = None,
    overhang_z_mm: Iterable[float] = (),
) -> tuple[Look, ...]:
    """First layers, first overhang, changes of reel and the end, in the order they come.

    Args:
        estimate: With its arrays of layers; what no layer holds (warm-up) comes before the first.
        pack_g: Net mass of a full reel.
        have_g: On the reel at the start; left out, a full one.
        overhang_z_mm: Height of each place that leans out or bridges.
    """
    top = estimate.layer_z_mm
    if not len(top):
        return ()
    done_s = np.cumsum(estimate.layer_time_s)
    ahead_h = max(estimate.time_h - float(done_s[-1]) / 3600.0, 0.0)

    def look(layer: int, why: str) -> Look:
        after_h = ahead_h + float(done_s[layer]) / 3600.0
        return Look(after_h=after_h, layer=layer + 1, z_mm=float(top[layer]), why=why)

    first = min(FIRST_LAYERS, len(top)) - 1
    found = [look(first, "first layers: flat, no corner lifted, nothing dragged along")]
    heights = [z for z in overhang_z_mm if z > top[first]]
    if heights:
        layer = min(int(np.searchsorted(top, min(heights))) + 1, len(top) - 1)
        found.append(look(layer, "first overhang: it holds, and its edge does not curl up"))
    found += [
        look(layer, f"change of reel {number}: less than {SPARE_G:.0f} g are left on it")
        for number, layer in enumerate(_changes(estimate, pack_g, have_g), start=1)
    ]
    found.append(look(len(top) - 1, "the end: let it cool before it is taken off"))
    return tuple(sorted(found, key=lambda one: one.layer))


def _changes(estimate: PrintEstimate, pack_g: float, have_g: float | None) -> list[int]:
    """Layers before whose end a reel runs down to what is spared."""
    used = np.cumsum(estimate.layer_mass_g)
    limit = (pack_g if have_g is None else have_g) - SPARE_G
    found: list[int] = []
    while pack_g > SPARE_G and used[-1] > limit:
        found.append(int(np.searchsorted(used, max(limit, 0.0))))
        limit = max(limit, 0.0) + pack_g - SPARE_G
    return found
