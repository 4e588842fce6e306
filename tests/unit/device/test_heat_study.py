"""Will the heat get out: limits of parts, walls and mounts, and what would mend them."""

import math
from dataclasses import replace

import numpy as np
import pytest
import solids
from warm_boxes import DEMO_PARTS, DEMO_W, VENTS, demo_box, plain_box

from buildplan.device.heat.answers import (
    HeatQuestion,
    fan_for_m3_s,
    hottest_day_c,
    sink_for_k_w,
    temps_of,
    vent_for_mm2,
)
from buildplan.device.heat.box import Openings, WarmPart, walls_from_mesh
from buildplan.device.heat.fan import chamber_c, fan_flow_m3_s, travel_for
from buildplan.device.heat.inputs import heat_of, hull_of
from buildplan.device.heat.network import heat_net, steady_c
from buildplan.device.heat.shape import Bay, Chamber, Fan, Heat, HeatSource
from buildplan.device.heat.study import study_heat
from buildplan.device.heat.transient import Phase, settled_cycle
from buildplan.errors import InputError
from buildplan.tables import feedstock, feedstocks

BAY = Bay(
    part="shell",
    wall_mm=3.0,
    air_mm3=1.48e6,
    height_mm=110.0,
    roof_mm2=22280.0,
    sides_mm2=30130.0,
    bottom_mm2=17250.0,
    low_vents_mm2=2604.0,
    high_vents_mm2=1275.0,
    vent_rise_mm=68.0,
)
COMPUTER = HeatSource(
    name="computer", idle_w=2.9, count_w=7.5, area_mm2=19200.0, limit_c=85.0, mount="printed"
)
SERVO = HeatSource(name="servo", idle_w=0.05, count_w=0.06, area_mm2=6000.0, limit_c=65.0)
FAN = Fan(free_l_s=2.0, shut_pa=20.0)
MODES = (("idle", 0.9), ("count", 0.1))


def case_of(bay=BAY, sources=(COMPUTER, SERVO), modes=MODES, computed=None, key="PETG"):
    return heat_of(
        Heat(bay=bay, source=tuple(sources)),
        feedstocks={"shell": feedstock(key)},
        meshes={},
        modes=modes,
        computed=computed or {},
    )


def question(box=None, power=None, ambient=35.0):
    return HeatQuestion(
        box=box or demo_box(openings=VENTS),
        parts=DEMO_PARTS,
        power_w=power or DEMO_W,
        ambient_c=ambient,
    )


@pytest.mark.parametrize(
    ("conductivity", "openings", "air", "roof", "computer"),
    [
        (0.13, Openings(), 59.4, 49.6, 85.6),
        (0.13, VENTS, 48.8, 45.0, 78.9),
        (0.20, Openings(), 58.4, 48.6, 84.7),
        (0.20, VENTS, 48.5, 44.4, 78.5),
    ],
)
def test_the_demo_bay_is_as_warm_as_an_earlier_computation_regression(
    conductivity, openings, air, roof, computer
):
    temps = temps_of(question(demo_box(conductivity, openings)))
    assert temps["air"] == pytest.approx(air, abs=0.25)
    assert temps["up inside"] == pytest.approx(roof, abs=0.25)
    assert temps["computer"] == pytest.approx(computer, abs=0.25)


def test_the_warmest_mode_decides_and_its_doubt_is_a_quarter_of_the_rise():
    study = study_heat(case_of(), ambient_c=35.0)
    computer = next(node for node in study.nodes if node.name == "computer")
    assert computer.mode == "count"
    assert computer.doubt_k == pytest.approx((computer.temp_c - 35.0) / 4.0)
    assert computer.low_c < computer.temp_c < computer.high_c
    assert computer.mean_c < computer.temp_c
    found = study.findings[0]
    assert found.severity == "caution"
    assert "give or take" in found.what
    assert "count is held" in found.what


def test_over_its_limit_a_part_is_a_stop_with_what_would_do():
    study = study_heat(case_of(sources=(replace(COMPUTER, limit_c=70.0),)), ambient_c=35.0)
    stop = study.findings[0]
    assert stop.severity == "stop"
    assert stop.remedy.startswith("Any of these does: a heat sink of ")
    assert study.answers.node == "computer"
    assert math.isinf(study.answers.vent_mm2)  # no vent cools a board to its limit


