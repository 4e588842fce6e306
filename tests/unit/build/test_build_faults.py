"""Every kind of fault in a build file: its file, line, table, key, value, what is allowed."""

import pytest
from build_files import SOUND, lay_out

from buildplan.build import load_build
from buildplan.errors import BuildFileError


def faults(folder, *changes):
    with pytest.raises(BuildFileError) as error:
        load_build(lay_out(folder, changes=changes))
    return str(error.value).splitlines()


ONE_FAULT = {
    "unknown feedstock": (
        ('"petg"', '"PTEG"'),
        'build.toml, line 30, part "roof vent": feedstock "PTEG" is not known. Allowed: PLA, PETG, '
        "ABS, ASA, PA12, TPU, PC, standard_photopolymer, tough_photopolymer, "
        "flexible_photopolymer. Did you mean PETG?",
    ),
    "unknown recipe": (
        ('recipe = "shell"', 'recipe = "shel"'),
        'build.toml, line 31, part "roof vent": extrusion recipe "shel" is not known. Allowed: '
        "quick, everyday, detail, sturdy, shell. Did you mean shell?",
    ),
    "recipe of the other process": (
        (
            'feedstock = "standard photopolymer"',
            'feedstock = "tough photopolymer"\nrecipe = "quick"',
        ),
        'build.toml, line 55, part "ring": vat recipe "quick" is not known. Allowed: everyday, '
        'detail. ("quick" is for extrusion)',
    ),
    "unknown printer at hand": (
        ('"north bench", "mid_vat"', '"north bnch", "mid_vat"'),
        'build.toml, line 9, [build]: printers "north bnch" is not known. Allowed: '
        "small_moving_bed, large_moving_bed, enclosed_gantry, round_platform, small_vat, mid_vat, "
        "north_bench. Did you mean north_bench?",
    ),
    "wish for a printer that is not at hand": (
        ('printers = ["north bench"]', 'printers = ["round platform"]'),
        'build.toml, line 32, part "roof vent": printers "round platform" is none of the printers '
        "in [build]. Allowed: north_bench, mid_vat.",
    ),
    "wish for a printer of the other process": (
        ('printers = ["north bench"]', 'printers = ["mid vat"]'),
        'build.toml, line 32, part "roof vent": printers "mid vat": mid_vat is for vat, PETG for '
        "extrusion",
    ),
    "no printer for the process": (
        ('"north bench", "mid_vat"', '"north bench"'),
        'build.toml, line 54, part "ring": feedstock "standard_photopolymer" runs on none of the '
        "printers: north_bench is for extrusion, standard_photopolymer for vat. Add a printer to "
        "[build] or choose another feedstock",
    ),
    "no printer hot enough": (
        ("width_mm = 235", "nozzle_max_c = 200"),
        'build.toml, line 32, part "roof vent": printers "north bench": the nozzle of north_bench '
        "reaches 200 C, PETG needs 230 C",
    ),
    "no vat printer among the file's own": (
        ('printers = ["north bench", "mid_vat"]', "printers = []"),
        'build.toml, line 54, part "ring": feedstock "standard_photopolymer" runs on none',
    ),
    "unknown key": (
        ('moves_with = "hinge"', 'move_with = "hinge"'),
        'build.toml, line 35, part "roof vent": the key "move_with" is not known. Allowed: name, '
        "file, unit, quantity, feedstock, recipe, printers, about, orientation, poses, "
        "moves_with, way, feature, keep_out. Did you mean moves_with?",
    ),
    "unknown table": (
        ("[device]", "[devise]"),
        'build.toml, line 69, [devise]: the key "devise" is not known. Allowed: build, feedstock, '
        "printer, recipe, rule, wire, screw, insert, fit, servo, fuse, capacitor, cell, part, "
        "bought, supplier, attended, unattended, assembly, claim, service, quote, choice, "
        "device, mechanism, power, heat, view, hardware, journal. Did you mean device?",
    ),
    "missing key": (
        ('file = "box.stl"\nunit', "unit"),
        'build.toml, line 25, part "roof vent": the key file is missing',
    ),
    "missing price": (
        ("price_cost = 4.2\n", ""),
        'build.toml, line 56, bought "screw M3 x 8": the key price_cost is missing',
    ),
    "missing mesh": (
        ('file = "box.stl"', 'file = "parts/bux.stl"'),
        'build.toml, line 27, part "roof vent": file "parts/bux.stl" is not there (looked for ',
    ),
    "mesh is a folder": (
        ('file = "box.stl"', 'file = "."'),
        'build.toml, line 27, part "roof vent": file "." is a folder. Name a file in it',
    ),
    "mesh name is empty": (
        ('file = "box.stl"', 'file = ""'),
        'build.toml, line 27, part "roof vent": file "" is empty. Write a path from the build file',
    ),
    "mesh name is too long": (
        ('file = "box.stl"', f'file = "{"x" * 5000}"'),
        'build.toml, line 27, part "roof vent": file "xxx',
    ),
    "missing table file": (
        ("printers = [", 'tables = ["mine.toml"]\nprinters = ['),
        'build.toml, line 9, [build]: tables "mine.toml" is not there (looked for ',
    ),
    "negative quantity": (
        ("quantity = 2", "quantity = -1"),
        'build.toml, line 29, part "roof vent": quantity -1 is out of range. Allowed: 1 to 1,000',
    ),
    "negative need": (
        ("quantity = 12", "quantity = -12"),
        'build.toml, line 58, bought "screw M3 x 8": quantity -12 is out of range. Allowed: 0 to '
        "1,000,000",
    ),
    "empty pack": (
        ("pack = 50", "pack = 0"),
        'build.toml, line 59, bought "screw M3 x 8": pack 0 is out of range. Allowed: 0.001 to '
        "1,000,000",
    ),
    "half a part": (
        ("quantity = 2", "quantity = 2.5"),
        'build.toml, line 29, part "roof vent": quantity must be a whole number, found 2.5',
    ),
    "text for a number": (
        ("energy_cost_kwh = 0.3", 'energy_cost_kwh = "0.3"'),
        'build.toml, line 6, [build]: energy_cost_kwh must be a number, found "0.3"',
    ),
    "number for a text": (
        ('revision = "B"', "revision = 2"),
        "build.toml, line 4, [build]: revision must be a text in quotes, found 2",
    ),
    "text for a flag": (
        ("needed = false", 'needed = "no"'),
        'build.toml, line 67, bought "fan": needed must be true or false, found "no"',
    ),
    "date for a text": (
        ('revision = "B"', "revision = 2026-01-31"),
        "build.toml, line 4, [build]: revision must be a text in quotes, found 2026-01-31",
    ),
    "not a number": (
        ("energy_cost_kwh = 0.3", "energy_cost_kwh = nan"),
        "build.toml, line 6, [build]: energy_cost_kwh nan is not finite",
    ),
    "infinity in a row": (
        ("width_mm = 235", "width_mm = inf"),
        'build.toml, line 14, printer "north bench": width_mm inf is not finite',
    ),
    "infinity in a later section": (
        ("lead_d = 5", "lead_d = 5\nlargest_mm = [1, -inf]"),
        'build.toml, line 75, service "Alder": largest_mm (number 2) -inf is not finite',
    ),
    "unknown unit": (
        ('unit = "mm"', 'unit = "inches"'),
        'build.toml, line 28, part "roof vent": unit "inches" is not known. Allowed: mm, cm, m, '
        "inch. Did you mean inch?",
    ),
    "unknown kind of feature": (
        ('kind = "hinge"', 'kind = "hing"'),
        'build.toml, line 43, part "roof vent", feature "left hinge": kind "hing" is not known. '
        "Allowed: hinge, boss, hole, hook, snap, slot, pin, bearing, face, mark, other. Did you "
        "mean hinge?",
    ),
    "flat box": (
        ("[0, 0, 0, 10, 8, 8.5]", "[0, 0, 0, 10, 0, 8.5]"),
        'build.toml, line 44, part "roof vent", feature "left hinge": box_mm runs from y = 0 to 0. '
        "Write the low corner first: [x0, y0, z0, x1, y1, z1]",
    ),
    "box of five numbers": (
        ("[5, 0, 5, 55, 1, 20]", "[5, 0, 5, 55, 1]"),
        'build.toml, line 48, part "roof vent", keep_out "lettering": box_mm must hold 6 values, '
        "found 5",
    ),
    "orientation in words": (
        ("[[0, -1, 0], [1, 0, 0], [0, 0, 1]]", '"upside down"'),
        'build.toml, line 34, part "roof vent": orientation must be "as placed" or three rows of '
        'three numbers, found "upside down"',
    ),
    "orientation that mirrors": (
        ("[[0, -1, 0], [1, 0, 0], [0, 0, 1]]", "[[0, 1, 0], [1, 0, 0], [0, 0, 1]]"),
        'build.toml, line 34, part "roof vent": orientation mirrors the part (determinant -1); '
        "turn one row round",
    ),
    "orientation that stretches": (
        ("[[0, -1, 0], [1, 0, 0], [0, 0, 1]]", "[[0, -1, 0], [1, 0, 0], [0, 0, 0.9]]"),
        'build.toml, line 34, part "roof vent": orientation is not a rotation: its rows are off '
        "right angles or length 1 by 0.19; at most 0.001 is allowed",
    ),
    "pose with a wrong last row": (
        (
            "[[1, 0, 0, 5], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]",
            "[[1, 0, 0, 5], [0, 1, 0, 0], [0, 0, 1, 0], [5, 0, 0, 1]]",
        ),
        'build.toml, line 36, part "roof vent": poses (number 1) must end with the row [0, 0, 0, ',
    ),
    "pose far away": (
        ("[1, 0, 0, 5]", "[1, 0, 0, 1e9]"),
        'build.toml, line 36, part "roof vent": poses (number 1) moves by 1e+09 mm; at most 100000 '
        "mm is allowed",
    ),
    "a pose too few": (
        ("quantity = 2", "quantity = 3"),
        'build.toml, line 36, part "roof vent": poses holds 2 matrices for quantity 3. Give one '
        "for each copy, or none",
    ),
    "part named twice": (
        ('name = "ring"', 'name = "Roof-Vent"'),
        'build.toml, line 52, part "Roof-Vent": name "Roof-Vent" is used twice (first as number '
        "1). Give each its own name",
    ),
    "item named twice": (
        ('name = "fan"', 'name = "screw M3 x 8"'),
        'build.toml, line 65, bought "screw M3 x 8": name "screw M3 x 8" is used twice',
    ),
    "row named twice": (
        ("[[feedstock]]", '[[printer]]\nlike = "mid_vat"\nname = "North bench"\n[[feedstock]]'),
        'build.toml, line 16, printer "North bench": key "north_bench" is used twice',
    ),
    "empty name": (
        ('name = "garden gate"', 'name = " "'),
        "build.toml, line 2, [build]: name is empty. Write a short name",
    ),
    "name in two lines": (
        ('name = "fan"', 'name = "fan\\nbig"'),
        "build.toml, line 65, bought \"fan big\": name 'fan\\nbig' holds characters that do not",
    ),
    "control character": (
        ('about = "lid"', 'about = "\\u001b[2J"'),
        'build.toml, line 33, part "roof vent": about holds the control character 0x1b. Write ',
    ),
    "currency": (
        ('currency = "EUR"', 'currency = "Euro"'),
        'build.toml, line 5, [build]: currency "Euro" is not allowed. Allowed: three capitals, '
        'such as "EUR"',
    ),
    "row like an unknown one": (
        ('like = "everyday"', 'like = "evryday"'),
        'build.toml, line 21, recipe "shell": like "evryday" is not known. Allowed: quick, '
        "everyday, detail, sturdy, vat_everyday, vat_detail. Did you mean everyday?",
    ),
    "row out of range": (
        ("infill_frac = 0.1", "infill_frac = 10"),
        'build.toml, line 23, recipe "shell": infill_frac 10 is out of range. Allowed: 0 to 1',
    ),
    "later table as a list": (
        ("[device]", "[[device]]"),
        "build.toml, line 69: device must be a table, found a list of 1. Write [device]",
    ),
    "a quote of nobody": (
        ("lead_d = 5\n", 'lead_d = 5\n\n[[quote]]\nservice = "Adler"\npart = "ring"\ncost = 3\n'),
        'build.toml, line 77, quote number 1: service "Adler" is not known. Allowed: Alder. '
        "Did you mean Alder?",
    ),
    "a later tenth that is earlier": (
        ("lead_d = 5\n", "lead_d = 5\nlead_high_d = 4\n"),
        'build.toml, line 75, service "Alder": lead_high_d 4 lies below lead_d 5. It is passed 1 '
        "time in 10, so it may not be shorter",
    ),
    "a day that is none": (
        ("lead_d = 5\n", 'lead_d = 5\n\n[choice]\ndone_by = "soon"\n'),
        'build.toml, line 77, [choice]: done_by "soon" is no day; write it like "2031-03-17"',
    ),
    "two sides of three": (
        ("lead_d = 5\n", "lead_d = 5\nlargest_mm = [10, 20]\n"),
        'build.toml, line 75, service "Alder": largest_mm has 2 numbers. Write three sides',
    ),
    "later array as a table": (
        ("[[service]]", "[service]"),
        "build.toml, line 72, [service]: service must be an array of tables, found a table. Write "
        "[[service]] before each",
    ),
}


