"""Reading part files: what a Part holds, units, limits, places, and every format."""

import dataclasses
import hashlib
import subprocess
import sys

import broken_files
import numpy as np
import pytest
import solids
import step_files

from buildplan.errors import InputError, MeshError
from buildplan.part import Limits, part_from_mesh, read_part


def write(tmp_path, name, data):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def corners_of(part):
    """All facets as sorted triples of points, to compare meshes whatever their order."""
    triangles = np.round(part.vertices_mm[part.facets], 4) + 0.0
    turned = [np.roll(t, -min(range(3), key=lambda k: tuple(t[k])), axis=0) for t in triangles]
    return sorted(map(tuple, (t.ravel() for t in turned)))


def test_a_part_says_what_it_is_and_where_it_comes_from(tmp_path):
    data = broken_files.stl(*broken_files.cube())
    path = write(tmp_path, "cube.stl", data)
    part = read_part(path)
    assert (part.name, part.source, part.unit) == ("cube", str(path), "mm")
    assert part.sha256 == hashlib.sha256(data).hexdigest()
    assert part.size_mm == (10.0, 10.0, 10.0)
    assert part.volume_mm3 == pytest.approx(1000.0, rel=1e-12)
    assert part.area_mm2 == pytest.approx(600.0, rel=1e-12)
    assert part.centre_of_mass_mm == pytest.approx((5.0, 5.0, 5.0), rel=1e-12)
    assert (part.closed, part.shells, part.findings) == (True, 1, ())
    assert part.health.grade == "exact"
    assert (len(part.vertices_mm), len(part.facets)) == (8, 12)
    assert part.vertices_mm.dtype == np.float64
    assert part.facets.dtype == np.int64
    assert read_part(path, name="lid").name == "lid"


def test_a_parts_arrays_cannot_be_written_to(tmp_path):
    part = read_part(write(tmp_path, "cube.stl", broken_files.stl(*broken_files.cube())))
    for array in (part.vertices_mm, part.facets):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
    with pytest.raises(dataclasses.FrozenInstanceError):
        part.name = "other"


def test_all_formats_of_one_body_give_the_same_facets_in_place(tmp_path):
    vertices, facets = solids.arrays(solids.tee())
    upright = vertices[:, [0, 2, 1]] * np.array([1.0, 1.0, -1.0]) / 1000.0
    files = {
        "t.stl": broken_files.stl(vertices, facets),
        "text.stl": broken_files.text_stl(vertices, facets).encode(),
        "t.3mf": broken_files.packed(broken_files.model(vertices, facets)),
        "t.obj": broken_files.obj(vertices, facets),
        "t.ply": broken_files.text_ply(vertices, facets),
        "little.ply": broken_files.binary_ply(vertices, facets),
        "big.ply": broken_files.binary_ply(vertices, facets, "big"),
        "t.off": broken_files.off(vertices, facets),
        "t.glb": broken_files.glb(upright, facets),
    }
    wanted = corners_of(part_from_mesh(vertices, facets))
    for name, data in files.items():
        part = read_part(write(tmp_path, name, data))
        assert corners_of(part) == wanted, name
        assert part.unit == ("m" if name.endswith("glb") else "mm")


def test_reading_twice_gives_the_same_bytes(tmp_path):
    path = write(tmp_path, "tub.stl", broken_files.stl(*solids.arrays(solids.tub(segments=32))))
    first, second = read_part(path), read_part(path)
    assert first.key == second.key
    assert first.vertices_mm.tobytes() == second.vertices_mm.tobytes()
    assert first.facets.tobytes() == second.facets.tobytes()


def test_vertices_keep_the_order_in_which_a_file_names_them(tmp_path):
    vertices, facets = broken_files.cube()
    part = read_part(write(tmp_path, "cube.stl", broken_files.stl(vertices, facets)))
    order = list(dict.fromkeys(map(tuple, vertices[facets].reshape(-1, 3).tolist())))
    assert part.vertices_mm.tolist() == [list(point) for point in order]


@pytest.mark.parametrize(
    ("unit", "factor"),
    [("micron", 1e-3), ("mm", 1.0), ("cm", 10.0), ("inch", 25.4), ("foot", 304.8), ("m", 1000.0)],
)
def test_the_units_one_may_give_scale_the_part(tmp_path, unit, factor):
    path = write(tmp_path, "cube.stl", broken_files.stl(*broken_files.cube()))
    part = read_part(path, unit=unit)
    assert part.size_mm == pytest.approx((10.0 * factor,) * 3, rel=1e-12)
    assert part.volume_mm3 == pytest.approx(1000.0 * factor**3, rel=1e-9)
    assert part.unit == unit
    assert not [f for f in part.findings if f.check == "units"]


