"""The device in the report: answers, figures that parse, names that stay harmless."""

import io
import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from rich.console import Console

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.chain.placed import place_parts
from buildplan.device.chain.run import study_device
from buildplan.part.read import read_part
from buildplan.report import as_json
from buildplan.report.device_files import figures_of, write_figures
from buildplan.report.device_pictures.heat import draw_heat
from buildplan.report.device_pictures.lid import draw_lid
from buildplan.report.device_section import device_heading, device_section
from buildplan.report.device_text import print_device
from buildplan.report.page import template_named
from buildplan.report.terminal import THEME
from buildplan.tables import feedstocks

HOSTILE = '<b>"bay" & \u202e=1+1'


@pytest.fixture(scope="module")
def build():
    return load_build(demo_folder())


def study_of(build, tables):
    """Of the moving parts alone: nothing to sweep them against, so that it is quick."""
    requests = [request for request in build.parts if request.moves_with]
    rows = [
        (
            read_part(request.path, unit=request.unit, name=request.name, health="quick"),
            request.poses,
            request.moves_with,
        )
        for request in requests
    ]
    plain = replace(tables.device, screw=(), plug=(), component=(), put_on=())
    return study_device(
        replace(tables, device=plain),
        place_parts(rows),
        feedstocks={request.name: request.feedstock for request in build.parts},
        materials=[row for row in feedstocks().values() if row.process == "extrusion"],
        energy_cost_kwh=0.32,
    )


@pytest.fixture(scope="module")
def study(build):
    return study_of(build, build.device)


@pytest.fixture(scope="module")
def section(study):
    return device_section(study, "EUR")


def test_the_heading_is_the_answer(study, section):
    assert section["heading"].startswith("It works on paper; look at the lid's drive, the supply")
    worse = replace(study, needs=tuple(replace(need, verdict="stop") for need in study.needs[-1:]))
    assert device_heading(worse) == "Not yet: mend the views"
    well = replace(study, needs=tuple(replace(need, verdict="within") for need in study.needs))
    assert device_heading(well) == "It works on paper, within the limits of every step"


def test_the_built_drive_is_picked_and_the_others_stand_beside_it(section):
    rows = {row["name"]: row for row in section["drives"]}
    assert [name for name, row in rows.items() if row["pick"]] == ["long crank"]
    assert rows["near pin"]["time"] == "stalls"
    assert rows["near pin"]["severity"] == "stop"
    assert rows["long crank"]["peak"] == "2.00"


def test_every_figure_is_well_formed_and_has_words_for_those_who_cannot_see_it(study):
    names = [name for name, _ in figures_of(study)]
    assert names == ["lid", "volts", "energy", "event_1", "event_2", "heat", "sight"]
    for name, picture in figures_of(study):
        root = ET.fromstring(picture.data.decode("utf-8"))
        assert root.tag.endswith("svg"), name
        assert len(picture.alt) > 20


def test_the_same_study_draws_the_same_bytes(study):
    assert draw_lid(study).data == draw_lid(study).data
    assert draw_heat(study.heat).data == draw_heat(study.heat).data


def test_figures_are_written_whole(study, tmp_path):
    files = write_figures(study, tmp_path)
    assert [path.name for path in files][:2] == ["lid.svg", "volts.svg"]
    assert all(path.read_text("utf-8").rstrip().endswith("</svg>") for path in files)


def test_only_what_a_build_says_is_shown(build):
    tables = replace(build.device, mechanism=None, views=None, heat=None)
    plain = study_of(build, replace(tables, device=replace(tables.device, linkage="")))
    shown = device_section(plain, "EUR")
    assert shown["drives"] == []
    assert shown["pictures"]["lid"] == shown["pictures"]["heat"] == ""
    assert shown["pictures"]["volts"]
    assert [row["question"] for row in shown["needs"]] == ["Will the supply carry it?"]


def test_hostile_names_come_out_harmless(build):
    power = build.device.power
    loads = tuple(
        replace(load, name=HOSTILE) if load.name == "grow light strip" else load
        for load in power.load
    )
    study = study_of(build, replace(build.device, power=replace(power, load=loads)))
    shown = device_section(study, "EUR")
    text = template_named("device.html.j2").render(device=shown, sign=lambda *_: "", none=None)
    assert HOSTILE not in text
    assert '<b>"bay"' not in text
    assert "&lt;b&gt;" in text


def test_json_holds_needs_and_no_arrays_of_samples(study):
    data = json.loads(as_json.dump(as_json.device_object(study)))
    assert [need["step"] for need in data["needs"]][:3] == ["travel", "load", "drive"]
    assert data["servo"]["volts_v"] == pytest.approx(5.839, abs=0.002)
    assert data["drives"][1]["opening_s"] is None  # it stalls
    assert len(json.dumps(data)) < 40_000


def test_the_terminal_fits_eighty_columns(study):
    console = Console(width=80, record=True, theme=THEME, file=io.StringIO())
    print_device(console, study)
    text = console.export_text()
    assert max(map(len, text.splitlines())) <= 80
    assert "only compared" in text
    assert "Pinch points." in text
