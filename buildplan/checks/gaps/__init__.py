"""Gaps that close up, round holes with the diameter to expect, pins that are too thin."""

from buildplan.checks.gaps.check import check_gaps
from buildplan.checks.gaps.model import Gap, GapCheck, PrintedHole, ThinPin

__all__ = ["Gap", "GapCheck", "PrintedHole", "ThinPin", "check_gaps"]