@pytest.mark.parametrize("name", ONE_FAULT)
def test_a_fault_is_told_in_one_line(tmp_path, name):
    change, said = ONE_FAULT[name]
    found = faults(tmp_path, change)
    assert any(line.startswith(said) for line in found), found


@pytest.mark.parametrize("name", ONE_FAULT)
def test_a_fault_brings_no_others_with_it(tmp_path, name):
    assert len(faults(tmp_path, ONE_FAULT[name][0])) == 1


def test_a_build_without_any_printer_lists_the_classes(tmp_path):
    own = SOUND[SOUND.index("[[printer]]") : SOUND.index("[[feedstock]]")]
    found = faults(tmp_path, ('printers = ["north bench", "mid_vat"]\n', ""), (own, ""))
    assert found == [
        "build.toml, line 1, [build]: printers is empty. Name at least one of: small_moving_bed, "
        "large_moving_bed, enclosed_gantry, round_platform, small_vat, mid_vat"
    ]


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path):
    names = ["currency", "row out of range", "negative quantity", "unknown feedstock", "empty pack"]
    changes = [ONE_FAULT[name][0] for name in names]
    found = faults(tmp_path, *changes)
    for name in names:
        assert sum(line.startswith(ONE_FAULT[name][1]) for line in found) == 1, found
    lines = [int(line.split("line ")[1].split(",")[0]) for line in found]
    assert lines == sorted(lines)


