"""The command about the device alone, as its user meets it."""

import json
import os
import subprocess
import sys

import pytest

DEVICE = ("device", "mechanism", "power", "heat", "view", "hardware")


def run(*words, cwd):
    code = "from buildplan.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, words)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": "80"},
    )


@pytest.fixture(scope="module")
def sprout(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cli_device")
    done = run("demo", "sprout", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder / "sprout"


def test_a_build_without_a_device_is_refused_by_name(sprout):
    text = (sprout / "build.toml").read_text("utf-8")
    kept = [block for block in text.split("\n[") if not block.lstrip("[").startswith(DEVICE)]
    plain = sprout / "plain.toml"
    plain.write_text("\n[".join(kept), "utf-8")
    done = run("device", plain.name, cwd=sprout)
    assert done.returncode != 0
    assert "says nothing about a device" in " ".join(done.stderr.split())


@pytest.mark.slow
def test_the_demo_answers_and_writes_its_figures(sprout):
    done = run("device", "build.toml", "--out", "figures", cwd=sprout)
    assert done.returncode == 0, done.stderr
    assert "Will the supply carry it?" in done.stdout
    names = {path.name for path in (sprout / "figures").iterdir()}
    assert {"lid.svg", "lid.png", "volts.svg", "heat.png", "sight.svg"} <= names
    data = json.loads(run("device", "build.toml", "--json", cwd=sprout).stdout)
    assert data["needs"][0]["step"] == "travel"