def test_an_unknown_unit_is_refused_with_the_near_one(tmp_path):
    path = write(tmp_path, "cube.stl", broken_files.stl(*broken_files.cube()))
    with pytest.raises(InputError, match=r"'inches' is not known; allowed: .*did you mean 'inch'"):
        read_part(path, unit="inches")


def test_an_unlikely_size_lists_the_units_it_could_be_in_and_scales_nothing(tmp_path):
    tiny = broken_files.stl(*broken_files.cube(0.2))
    part = read_part(write(tmp_path, "tiny.stl", tiny))
    (finding,) = part.findings
    assert (finding.check, finding.severity) == ("units", "caution")
    assert 'unit="m" makes it 200 x 200 x 200 mm' in finding.remedy
    assert 'unit="inch" makes it 5.08 x 5.08 x 5.08 mm' in finding.remedy
    assert part.size_mm == pytest.approx((0.2,) * 3, rel=1e-6)
    big = read_part(write(tmp_path, "big.stl", broken_files.stl(*broken_files.cube(30000.0))))
    assert 'unit="micron" makes it 30 x 30 x 30 mm' in big.findings[0].remedy
    assert (
        read_part(write(tmp_path, "ok.stl", broken_files.stl(*broken_files.cube(5.0)))).findings
        == ()
    )


def test_a_units_word_in_3mf_is_applied_and_can_be_overruled(tmp_path):
    data = broken_files.packed(broken_files.model(*broken_files.cube(), unit="centimeter"))
    path = write(tmp_path, "cube.3mf", data)
    assert read_part(path).size_mm == (100.0, 100.0, 100.0)
    ruled = read_part(path, unit="mm")
    assert ruled.size_mm == (10.0, 10.0, 10.0)
    assert [(f.check, f.severity) for f in ruled.findings] == [("units", "note")]


def test_build_items_and_components_stand_where_their_transforms_put_them(tmp_path):
    vertices, facets = broken_files.cube()
    within = (
        '<object id="2" type="model"><components>'
        '<component objectid="1" transform="0 1 0 -1 0 0 0 0 1 10 0 0"/>'
        '<component objectid="1" transform="2 0 0 0 1 0 0 0 1 50 0 0"/></components></object>'
    )
    item = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 7"/>'
    text = broken_files.model(vertices, facets, objects=within, item=item)
    part = read_part(write(tmp_path, "two.3mf", broken_files.packed(text)))
    assert part.vertices_mm.min(axis=0) == pytest.approx((0.0, 0.0, 7.0))
    assert part.vertices_mm.max(axis=0) == pytest.approx((70.0, 10.0, 17.0))
    assert (part.shells, part.volume_mm3) == (2, pytest.approx(3000.0))


