"""Where words go on a drawing of a platform: on their part, or beside it where nothing is."""

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]

SIZES_PT = (9.0, 8.0, 7.0, 6.0)
"""Sizes of type tried for a name on its part, the largest first."""

LETTER_EM = 0.6
"""Mean width of a letter in sizes of type; LINE_EM is the height of a line."""
LINE_EM = 1.6

RINGS_PT = (6.0, 12.0, 20.0, 32.0, 50.0, 75.0)
"""Distances from a part that are tried for a word beside it."""


@dataclass(slots=True, eq=False)
class Spots:
    """What is taken on a drawing.

    Attributes:
        ground: The platform.
        shapes: Outlines of the parts.
        points: Points of type for a millimetre of platform.
        words: Boxes of the words that stand.
    """

    ground: "BaseGeometry"
    shapes: list["BaseGeometry"]
    points: float
    words: list["BaseGeometry"] = field(default_factory=list)

    def within(self, text: str, number: int) -> tuple[Point, float, float] | None:
        """Place, turn in degrees and size of a name on its own part, or None without room.

        It lies on the part or in an opening of it where nothing stands, across no edge.
        """
        import shapely

        shape = self.shapes[number]
        filled = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(shape)])
        others = [other for k, other in enumerate(self.shapes) if k != number]
        turns = dict.fromkeys((0.0, 90.0, _lean_deg(filled)))
        openings = shapely.get_parts(shapely.difference(filled, shape))
        empty = [o for o in openings if not any(shapely.intersects(o, other) for other in others)]
        for room in (shape, shapely.union_all(empty)):
            for at in _hearts(room):
                for size in SIZES_PT:
                    for turn in turns:
                        box = self._box(text, at, size, turn)
                        if shapely.contains(room, box) and self._is_free(box, others):
                            self.words.append(box)
                            return at, turn, size
        return None

    def beside(self, text: str, number: int, size: float) -> tuple[Point, Point]:
        """Place of a name beside its part, and the point of the part that it hangs on."""
        import shapely

        shape = self.shapes[number]
        at = self._around(text, shape, size)
        foot = shapely.get_coordinates(shapely.shortest_line(shape, shapely.Point(at)))[0]
        inside = shapely.get_coordinates(shape.representative_point())[0]
        foot = foot + 0.08 * (inside - foot)
        return at, (float(foot[0]), float(foot[1]))

    def near(self, text: str, line: "BaseGeometry", size: float) -> Point:
        """Place of a word near a line, on no edge of a part where that can be."""
        return self._around(text, line, size)

    def _around(self, text: str, shape: "BaseGeometry", size: float) -> Point:
        import shapely

        x0, y0, x1, y1 = shape.bounds
        middle = np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1)])
        wide = LETTER_EM * size * len(text) / self.points
        half = 0.5 * np.array([x1 - x0 + wide, y1 - y0 + LINE_EM * size / self.points])
        others = [other for other in self.shapes if other is not shape]
        for threaded in (True, False):
            for ring in RINGS_PT:
                reach = half + ring / self.points
                for angle in np.radians(np.arange(0.0, 360.0, 15.0)):
                    way = np.array([math.cos(angle), math.sin(angle)])
                    stretch = 1.0 / max(abs(way[0]) / reach[0], abs(way[1]) / reach[1])
                    x, y = middle + stretch * way
                    at = (float(x), float(y))
                    box = self._box(text, at, size, 0.0)
                    thread = shapely.shortest_line(shape, shapely.Point(at))
                    if threaded and not (shape in self.shapes and self._is_free(thread, others)):
                        continue
                    if shapely.contains(self.ground, box) and self._is_free(box, self.shapes):
                        self.words.append(box)
                        return at
        fallback: Point = (float(middle[0]), float(middle[1]))
        self.words.append(self._box(text, fallback, size, 0.0))
        return fallback

    def _box(self, text: str, at: Point, size: float, turn_deg: float) -> "BaseGeometry":
        """Room that a word takes."""
        import shapely
        from shapely import affinity

        half_x = 0.5 * (LETTER_EM * len(text) + 1.0) * size / self.points
        half_y = 0.5 * LINE_EM * size / self.points
        box = shapely.box(at[0] - half_x, at[1] - half_y, at[0] + half_x, at[1] + half_y)
        return affinity.rotate(box, turn_deg) if turn_deg else box

    def _is_free(self, box: "BaseGeometry", shapes: list["BaseGeometry"]) -> bool:
        import shapely

        return not any(shapely.intersects(box, other) for other in (*shapes, *self.words))


def _hearts(shape: "BaseGeometry") -> list[Point]:
    """Points of a shape with much of it around: centroid, middle of the largest circle in it."""
    import shapely

    if shapely.is_empty(shape):
        return []
    largest = max(shapely.get_parts(shape), key=lambda part: float(part.area))
    reach = math.sqrt(float(largest.area))
    circle = shapely.maximum_inscribed_circle(largest, tolerance=0.01 * reach)
    points = (shapely.get_coordinates(shapely.centroid(largest)), shapely.get_coordinates(circle))
    return [(float(xy[0, 0]), float(xy[0, 1])) for xy in points]


def _lean_deg(shape: "BaseGeometry") -> float:
    """Direction of the longer side of the least box about a shape, from -90 to 90 degrees."""
    import shapely

    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    if len(corners) < 4:
        return 0.0
    sides = np.diff(corners[:3], axis=0)
    longer = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    lean = math.degrees(math.atan2(float(longer[1]), float(longer[0])))
    return (lean + 90.0) % 180.0 - 90.0
