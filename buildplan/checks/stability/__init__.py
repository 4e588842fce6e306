"""Stability: does the part stand on what touches the platform, when done and while it grows."""

from buildplan.checks.stability.check import check_stability
from buildplan.checks.stability.model import StabilityCheck

__all__ = ["StabilityCheck", "check_stability"]
