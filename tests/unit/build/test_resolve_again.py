"""A few values read again alone give the very build that the whole file gives."""

import pytest

from buildplan.build import keep_many, load_build
from buildplan.build.keep_many import OwnRow, keep_values
from buildplan.demo import lay_out
from buildplan.errors import BuildFileError

MINE = [OwnRow(kind="recipe", name="mine", like="everyday")]
PETG = [OwnRow(kind="feedstock", name="", like="PETG")]


@pytest.fixture
def file(tmp_path):
    file = lay_out(tmp_path / "sprout") / "build.toml"
    first = [
        (("recipe", "mine"), "infill_frac", 0.3),
        (("part", "base_shell"), "recipe", "mine"),
        (("feedstock", "PETG"), "price_cost_kg", 20.0),
    ]
    keep_values(file, first, rows=[*MINE, *PETG])
    return file


@pytest.mark.parametrize(
    "change",
    [
        (("recipe", "mine"), "infill_frac", 0.42),
        (("recipe", "mine"), "bead_mm", 0.55),
        (("build",), "energy_cost_kwh", 0.47),
        (("feedstock", "PETG"), "price_cost_kg", 31.0),
    ],
)
def test_the_quick_way_gives_the_same_build(file, change, monkeypatch):
    before = load_build(file)

    def whole(*_, **more):
        raise AssertionError("the whole file was resolved")

    with monkeypatch.context() as patch:
        patch.setattr(keep_many, "resolve_build", whole)
        quick = keep_values(file, [change], before=before)
    assert quick == load_build(file)
    assert quick != before


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ((("recipe", "mine"), "infill_frac", 1.4), "infill_frac"),
        ((("recipe", "mine"), "layer_mm", 0.9), "bead"),
        ((("build",), "energy_cost_kwh", -1.0), "energy_cost_kwh"),
        ((("feedstock", "PETG"), "price_cost_kg", -2.0), "price_cost_kg"),
    ],
)
def test_a_wrong_value_is_refused_in_the_usual_words(file, change, said):
    before, raw = load_build(file), file.read_bytes()
    with pytest.raises(BuildFileError, match=said):
        keep_values(file, [change], before=before)
    assert file.read_bytes() == raw


def test_an_older_build_is_not_built_upon(file):
    old = load_build(file)
    keep_values(file, [(("build",), "own_time_cost_h", 33.0)])
    now = keep_values(file, [(("build",), "energy_cost_kwh", 0.5)], before=old)
    assert now.prices.own_time_cost_h == 33.0
    assert now == load_build(file)
