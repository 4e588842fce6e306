"""Beads: what of every layer is narrower than one bead, gathered into places of the part.

The second check of walls. It looks at sections only, so it is blind to thin floors and roofs, but
it sees what a nozzle sees: where a bead of the recipe's width does not fit.
"""

from buildplan.checks.beads.check import check_beads
from buildplan.checks.beads.model import BeadCheck, BeadPlace

__all__ = ["BeadCheck", "BeadPlace", "check_beads"]
