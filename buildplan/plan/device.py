"""The device of a build: its parts put in place, then the whole chain of questions."""

from collections.abc import Mapping, Sequence

from buildplan.build import Build
from buildplan.device.chain.model import DeviceStudy
from buildplan.device.chain.placed import place_parts
from buildplan.device.chain.run import study_device
from buildplan.device.power import Shelf
from buildplan.errors import InputError
from buildplan.part import Part, read_part
from buildplan.part.turn import turn_part
from buildplan.plan.model import PartPlan
from buildplan.tables.feedstock import Feedstock


def plan_device(build: Build, planned: Sequence[PartPlan]) -> DeviceStudy | None:
    """What the device needs; None where the build file says nothing about it.

    Args:
        build: With its tables of mechanism, supply, heat and views.
        planned: Its parts as printed; those with poses are put where they stand.

    Raises:
        InputError: As study_device.
    """
    if build.device.empty:
        return None
    return _study(build, {item.name: item.part for item in planned})


def study_build_device(build: Build) -> DeviceStudy:
    """What the device of a build needs, without a print estimate of its parts.

    Raises:
        InputError: The build file says nothing about a device, a part cannot be read, or as
            study_device.
    """
    if build.device.empty:
        raise InputError(
            f"{build.path.name} says nothing about a device; write at least one of [mechanism], "
            "[power], [heat] and [view]"
        )
    parts = {}
    for request in build.parts:
        read = read_part(request.path, unit=request.unit, name=request.name, health="quick")
        parts[request.name] = turn_part(read, request.orientation)
    return _study(build, parts)


def _study(build: Build, parts: Mapping[str, Part]) -> DeviceStudy:
    rows = [
        (parts[request.name], request.poses, request.moves_with)
        for request in build.parts
        if request.name in parts
    ]
    return study_device(
        build.device,
        place_parts(rows, clear=build.device.device.clear_parts),
        feedstocks={request.name: request.feedstock for request in build.parts},
        materials=[row for row in _feedstocks(build) if row.process == "extrusion"],
        energy_cost_kwh=build.prices.energy_cost_kwh,
        shelf=shelf_of(build),
        screws=build.tables["screw"].rows,
    )


def _feedstocks(build: Build) -> list[Feedstock]:
    return list(dict.fromkeys(build.tables["feedstock"].rows.values()))


def shelf_of(build: Build) -> Shelf:
    """The wires, fuses, capacitors and cells that a build may choose from."""
    return Shelf(
        wires=build.tables["wire"].rows,
        fuses=build.tables["fuse"].rows,
        capacitors=build.tables["capacitor"].rows,
        cells=build.tables["cell"].rows,
    )
