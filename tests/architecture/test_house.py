"""The laws of the house: imports go downward, public names are exact, numbers say their unit."""

import dataclasses
import inspect
import subprocess
import sys
import types
import typing
from pathlib import Path

import pytest

import buildplan
from buildplan.units import UNITS, unit_of

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "buildplan"
PUBLIC = {name: getattr(buildplan, name) for name in buildplan.__all__}


def bare_floats(thing):
    """Names of float fields or parameters of a public thing that end in no unit."""
    if dataclasses.is_dataclass(thing):
        pairs = [(f.name, f.type) for f in dataclasses.fields(thing)]
    elif inspect.isfunction(thing):
        pairs = [(p.name, p.annotation) for p in inspect.signature(thing).parameters.values()]
    else:
        pairs = []
    return [name for name, kind in pairs if kind in (float, "float") and unit_of(name) is None]


@pytest.mark.parametrize("name", [n for n in buildplan.__all__ if n != "Spread"])
def test_public_floats_end_in_a_unit(name):
    assert not bare_floats(PUBLIC[name])


def test_a_bare_float_would_be_refused():
    bare = dataclasses.make_dataclass("Bare", [("width", float), ("height_mm", float)])
    assert bare_floats(bare) == ["width"]


def test_every_unit_suffix_is_a_unit_that_pint_knows():
    import pint

    registry = pint.UnitRegistry()
    for unit in UNITS.values():
        assert registry.parse_units(unit) is not None


def test_public_names_are_sorted_and_exact():
    assert buildplan.__all__ == sorted(buildplan.__all__)
    assert set(buildplan._HOME_OF) == set(buildplan.__all__)


def test_results_are_frozen_and_slotted():
    for name, thing in PUBLIC.items():
        if dataclasses.is_dataclass(thing):
            assert thing.__dataclass_params__.frozen, name
            assert "__slots__" in vars(thing), name


def test_public_things_have_docstrings_and_types():
    for name, thing in PUBLIC.items():
        assert inspect.getdoc(thing), name
        if isinstance(thing, types.FunctionType):
            hints = typing.get_type_hints(thing)
            assert "return" in hints, name


def test_imports_go_downward_only():
    run = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_importing_the_package_loads_nothing_heavy():
    code = (
        "import sys, buildplan; heavy = {'numpy', 'numba', 'pandas', 'matplotlib', 'scipy', "
        "'shapely', 'trimesh', 'pydantic', 'rich', 'typer'} & set(sys.modules); "
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr


def test_files_keep_to_their_room():
    long = {
        str(path.relative_to(ROOT)): count
        for path in PACKAGE.rglob("*.py")
        if (count := len(path.read_text("utf-8").splitlines())) > 420
    }
    assert not long, f"split these files: {long}"