def test_every_answer_does_what_it_says():
    case = case_of(sources=(replace(COMPUTER, limit_c=78.0, mount="other"),))
    study = study_heat(case, ambient_c=30.0)
    answers = study.answers
    ask = HeatQuestion(
        box=case.box, parts=case.parts, power_w=case.power_w["count"], ambient_c=30.0
    )
    sink = replace(case.parts[0], sink_k_w=answers.sink_k_w)
    assert temps_of(replace(ask, parts=(sink,)))["computer"] == pytest.approx(
        answers.target_c, abs=0.05
    )
    day = replace(ask, ambient_c=answers.hottest_c)
    assert temps_of(day)["computer"] == pytest.approx(answers.target_c, abs=0.01)
    assert 0.0 < answers.held_min < 600.0


def test_vent_and_fan_bring_the_air_to_what_is_asked():
    shut = question(demo_box())
    area = vent_for_mm2(shut, "air", 50.0, rise_mm=68.0)
    vents = Openings(low_mm2=area, high_mm2=area, rise_mm=68.0)
    assert temps_of(question(demo_box(openings=vents)))["air"] == pytest.approx(50.0, abs=0.01)
    flow = fan_for_m3_s(shut, "air", 42.0)
    blown = question(demo_box(openings=Openings(fan_m3_s=flow)))
    assert temps_of(blown)["air"] == pytest.approx(42.0, abs=0.01)
    assert vent_for_mm2(shut, "air", 34.0, rise_mm=68.0) == math.inf
    assert vent_for_mm2(shut, "air", 90.0, rise_mm=68.0) == 0.0


def test_no_sink_is_small_enough_where_the_air_is_too_warm():
    assert sink_for_k_w(question(), "computer", 45.0) == 0.0
    assert hottest_day_c(question(), "computer", 20.0) < 0.0


def test_a_fan_that_sweeps_the_parts_cools_them_more_than_one_that_does_not():
    still = Openings(low_mm2=2604.0, high_mm2=1275.0, rise_mm=68.0, fan_m3_s=1e-3)
    swept = replace(still, duct_mm2=2000.0)
    without = temps_of(question(demo_box(openings=still)))
    swept_by = temps_of(question(demo_box(openings=swept)))
    assert swept_by["computer"] < without["computer"] - 1.0


def test_a_stronger_feedstock_passes_where_a_soft_one_does_not():
    study = study_heat(case_of(key="PLA"), ambient_c=35.0, feedstocks=list(feedstocks().values()))
    rows = {row.key: row for row in study.feedstocks}
    assert not rows["PLA"].passes
    assert rows["ASA"].passes
    limits = [row.limit_c for row in study.feedstocks]
    assert limits == sorted(limits)
    walls = [f for f in study.findings if "PLA" in f.what]
    assert walls
    assert "ASA" in walls[0].remedy


def test_printed_mounts_see_a_share_of_the_rise_over_the_air():
    study = study_heat(case_of(), ambient_c=35.0)
    nodes = {node.name: node for node in study.nodes}
    air, part = nodes["air"].temp_c, nodes["computer"].temp_c
    assert nodes["mounts of computer"].temp_c == pytest.approx(air + 0.5 * (part - air))
    assert nodes["mounts of computer"].limit_c == feedstock("PETG").service_c
    assert "mounts of servo" not in nodes


def test_a_hot_part_and_damp_air_are_said():
    study = study_heat(case_of(), ambient_c=35.0, humidity_frac=0.8)
    assert [one.key for one in study.cautions] == ["hot"]
    assert study.dew_point_c == pytest.approx(31.0, abs=0.1)
    assert any("gets wet" in finding.what for finding in study.findings)


def test_within_all_limits_one_note_names_the_nearest():
    cool = (replace(COMPUTER, count_w=2.0, idle_w=1.0),)
    study = study_heat(case_of(sources=cool), ambient_c=22.0)
    assert [finding.severity for finding in study.findings] == ["note"]
    assert "nearest to its limit" in study.findings[0].what


def test_watts_of_loads_are_taken_from_the_supply_and_typed_ones_win():
    computed = {"idle": {"board": 3.0}, "count": {"board": 8.0}}
    source = HeatSource(name="computer", loads=("board",), area_mm2=19200.0, limit_c=85.0)
    case = case_of(sources=(source,), computed=computed)
    assert case.power_w["count"] == {"computer": 8.0}
    typed = case_of(sources=(replace(source, count_w=5.0),), computed=computed)
    assert typed.power_w["count"] == {"computer": 5.0}
    assert typed.differs == (("computer", "count", 5.0, 8.0),)
    study = study_heat(typed, ambient_c=25.0)
    assert any("5 W in count by [heat], 8 W by [power]" in f.what for f in study.findings)


