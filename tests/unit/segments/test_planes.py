"""Cutting: both sides closed, nothing lost, the whole comes back, planes that miss are refused."""

from dataclasses import replace

import numpy as np
import pytest
import solids

from buildplan.errors import InputError, MeshError, NoPlanError
from buildplan.part import part_from_mesh
from buildplan.segments.planes import frame_of, make_plane, plane_from_text, split_solid
from buildplan.segments.solid import part_of, solid_of


def as_part(solid, name="part"):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


@pytest.fixture(scope="module")
def tub():
    return as_part(solids.tub(64), "tub")


def facts(solid):
    """Volume by the divergence theorem and whether every edge has two facets, without manifold3d's
    own figures."""
    vertices, facets = solids.arrays(solid)
    a, b, c = (vertices[facets[:, k]] for k in range(3))
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0
    directed = np.concatenate([facets[:, [0, 1]], facets[:, [1, 2]], facets[:, [2, 0]]])
    there = {tuple(edge) for edge in directed.tolist()}
    closed = len(there) == len(directed) and all((b, a) in there for a, b in there)
    return volume, closed


PLANES = [
    *((axis, offset) for axis in "xyz" for offset in (3.0, 20.0, 51.3)),
    ("z", 3.0 + 1e-9),  # a hair above the floor's top
    ("z", 110.0),
    ((1.0, 1.0, 0.2), 10.0),
    ((0.3, -0.5, 0.8), 33.0),
]


@pytest.mark.parametrize(("normal", "offset"), PLANES)
def test_both_sides_are_closed_and_nothing_is_lost(tub, normal, offset):
    solid = solid_of(tub)
    cut = split_solid(solid, make_plane(normal, offset))
    above, below = facts(cut.above), facts(cut.below)
    assert above[1]
    assert below[1]
    assert above[0] + below[0] == pytest.approx(tub.volume_mm3, rel=1e-9)
    together = cut.above + cut.below
    change = (together - solid).volume() + (solid - together).volume()
    assert change <= 1e-9 * tub.volume_mm3


def test_the_cut_face_has_the_area_of_the_section(tub):
    solid = solid_of(tub)
    cut = split_solid(solid, make_plane("z", 51.3))
    assert cut.face_mm2 == pytest.approx(solid.slice(51.3).area(), rel=1e-6)


def test_the_same_cut_gives_the_same_bytes(tub):
    def bytes_of():
        cut = split_solid(solid_of(tub), make_plane((0.3, -0.5, 0.8), 33.0))
        return [array.tobytes() for array in solids.arrays(cut.above)]

    assert bytes_of() == bytes_of()


def test_a_piece_is_a_part_with_the_piece_s_volume(tub):
    cut = split_solid(solid_of(tub), make_plane("x", 3.0))
    piece = part_of(cut.above, name="right half")
    assert piece.closed
    assert piece.name == "right half"
    assert piece.volume_mm3 == pytest.approx(cut.above.volume(), rel=1e-9)


@pytest.mark.parametrize(("offset", "said"), [(500.0, "misses"), (0.0, "misses"), (20.0, "misses")])
def test_a_plane_that_misses_says_where_the_part_is(offset, said):
    block = as_part(solids.box(20.0, 20.0, 20.0))
    with pytest.raises(NoPlanError, match=rf"{said}.* from 0\.0 to 20\.0 mm"):
        split_solid(solid_of(block), make_plane("z", offset))


@pytest.mark.parametrize(
    ("normal", "offset"), [((0.0, 0.0, 0.0), 1.0), ("w", 1.0), ("x", np.nan), ((1.0, 2.0), 0.0)]
)
def test_a_plane_without_direction_is_refused(normal, offset):
    with pytest.raises(InputError, match="plane"):
        make_plane(normal, offset)


def test_the_frame_takes_the_plane_to_zero_and_back():
    plane = make_plane((0.3, -0.5, 0.8), 33.0)
    there, back = frame_of(plane)
    points = np.random.default_rng(2).normal(size=(50, 3)) * 40.0
    moved = points @ there[:, :3].T + there[:, 3]
    assert np.allclose(moved[:, 2], points @ np.array(plane.normal) - 33.0, atol=1e-12)
    assert np.allclose(moved @ back[:, :3].T + back[:, 3], points, atol=1e-12)
    assert np.linalg.det(there[:, :3]) == pytest.approx(1.0)


def test_an_open_surface_is_refused_with_its_edges_counted():
    whole = as_part(solids.box())
    part = replace(whole, closed=False, health=replace(whole.health, open_edges=12))
    with pytest.raises(MeshError, match=r"the surface is open \(12 open edges"):
        solid_of(part)


def test_a_surface_that_encloses_another_volume_is_refused():
    """Two boxes that overlap without being one: manifold3d counts the shared room twice."""
    first, second = (solids.arrays(solids.box(10, 10, 10, (x, 0.0, 0.0))) for x in (0.0, 5.0))
    vertices = np.concatenate([first[0], second[0]])
    facets = np.concatenate([first[1], second[1] + len(first[0])])
    part = replace(as_part(solids.box()), vertices_mm=vertices, facets=facets, volume_mm3=1500.0)
    with pytest.raises(MeshError, match=r"encloses 2000\.0 mm3, the part has 1500\.0 mm3"):
        solid_of(part)


@pytest.mark.parametrize(
    ("text", "plane"),
    [
        ("x=120", make_plane("x", 120.0)),
        (" Z = -4.5 ", make_plane("z", -4.5)),
        ("1,1,0=30", make_plane((1.0, 1.0, 0.0), 30.0)),
    ],
)
def test_a_plane_is_read_as_one_types_it(text, plane):
    assert plane_from_text(text) == plane


@pytest.mark.parametrize("text", ["", "x", "x=", "w=3", "x=1=2", "1,2=3", "0,0,0=1", "x=inf"])
def test_a_text_that_is_no_plane_is_refused(text):
    with pytest.raises(InputError, match="plane"):
        plane_from_text(text)
