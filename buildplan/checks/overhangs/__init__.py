"""What hangs free: bridges, cantilevers, islands and faces that lean too far."""

from buildplan.checks.overhangs.check import check_overhangs
from buildplan.checks.overhangs.model import OverhangCheck, OverhangRegion

__all__ = ["OverhangCheck", "OverhangRegion", "check_overhangs"]
