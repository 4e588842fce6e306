"""Wall shapes, a recipe and independent measures for the tests of wall beads."""

import numpy as np
import shapely
from shapely import Polygon, box

from buildplan.tables.recipe import ExtrusionRecipe

BEAD_MM = 0.45


def wall_recipe(**changes):
    """A complete recipe; the walls read bead_mm, wall_beads and slit_fill only."""
    values = {
        "key": "drawn",
        "name": "drawn",
        "about": "for tests of walls",
        "layer_mm": 0.2,
        "bead_mm": BEAD_MM,
        "wall_beads": 2,
        "floor_layers": 4,
        "roof_layers": 4,
        "infill_frac": 0.15,
        "infill_style": "parallel",
        "slit_fill": "sparse",
        "margin_beads": 0,
        "supports": False,
        "overhang_limit_deg": 45.0,
        "bridge_limit_mm": 10.0,
        "support_frac": 0.15,
        "support_gap_layers": 1,
        "support_clearance_mm": 0.6,
        "support_face_layers": 2,
        "support_least_mm2": 2.0,
        "outline_mm_s": 40.0,
        "wall_mm_s": 60.0,
        "centre_mm_s": 40.0,
        "infill_mm_s": 80.0,
        "floor_roof_mm_s": 60.0,
        "support_mm_s": 80.0,
        "support_face_mm_s": 40.0,
        "margin_mm_s": 40.0,
        "first_layer_frac": 0.5,
        "retract_over_mm": 1.5,
        "retract_always_over_mm": 60.0,
        "layer_time_least_s": 8.0,
        "speed_least_mm_s": 10.0,
    }
    return ExtrusionRecipe(**(values | changes))


def circle(radius, corners, x=0.0):
    turn = np.arange(corners) / corners * 2.0 * np.pi
    return np.column_stack([x + radius * np.cos(turn), radius * np.sin(turn)])


def annulus(wall, shift=0.0):
    return Polygon(circle(20.0 + wall / 2, 200), [circle(20.0 - wall / 2, 180, shift)])


WALL_SHAPES = {
    "annulus": annulus,
    "bar": lambda wall: box(-20, -20, 20, -20 + wall),
    "square tube": lambda wall: (
        box(-20, -20, 20, 20) - box(-20 + wall, -20 + wall, 20 - wall, 20 - wall)
    ),
    "wedge": lambda wall: Polygon([(-20, 0), (20, 0), (20, wall), (-20, wall / 2)]),
    "off-centre annulus": lambda wall: annulus(wall, 0.3 * wall),
    "C ring": lambda wall: annulus(wall) - box(0, -4, 40, 4),
    "T junction": lambda wall: box(-20, -wall / 2, 20, wall / 2) | box(-wall / 2, 0, wall / 2, 20),
    "rib on a plate": lambda wall: box(-20, -6, 20, 6) | box(-wall / 2, 0, wall / 2, 26),
}
WALLS_MM = np.round(np.concatenate([np.arange(0.3, 1.5, 0.05), np.arange(1.5, 6.01, 0.1)]), 3)


def border_area(walls, island):
    """Area inside an island's border by the even-odd rule, by the polygon library."""
    inside = Polygon()
    for ring in range(walls.border_island_off[island], walls.border_island_off[island + 1]):
        xy = walls.border_xy_mm[walls.border_ring_off[ring] : walls.border_ring_off[ring + 1]]
        polygon = Polygon(xy)
        if not polygon.is_valid:
            polygon = shapely.make_valid(polygon)
        inside = inside.symmetric_difference(polygon)
    return inside.area


def path_arrays(walls, path):
    """x, y and the width of the segment that ends at each point; a closed path is closed."""
    points = slice(walls.path_off[path], walls.path_off[path + 1])
    x, y, width = walls.x_mm[points], walls.y_mm[points], walls.width_mm[points]
    if walls.path_closed[path]:
        return np.append(x, x[0]), np.append(y, y[0]), np.append(width[:1], width)
    return x, y, width


def bead_area(walls, island):
    """Length times width of an island's beads, added up segment by segment."""
    total = 0.0
    for path in range(walls.island_path_off[island], walls.island_path_off[island + 1]):
        x, y, width = path_arrays(walls, path)
        total += float((np.hypot(np.diff(x), np.diff(y)) * width[1:]).sum())
    return total


def bead_lengths(walls):
    """(n_islands,) length of all beads of an island."""
    lengths = [
        np.hypot(np.diff(x), np.diff(y)).sum()
        for x, y, _ in (path_arrays(walls, path) for path in range(len(walls.path_role)))
    ]
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    return np.diff(ends[walls.island_path_off])


def closure(walls, areas):
    """(n_islands,) (border + beads) / area - 1, by the independent measures."""
    laid = [border_area(walls, k) + bead_area(walls, k) for k in range(len(areas))]
    return np.array(laid) / areas - 1.0


def islands_of_points(walls):
    """Island of every point of the paths."""
    of_path = np.repeat(np.arange(len(walls.fallback)), np.diff(walls.island_path_off))
    return np.repeat(of_path, np.diff(walls.path_off))


def odd_widths(walls):
    """Islands with a bead outside 0.6..1.6 beads that are not flagged as thinner than that."""
    share = walls.width_mm / walls.bead_mm
    island = islands_of_points(walls)
    thin = walls.thin_mm[island] < 0.6 * walls.bead_mm
    odd = (share > 1.6 + 1e-9) | ((share < 0.6 - 1e-9) & ~thin)
    return np.unique(island[odd])
