"""The JSON Schema for editors says yes and no where the loader does."""

import tomllib
from pathlib import Path

import jsonschema
import pytest
from build_files import SOUND

from buildplan.build import json_schema, write_template

DEMO = Path(__file__).parents[3] / "parts" / "sprout_house" / "build.toml"


@pytest.fixture(scope="module")
def validator():
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_sound_build_files_pass(validator, tmp_path):
    for text in (SOUND, write_template(tmp_path, "x").read_text(), DEMO.read_text("utf-8")):
        errors = list(validator.iter_errors(tomllib.loads(text)))
        assert errors == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('unit = "mm"', 'unit = "furlong"'),
        ("quantity = 2", "quantity = -2"),
        ('about = "lid"', "abuot = 1"),
        ('file = "box.stl"', ""),
        ("width_mm = 235", 'width_mm = "235"'),
        ("infill_frac = 0.1", "infill_frac = 10"),
        ('like = "everyday"\n', ""),
        ("[[0, -1, 0], [1, 0, 0], [0, 0, 1]]", '"as it is"'),
        ("[0, 0, 0, 10, 8, 8.5]", "[0, 0, 0, 10, 8]"),
        ("[device]", "[devise]"),
        ("[[service]]", "[service]"),
    ],
)
def test_a_wrong_build_file_fails(validator, old, new):
    assert old in SOUND
    assert list(validator.iter_errors(tomllib.loads(SOUND.replace(old, new, 1))))


def test_the_schema_is_made_anew_each_time():
    json_schema().clear()
    assert json_schema()["title"] == "buildplan build file"
