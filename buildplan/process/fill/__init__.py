"""Fill between the walls: floors, roofs and infill."""

from buildplan.process.fill.infill import plan_infill
from buildplan.process.fill.solid import plan_floor_roof, scan_outlines

__all__ = ["plan_floor_roof", "plan_infill", "scan_outlines"]
