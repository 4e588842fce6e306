"""The planner of moves, against numpy's cumulative sums over the same arrays. One thread.

A cumulative sum reads and writes every number once; the planner turns the same numbers into
corners, look-ahead and times. At 27 ms for the sums of 1.68 million moves (measured on a quiet
core), 0.65 times their speed is 40 million moves a second.
"""

import numpy as np
import pytest
from benchmarks.ratio import record, seconds
from moves import paths_by_hand
from rows import printer, recipe

from buildplan.process.motion import estimate_time
from buildplan.process.roles import Role

LAYERS = 600
RING, ZIGZAG = 1400, 1400


def shell_like():
    """Moves like those of a large round shell: a fine ring and a zigzag a layer, some travel."""
    angle = np.linspace(0.0, 2.0 * np.pi, RING)
    ring = 140.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    step = np.arange(ZIGZAG)
    zigzag = np.column_stack([(step // 2) * 0.45, ((step + 1) // 2 % 2) * 3.0])
    role = np.repeat([Role.OUTLINE, Role.INFILL], [RING, ZIGZAG]).astype(np.uint8)
    retract = np.zeros(RING + ZIGZAG, np.uint8)
    role[100::300], retract[100::300] = Role.TRAVEL, 1
    return paths_by_hand(
        [np.concatenate([ring, zigzag])] * LAYERS,
        roles=[role] * LAYERS,
        retracts=[retract] * LAYERS,
        recipe=recipe(),
    )


@pytest.mark.slow
def test_planner_keeps_up_with_cumulative_sums():
    paths = shell_like()
    arrays = (paths.x_mm, paths.y_mm, paths.role, paths.retract, paths.bead_mm)

    def sums():
        for array in arrays:
            np.cumsum(array)

    estimate_time(paths, printer())
    own, other = [], []
    for _ in range(15):
        own.append(seconds(lambda: estimate_time(paths, printer())))
        other.append(seconds(sums))
    record(
        f"hours of {len(paths.x_mm) / 1e6:.1f} million moves",
        "numpy.cumsum over the same arrays",
        min(other) / min(own),
        0.65,
    )
