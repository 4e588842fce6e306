"""Layers -> Walls: beads along every outline by local thickness."""

from buildplan.process.walls.advice import WallAdvice, wall_advice
from buildplan.process.walls.model import Walls
from buildplan.process.walls.plan import plan_walls

__all__ = ["WallAdvice", "Walls", "plan_walls", "wall_advice"]