def test_a_model_part_beside_the_main_one_is_found(tmp_path):
    import io
    import zipfile

    production = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
    main = broken_files.model(
        [],
        [],
        root=f'xmlns:p="{production}" requiredextensions="p"',
        item='<item objectid="1" p:path="/3D/Other.model"/>',
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        file.writestr("_rels/.rels", broken_files.START)
        file.writestr("3D/3dmodel.model", main)
        file.writestr("3D/other.model", broken_files.model(*broken_files.cube()))
    assert read_part(write(tmp_path, "p.3mf", out.getvalue())).volume_mm3 == pytest.approx(1000.0)


def test_a_polygon_with_a_notch_is_cut_into_ears_not_fanned(tmp_path):
    shape = [(0, 0), (30, 0), (30, 30), (20, 30), (20, 10), (10, 10), (10, 30), (0, 30)]
    lines = [f"v {x} {y} {z}" for z in (0, 5) for x, y in shape]
    lines.append("f " + " ".join(str(k) for k in range(8, 0, -1)))
    lines.append("f " + " ".join(str(k) for k in range(9, 17)))
    lines += [f"f {k + 1} {(k + 1) % 8 + 1} {(k + 1) % 8 + 9} {k + 9}" for k in range(8)]
    part = read_part(write(tmp_path, "notch.obj", "\n".join(lines).encode()))
    assert part.volume_mm3 == pytest.approx((900.0 - 200.0) * 5.0)
    assert part.area_mm2 == pytest.approx(2 * 700.0 + 5.0 * 160.0)
    assert part.health.self_intersections == 0


def test_a_glb_scene_turns_scales_and_mirrors_its_nodes(tmp_path):
    vertices, facets = broken_files.cube(0.01)
    nodes = [
        {"children": [1], "translation": [0.1, 0.2, 0.3]},
        {
            "mesh": 0,
            "scale": [-1, 2, 1],
            "rotation": [0, 0, 0.7071067811865476, 0.7071067811865476],
        },
    ]
    part = read_part(write(tmp_path, "n.glb", broken_files.glb(vertices, facets, nodes=nodes)))
    assert part.volume_mm3 == pytest.approx(2000.0, rel=1e-6)
    # in the file's frame x 0.08..0.1, y 0.19..0.2, z 0.3..0.31; then y up becomes z up
    assert part.vertices_mm.min(axis=0) == pytest.approx((80.0, -310.0, 190.0), rel=1e-5)
    assert part.vertices_mm.max(axis=0) == pytest.approx((100.0, -300.0, 200.0), rel=1e-5)


def test_strips_and_fans_of_triangles_in_glb_are_read(tmp_path):
    def strip(tree):
        tree["meshes"][0]["primitives"][0]["mode"] = 5

    corners = np.array([[0.0, 0, 0], [0.03, 0, 0], [0, 0.03, 0], [0, 0, 0.03]])
    around = np.array([[0, 2, 1], [3, 0, 2]])  # 0 2 1 3 0 2 as one strip closes a tetrahedron
    part = read_part(write(tmp_path, "s.glb", broken_files.glb(corners, around, strip)))
    assert part.volume_mm3 == pytest.approx(30.0**3 / 6.0, rel=1e-6)
    assert part.closed


@pytest.mark.parametrize(("prefix", "factor"), [(".MILLI.", 1.0), (".CENTI.", 10.0)])
def test_a_step_file_is_read_in_its_own_unit(tmp_path, prefix, factor):
    data = step_files.step_box((30.0, 20.0, 10.0), prefix)
    part = read_part(write(tmp_path, "box.step", data))
    assert part.size_mm == pytest.approx((30.0 * factor, 20.0 * factor, 10.0 * factor), rel=1e-6)
    assert part.volume_mm3 == pytest.approx(6000.0 * factor**3, rel=1e-6)
    assert part.closed


def test_step_without_the_extra_names_the_extra(tmp_path, monkeypatch):
    monkeypatch.setattr("buildplan.part.formats.step.find_spec", lambda name: None)
    path = write(tmp_path, "box.step", step_files.step_box())
    with pytest.raises(MeshError, match=r"extra 'cad'.*pip install 'buildplan\[cad\]'"):
        read_part(path)


def test_a_step_reader_that_crashes_or_hangs_is_a_plain_refusal(tmp_path, monkeypatch):
    path = write(tmp_path, "box.step", step_files.step_box())
    module = "buildplan.part.formats.step"
    monkeypatch.setattr(f"{module}.CHILD", "import os; os.abort()")
    with pytest.raises(MeshError, match="ended with code -6"):
        read_part(path)
    monkeypatch.setattr(f"{module}.CHILD", "import time; time.sleep(60)")
    monkeypatch.setattr(f"{module}.LONGEST_S", 0.2)
    with pytest.raises(MeshError, match=r"took more than 0\.2 s"):
        read_part(path)


def test_limits_are_held_and_named(tmp_path):
    vertices, facets = broken_files.cube()
    path = write(tmp_path, "cube.stl", broken_files.stl(vertices, facets))
    with pytest.raises(MeshError, match=r"684 bytes long, at most 600 .*file_bytes="):
        read_part(path, limits=Limits(file_bytes=600))
    with pytest.raises(MeshError, match=r"12 triangles, at most 11 .*triangles="):
        read_part(path, limits=Limits(triangles=11))
    text = write(tmp_path, "t.stl", broken_files.text_stl(vertices, facets).encode())
    with pytest.raises(MeshError, match=r"12 triangles, at most 11 .*triangles="):
        read_part(text, limits=Limits(triangles=11))
    packed = write(tmp_path, "c.3mf", broken_files.packed(broken_files.model(vertices, facets)))
    with pytest.raises(MeshError, match=r"at most 800 .*unpacked_bytes="):
        read_part(packed, limits=Limits(unpacked_bytes=800))
    with pytest.raises(MeshError, match="more than the 11 triangles"):
        read_part(packed, limits=Limits(triangles=11))
    with pytest.raises(InputError, match="instances is 0"):
        Limits(instances=0)


def test_quick_health_reads_the_same_body_without_the_search(tmp_path):
    path = write(tmp_path, "tub.stl", broken_files.stl(*solids.arrays(solids.tub(segments=32))))
    quick, full = read_part(path, health="quick"), read_part(path)
    assert (quick.health.searched, full.health.searched) == ("quick", "full")
    assert quick.key == full.key
    assert quick.volume_mm3 == full.volume_mm3


def test_importing_the_package_compiles_nothing():
    code = "import sys, buildplan.part; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_an_impossible_width_or_depth_of_search_is_refused(tmp_path):
    path = write(tmp_path, "cube.stl", broken_files.stl(*broken_files.cube()))
    for width in (-1.0, float("nan"), float("inf")):
        with pytest.raises(InputError, match="a length of 0 mm or more is needed"):
            read_part(path, fill_holes_mm=width)
    with pytest.raises(InputError, match="'deep' is not known; allowed: 'full', 'quick'"):
        read_part(path, health="deep")
