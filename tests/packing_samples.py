"""Parts, requests and checks for the tests of packing."""

import numpy as np
import rows
import shapely
import solids
from shapely import affinity

from buildplan.checks.packing import PackRequest, pack_cycles, silhouette
from buildplan.checks.packing.outline import polygon_of
from buildplan.part import part_from_mesh
from buildplan.process.estimate import Prices, estimate_print

PRICES = Prices()


def block(name, x, y, z=10.0, at=(0.0, 0.0, 0.0)):
    """A box as a part."""
    return part_from_mesh(*solids.arrays(solids.box(x, y, z, at)), name=name)


def disc(name, radius, z=5.0, segments=64):
    """A regular prism about the origin."""
    from manifold3d import Manifold

    return part_from_mesh(*solids.arrays(Manifold.cylinder(z, radius, radius, segments)), name=name)


def angle_piece(name, long=60.0, wide=10.0):
    """An L of two equal arms."""
    solid = solids.box(long, wide, 8.0) + solids.box(wide, long, 8.0)
    return part_from_mesh(*solids.arrays(solid), name=name)


def ask(part, quantity=1, **more):
    """A request without estimate."""
    return PackRequest(name=part.name, part=part, quantity=quantity, **more)


def ask_printed(part, printer, feedstock, recipe, quantity=1, prices=PRICES):
    """A request with its estimate."""
    return PackRequest(
        name=part.name,
        part=part,
        estimate=estimate_print(part, printer, feedstock, recipe, prices=prices),
        quantity=quantity,
        feedstock=feedstock,
        recipe=recipe,
    )


def free_area(printer):
    """Platform less its margin, as its own shape."""
    margin = printer.platform_margin_mm
    if printer.platform == "round":
        return shapely.Point(0.0, 0.0).buffer(0.5 * printer.width_mm - margin, quad_segs=4096)
    return shapely.box(margin, margin, printer.width_mm - margin, printer.depth_mm - margin)


def bare(**changes):
    """A printer without margin, so that the whole platform counts."""
    return rows.printer(platform_margin_mm=0.0, **changes)


def held(requests, plan, gap_mm):
    """Assert all that a plan promises, by shapely alone; give the number of copies placed."""
    parts = {request.name: request.part for request in requests}
    area = free_area(plan.printer).buffer(1e-5)
    seen = set()
    for cycle in plan.cycles:
        shapes = []
        for placing in cycle.placings:
            seen.add((placing.name, placing.copy))
            turned = affinity.rotate(
                silhouette(parts[placing.name]), placing.turn_deg, origin=(0.0, 0.0)
            )
            shape = affinity.translate(turned, placing.x_mm, placing.y_mm)
            assert polygon_of(placing.outline).buffer(1e-6).contains(shape)
            assert area.contains(polygon_of(placing.outline))
            shapes.append(polygon_of(placing.outline))
        gaps = [shapes[i].distance(shapes[j]) for i in range(len(shapes)) for j in range(i)]
        least = min(gaps, default=np.inf)
        assert least >= gap_mm - 1e-6
        assert cycle.least_gap_mm == least
        overlaps = [
            shapes[i].intersection(shapes[j]).area for i in range(len(shapes)) for j in range(i)
        ]
        assert max(overlaps, default=0.0) < 1e-6
    wanted = {(r.name, k + 1) for r in requests for k in range(r.quantity)}
    left = {name for name, copy in wanted - seen}
    assert left == {entry.name for entry in plan.left_out}
    return len(seen)


def packed(requests, printer, gap_mm=0.0, **more):
    """A plan, checked."""
    plan = pack_cycles(requests, printer, gap_mm=gap_mm, **more)
    held(requests, plan, gap_mm)
    return plan
