"""Places for the demo's small parts, against trying every grid shift on the outlines by shapely.

The reference walks the same grid of shifts and right angles from the front corner on and takes the
first where the true outline keeps the gap, as a short script would. Both must need one platform.
"""

import numpy as np
import pytest
import rows
from benchmarks.ratio import ratio, record
from packing_samples import ask, free_area, packed

from buildplan.checks.packing import pack_cycles, silhouette
from buildplan.demo import demo_folder
from buildplan.part import read_part

GAP_MM = 5.0
CELL_MM = 214.0 / 250.0
REQUIRED = 5.0
SMALL = (
    ("camera_arm.stl", 1),
    ("sensor_cowl.stl", 1),
    ("servo_arm.stl", 1),
    ("push_rod.obj", 1),
    ("hinge_pin.stl", 2),
)


def shapely_places(requests, printer, cell_mm):
    """Copies placed one by one, the largest first; number of platforms."""
    import shapely
    from shapely import affinity

    area = free_area(printer)
    shapes = [silhouette(r.part) for r in requests for _ in range(r.quantity)]
    shapes.sort(key=lambda shape: -shape.area)
    platforms = []

    def place(shape, stood):
        for turn in (0.0, 90.0, 180.0, 270.0):
            turned = affinity.rotate(shape, turn, origin=(0.0, 0.0))
            x0, y0, x1, y1 = turned.bounds
            low = area.bounds[:2]
            xs = np.arange(low[0], area.bounds[2] - (x1 - x0), cell_mm)
            ys = np.arange(low[1], area.bounds[3] - (y1 - y0), cell_mm)
            shifts = sorted((x + y, x, y) for x in xs for y in ys)
            for _, x, y in shifts:
                moved = affinity.translate(turned, x - x0, y - y0)
                if all(shapely.distance(moved, other) >= GAP_MM for other in stood):
                    stood.append(moved)
                    return True
        return False

    for shape in shapes:
        if not any(place(shape, stood) for stood in platforms):
            platforms.append([])
            assert place(shape, platforms[-1])
    return len(platforms)


@pytest.mark.slow
def test_places_are_found_many_times_faster_than_by_trying_shifts():
    requests = [
        ask(read_part(demo_folder() / file, unit="mm", name=file), count) for file, count in SMALL
    ]
    printer = rows.printer(width_mm=220.0, depth_mm=220.0, platform_margin_mm=3.0)
    plan = packed(requests, printer, GAP_MM)
    assert len(plan.cycles) == 1
    assert shapely_places(requests, printer, CELL_MM) == 1
    times = ratio(
        lambda: pack_cycles(requests, printer, gap_mm=GAP_MM),
        lambda: shapely_places(requests, printer, CELL_MM),
        rounds=3,
    )
    record("places of the demo's 6 small pieces", "every shift tried by shapely", times, REQUIRED)
