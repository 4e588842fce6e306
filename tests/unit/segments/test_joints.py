"""Joints: every kind holds by its own measures, or is refused with the number that is lacking.

The pieces are measured anew here: closed by an edge count, volumes by the divergence theorem, walls
and gaps by solids built in the test.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
import solids
from manifold3d import Manifold

from buildplan.errors import InputError, NoPlanError
from buildplan.segments.joints import JointSpec, choose_joint, joinable_frac, make_joint
from buildplan.segments.joints.region import as_outline, polygons_of, shrink
from buildplan.segments.planes import frame_of, make_plane, split_solid

SPECS = {
    "pins": JointSpec(kind="pins", size_mm=1.0, depth_mm=6.0, clearance_mm=0.1),
    "spline": JointSpec(kind="spline", size_mm=1.0, depth_mm=3.0, clearance_mm=0.1),
    "tongue": JointSpec(kind="tongue", size_mm=1.0, depth_mm=3.0, clearance_mm=0.1),
    "lip": JointSpec(kind="lip", size_mm=1.2, depth_mm=4.0, clearance_mm=0.15),
    "tabs": JointSpec(kind="tabs", size_mm=3.0, depth_mm=5.0, clearance_mm=0.1),
    "glue": JointSpec(kind="glue", size_mm=1.0, depth_mm=1.0, clearance_mm=0.0),
}


def can(wall=3.0):
    return solids.box(90, 80, 50) - solids.box(90 - 2 * wall, 80 - 2 * wall, 50, (wall, wall, wall))


def facts(solid):
    vertices, facets = solids.arrays(solid)
    a, b, c = (vertices[facets[:, k]] for k in range(3))
    directed = np.concatenate([facets[:, [0, 1]], facets[:, [1, 2]], facets[:, [2, 0]]])
    there = {tuple(edge) for edge in directed.tolist()}
    closed = len(there) == len(directed) and all((b, a) in there for a, b in there)
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0, closed


@pytest.mark.parametrize("plane", [("z", 25.3), ("x", 31.0)], ids=["across", "along"])
@pytest.mark.parametrize("kind", SPECS)
def test_every_kind_holds_on_a_can(kind, plane):
    body = can()
    joint = make_joint(body, make_plane(*plane), SPECS[kind])
    assert joint.proof.faults == ()
    bare = split_solid(body, make_plane(*plane))
    for piece, before in ((joint.above, bare.above), (joint.below, bare.below)):
        assert facts(piece)[1]
        assert len(piece.decompose()) == len(before.decompose())
    assert (joint.above ^ joint.below).volume() <= 1e-6
    assert joint.proof.wall_leak_mm3 <= (1e-3 if kind == "tabs" else 1e-4)
    if kind in ("pins", "spline", "tongue", "lip"):
        assert joint.proof.least_gap_mm >= SPECS[kind].clearance_mm - 1e-3


def test_a_pin_in_its_hole_keeps_wall_and_gap_over_its_length():
    body = can()
    spec = SPECS["pins"]
    joint = make_joint(body, make_plane("x", 31.0), spec)
    assert len(joint.at_mm) == 6
    for x, y, z in joint.at_mm:
        assert x == pytest.approx(31.0)
        pin = Manifold.cylinder(12.0, 0.5, 0.5, 64, True).rotate((0, 90, 0)).translate((x, y, z))
        wall = Manifold.cylinder(12.0, 1.4, 1.4, 64, True).rotate((0, 90, 0)).translate((x, y, z))
        assert (wall - body).volume() <= 1e-6
        assert pin.min_gap(joint.above, 1.0) >= 0.1 - 1e-3
        assert pin.min_gap(joint.below, 1.0) >= 0.1 - 1e-3
    apart = [
        np.linalg.norm(np.subtract(a, b))
        for i, a in enumerate(joint.at_mm)
        for b in joint.at_mm[:i]
    ]
    assert min(apart) >= spec.spacing_mm


def test_printed_holes_are_drawn_wider_by_what_they_lose():
    plain = make_joint(can(6.0), make_plane("x", 31.0), SPECS["pins"])
    wide = make_joint(can(6.0), make_plane("x", 31.0), replace(SPECS["pins"], hole_extra_mm=0.4))
    assert wide.proof.least_gap_mm == pytest.approx(plain.proof.least_gap_mm + 0.2, abs=1e-3)


def test_a_spline_fills_both_grooves_and_is_printed_flat():
    joint = make_joint(can(), make_plane("z", 25.3), SPECS["spline"])
    assert len(joint.loose) == 1
    spline = joint.loose[0]
    assert spline.vertices_mm[:, 2].min() == pytest.approx(0.0)
    assert spline.size_mm[2] == pytest.approx(6.0)
    # one ring of 1 mm by 6 mm, 1.4 mm inside the outer face of a 90 x 80 wall
    length = 2 * (90 - 2.8 + 80 - 2.8) - (8 - 2 * np.pi) * 0.5
    assert spline.volume_mm3 == pytest.approx(6.0 * length, rel=5e-3)


def test_a_lip_makes_the_outer_face_of_the_upper_piece_longer():
    joint = make_joint(can(), make_plane("z", 25.3), SPECS["lip"])
    assert joint.above.bounding_box()[2] == pytest.approx(25.3 - 4.0)
    assert joint.above.bounding_box()[0] == pytest.approx(0.0)
    inner = joint.below.slice(23.0).bounds()
    assert inner[0] == pytest.approx(1.35, abs=1e-3)


def test_tabs_stay_inside_and_take_screws_that_do_not_bottom_out():
    body = can()
    joint = make_joint(body, make_plane("z", 25.3), SPECS["tabs"])
    assert ((joint.above + joint.below) - solids.box(90, 80, 50)).volume() <= 1e-6
    items = {piece.item: piece.quantity for piece in joint.bought}
    assert items == {"screw M3 x 10, ISO 4762": 6.0, "M3 heat-set insert": 6.0}
    # 5 mm of tab, then a bore of 6.7 mm: 10 mm of screw leave 1.7 mm
    x, y, _ = joint.at_mm[0]
    screw = Manifold.cylinder(10.0, 1.5, 1.5, 32).translate((x, y, 25.3 + 5.0 - 10.0))
    assert (screw ^ (joint.above + joint.below)).volume() <= 1e-6


def test_grooves_leave_no_sliver_of_wall_between_themselves():
    """Where a wall has room for a ring of spline but not for a wall inside it, the ring is filled.

    The tub's foot is such a place; its first groove left a wall of 0.07 mm there.
    """
    first = make_joint(
        solids.tub(128), make_plane((-math.sqrt(0.75), 0.5, 0.0), -35.0), SPECS["spline"]
    )
    plane = make_plane((0.5, math.sqrt(0.75), 0.0), 0.0)
    spec = replace(SPECS["spline"], clearance_mm=0.12)
    there, _ = frame_of(plane)
    body = max((first.above, first.below), key=lambda piece: piece.volume())
    joint = make_joint(body, plane, spec)
    face = as_outline(joint.below.transform(there).slice(-1.0))
    bare = as_outline(body.transform(there).slice(-1.0))
    thin = face.difference(shrink(shrink(face, 0.2), -0.21))
    before = bare.difference(shrink(shrink(bare, 0.2), -0.21))
    slivers = [part.area for part in polygons_of(thin.difference(before)) if part.area > 0.03]
    assert slivers == []


@pytest.mark.parametrize(
    ("kind", "changes", "said"),
    [
        ("pins", {"size_mm": 3.0}, r"largest inscribed radius 1\.\d\d mm, this pin needs 2\.42 mm"),
        ("spline", {"size_mm": 2.0}, r"keeps [23]\.\d\d mm .* needs 3\.80 mm"),
        ("tongue", {"size_mm": 2.0}, r"keeps [23]\.\d\d mm .* needs 3\.80 mm"),
        ("lip", {"size_mm": 2.5}, r"lip"),
    ],
)
def test_a_joint_without_room_says_what_there_is_and_what_it_needs(kind, changes, said):
    with pytest.raises(NoPlanError, match=said):
        make_joint(can(), make_plane("x", 31.0), replace(SPECS[kind], **changes))


def test_tabs_find_no_place_in_a_solid_block():
    with pytest.raises(NoPlanError, match="places along the cut"):
        make_joint(solids.box(40, 40, 40), make_plane("z", 20.0), SPECS["tabs"])


def test_the_first_joint_that_holds_is_taken_and_the_others_say_why_not():
    thick = replace(SPECS["pins"], size_mm=4.0)
    joint, reasons = choose_joint(can(), make_plane("x", 31.0), [thick, SPECS["spline"]])
    assert joint.kind == "spline"
    assert len(reasons) == 1
    assert "this pin needs" in reasons[0]
    with pytest.raises(NoPlanError, match=r"no joint holds at x = 31\.0 mm: pins"):
        choose_joint(can(), make_plane("x", 31.0), [thick])


def test_the_joinable_share_is_one_for_square_walls_and_none_for_slanted_ones():
    """Walls leaning 45 degrees, 3 mm thick: over 6 mm of depth no point stays inside."""
    assert joinable_frac(can(), make_plane("z", 25.3), SPECS["pins"]) == pytest.approx(1.0)
    cone = Manifold.cylinder(40, 60, 20, 128) - Manifold.cylinder(40, 57, 17, 128)
    assert joinable_frac(cone, make_plane("z", 20.0), SPECS["pins"]) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("kind", ["pins", "spline", "tabs"])
def test_a_turned_body_gets_the_same_joint_turned(kind):
    body = can()
    joint = make_joint(body, make_plane("x", 31.0), SPECS[kind])
    turned = make_joint(body.rotate((0, 0, 90)), make_plane("y", 31.0), SPECS[kind])
    assert turned.above.volume() == pytest.approx(joint.above.volume(), rel=1e-6)
    assert len(turned.at_mm) == len(joint.at_mm)


def test_the_same_joint_twice_has_the_same_bytes():
    def made():
        joint = make_joint(can(), make_plane("x", 31.0), SPECS["pins"])
        return [array.tobytes() for array in solids.arrays(joint.above)]

    assert made() == made()


@pytest.mark.parametrize(
    "changes", [{"size_mm": 0.0}, {"depth_mm": -1.0}, {"clearance_mm": np.nan}, {"count": 0}]
)
def test_impossible_numbers_are_refused(changes):
    with pytest.raises(InputError, match="joint of pins"):
        make_joint(can(), make_plane("x", 31.0), replace(SPECS["pins"], **changes))
