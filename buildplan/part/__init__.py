"""Reading part files into solid bodies: the front door, health, repair."""

from buildplan.part.make import part_from_mesh
from buildplan.part.model import Health, Hole, Part

__all__ = ["Health", "Hole", "Part", "part_from_mesh"]
