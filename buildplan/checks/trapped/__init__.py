"""Liquid that a vat print traps: closed cavities, suction cups, pools, and where to drain them."""

from buildplan.checks.trapped.check import check_trapped
from buildplan.checks.trapped.model import DrainHole, Island, Pocket, TrappedCheck

__all__ = ["DrainHole", "Island", "Pocket", "TrappedCheck", "check_trapped"]
