"""Joints over random planes and specs on several bodies: each holds by measures made here, or is
refused with a number.

Nothing of the joint's own proof is used: pieces are measured by edge counts and the divergence
theorem, walls by solids grown in the test, gaps by manifold3d's distance of what is put in.
"""

import math
import re

import numpy as np
import pytest
import shapely
import solids
from manifold3d import Manifold

import buildplan as bp
from buildplan.demo import demo_folder
from buildplan.errors import NoPlanError
from buildplan.segments.joints import JointSpec, make_joint
from buildplan.segments.joints.region import as_outline, as_section, shrink
from buildplan.segments.planes import frame_of, make_plane, split_solid
from buildplan.segments.solid import solid_of

KINDS = ("pins", "spline", "tongue", "lip", "tabs", "glue")
CASES = 240


def can():
    return solids.box(90, 80, 50) - solids.box(84, 74, 50, (3, 3, 3))


def rod():
    return Manifold.cylinder(120.0, 14.0, 14.0, 96)


def thick_shell():
    return Manifold.sphere(60.0, 96) - Manifold.sphere(52.0, 96)


BODIES = {
    "tub": lambda: solids.tub(64),
    "can": can,
    "rod": rod,
    "shell": thick_shell,
    "demo part": lambda: solid_of(bp.read_part(demo_folder() / "servo_arm.stl")),
}


def volume_and_closed(solid):
    vertices, facets = solids.arrays(solid)
    middle = vertices.mean(axis=0)
    a, b, c = (vertices[facets[:, k]] - middle for k in range(3))
    key = facets.astype(np.int64)
    directed = np.concatenate([key[:, [0, 1]], key[:, [1, 2]], key[:, [2, 0]]])
    code = directed[:, 0] * len(vertices) + directed[:, 1]
    back = directed[:, 1] * len(vertices) + directed[:, 0]
    closed = len(np.unique(code)) == len(code) and np.array_equal(np.sort(code), np.sort(back))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0, closed


def random_case(seed, body):
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    if rng.uniform() < 0.6:
        normal = np.eye(3)[rng.integers(3)]
    else:
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
    along = solids.arrays(body)[0] @ normal
    low, high = along.min(), along.max()
    offset = float(low + (high - low) * rng.uniform(0.15, 0.85))
    size = {"tabs": 3.0, "lip": rng.uniform(0.8, 2.0)}.get(kind, rng.uniform(0.8, 4.0))
    spec = JointSpec(
        kind=kind,
        size_mm=float(size),
        depth_mm=float(rng.uniform(2.0, 8.0)),
        clearance_mm=float(rng.uniform(0.05, 0.3)),
        hole_extra_mm=float(rng.uniform(0.0, 0.3)),
        wall_mm=float(rng.uniform(0.5, 1.2)),
        spacing_mm=float(rng.uniform(10.0, 40.0)),
    )
    return make_plane(normal, offset), spec


def joint_or_reason(body, plane, spec):
    try:
        return make_joint(body, plane, spec)
    except NoPlanError as error:
        return str(error)


def check_case(body, plane, spec):
    """True where a joint was made and holds, False where it was refused with a number."""
    joint = joint_or_reason(body, plane, spec)
    if isinstance(joint, str):
        assert re.search(r"\d", joint)
        return False
    bare = split_solid(body, plane)
    whole, _ = volume_and_closed(body)
    above, closed_above = volume_and_closed(joint.above)
    below, closed_below = volume_and_closed(joint.below)
    assert closed_above
    assert closed_below
    assert len(joint.above.decompose()) == len(bare.above.decompose())
    assert len(joint.below.decompose()) == len(bare.below.decompose())
    assert (joint.above ^ joint.below).volume() <= 1e-6
    gone = whole - above - below
    assert joint.proof.volume_error_frac <= 1e-9
    if spec.kind == "glue":
        assert gone == pytest.approx(0.0, abs=1e-9 * whole)
    elif spec.kind == "pins":
        radius = spec.size_mm / 2 + spec.clearance_mm + spec.hole_extra_mm / 2
        face = 48 * math.tan(math.pi / 48) * radius**2  # drawn around the circle
        length = 2.0 * (spec.depth_mm + 0.5)
        assert gone == pytest.approx(len(joint.at_mm) * face * length, abs=1e-9 * whole)
    elif spec.kind == "tabs":
        assert gone < 0.0
        box = np.array(body.bounding_box())
        both = np.array([joint.above.bounding_box(), joint.below.bounding_box()])
        assert (both[:, :3] >= box[:3] - 1e-6).all()
        assert (both[:, 3:] <= box[3:] + 1e-6).all()
    else:
        assert gone > 0.0
    there, _ = frame_of(plane)
    if spec.kind == "pins":
        check_pins(body.transform(there), joint, there, spec)
    if spec.kind == "spline":
        check_spline(body.transform(there), joint, there, spec)
    return True


