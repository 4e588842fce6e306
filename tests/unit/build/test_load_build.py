"""A sound build file: every name replaced by its row, every number in place."""

import hashlib
import pickle
from dataclasses import replace

import pytest
from build_files import SOUND, lay_out

from buildplan.build import load_build
from buildplan.errors import BuildFileError
from buildplan.tables import feedstock, printer, recipe


@pytest.fixture
def build(tmp_path):
    return load_build(lay_out(tmp_path))


def test_the_head_is_kept(build, tmp_path):
    assert (build.name, build.about, build.revision) == ("garden gate", "opens itself", "B")
    assert (build.currency, build.data) == ("EUR", "invented")
    assert (build.prices.energy_cost_kwh, build.prices.own_time_cost_h) == (0.3, 12.0)
    assert build.path == tmp_path / "build.toml"
    assert build.sha256 == hashlib.sha256(SOUND.encode()).hexdigest()


def test_printers_are_rows_with_the_changes_of_the_file(build):
    north = replace(
        printer("small_moving_bed"), key="north_bench", name="north bench", width_mm=235.0
    )
    assert build.printers == (north, printer("mid_vat"))


def test_a_part_holds_its_rows_and_its_mesh(build, tmp_path):
    vent = build.parts[0]
    assert vent.path == tmp_path / "box.stl"
    assert (vent.name, vent.unit, vent.quantity, vent.about) == ("roof vent", "mm", 2, "lid")
    assert vent.feedstock == replace(feedstock("PETG"), price_cost_kg=19.5)
    assert vent.recipe == replace(recipe("everyday"), key="shell", name="shell", infill_frac=0.1)
    assert vent.printers == build.printers[:1]
    assert vent.moves_with == "hinge"


def test_orientation_and_poses_are_sixteen_numbers_row_by_row(build):
    vent, ring = build.parts
    assert vent.orientation == (0, -1, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1)
    assert [pose[3] for pose in vent.poses] == [5.0, 5.0]
    assert [len(pose) for pose in vent.poses] == [16, 16]
    assert ring.orientation == (1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1)
    assert ring.poses == ()


def test_features_and_keep_outs_are_boxes_with_names(build):
    (feature,) = build.parts[0].features
    (keep_out,) = build.parts[0].keep_outs
    assert (feature.name, feature.kind) == ("left hinge", "hinge")
    assert feature.box_mm == (0, 0, 0, 10, 8, 8.5)
    assert (keep_out.name, keep_out.box_mm[3], keep_out.about) == ("lettering", 55.0, "shows")


def test_a_part_that_wishes_nothing_gets_every_printer_that_runs_its_feedstock(build):
    ring = build.parts[1]
    assert ring.feedstock.key == "standard_photopolymer"
    assert ring.recipe == recipe("everyday", "vat")
    assert [row.key for row in ring.printers] == ["mid_vat"]
    assert (ring.unit, ring.quantity) == (None, 1)


def test_bought_items_have_their_numbers_and_defaults(build):
    screw, fan = build.bought
    assert (screw.quantity, screw.pack, screw.price_cost, screw.lead_d) == (12.0, 50.0, 4.2, 3.0)
    assert (screw.unit, screw.used_in, screw.needed) == ("piece", "roof vent", True)
    assert (fan.quantity, fan.pack, fan.needed) == (1.0, 1.0, False)


def test_later_sections_are_kept_as_they_stand(build):
    assert build.sections == {"device": {"ambient_c": 35.0}}


def test_services_have_their_terms_and_defaults(build):
    (service,) = build.decisions.services
    assert (service.name, service.lead_d, service.finish_h) == ("Alder", 5.0, 0.25)
    assert service.largest_mm == ()
    assert build.decisions.quotes == ()
    assert build.decisions.choice.most_loss_frac == 1.0


def test_the_source_of_a_changed_number_is_the_build_file(build):
    sources = build.tables["feedstock"].sources["PETG"]
    assert sources["price_cost_kg"] == "build file build.toml"
    assert "ASTM D792" in sources["density_g_cm3"]
    assert build.tables["recipe"].sources["shell"]["infill_frac"] == "build file build.toml"


def test_loading_changes_no_built_in_row(build):
    assert feedstock("PETG").price_cost_kg != 19.5


