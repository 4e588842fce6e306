"""Layers -> Supports: columns under what hangs free."""

from buildplan.process.supports.model import Supports
from buildplan.process.supports.plan import plan_supports

__all__ = ["Supports", "plan_supports"]
