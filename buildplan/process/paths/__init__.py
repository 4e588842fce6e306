"""Layers -> Paths: every move of a print, in order."""

from buildplan.process.paths.model import Paths
from buildplan.process.paths.plan import plan_paths

__all__ = ["Paths", "plan_paths"]
