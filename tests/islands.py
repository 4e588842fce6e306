"""Random islands for the fuzz tests: stars, rings, combs, bent strips, blobs."""

import numpy as np
import shapely


def star(rng, corners, radius, roughness):
    turn = np.sort(rng.uniform(0.0, 2.0 * np.pi, corners))
    reach = radius * (1.0 + roughness * rng.uniform(-1.0, 1.0, corners))
    return shapely.Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)]))


def rough_star(rng):
    return star(rng, rng.integers(5, 40), rng.uniform(3.0, 20.0), rng.uniform(0.0, 0.6))


def star_with_hole(rng):
    hole = shapely.Point(rng.uniform(-2.0, 2.0, 2)).buffer(rng.uniform(1.0, 5.0))
    return star(rng, rng.integers(20, 80), rng.uniform(5.0, 20.0), 0.1).buffer(0.0).difference(hole)


def ring(rng):
    outer = star(rng, 12, rng.uniform(5.0, 15.0), 0.3).buffer(0.0)
    return outer.difference(outer.buffer(-rng.uniform(0.3, 4.0)))


def comb(rng):
    teeth = [
        shapely.box(x, 4.0, x + rng.uniform(0.3, 2.0), rng.uniform(5.0, 14.0))
        for x in np.arange(0.0, 19.0, 3.0)
    ]
    return shapely.union_all([shapely.box(0.0, 0.0, 20.0, 4.0), *teeth])


def bent_strip(rng):
    line = shapely.LineString(rng.uniform(-15.0, 15.0, (4, 2)))
    style = ("mitre", "round", "bevel")[rng.integers(3)]
    return line.buffer(rng.uniform(0.2, 2.5), join_style=style)


def blob(rng):
    return shapely.union_all(
        [
            shapely.Point(*rng.uniform(-10.0, 10.0, 2)).buffer(rng.uniform(1.0, 5.0), quad_segs=6)
            for _ in range(5)
        ]
    )


KINDS = (rough_star, star_with_hole, ring, comb, bent_strip, blob)


def random_islands(count, seed=7):
    """``count`` valid polygons of at least 0.5 mm2, simplified to 5 um."""
    rng = np.random.default_rng(seed)
    found = []
    turn = 0
    while len(found) < count:
        shape = KINDS[turn % len(KINDS)](rng)
        turn += 1
        if not shape.is_valid:
            shape = shape.buffer(0.0)
        for part in shape.geoms if hasattr(shape, "geoms") else [shape]:
            simple = part.simplify(0.005)
            if simple.geom_type == "Polygon" and simple.is_valid and simple.area > 0.5:
                found.append(simple)
    return found[:count]
