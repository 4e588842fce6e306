"""Keeping a choice in the build file, so that plan, bill and calendar count it."""

from collections.abc import Sequence

from buildplan.build import Build
from buildplan.build.keep import Change
from buildplan.build.keep_many import keep_values
from buildplan.build.ways import Way, way_text
from buildplan.decide.choice import AtHome
from buildplan.errors import InputError
from buildplan.plan.model import PartPlan, Plan, chosen_option


def take_choice(build: Build, plan: Plan, picks: Sequence[int]) -> tuple[str, ...]:
    """Write the way of every part into the build file; what was written, in words.

    A part that the choice prints on another printer than the plan gets that one as its only wish.
    A part whose way is as the plan counts it already is left as it stands.

    Args:
        build: The build that was planned.
        plan: Its plan, with a choice.
        picks: Option of each part of the choice.

    Raises:
        InputError: The plan has no choice.
        BuildFileError: The file cannot be written, or changed safely; nothing is written then.
    """
    if plan.choice is None:
        raise InputError(f"{build.path.name}: every part has one way only; nothing can be taken")
    items = {item.name: item for item in plan.parts}
    ways = {request.name: request.way for request in build.parts}
    keys = {printer.name: printer.key for printer in build.printers}
    changes: list[Change] = []
    said = []
    for part, pick in zip(plan.choice.case.parts, picks, strict=True):
        option, item = part.options[pick], items[part.name]
        table = ("part", part.name)
        if not isinstance(option, AtHome):
            if ways[part.name].service != option.service:
                changes.append((table, "way", option.service))
                said.append(f"{part.name} from {option.service}")
            continue
        printer = keys[option.printer]
        moves = chosen_option(item).printer != printer
        if moves:
            changes.append((table, "printers", [printer]))
        if not _is_so(item, plan, ways[part.name], option.pieces):
            changes.append((table, "way", way_text(option.pieces)))
        if moves or (changes and changes[-1][0] == table):
            said.append(f"{part.name} {way_text(option.pieces)} on {option.printer}")
    if changes:
        keep_values(build.path, changes)
    return tuple(said)


def _is_so(item: PartPlan, plan: Plan, way: Way, pieces: int) -> bool:
    """Whether the plan counts a part in so many pieces at home already."""
    if item.sent is not None:
        return False
    if way.pieces:
        return way.pieces == pieces
    cut = next((answer.plan for answer in plan.splits if answer.part == item.name), None)
    return pieces == (1 if cut is None else cut.table[cut.chosen].pieces)