def test_a_part_that_is_wrong_in_one_key_is_still_searched_for_more(tmp_path):
    changes = [
        ONE_FAULT[name][0] for name in ("unknown unit", "flat box", "a pose too few", "half a part")
    ]
    found = faults(tmp_path, *changes[:2], ("[1, 0, 0, 5]", "[1, 0, 0, 1e9]"))
    assert len(found) == 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "build.toml: the table [build] is missing"),
        ("build = 3", "build.toml, line 1: build must be a table, found 3"),
        ("part = 3", "build.toml, line 1: part must be an array of tables, found 3."),
        ("[part]", "build.toml, line 1, [part]: part must be an array of tables, found a table."),
        ("printer = 3", "build.toml, line 1: write [[printer]] with two brackets before each row"),
        (SOUND[: SOUND.index("[[part]]")], "build.toml: holds no [[part]]. Add at least one"),
    ],
)
def test_a_build_file_without_its_tables_is_refused(tmp_path, text, said):
    with pytest.raises(BuildFileError) as error:
        load_build(lay_out(tmp_path, text))
    assert any(line.startswith(said) for line in str(error.value).splitlines()), error.value


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"[build\n", "build.toml is not a TOML file: Expected"),
        (b"a = 1\na = 2\n", "build.toml is not a TOML file: Cannot overwrite a value (at line 2"),
        (b"[build]\nname = '\xff'\n", "build.toml, line 2: byte 0xff is not UTF-8. Save the file"),
        (b"a = " + b"[" * 20_000, "build.toml is nested too deep"),
        (b"a = " + b"9" * 5000, "build.toml is not a TOML file: "),
        (b"#" * 4_000_001, "build.toml holds 4000001 bytes; a TOML file of up to 4000000 is read"),
        (b"\x00", "build.toml is not a TOML file: "),
    ],
)
def test_what_is_no_toml_file_is_refused_in_one_line(tmp_path, content, said):
    file = tmp_path / "build.toml"
    file.write_bytes(content)
    with pytest.raises(BuildFileError) as error:
        load_build(file)
    assert str(error.value).startswith(said)
    assert "\n" not in str(error.value)


def test_a_toml_error_has_line_and_column(tmp_path):
    with pytest.raises(BuildFileError, match=r"at line 3, column \d"):
        load_build(lay_out(tmp_path, "a = 1\nb = 2\nc = = 3\n"))


@pytest.mark.parametrize("name", ["nothing.toml", "folder", "a\x00b"])
def test_a_file_that_is_not_there_is_a_build_file_error(tmp_path, name):
    (tmp_path / "folder").mkdir()
    with pytest.raises(BuildFileError, match="cannot be read"):
        load_build(tmp_path / name)
