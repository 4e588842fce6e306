"""The loader of tables: every kind of fault, all at once, in one line each."""

import pytest

from buildplan.errors import TableError
from buildplan.tables import ExtrusionFeedstock, Screw, load_table

SCREW = """
[[screw]]
key = "M9"
name = "M9 screw"
thread_mm = 9.0
pitch_mm = 1.25
hole_fine_mm = 9.3
hole_medium_mm = 10
hole_coarse_mm = 10.5
head_diameter_mm = 14.0
head_height_mm = 9.0
socket_mm = 7.0
tap_hole_mm = 7.75
stress_area_mm2 = 48.1
note = "an odd size"
[screw.sources]
_all = "made up for a test"
"""


def faults(text, kind="screw"):
    with pytest.raises(TableError) as error:
        load_table(kind, text, file="mine.toml")
    return str(error.value).splitlines()


def test_a_sound_table_gives_its_rows():
    rows = load_table("screw", SCREW)
    assert list(rows) == ["M9"]
    assert isinstance(rows["M9"], Screw)
    assert rows["M9"].hole_medium_mm == 10.0
    assert isinstance(rows["M9"].hole_medium_mm, float)


def test_a_table_that_comes_with_buildplan_is_loaded_by_its_name():
    rows = load_table("feedstock", "feedstocks.toml")
    assert isinstance(rows["PLA"], ExtrusionFeedstock)


def test_a_resource_that_is_not_there_is_named_with_the_near_one():
    with pytest.raises(TableError, match=r"Did you mean feedstocks\.toml\?"):
        load_table("feedstock", "feedstock.toml")


def test_an_unknown_kind_is_refused():
    with pytest.raises(TableError, match=r"Did you mean screw\?"):
        load_table("screws", SCREW)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "pitch_mm = 1.25",
            "pich_mm = 1.25",
            'mine.toml, line 6, screw "M9": the key "pich_mm" is not known. Allowed: key, name,',
        ),
        ("pitch_mm = 1.25", "", 'mine.toml, line 2, screw "M9": the key pitch_mm is missing'),
        (
            "pitch_mm = 1.25",
            'pitch_mm = "1.25"',
            'mine.toml, line 6, screw "M9": pitch_mm must be a number, found "1.25"',
        ),
        (
            "pitch_mm = 1.25",
            "pitch_mm = true",
            'mine.toml, line 6, screw "M9": pitch_mm must be a number, found true',
        ),
        (
            "pitch_mm = 1.25",
            "pitch_mm = [1.25]",
            'mine.toml, line 6, screw "M9": pitch_mm must be a number, found a list of 1',
        ),
        (
            "pitch_mm = 1.25",
            "pitch_mm = 125",
            'mine.toml, line 6, screw "M9": pitch_mm 125 is out of range. Allowed: 0.2 to 5',
        ),
        (
            "pitch_mm = 1.25",
            "pitch_mm = nan",
            'mine.toml, line 6, screw "M9": pitch_mm nan is not finite',
        ),
        (
            "pitch_mm = 1.25",
            "pitch_mm = -inf",
            'mine.toml, line 6, screw "M9": pitch_mm -inf is not finite',
        ),
        (
            'note = "an odd size"',
            "note = 3",
            'mine.toml, line 15, screw "M9": note must be a text in quotes, found 3',
        ),
        (
            '_all = "made up for a test"',
            'pitch_mm = "ISO 261"',
            'mine.toml, line 2, screw "M9": thread_mm, hole_fine_mm, hole_medium_mm,',
        ),
        (
            '_all = "made up for a test"',
            '_all = ""',
            'mine.toml, line 17, screw "M9", [sources]: the source of _all must be a text',
        ),
        (
            '_all = "made up for a test"',
            '_all = "x"\nnote = "y"',
            'mine.toml, line 18, screw "M9", [sources]: the source of "note" is not known.',
        ),
        ('name = "M9 screw"', 'name = ""', 'mine.toml, line 4, screw "M9": name is empty.'),
    ],
)
def test_a_fault_names_file_line_row_key_and_what_is_allowed(old, new, said):
    found = faults(SCREW.replace(old, new))
    assert any(line.startswith(said) for line in found), found


def test_a_misspelt_key_is_one_fault_not_two():
    found = faults(SCREW.replace("pitch_mm", "pich_mm"))
    assert len(found) == 1
    assert found[0].endswith("Did you mean pitch_mm?")


def test_every_fault_is_told_at_once_in_the_order_of_the_file():
    text = SCREW.replace("9.3", '"x"').replace("48.1", "-1").replace("socket_mm = 7.0\n", "")
    found = faults(text + '\n[[scrw]]\nkey = "x"\n')
    assert len(found) == 4
    places = [line.split(":")[0] for line in found]
    assert places == [
        'mine.toml, line 2, screw "M9"',
        'mine.toml, line 7, screw "M9"',
        'mine.toml, line 13, screw "M9"',
        "mine.toml, line 18",
    ]


def test_a_key_used_twice_is_refused():
    found = faults(SCREW + SCREW.replace('"M9"', '"m9"'))
    assert found == [
        'mine.toml, line 20, screw "m9": key "m9" is used twice (first as number 1). '
        "Give each its own key"
    ]


@pytest.mark.parametrize(
    "text", ["", "[screw]\nkey = 1\n", "screw = 3\n", "screw = [1]\n", "[nothing]\n"]
)
def test_what_is_no_array_of_tables_is_refused(text):
    assert faults(text)


def test_what_is_no_toml_is_refused_with_line_and_column():
    (line,) = faults("[[screw]\n")
    assert line.startswith("mine.toml is not a TOML file: ")
    assert "line 1, column" in line


FEEDSTOCK = """
[[feedstock]]
key = "mix"
process = "vat"
name = "own mix"
density_g_cm3 = 1.0
liquid_density_g_cm3 = 1.1
"""


def test_a_row_needs_a_known_process():
    found = faults(FEEDSTOCK.replace('"vat"', '"fat"'), "feedstock")
    assert found == [
        'mine.toml, line 4, feedstock "mix": process "fat" is not known. '
        "Allowed: extrusion, vat. Did you mean vat?"
    ]
    found = faults(FEEDSTOCK.replace('process = "vat"\n', ""), "feedstock")
    assert "the key process is missing" in found[0]


def test_missing_keys_of_one_row_stand_in_one_line():
    found = faults(FEEDSTOCK, "feedstock")
    assert sum("are missing" in line for line in found) == 1


@pytest.mark.parametrize(
    ("kind", "like", "change", "said"),
    [
        ("feedstock", "PLA", "nozzle_low_c = 240", "the first must not be higher"),
        ("feedstock", "tough_photopolymer", "density_g_cm3 = 1.0", "shrinks as it cures"),
        ("printer", "round_platform", "width_mm = 200", "its diameter in both"),
        ("printer", "small_vat", "platform_margin_mm = 40", "must leave room"),
        ("recipe", "everyday", "layer_mm = 0.5", "at least as wide as it is high"),
        ("recipe", "vat_detail", "lift_mm = 0.01", "at least one layer"),
    ],
)
def test_numbers_that_contradict_each_other_are_refused(kind, like, change, said):
    from buildplan.tables.loader import built_in
    from buildplan.tables.rows import read_rows

    field, value = change.split(" = ")
    raw = {"like": like, "name": "mine", field: float(value)}
    _, found = read_rows(kind, [raw], base=built_in(kind), own_source="a test")
    assert len(found) == 1
    assert said in found[0].text
