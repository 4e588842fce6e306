"""Prints dealt to printers in many orders: each to the printer that is free first."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

SLACK_H = 1e-12
"""Rounding that does not count as a missed window."""

Floats = NDArray[np.float64]


@kernel
def deal_orders(
    orders: NDArray[np.int64],
    may: NDArray[np.bool_],
    hours: Floats,
    windows: Floats,
    same_need: bool,
    same_removal: bool,
) -> Floats:
    """When the print at each place of each order lies ready: (m, jobs).

    Args:
        orders: (m, jobs) places of prints.
        may: (jobs, printers) whether a print may run there.
        hours: (jobs, 6): earliest start, attended hours needed to start, set-up, print, removal,
            and what follows without a printer.
        windows: (w, 2) start and end of attended windows, sorted.
        same_need: Whether all prints need the same attended hours to start.
        same_removal: Whether all removals take the same.
    """
    count, length = orders.shape
    printers = may.shape[1]
    done = np.empty((count, length))
    free = np.empty(printers)
    longest = 0.0
    for k in range(len(windows)):
        longest = max(longest, windows[k, 1] - windows[k, 0])
    for row in range(count):
        free[:] = 0.0
        for place in range(length):
            job = orders[row, place]
            chosen, begin = 0, math.inf
            for k in range(printers):
                if may[job, k]:
                    open_h = max(free[k], hours[job, 0])
                    if open_h < begin:
                        chosen, begin = k, open_h
            go = _fit(windows, begin, hours[job, 1], same_need, longest)
            end = go + hours[job, 2] + hours[job, 3]
            off = _fit(windows, end, hours[job, 4], same_removal, longest) + hours[job, 4]
            free[chosen] = off
            done[row, place] = off + hours[job, 5]
    return done


@kernel_inline
def _fit(windows: Floats, time: float, need: float, by_last: bool, longest: float) -> float:
    """First moment at or after a time from which somebody is there for so long unbroken.

    ``by_last`` compares with the last moment at which a window still holds the need, as one search
    for a single length does; else the end of the stay is compared with the end of the window.
    """
    found = math.inf
    if time < math.inf and (by_last or need <= longest + SLACK_H):
        low, high = 0, len(windows)
        while low < high:  # windows that end well before the time are passed over
            middle = (low + high) // 2
            if windows[middle, 1] < time - 2.0 * SLACK_H:
                low = middle + 1
            else:
                high = middle
        for k in range(low, len(windows)):
            start, end = windows[k, 0], windows[k, 1]
            begin = max(time, start)
            if by_last:
                holds = end - start >= need - SLACK_H and (
                    end > time if need == 0.0 else end - need >= time - SLACK_H
                )
            else:
                holds = end > time and begin + need <= end + SLACK_H
            if holds:
                found = begin
                break
    return found
