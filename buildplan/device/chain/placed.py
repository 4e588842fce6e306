"""The printed parts where they stand in the device, every copy by a name of its own."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from buildplan.device.mechanism.inputs import Mesh
from buildplan.device.view.scene import Body
from buildplan.part.model import Part
from buildplan.part.turn import turn_part


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One copy of a part where it stands with every moving part at rest.

    Attributes:
        name: Of this copy: the part's, with a number where there are several.
        part_name: As in the build file.
        group: Moving group, or an empty text.
        clear: Whether light passes it.
    """

    name: str
    part_name: str
    part: Part
    group: str
    clear: bool = False


def place_parts(
    parts: Iterable[tuple[Part, Sequence[Sequence[float]], str]], *, clear: Sequence[str] = ()
) -> tuple[Placed, ...]:
    """Every copy of every part that has a pose.

    Args:
        parts: A part as printed, its poses (16 numbers each, row by row) and its moving group.
        clear: Names of parts that light passes.

    Raises:
        InputError: A pose is no rotation with a translation.
    """
    placed = []
    for part, poses, group in parts:
        for number, pose in enumerate(poses, start=1):
            name = f"{part.name} {number}" if len(poses) > 1 else part.name
            turned = replace(turn_part(part, pose), name=name)
            one = Placed(
                name=name,
                part_name=part.name,
                part=turned,
                group=group,
                clear=part.name in clear,
            )
            placed.append(one)
    return tuple(placed)


def in_group(placed: Iterable[Placed], group: str) -> tuple[Placed, ...]:
    """The copies that move with a group; an empty text gives what stands still."""
    return tuple(one for one in placed if one.group == group)


def copies(placed: Iterable[Placed], part_names: Sequence[str]) -> tuple[str, ...]:
    """Names of every copy of some parts."""
    return tuple(one.name for one in placed if one.part_name in part_names)


def meshes_of(placed: Iterable[Placed]) -> Mapping[str, Mesh]:
    """Vertices and facets by part name; of several copies the first."""
    found: dict[str, Mesh] = {}
    for one in placed:
        found.setdefault(one.part_name, (one.part.vertices_mm, one.part.facets))
    return found


def bodies_of(placed: Iterable[Placed]) -> tuple[Body, ...]:
    """The copies as bodies that may stand in a line of sight."""
    return tuple(
        Body(name=one.name, part=one.part, moves_with=one.group, clear=one.clear) for one in placed
    )


def pairs_of(
    placed: Sequence[Placed], slides: Iterable[tuple[str, str]], moving: str
) -> tuple[tuple[str, str], ...]:
    """Pairs that slide, as (moving, fixed) names of copies, for one moving group."""
    movers = {one.part_name: one.name for one in in_group(placed, moving)}
    still = [one for one in placed if one.group == ""]
    found = []
    for first, second in slides:
        for mover, other in ((first, second), (second, first)):
            if mover in movers:
                found += [(movers[mover], one.name) for one in still if one.part_name == other]
    return tuple(found)
