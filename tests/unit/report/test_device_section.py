"""The device in the report: answers, figures that parse, names that stay harmless."""

import io
import itertools
import json
import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from rich.console import Console

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.chain.placed import place_parts
from buildplan.device.chain.run import study_device
from buildplan.device.clearance.model import PairClearance
from buildplan.device.mechanism.load import N_MM_OF_KG_CM
from buildplan.device.power import power_budget
from buildplan.part.read import read_part
from buildplan.report import as_json
from buildplan.report.device_files import figures_of, write_figures
from buildplan.report.device_pictures import heat, lid, power, sight
from buildplan.report.device_pictures.canvas import apart, finish
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
    half = len(files) // 2
    assert [path.stem for path in files[half:]] == [path.stem for path in files[:half]]
    assert all(path.read_text("utf-8").rstrip().endswith("</svg>") for path in files[:half])
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in files[half:])


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


@pytest.fixture
def seen(monkeypatch):
    """Every figure that is drawn, laid out, as matplotlib holds it."""
    figures = []

    def keep(figure, kind, alt, **rest):
        picture = finish(figure, kind, alt, **rest)
        figures.append(figure)
        return picture

    for module in (lid, power, heat, sight):
        monkeypatch.setattr(module, "finish", keep)
    return figures


def lines_of(figure):
    return [line for axes in figure.axes for line in axes.get_lines()]


def test_no_label_runs_out_of_its_picture(study, seen):
    figures_of(study, kind="png")
    assert len(seen) == 7
    for figure in seen:
        edge = figure.bbox
        pen = figure.canvas.get_renderer()
        for held in (*figure.axes, *figure.legends):
            box = held.get_tightbbox(pen)  # of all that is drawn: labels, ticks, keys
            assert min(box.x0, box.y0) >= -1, (held, box)
            assert box.x1 <= edge.x1 + 1, (held, box, edge.x1)
            assert box.y1 <= edge.y1 + 1, (held, box, edge.y1)


def test_the_torques_drawn_are_those_of_the_study(study, seen):
    draw_lid(study)
    drawn = [np.asarray(line.get_ydata()) for line in lines_of(seen[0])]
    for one in study.drives:
        wanted = np.abs(one.drive.servo_n_mm) / N_MM_OF_KG_CM
        assert any(y.shape == wanted.shape and np.array_equal(y, wanted) for y in drawn), one.name


def test_the_blocks_of_the_day_are_its_energy(study, seen):
    power.draw_energy(study.power)
    blocks = [p for p in seen[0].axes[0].patches if isinstance(p, Rectangle)]
    area = sum(block.get_width() * block.get_height() for block in blocks)
    modes = [case for case in study.power.cases if case.kind == "mode"]
    assert area == pytest.approx(24.0 * sum(c.share_frac * c.source_w for c in modes))
    assert area == pytest.approx(power.drawn_wh(study.power))


def test_the_energy_note_says_why_blocks_and_bill_differ(section):
    assert "161 Wh" in written_plain(section["energy_note"])
    assert "187 Wh from the mains" in written_plain(section["energy_note"])


def written_plain(text):
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_the_volts_named_are_the_lowest_mark_of_the_row(study, seen):
    power.draw_volts(study.power)
    said = {text.get_text() for text in seen[0].findobj(Text)}
    assert "10.74 V of 10.8" in said  # all peaks at once, not the 10.95 V of modes and events
    assert "below its least: grow light strip" in power.draw_volts(study.power).alt


def test_the_temperatures_drawn_are_those_of_the_study(study, seen):
    draw_heat(study.heat)
    drawn = {float(line.get_xdata()[0]) for line in lines_of(seen[0]) if len(line.get_xdata()) == 1}
    parts = [node for node in study.heat.nodes if node.kind in ("part", "mount")]
    assert {node.temp_c for node in parts} <= drawn


def test_a_name_with_dollar_signs_is_no_formula(study):
    name = r"lamp $\frac{x$"
    budget = study.power
    loads = (replace(budget.power.load[0], name=name), *budget.power.load[1:])
    parts = (replace(budget.parts[0], name=name), *budget.parts[1:])
    odd = replace(budget, parts=parts, power=replace(budget.power, load=loads))
    for picture in (power.draw_volts(odd), power.draw_event(odd, 0)):
        ET.fromstring(picture.data.decode("utf-8"))


def test_a_supply_that_collapses_is_drawn_and_said(build):
    tables = build.device.power
    source = replace(tables.source, wire_mm=20_000.0)
    weak = power_budget(replace(tables, source=source))
    assert any(case.collapsed_at for case in weak.cases)
    assert any("collapse" in row.failure.text for row in weak.events if row.failure)
    for picture in (
        power.draw_volts(weak),
        power.draw_energy(weak),
        power.draw_event(weak, 0),
        power.draw_event(weak, 1),
    ):
        ET.fromstring(picture.data.decode("utf-8"))


def test_every_drive_is_drawn_however_many_there_are(study, seen):
    more = [replace(one, name=f"more_{i}") for i in range(2) for one in study.drives]
    draw_lid(replace(study, drives=(*study.drives, *more)))
    said = {text.get_text() for text in seen[0].findobj(Text)}
    assert {"long crank", "near pin", "direct", "more 0", "more 1"} <= said


@given(
    st.lists(st.floats(-100.0, 100.0), min_size=1, max_size=9),
    st.floats(0.1, 10.0),
    st.one_of(st.none(), st.floats(-50.0, 50.0)),
)
def test_labels_are_kept_apart_in_order(values, least, floor):
    placed = apart(values, least, floor=-math.inf if floor is None else floor)
    order = sorted(range(len(values)), key=lambda i: values[i])
    for before, here in itertools.pairwise(order):
        assert placed[here] - placed[before] >= least - 1e-9
    if floor is not None:
        assert min(placed) >= floor - 1e-9
    elif all(b - a >= least for a, b in itertools.pairwise(sorted(values))):
        assert placed == pytest.approx(values)


def test_an_angle_of_a_gap_says_what_turns(build, study):
    pair = PairClearance(
        moving="push_rod",
        fixed="roof_vent",
        least_mm=0.3,
        beyond=False,
        proven_mm=0.29,
        required_mm=0.3,
        at_deg=-54.0,
        place_mm=(0.0, 0.0, 0.0),
        violated=(),
        unproven_deg=(),
        contained=False,
        poses=9,
    )
    gaps = SimpleNamespace(what="rod on lid", clearance=SimpleNamespace(pairs=(pair,)))
    rows = device_section(replace(study, gaps=(gaps,)), "EUR")["gaps"]
    assert rows[0]["at"] == "rod turned on the lid \u221254°"
