"""What is written of a split: meshes that come back, steps, a picture, JSON with every number."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
import solids
from PIL import Image

import buildplan as bp
from buildplan.errors import MeshError
from buildplan.part import part_from_mesh
from buildplan.report import segments_files
from buildplan.report.assembly_picture import draw_assembly, piece_shifts
from buildplan.report.segments_files import file_names, segments_object, write_segments
from buildplan.report.segments_text import print_coupon, print_ladder, print_segments
from buildplan.report.terminal import console
from buildplan.segments.assembly import assembly_steps
from buildplan.segments.coupon import cut_coupon
from buildplan.segments.ladder import clearance_ladder
from buildplan.segments.run import split_part


@pytest.fixture(scope="module")
def printing():
    coarse = replace(bp.recipe("everyday"), layer_mm=0.3)
    return bp.printer("small_moving_bed"), bp.feedstock("pla"), coarse


@pytest.fixture(scope="module")
def plan(printing):
    body = solids.box(400, 60, 30) - solids.box(392, 52, 30, (4, 4, 4))
    part = part_from_mesh(*solids.arrays(body), name="trough / 2", health="quick")
    return split_part(part, *printing, most_pieces=3)


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("segments")
    return folder, write_segments(plan, folder)


def test_every_print_is_written_twice_and_comes_back(written, plan):
    folder, paths = written
    data = json.loads((folder / "segments.json").read_text("utf-8"))
    assert len(data["pieces"]) == len(plan.pieces)
    for entry in (*data["pieces"], *data["loose"]):
        for key in ("file", "file_3mf"):
            back = bp.read_part(folder / entry[key])
            assert back.closed
            # a spline is a millimetre thin: single precision moves its faces by up to 1e-5 mm
            exact = 1e-6 if key == "file_3mf" or entry in data["pieces"] else 1e-5
            assert back.volume_mm3 == pytest.approx(entry["volume_mm3"], rel=exact)
            assert back.size_mm == pytest.approx(entry["size_mm"], abs=1e-4)
            assert back.vertices_mm[:, 2].min() == pytest.approx(0.0, abs=1e-5)
        assert bp.read_part(folder / entry["file_3mf"]).unit == "mm"
    assert paths[-1] == folder.resolve() / "segments.json"
    assert all(path.is_file() for path in paths)


def test_the_json_holds_what_the_issue_asks_for(written, plan):
    data = json.loads((written[0] / "segments.json").read_text("utf-8"))
    assert {"pieces", "joints", "table", "rejected", "odds", "weights", "summary"} <= set(data)
    piece = data["pieces"][0]
    assert {"file", "volume_mm3", "size_mm", "time_h", "mass_g"} <= set(piece)
    assert data["table"][data["chosen"]]["pieces"] == len(plan.pieces)
    for joint in data["joints"]:
        assert joint["checks"]["volume_error_frac"] <= 1e-9
        assert joint["checks"]["overlap_mm3"] <= 1e-6
        assert joint["first"]
        assert joint["second"]
    assert data == json.loads(json.dumps(segments_object(plan)))


def test_writing_twice_gives_the_same_bytes(written, plan, tmp_path):
    again = write_segments(plan, tmp_path)
    for one, other in zip(written[1], again, strict=True):
        assert one.name == other.name
        assert one.read_bytes() == other.read_bytes()


def test_a_file_that_comes_back_different_is_refused(plan, tmp_path, monkeypatch):
    def broken(path, **kwargs):
        return replace(bp.read_part(path), volume_mm3=1.0)

    monkeypatch.setattr(segments_files, "read_part", broken)
    with pytest.raises(MeshError, match=r"read again it holds 1\.000 mm3"):
        write_segments(plan, tmp_path)


def test_names_of_files_are_plain_and_each_is_there_once():
    names = file_names(["tub 1", "tub/1", "TUB-1", "../../etc", "é", ""])
    assert names == ("tub_1", "tub_1_2", "TUB_1_3", "etc", "piece", "piece_2")
    assert len(file_names(["a" * 300])[0]) == 60


def test_the_sketch_moves_every_joint_apart_and_shows_all_pieces(plan):
    steps = assembly_steps(plan)
    shifts = piece_shifts(plan, steps)
    for step in steps:
        normal = np.array(plan.joints[step.index].plane.normal)
        apart = (shifts[step.first[0]] - shifts[step.second[0]]) @ normal
        assert apart > 0.1 * 400.0
    picture = draw_assembly(plan, width_px=500, height_px=360)
    image = Image.open(io.BytesIO(picture.data))
    assert image.size == (500, 360)
    colours = {tuple(pixel) for pixel in np.array(image.convert("RGB")).reshape(-1, 3)}
    assert (0, 114, 178) in colours
    assert draw_assembly(plan, width_px=500, height_px=360).data == picture.data


def test_the_steps_say_what_to_do_and_what_to_buy(written, plan):
    text = (written[0] / "assembly.txt").read_text("utf-8")
    for step in assembly_steps(plan):
        assert f"{step.joint}. {step.text}." in text
    assert "To buy:" in text


def shown(print_it, *arguments, width=100):
    file = io.StringIO()
    print_it(console(file=file, width=width), *arguments)
    return file.getvalue()


@pytest.mark.parametrize("width", [80, 100])
def test_the_terminal_shows_one_screen(plan, width):
    text = shown(print_segments, plan, "EUR", width=width)
    assert len(text.splitlines()) <= 60
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width
    assert f"› {len(plan.pieces)}" in text
    assert "too large" in text
    for piece in plan.pieces:
        assert piece.name in text


def test_a_coupon_and_a_ladder_say_what_they_take(plan, printing):
    part = plan.pieces[0].part
    coupon = cut_coupon(part, (*part.vertices_mm.min(axis=0), *part.vertices_mm.max(axis=0)))
    text = shown(print_coupon, coupon, bp.estimate_print(coupon.part, *printing), "EUR")
    assert "of feedstock and EUR" in text
    ladder = clearance_ladder()
    takes = [bp.estimate_print(one, *printing) for one in ladder.parts]
    text = shown(print_ladder, ladder, takes, "EUR")
    assert "0.05" in text
    assert "Count the notches" in text
