"""Facts of the file formats, each against the standard that states it.

Sources: 3MF Core Specification 1.4.0; Turk, "The PLY polygon file format", 1994; Wavefront OBJ
appendix; glTF 2.0; entries of reference_values.toml, area formats.
"""

import broken_files
import numpy as np
import pytest

from buildplan.errors import MeshError
from buildplan.part import read_part
from buildplan.part.formats import stl, threemf, threemf_model

MILLIMETRES = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}


def write(tmp_path, name, data):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def test_3mf_knows_the_six_units_and_takes_millimetres_where_none_stands(tmp_path, reference):
    known = reference["formats", "3mf_unit"]["expected"]
    assert set(threemf.UNITS) == set(known["values"]) == set(MILLIMETRES)
    vertices, facets = broken_files.cube()
    for word in known["values"]:
        data = broken_files.packed(broken_files.model(vertices, facets, unit=word))
        part = read_part(write(tmp_path, f"{word}.3mf", data))
        assert part.size_mm == pytest.approx((10.0 * MILLIMETRES[word],) * 3, rel=1e-12)
    text = broken_files.model(vertices, facets).replace('unit="millimeter"', "")
    part = read_part(write(tmp_path, "none.3mf", broken_files.packed(text)))
    assert part.size_mm == (10.0, 10.0, 10.0)
    assert known["default"] == "millimeter"


def test_3mf_solids_share_each_edge_twice_and_turn_counter_clockwise(tmp_path, reference):
    known = reference["formats", "3mf_edges"]["expected"]
    vertices, facets = broken_files.cube()
    part = read_part(
        write(tmp_path, "c.3mf", broken_files.packed(broken_files.model(vertices, facets)))
    )
    edges = np.sort(part.facets[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    assert set(uses.tolist()) == {known["n"]}
    assert (known["winding"], part.health.grade) == ("counter-clockwise seen from outside", "exact")
    assert part.facets.min() == int(known["indices"][0])


def test_3mf_prints_only_what_is_of_a_solid_kind(tmp_path, reference):
    known = reference["formats", "3mf_object_types"]["expected"]
    vertices, facets = broken_files.cube()
    for kind in known:
        text = broken_files.model(vertices, facets).replace('type="model"', f'type="{kind}"')
        path = write(tmp_path, f"{kind}.3mf", broken_files.packed(text))
        if kind in threemf.SOLID_KINDS:
            assert read_part(path).volume_mm3 == pytest.approx(1000.0)
        else:
            with pytest.raises(MeshError, match="0 triangles"):
                read_part(path)


def test_3mf_part_and_namespace_are_the_standards(reference):
    known = reference["formats", "3mf_part"]["expected"]
    assert known["part"] == "/" + threemf.USUAL_MODEL
    assert known["namespace"] == threemf_model.CORE


def test_binary_stl_has_84_bytes_and_50_a_triangle(tmp_path, reference):
    entry = reference["formats", "stl_binary_size"]
    data = broken_files.stl(*broken_files.cube())
    assert reference.agrees("formats", "stl_binary_size", len(data))
    assert stl.HEADER_BYTES + stl.FACET_BYTES * entry["inputs"]["n"] == entry["expected"]
    for wrong in (len(data) - 1, len(data) + 1):
        path = write(tmp_path, "w.stl", data.ljust(wrong, b"\0")[:wrong])
        with pytest.raises(MeshError, match="header says 12 triangles"):
            read_part(path)


def test_stl_stores_no_unit(tmp_path, reference):
    assert reference.agrees("formats", "stl_units", "none")
    path = write(tmp_path, "c.stl", broken_files.stl(*broken_files.cube()))
    assert read_part(path).size_mm == (10.0,) * 3
    assert read_part(path, unit="inch").size_mm == pytest.approx((254.0,) * 3)


def test_obj_counts_from_one_and_backwards_below_zero(tmp_path, reference):
    assert reference.agrees("formats", "obj_index", 1)
    lines = "v 0 0 0\nv 9 0 0\nv 0 9 0\nv 0 0 9\n"
    forward = lines + "f 1 3 2\nf 1 2 4\nf 2 3 4\nf 3 1 4\n"
    backward = lines + "f -4 -2 -3\nf -4 -3 -1\nf -3 -2 -1\nf -2 -4 -1\n"
    parts = [
        read_part(write(tmp_path, name, text.encode()))
        for name, text in (("f.obj", forward), ("b.obj", backward))
    ]
    assert parts[0].key == parts[1].key
    assert parts[0].volume_mm3 == pytest.approx(9.0**3 / 6.0)


def test_ply_with_the_published_header_is_read(tmp_path, reference):
    lines = reference["formats", "ply_header"]["expected"]
    head = "\n".join(lines).replace("vertex N", "vertex 4").replace("face M", "face 4")
    rows = "0 0 0\n9 0 0\n0 9 0\n0 0 9\n3 0 2 1\n3 0 1 3\n3 1 2 3\n3 2 0 3\n"
    part = read_part(write(tmp_path, "t.ply", f"{head}\n{rows}".encode()))
    assert part.volume_mm3 == pytest.approx(9.0**3 / 6.0)
    assert part.health.grade == "exact"


def test_a_cube_stored_inside_out_is_turned_and_keeps_its_published_figures(tmp_path, reference):
    """The published 12-triangle cube of side 4, made here from its figures."""
    known = reference["formats", "ply_cube_inside_out"]
    expected = known["expected"]
    vertices, facets = broken_files.cube(4.0, (-2.0, -2.0, -2.0))
    data = broken_files.text_ply(vertices, facets[:, ::-1])
    part = read_part(write(tmp_path, "cube.ply", data))
    assert len(part.facets) == known["inputs"]["faces"]
    assert part.volume_mm3 == pytest.approx(-expected["signed_volume"], rel=1e-9)
    assert part.area_mm2 == pytest.approx(expected["area"], rel=1e-9)
    box = [*part.vertices_mm.min(axis=0), *part.vertices_mm.max(axis=0)]
    assert box == expected["bbox"]
    assert part.health.flipped_facets == 12
    assert part.health.grade == "repaired"


def test_glb_is_in_metres_with_y_up(tmp_path):
    """glTF 2.0, 3.4: right-handed, +Y up, lengths in metres."""
    vertices, facets = broken_files.cube(0.02)
    tall = vertices * np.array([1.0, 3.0, 1.0])
    part = read_part(write(tmp_path, "t.glb", broken_files.glb(tall, facets)))
    assert part.size_mm == pytest.approx((20.0, 20.0, 60.0), rel=1e-6)
    assert part.unit == "m"