def test_a_build_goes_to_another_process_and_back(build):
    assert pickle.loads(pickle.dumps(build)) == build


def test_loading_twice_gives_the_same(build):
    assert load_build(build.path) == build


def test_a_folder_stands_for_the_build_file_in_it(build):
    assert load_build(build.path.parent) == build


@pytest.mark.parametrize("changed", [SOUND.replace("\n", "\r\n"), "\ufeff" + SOUND])
def test_line_ends_and_byte_order_marks_change_nothing(tmp_path, changed):
    file = lay_out(tmp_path)
    file.write_bytes(changed.encode("utf-8"))
    assert load_build(file).parts == load_build(lay_out(tmp_path)).parts


def test_without_printers_in_the_head_the_rows_of_the_file_are_at_hand(tmp_path):
    changes = [
        ('printers = ["north bench", "mid_vat"]\n', ""),
        ("[[feedstock]]", '[[printer]]\nlike = "small_vat"\n\n[[feedstock]]'),
    ]
    build = load_build(lay_out(tmp_path, changes=changes))
    assert [row.key for row in build.printers] == ["north_bench", "small_vat"]


MY_TABLES = """
[[feedstock]]
like = "PETG"
name = "shop PETG"
density_g_cm3 = 1.25
[feedstock.sources]
density_g_cm3 = "weighed at home"

[[printer]]
like = "large_moving_bed"
name = "south bench"
[[screw]]
like = "M3"
name = "M3 short head"
head_height_mm = 2.0
[screw.sources]
head_height_mm = "measured"
"""


def test_a_table_file_of_ones_own_adds_rows(tmp_path):
    changes = [
        ("printers = [", 'tables = ["mine.toml"]\nprinters = ["south bench", '),
        ('feedstock = "petg"', 'feedstock = "shop petg"'),
    ]
    file = lay_out(tmp_path, changes=changes)
    (tmp_path / "mine.toml").write_text(MY_TABLES)
    build = load_build(file)
    assert build.parts[0].feedstock.density_g_cm3 == 1.25
    assert build.printers[0].name == "south bench"
    assert build.tables["feedstock"].sources["shop_petg"]["density_g_cm3"] == "weighed at home"
    assert build.tables["screw"].rows["m3_short_head"].head_height_mm == 2.0


def test_a_fault_in_a_table_file_names_that_file(tmp_path):
    file = lay_out(tmp_path, changes=[("printers = [", 'tables = ["mine.toml"]\nprinters = [')])
    (tmp_path / "mine.toml").write_text(MY_TABLES.replace("1.25", "125"))
    with pytest.raises(BuildFileError) as error:
        load_build(file)
    assert str(error.value) == (
        'mine.toml, line 5, feedstock "shop PETG": density_g_cm3 125 is out of range. '
        "Allowed: 0.5 to 9"
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("[[feedstok]]\n", 'mine.toml, line 1: the key "feedstok" is not known. Allowed: feedst'),
        ("x", "mine.toml is not a TOML file: "),
        (
            '[[feedstock]]\nlike = "PLA"\npack_g = 500\n',
            'mine.toml, line 1, feedstock "PLA": pack_g has no source.',
        ),
    ],
)
def test_a_table_file_is_held_to_the_laws_of_tables(tmp_path, content, said):
    file = lay_out(tmp_path, changes=[("printers = [", 'tables = ["mine.toml"]\nprinters = [')])
    (tmp_path / "mine.toml").write_text(content)
    with pytest.raises(BuildFileError) as error:
        load_build(file)
    assert str(error.value).startswith(said)


def test_a_table_file_is_read_even_where_the_head_has_a_fault(tmp_path):
    changes = [
        ("printers = [", 'tables = ["mine.toml"]\nprinters = ["south bench", '),
        ('feedstock = "petg"', 'feedstock = "shop petg"'),
        ("own_time_cost_h = 12", "own_time_cost_h = -12"),
    ]
    file = lay_out(tmp_path, changes=changes)
    (tmp_path / "mine.toml").write_text(MY_TABLES)
    with pytest.raises(BuildFileError) as error:
        load_build(file)
    assert str(error.value) == (
        "build.toml, line 7, [build]: own_time_cost_h -12 is out of range. Allowed: 0 to 100,000"
    )
