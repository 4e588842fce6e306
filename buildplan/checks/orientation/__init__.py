"""Which way up to print a part: every direction weighed, the best few with the reason in words."""

from buildplan.checks.orientation.model import (
    DEFAULT_WEIGHTS,
    WEIGHT_SOURCES,
    Orientation,
    OrientationCheck,
    OrientationWeights,
)
from buildplan.checks.orientation.rank import rank_orientations

__all__ = [
    "DEFAULT_WEIGHTS",
    "WEIGHT_SOURCES",
    "Orientation",
    "OrientationCheck",
    "OrientationWeights",
    "rank_orientations",
]
