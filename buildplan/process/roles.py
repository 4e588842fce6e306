"""What a move lays: the roles of beads, in the order of their codes."""

from enum import IntEnum


class Role(IntEnum):
    """Role of the move that ends at a point; 0 extrudes nothing."""

    TRAVEL = 0
    OUTLINE = 1
    WALL = 2
    INFILL = 3
    FLOOR_ROOF = 4
    SUPPORT = 5
    SUPPORT_FACE = 6
    CENTRE = 7
    MARGIN = 8


ROLE_NAMES: tuple[str, ...] = tuple(role.name.lower() for role in Role)
ROLE_COUNT = len(Role)