def check_pins(body, joint, there, spec):
    points = np.array(joint.at_mm) @ there[:, :3].T + there[:, 3]
    above, below = joint.above.transform(there), joint.below.transform(there)
    for x, y, z in points:
        assert z == pytest.approx(0.0, abs=1e-9)
        pin = Manifold.cylinder(2 * spec.depth_mm, spec.size_mm / 2, spec.size_mm / 2, 64, True)
        pin = pin.translate((x, y, 0.0))
        radius = spec.size_mm / 2 + spec.clearance_mm + spec.hole_extra_mm / 2 + spec.wall_mm
        wall = Manifold.cylinder(2 * (spec.depth_mm + 0.5 + spec.wall_mm), radius, radius, 64, True)
        assert (wall.translate((x, y, 0.0)) - body).volume() <= 1e-4
        for piece in (above, below):
            assert pin.min_gap(piece, 2.0) >= spec.clearance_mm - 1e-3
            assert (pin ^ piece).volume() <= 1e-9
    for k, one in enumerate(points):
        for other in points[:k]:
            assert np.linalg.norm(one - other) >= spec.spacing_mm - 1e-6


def check_spline(body, joint, there, spec):
    """The groove is read off the finished piece: what is missing just under the face."""
    below = joint.below.transform(there)
    gone = as_outline(body.slice(-0.5)).difference(as_outline(below.slice(-0.5)).buffer(1e-6))
    grown = as_section(shrink(gone, -(spec.wall_mm - 4e-3)))
    high = 2.0 * (spec.depth_mm + 0.3 + spec.wall_mm - 4e-3)
    wall = grown.extrude(high).translate((0.0, 0.0, -high / 2))
    assert (wall - body).volume() <= 1e-4
    laid = sum(piece.volume_mm3 for piece in joint.loose) / (2.0 * spec.depth_mm)
    assert laid < gone.area
    grooves = [part for part in shapely.get_parts(gone) if part.area > 1e-3]
    for k, one in enumerate(grooves):
        for other in grooves[:k]:
            assert one.distance(other) >= spec.wall_mm - 0.02


@pytest.mark.parametrize("name", BODIES)
def test_joints_on_random_planes_hold_or_are_refused_with_a_number(name):
    body = BODIES[name]()
    made = sum(check_case(body, *random_case(seed, body)) for seed in range(6))
    assert made >= 1


@pytest.mark.slow
@pytest.mark.parametrize("name", BODIES)
def test_many_joints_on_random_planes_hold_or_are_refused_with_a_number(name):
    body = BODIES[name]()
    made = sum(check_case(body, *random_case(seed, body)) for seed in range(6, 6 + CASES // 5))
    assert made >= 8


@pytest.mark.slow
def test_many_joints_on_a_scanned_animal_hold_or_are_refused_with_a_number(npm_mesh):
    part = bp.read_part(
        npm_mesh("stl-models", "objects/bunny.bin.stl"), unit="m", fill_holes_mm=50.0
    )
    body = solid_of(part)
    made = sum(check_case(body, *random_case(seed, body)) for seed in range(6))
    assert made >= 2


def test_offsets_of_slivers_are_shapely_s_and_never_blow_up():
    """A hull less its section leaves slivers of no width, at which other offsets lose the region.

    The area of a true offset by d lies between A - P d and A for d > 0 (Steiner's formula).
    """
    section = as_outline(solids.tub(64).slice(55.0))
    for turn in range(12):
        band = shapely.affinity.rotate(section, 7.0 * turn)
        region = band.convex_hull.difference(band)
        for depth in (0.05, 0.4, 1.0):
            area = shrink(region, depth).area
            assert region.area - region.length * depth - 1e-6 <= area <= region.area
            again = shrink(shrink(region, depth), -depth)
            assert again.difference(region.buffer(1e-3)).area <= 1e-3