def test_sunshine_warms_the_roof_and_a_table_keeps_heat_in():
    dark = study_heat(case_of(), ambient_c=30.0)
    sunny = study_heat(case_of(bay=replace(BAY, sun_w=15.0)), ambient_c=30.0)
    table = study_heat(case_of(bay=replace(BAY, on_table=True)), ambient_c=30.0)

    def air(study):
        return study.nodes[0].temp_c

    assert air(sunny) > air(dark) + 1.0
    assert air(table) > air(dark)


def test_nine_tenths_of_the_rise_come_in_minutes_not_hours():
    study = study_heat(case_of(), ambient_c=25.0)
    assert 5.0 < study.minutes_to_90 < 60.0


def test_walls_of_a_mesh_are_its_outside_by_the_way_it_faces():
    vertices, facets = solids.arrays(solids.box(150.0, 100.0, 60.0))
    walls = {wall.face: wall for wall in walls_from_mesh(vertices, facets, on_table=True)}
    assert walls["up"].area_mm2 == pytest.approx(15_000.0)
    assert walls["side"].area_mm2 == pytest.approx(2 * (150 + 100) * 60)
    assert walls["up"].length_mm == pytest.approx(15_000.0 / 500.0)
    assert walls["side"].length_mm == pytest.approx(60.0)
    assert not walls["down"].free
    hollow = solids.arrays(solids.box(150.0, 100.0, 60.0) - solids.box(140, 90, 50, (5, 5, 5)))
    outside = {wall.face: wall for wall in walls_from_mesh(*hull_of(*hollow))}
    assert outside["up"].area_mm2 == pytest.approx(15_000.0)


def test_a_fan_meets_the_loss_of_its_openings():
    flow = fan_flow_m3_s(free_m3_s=2.5e-3, shut_pa=25.0, openings_mm2=[1000.0, 1000.0])
    loss = 2 * 1.15 / 2.0 * (flow / (0.65 * 1000e-6)) ** 2
    assert 25.0 * (1.0 - flow / 2.5e-3) == pytest.approx(loss)


def test_a_wider_lid_airs_a_sunny_chamber_until_the_hole_is_the_limit():
    chamber = Chamber(
        sun_w=25.0, loss_w_k=1.6, most_c=43.0, wide_mm=190.0, reach_mm=217.0, hole_mm2=32500.0
    )
    temps = [chamber_c(chamber, angle, 35.0) for angle in (0.0, 10.0, 20.0, 40.0, 60.0)]
    assert temps[0] == pytest.approx(35.0 + 25.0 / 1.6)
    assert all(np.diff(temps) < 0.0)
    travel = travel_for(chamber, 35.0)
    assert chamber_c(chamber, travel, 35.0) == pytest.approx(43.0, abs=0.01)
    assert travel_for(replace(chamber, most_c=35.5), 35.0) == math.inf
    assert travel_for(replace(chamber, sun_w=0.0), 35.0) == 0.0


@pytest.mark.parametrize(
    ("bay", "sources", "said"),
    [
        ({"low_vents_mm2": 80_000.0}, (COMPUTER,), "a vent is smaller than its wall"),
        ({"part": "lid"}, (COMPUTER,), 'part "lid" is not known'),
        ({"part": "", "conductivity_w_mk": 0.0}, (COMPUTER,), "neither part nor conductivity_w_mk"),
        ({"height_mm": 0.0}, (COMPUTER,), "sides_mm2 is given without height_mm"),
        (
            {},
            (replace(COMPUTER, idle_w=None, count_w=None),),
            "computer: it gives off nothing in any of the modes idle, count",
        ),
        ({}, (replace(COMPUTER, loads=("x",)),), 'computer: load "x" is not known'),
        ({"fan": FAN, "vents_open": False}, (COMPUTER,), "no open vent"),
    ],
)
def test_what_cannot_be_is_refused_with_the_numbers(bay, sources, said):
    with pytest.raises(InputError) as found:
        case_of(bay=replace(BAY, **bay), sources=sources)
    assert said in str(found.value)


