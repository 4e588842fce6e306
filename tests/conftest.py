"""Fixtures that every test may use: published reference values, small meshes."""

import math
import os
import tomllib
from pathlib import Path

import pytest
from command import demo_run_in

REFERENCE_FILE = Path(__file__).parent / "published" / "reference_values.toml"


class Reference:
    """Published and computed values, each with its source and tolerance."""

    def __init__(self):
        tables = tomllib.loads(REFERENCE_FILE.read_text("utf-8"))
        self.entries = {(area, e["id"]): e for area, es in tables.items() for e in es}

    def __getitem__(self, key):
        return self.entries[key]

    def agrees(self, area, id_, got):
        entry = self.entries[area, id_]
        assert entry["provenance"] != "from memory", f"{id_} is from memory and never gates"
        expected, tolerance = entry["expected"], entry["tolerance"]
        if "inside" in tolerance:
            return expected["low"] <= got <= expected["high"]
        if "rel" in tolerance:
            return math.isclose(got, expected, rel_tol=tolerance["rel"], abs_tol=0)
        if "abs" in tolerance:
            return abs(got - expected) <= tolerance["abs"] + 1e-12
        return got == expected


@pytest.fixture(scope="session")
def reference():
    return Reference()


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory, worker_id):
    """The whole demo planned by the command line, once for all workers; to be read only."""
    own = tmp_path_factory.getbasetemp()
    return demo_run_in((own if worker_id == "master" else own.parent) / "demo-run")


def npm_folder(package):
    """Folder of an npm package that carries test meshes, or None where it is not installed."""
    roots = [os.environ.get("BUILDPLAN_NPM", ""), str(Path(__file__).parents[1] / "node_modules")]
    found = [Path(root) / package for root in roots if root and (Path(root) / package).is_dir()]
    return found[0] if found else None


@pytest.fixture(scope="session")
def npm_mesh():
    """Path of a mesh in an npm package: npm_mesh("stl-models", "objects/bunny.stl")."""

    def find(package, name):
        folder = npm_folder(package)
        if folder is None:
            if os.environ.get("CI"):
                pytest.fail(f"npm package {package} is not installed; the gate installs it")
            pytest.skip(f"npm package {package} is not installed (npm install {package})")
        return folder / name

    return find
