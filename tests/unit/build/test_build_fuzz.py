"""Random data in the shape of a build file: a build or a BuildFileError, never anything else."""

import copy
import datetime
import tomllib
from pathlib import Path

import pytest
from build_files import SOUND
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildplan.build import Build, resolve_build
from buildplan.build.shape import BoughtTable, BuildTable, PartTable
from buildplan.errors import BuildFileError

HERE = Path(__file__).parent / "build.toml"
KEYS = sorted(
    {
        *BuildTable.__slots__,
        *PartTable.__slots__,
        *BoughtTable.__slots__,
        *(
            "build",
            "printer",
            "feedstock",
            "recipe",
            "rule",
            "wire",
            "screw",
            "insert",
            "fit",
            "servo",
            "fuse",
            "capacitor",
            "cell",
            "part",
            "bought",
        ),
        *("device", "power", "service", "quote", "journal", "like", "key", "sources", "process"),
        *("kind", "box_mm", "width_mm", "infill_frac", "density_g_cm3", "wall_beads", "_all", "x"),
    }
)
WORDS = st.sampled_from(
    ["PLA", "PETG", "everyday", "small_vat", "as placed", "mm", "EUR", "vat", "hinge", "box.stl"]
)
SCALARS = st.one_of(
    WORDS,
    st.text(max_size=8),
    st.integers(min_value=-(10**400), max_value=10**400),
    st.integers(min_value=-5, max_value=300),
    st.floats(),
    st.booleans(),
    st.just(datetime.date(2026, 1, 31)),
    st.just(datetime.datetime(2026, 1, 31, 12, tzinfo=datetime.UTC)),
    st.just(datetime.time(12)),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.sampled_from(KEYS), inner, max_size=5)
    ),
    max_leaves=12,
)
DATA = st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6)


def places(data, path=()):
    """Paths of everything in a tree of tables and lists."""
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in pairs:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))


SOUND_DATA = tomllib.loads(SOUND)
PLACES = list(places(SOUND_DATA))


def resolve(data):
    """A build, or the lines of the one error that is allowed."""
    before = copy.deepcopy(data)
    try:
        built = resolve_build(data, path=HERE, text="")
    except BuildFileError as error:
        lines = str(error).splitlines()
        assert lines
        assert all(line.startswith("build.toml") and len(line) < 2000 for line in lines)
        return lines
    assert isinstance(built, Build)
    assert repr(before) == repr(data)
    return built


def spoil(place, value, drop):
    """The sound build file with one value replaced or taken out."""
    data = copy.deepcopy(SOUND_DATA)
    here = data
    for key in place[:-1]:
        here = here[key]
    if drop:
        del here[place[-1]]
    else:
        here[place[-1]] = value
    return data


@given(DATA)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_random_data_are_refused_in_words(data):
    resolve(data)


@given(st.sampled_from(PLACES), VALUES, st.booleans())
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_sound_file_with_one_value_spoilt_is_a_build_or_refused_in_words(place, value, drop):
    resolve(spoil(place, value, drop))


@pytest.mark.slow
@given(DATA)
@settings(max_examples=2000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_much_random_data_is_refused_in_words(data):
    resolve(data)


@pytest.mark.slow
@given(st.sampled_from(PLACES), VALUES, st.booleans())
@settings(max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_sound_file_spoilt_in_many_ways_is_a_build_or_refused_in_words(place, value, drop):
    resolve(spoil(place, value, drop))


def load_bytes(raw, folder):
    """A build, or the message of the one error that is allowed, from the bytes of a file."""
    from buildplan.build import load_build

    file = folder / "build.toml"
    file.write_bytes(raw)
    (folder / "box.stl").write_text("solid box\nendsolid box\n")
    try:
        return load_build(file)
    except BuildFileError as error:
        said = str(error)
    assert said.startswith("build.toml")
    return said


ANY_FOLDER = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@given(st.binary(max_size=300))
@ANY_FOLDER
def test_random_bytes_are_refused_in_words(tmp_path, raw):
    assert isinstance(load_bytes(raw, tmp_path), str)


LINES = SOUND.splitlines()
EDITS = st.lists(
    st.tuples(
        st.integers(min_value=0, max_value=len(LINES) - 1),
        st.sampled_from(["drop", "twice", "move", "type"]),
        st.integers(min_value=0, max_value=len(LINES) - 1),
        st.text(alphabet='[]{}"=#,.\n\\ \tae1-', max_size=4),
    ),
    min_size=1,
    max_size=3,
)


@given(EDITS)
@ANY_FOLDER
def test_a_sound_file_with_slips_of_the_hand_is_a_build_or_refused_in_words(tmp_path, edits):
    lines = list(LINES)
    for at, kind, to, typed in edits:
        line = lines[at]
        if kind == "drop":
            lines[at] = ""
        elif kind == "twice":
            lines[at] = f"{line}\n{line}"
        elif kind == "move":
            lines[at], lines[to] = lines[to], line
        else:
            middle = to % (len(line) + 1)
            lines[at] = line[:middle] + typed + line[middle:]
    load_bytes("\n".join(lines).encode(), tmp_path)