def test_a_part_with_a_negative_resistance_or_power_is_refused():
    with pytest.raises(InputError, match="a sink of -1 K/W"):
        heat_net(
            plain_box(),
            (WarmPart(name="p", area_mm2=100.0, limit_c=80.0, sink_k_w=-1.0),),
            {"p": 1.0},
            ambient_c=20.0,
        )
    with pytest.raises(InputError, match="p: its power is -1 W; a finite number of 0 W or more"):
        heat_net(
            plain_box(),
            (WarmPart(name="p", area_mm2=100.0, limit_c=80.0),),
            {"p": -1.0},
            ambient_c=20.0,
        )
    with pytest.raises(InputError, match="conductivity_w_mk is 0"):
        steady_c(heat_net(plain_box(conductivity_w_mk=0.0), (), {}, ambient_c=20.0))


def test_a_cycle_that_cannot_be_is_refused_with_its_seconds():
    net = heat_net(demo_box(), DEMO_PARTS, DEMO_W, ambient_c=20.0)
    with pytest.raises(InputError, match="phases of a cycle last none s"):
        settled_cycle(net, [])
    with pytest.raises(InputError, match="last 60, 0 s"):
        settled_cycle(net, [Phase(lasts_s=s, power_w=DEMO_W) for s in (60.0, 0.0)])


def test_a_fan_whose_openings_let_nothing_through_is_refused():
    with pytest.raises(InputError, match="discharge_frac is 0"):
        fan_flow_m3_s(free_m3_s=1e-3, shut_pa=9.0, openings_mm2=[500.0], discharge_frac=0.0)


@pytest.mark.parametrize("ambient", [20.0, 35.0])
def test_answers_for_printed_mounts_bring_the_mounts_to_their_target(ambient):
    source = replace(COMPUTER, mount_frac=0.4)
    case = case_of(sources=(source,), key="PLA")
    study = study_heat(case, ambient_c=ambient)
    answers, name = study.answers, "mounts of computer"
    assert answers.node == name
    ask = HeatQuestion(
        box=case.box, parts=case.parts, power_w=case.power_w["count"], ambient_c=ambient
    )

    def mounts(changed):
        return temps_of(changed)[name]

    day = replace(ask, ambient_c=answers.hottest_c)
    assert mounts(day) == pytest.approx(answers.target_c, abs=0.01)
    if 0.0 < answers.sink_k_w < math.inf:
        part = replace(case.parts[0], sink_k_w=answers.sink_k_w)
        assert mounts(replace(ask, parts=(part,))) == pytest.approx(answers.target_c, abs=0.01)
        assert "on the computer" in answers.line
    if 0.0 < answers.fan_l_s < math.inf:
        openings = replace(case.box.openings, fan_m3_s=1e-3 * answers.fan_l_s)
        blown = replace(ask, box=replace(case.box, openings=openings))
        assert mounts(blown) == pytest.approx(answers.target_c, abs=0.01)


def test_a_feedstock_is_judged_in_short_modes_too():
    def rows(longest_min, hot=7.5):
        case = heat_of(
            Heat(bay=BAY, source=(replace(COMPUTER, count_w=hot), SERVO)),
            feedstocks={"shell": feedstock("PETG")},
            meshes={},
            modes=MODES,
            computed={},
            longest_min=longest_min,
        )
        study = study_heat(case, ambient_c=35.0, feedstocks=[feedstock("PETG")])
        return {row.key: row for row in study.feedstocks}, study

    every_mode_short, _ = rows({"idle": 30.0, "count": 10.0})
    held, _ = rows({})
    assert every_mode_short["PETG"].mount_c < held["PETG"].mount_c
    brief, study = rows({"count": 3.0}, hot=60.0)
    node = next(one for one in study.nodes if one.kind == "mount")
    assert node.mode == "count"
    assert brief["PETG"].mount_c == pytest.approx(node.temp_c, abs=0.5)


def test_a_mode_that_lasts_a_minute_is_not_held_for_hours():
    held = study_heat(case_of(), ambient_c=25.0)
    short = heat_of(
        Heat(bay=BAY, source=(COMPUTER, SERVO)),
        feedstocks={"shell": feedstock("PETG")},
        meshes={},
        modes=MODES,
        computed={},
        longest_min={"count": 1.0},
    )
    brief = study_heat(short, ambient_c=25.0)
    hours = {node.name: node for node in held.nodes}["computer"]
    minute = {node.name: node for node in brief.nodes}["computer"]
    assert minute.mean_c < minute.temp_c < hours.temp_c - 5.0
    assert minute.low_c < minute.temp_c < minute.high_c
    assert "after 1 min of count" in brief.findings[0].what
    stretch = 7.5 * 60.0 / COMPUTER.heat_j_k  # all of it stored
    assert minute.temp_c - minute.mean_c < stretch
