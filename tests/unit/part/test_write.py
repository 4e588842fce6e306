"""Written parts come back through the reader as they were, and equal parts give equal bytes."""

import zipfile

import numpy as np
import pytest
import solids

from buildplan.errors import InputError
from buildplan.part import part_from_mesh, read_part
from buildplan.part.write import stl_bytes, threemf_bytes, write_part


@pytest.fixture(scope="module")
def tub():
    return part_from_mesh(*solids.arrays(solids.tub(64)), name="tub")


def test_stl_comes_back_closed_with_the_volume_of_single_precision(tub, tmp_path):
    back = read_part(write_part(tub, tmp_path / "tub.stl"), unit="mm")
    assert back.closed
    assert back.shells == tub.shells
    assert back.volume_mm3 == pytest.approx(tub.volume_mm3, rel=1e-6)


def test_3mf_comes_back_with_unit_name_and_every_vertex(tub, tmp_path):
    path = write_part(tub, tmp_path / "tub.3mf")
    back = read_part(path)
    assert back.unit == "mm"
    assert back.closed
    assert len(back.facets) == len(tub.facets)
    assert back.volume_mm3 == pytest.approx(tub.volume_mm3, rel=1e-8)
    with zipfile.ZipFile(path) as package:
        model = package.read("3D/3dmodel.model").decode()
    assert '<model unit="millimeter"' in model
    assert 'name="tub"' in model
    assert "color" not in model


def test_equal_parts_give_equal_bytes(tub):
    assert stl_bytes(tub) == stl_bytes(tub)
    assert threemf_bytes(tub) == threemf_bytes(tub)
    assert len(stl_bytes(tub)) == 84 + 50 * len(tub.facets)


def test_normals_of_an_stl_point_outward_with_length_one(tub):
    records = np.frombuffer(
        stl_bytes(tub)[84:],
        dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")],
    )
    corners = records["corners"].astype(float)
    own = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.allclose(np.linalg.norm(records["normal"], axis=1), 1.0, atol=1e-6)
    assert ((own * records["normal"]).sum(axis=1) > 0.0).all()


@pytest.mark.parametrize("name", ['a<b>&"c', "tab\tand\nline", "right\u202eleft"])
def test_hostile_names_stay_well_formed(name, tmp_path):
    part = part_from_mesh(*solids.arrays(solids.box()), name=name)
    back = read_part(write_part(part, tmp_path / "part.3mf"))
    assert back.volume_mm3 == pytest.approx(part.volume_mm3)


def test_another_file_name_is_refused_and_nothing_is_left(tub, tmp_path):
    with pytest.raises(InputError, match=r"\.stl or \.3mf"):
        write_part(tub, tmp_path / "tub.obj")
    assert list(tmp_path.iterdir()) == []
