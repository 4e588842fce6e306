"""Colours of values: one even, colour-blind safe scale for the view, its bar and its picture.

Source: Nunez, Anderton and Renslow, "Optimizing colormaps with consideration for color vision
deficiency" (2018): cividis, as matplotlib has it.
"""

import numpy as np
from numpy.typing import NDArray

STEPS = 64
NO_VALUE = "#b9b4ac"


def _scale() -> tuple[str, ...]:
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    # the darkest end hides the form of what it is painted on
    return tuple(to_hex(colormaps["cividis"](x)) for x in np.linspace(0.06, 1.0, STEPS))


COLOURS = _scale()
"""From the low to the high end of a bar, "#rrggbb" in sRGB."""


def colour_steps(data: NDArray[np.float64], low: float, high: float) -> NDArray[np.int64]:
    """Which of COLOURS each number gets, the end's beyond an end; -1 where it is nan."""
    share = np.clip((np.nan_to_num(data, nan=low) - low) / (high - low), 0.0, 1.0)
    steps = np.rint(share * (STEPS - 1)).astype(np.int64)
    return np.where(np.isnan(data), -1, steps)
