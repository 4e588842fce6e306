"""Several parts in one build cycle: places, hours, what is at stake, and the way to print a set."""

from buildplan.checks.packing.in_turn import Clash, find_clash
from buildplan.checks.packing.model import (
    AtStake,
    Cycle,
    CyclePlan,
    LeftOut,
    Loss,
    PackRequest,
    Placing,
)
from buildplan.checks.packing.outline import silhouette
from buildplan.checks.packing.run import Packing, choose_cycles, pack_cycles

__all__ = [
    "AtStake",
    "Clash",
    "Cycle",
    "CyclePlan",
    "LeftOut",
    "Loss",
    "PackRequest",
    "Packing",
    "Placing",
    "choose_cycles",
    "find_clash",
    "pack_cycles",
    "silhouette",
]
