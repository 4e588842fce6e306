"""Plan the build of a one-off electromechanical device before committing hours and money.

A part file goes in, hours, grams, money and findings come out::

    import buildplan as bp

    part = bp.read_part("shell.stl")
    estimate = bp.estimate_print(
        part, bp.printer("large_moving_bed"), bp.feedstock("petg"), bp.recipe("everyday")
    )

Names are loaded when first used, so that importing the package costs next to nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buildplan.build import Build, load_build
    from buildplan.checks.fit import Fit, check_fit
    from buildplan.checks.orientation import OrientationCheck, rank_orientations
    from buildplan.checks.packing import CyclePlan, PackRequest, choose_cycles, pack_cycles
    from buildplan.checks.run import PartChecks, check_part, inspect_part
    from buildplan.errors import (
        BuildFileError,
        BuildplanError,
        InputError,
        MeshError,
        NoPlanError,
        TableError,
    )
    from buildplan.findings import Finding, Place, Spread
    from buildplan.part import Part, read_part
    from buildplan.plan import PartPlan, Plan, make_plan, plan_part
    from buildplan.plan import study_build_device as study_device
    from buildplan.process.compare import compare_feedstocks
    from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
    from buildplan.process.layers import Layers, cut_layers
    from buildplan.process.motion import TimeEstimate, estimate_time
    from buildplan.process.paths import Paths, plan_paths
    from buildplan.tables import (
        feedstock,
        feedstocks,
        printer,
        printers,
        recipe,
        recipes,
        rules,
        rules_for,
    )

__all__ = [
    "Build",
    "BuildFileError",
    "BuildplanError",
    "CyclePlan",
    "Finding",
    "Fit",
    "InputError",
    "Layers",
    "MeshError",
    "NoPlanError",
    "OrientationCheck",
    "PackRequest",
    "Part",
    "PartChecks",
    "PartPlan",
    "Paths",
    "Place",
    "Plan",
    "Prices",
    "PrintEstimate",
    "Spread",
    "TableError",
    "TimeEstimate",
    "check_fit",
    "check_part",
    "choose_cycles",
    "compare_feedstocks",
    "cut_layers",
    "estimate_print",
    "estimate_time",
    "feedstock",
    "feedstocks",
    "inspect_part",
    "load_build",
    "make_plan",
    "pack_cycles",
    "plan_part",
    "plan_paths",
    "printer",
    "printers",
    "rank_orientations",
    "read_part",
    "recipe",
    "recipes",
    "rules",
    "rules_for",
    "study_device",
]

_HOMES = {
    "buildplan.build": ("Build", "load_build"),
    "buildplan.checks.fit": ("Fit", "check_fit"),
    "buildplan.checks.orientation": ("OrientationCheck", "rank_orientations"),
    "buildplan.checks.packing": ("CyclePlan", "PackRequest", "choose_cycles", "pack_cycles"),
    "buildplan.checks.run": ("PartChecks", "check_part", "inspect_part"),
    "buildplan.errors": (
        "BuildFileError",
        "BuildplanError",
        "InputError",
        "MeshError",
        "NoPlanError",
        "TableError",
    ),
    "buildplan.findings": ("Finding", "Place", "Spread"),
    "buildplan.part": ("Part", "read_part"),
    "buildplan.plan": ("PartPlan", "Plan", "make_plan", "plan_part", "study_device"),
    "buildplan.process.compare": ("compare_feedstocks",),
    "buildplan.process.estimate": ("Prices", "PrintEstimate", "estimate_print"),
    "buildplan.process.layers": ("Layers", "cut_layers"),
    "buildplan.process.motion": ("TimeEstimate", "estimate_time"),
    "buildplan.process.paths": ("Paths", "plan_paths"),
    "buildplan.tables": (
        "feedstock",
        "feedstocks",
        "printer",
        "printers",
        "recipe",
        "recipes",
        "rules",
        "rules_for",
    ),
}
_OTHER_NAMES = {"study_device": "study_build_device"}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    """Load a public name from its home on first use."""
    if name not in _HOME_OF:
        raise AttributeError(f"module 'buildplan' has no attribute {name!r}")
    value = getattr(import_module(_HOME_OF[name]), _OTHER_NAMES.get(name, name))
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Public names, for completion."""
    return list(__all__)
