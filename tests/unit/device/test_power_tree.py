"""The power tree: what is refused, what is solved, and what a collapse says."""

import dataclasses
import math
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from power_samples import (
    ALWAYS,
    bare_load,
    bare_source,
    demo_power,
    demo_tables,
    devices,
    draws,
    one_load,
)

from buildplan.device.power import (
    Battery,
    Converter,
    Event,
    Load,
    Mode,
    Power,
    Shelf,
    Source,
    make_network,
    power_budget,
    solve,
    volts_at,
    will_it_reboot,
)
from buildplan.device.power.changes import with_part
from buildplan.device.power.solve import BLOCK_VALUES
from buildplan.errors import InputError
from buildplan.tables import wires
from buildplan.tables.strict import read_record


def refused(change, message):
    with pytest.raises(InputError, match=message):
        make_network(change(demo_power()))


def put(part, /, **changed):
    return lambda power: with_part(power, part, **changed)


def field(**changed):
    return lambda power: dataclasses.replace(power, **changed)


BAD = {
    "negative resistance": (
        put("source", inner_ohm=-0.1),
        "12 V wall supply: inner_ohm is -0.1; it must be finite and 0 or more",
    ),
    "negative contact": (put("camera", contact_ohm=-1.0), "camera: contact_ohm is -1;"),
    "negative length": (put("to5", wire_mm=-120.0), "to5: wire_mm is -120;"),
    "nothing out": (put("to5", out_v=0.0), "to5: out_v is 0; it must be finite and above 0"),
    "not a number": (put("camera", peak_a=math.nan), "camera: peak_a is nan;"),
    "more out than in": (put("to5", efficiency_frac=1.2), "to5: efficiency_frac is 1.2; no conv"),
    "no mode": (
        put("camera", idle_a=None, watch_a=None, count_a=None, actuate_a=None),
        'load "camera" has no current in any of the modes idle, watch, count, actuate; give idle_a',
    ),
    "unknown mode": (
        put("camera", mode_a={"sleep": 0.1}),
        'load "camera": mode_a "sleep" is not known. Allowed: idle, watch, count, actuate',
    ),
    "peak below mode": (
        put("camera", peak_a=0.1),
        'load "camera": peak_a is 0.1 and below the 0.25 A of mode "count"',
    ),
    "unknown feed": (
        put("camera", feed="to7"),
        'load "camera": feed "to7" is not known. Allowed: source, to5, to6. Did you mean to',
    ),
    "unknown via": (put("camera", via="computer"), 'via "computer" is not known. .* Did you mean'),
    "via on another rail": (
        put("camera", via="roof servo"),
        'via "roof servo" stands on feed "to6", but its own feed is "to5"',
    ),
    "converter loop": (put("to5", feed="to6"), "the power tree has a loop: to5 <- to6 <- to5"),
    "via loop": (
        put("single-board computer", via="camera"),
        "loop: single-board computer <- camera <- single-board computer; every feed must lead back",
    ),
    "itself": (put("to5", feed="to5"), "loop: to5 <- to5"),
    "name twice": (
        put("to6", name="to5"),
        'the part name "to5" is used 2 times in \\[power\\]; give each its own',
    ),
    "a part called source": (put("camera", name="source"), 'part name "source" is used 2 times'),
    "shares": (
        field(mode=(Mode(name="idle", share_frac=0.6), Mode(name="watch", share_frac=0.3))),
        "the shares of the 2 modes make 0.9 of a day; .* must make 1",
    ),
    "mode twice": (
        field(mode=(Mode(name="idle", share_frac=0.5), Mode(name="idle", share_frac=0.5))),
        'the mode name "idle" is used 2 times',
    ),
    "no load": (field(load=()), r"\[power\] has no load; give at least one \[\[power.load\]\]"),
    "no modes": (field(mode=()), r"\[power\] has no mode"),
    "unknown gauge": (
        put("camera", wire_awg=27),
        "camera: no wire of the table has gauge 27; allowed: 16, 18, 20, 22, 24, 26, 28, 30",
    ),
    "hair": (put("camera", wire_mm2=0.001), "camera: wire_mm2 0.001 is thinner than every wire"),
    "event of nobody": (
        field(event=(Event(name="gust", load="roof"),)),
        'event "gust": load "roof" is not known. .* Did you mean roof servo',
    ),
    "event in no mode": (
        field(event=(Event(name="gust", load="roof servo", mode="sleep"),)),
        'event "gust": mode "sleep" is not known',
    ),
    "an empty group": (field(apart=((),)), "a group of apart holds 0 loads; it takes at least 2"),
    "a group of one": (field(apart=(("camera",),)), "a group of apart holds 1 loads"),
    "molten copper": (field(wire_c=1100.0), "wire_c is 1100; copper in a device is -60 to 200 C"),
    "no cells": (
        field(battery=Battery(cell="nimh", cells=0, capacity_ah=2.0)),
        "battery: cells is 0; it must be finite and above 0",
    ),
    "a load called as the source": (
        put("camera", name="12 V wall supply"),
        'the part name "12 V wall supply" is used 2 times',
    ),
    "apart from nobody": (field(apart=(("camera", "lamp"),)), 'apart "lamp" is not known'),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_is_refused_with_its_name_and_numbers(name):
    refused(*BAD[name])


def test_the_demos_tables_are_read_as_they_stand():
    power, faults = read_record(Power, demo_tables(), ("power",))
    assert faults == ()
    assert [row.name for row in power.converter] == ["to5", "to6"]
    assert power.load[1].via == "single-board computer"
    assert power.load[0].board_mm == (88.0, 58.0)
    assert sum(mode.share_frac for mode in power.mode) == pytest.approx(1.0)


def test_every_fault_of_the_tables_is_told_at_once():
    tables = demo_tables()
    tables["source"]["inner_ohm"] = -0.06
    tables["load"][0]["knd"] = "power"
    tables["load"][1]["kind"] = "watts"
    del tables["converter"][0]["out_v"]
    power, faults = read_record(Power, tables, ("power",))
    assert power is None
    said = " | ".join(fault.text for fault in faults)
    assert "inner_ohm -0.06 is out of range" in said
    assert "knd" in said
    assert 'kind "watts"' in said
    assert "out_v is missing" in said


def test_modes_of_other_names_are_read_from_a_table_of_their_own():
    power = one_load(5.0, 0.1, kind="current", amps=0.5)
    modes = (Mode(name="idle", share_frac=0.9), Mode(name="water", share_frac=0.1))
    load = dataclasses.replace(power.load[0], mode_a={"water": 1.5}, peak_a=2.0)
    power = dataclasses.replace(power, load=(load,), mode=modes)
    cases = power_budget(power).cases
    assert [round(case.source_a, 9) for case in cases if case.kind == "mode"] == [0.5, 1.5]


def test_nodes_stand_after_their_feeds():
    network = make_network(demo_power())
    assert all(feed < i for i, feed in enumerate(network.feeds))
    assert network.names[network.feeds[network.names.index("camera")]] == "single-board computer"
    assert network.nominal_v[network.names.index("camera")] == 5.0


def test_a_cross_section_typed_in_serves_as_well_as_a_gauge():
    power = one_load(12.0, 0.0, kind="current", amps=1.0)
    power = with_part(power, "load", wire_mm=1000.0, wire_mm2=0.5)
    end = make_network(power).ends[1]
    assert end.pair_ohm == pytest.approx(2.0 / 58.0 / 0.5)
    assert (end.name, end.open_air_a, end.bundled_a) == ("0.5 mm2", 7.0, 0.92)


def test_own_rows_of_wires_replace_the_built_in_ones():
    row = dataclasses.replace(wires()["AWG24"], awg=25, key="AWG25")
    shelf = Shelf(wires={"AWG25": row})
    power = with_part(one_load(12.0, 0.1), "load", wire_mm=100.0, wire_awg=25)
    power = with_part(power, "source", wire_awg=25)
    assert power_budget(power, shelf=shelf).wires[0].wire.startswith("AWG 25")
    with pytest.raises(InputError, match="gauge 25"):
        make_network(power)


@pytest.mark.parametrize(
    ("kind", "volts"),
    [
        ("current", 12.0 - 0.5 * 2.0),
        ("resistance", 12.0 * 6.0 / 6.5),  # 2 A at 12 V are 6 ohm
        ("power", 6.0 + math.sqrt(36.0 - 0.5 * 24.0)),
    ],
)
def test_each_kind_of_load_moves_with_the_volts_in_its_own_way(kind, volts):
    found = solve(make_network(one_load(12.0, 0.5, kind)), [2.0])
    assert float(found.volts_v[1]) == pytest.approx(volts, rel=1e-12)


def test_a_device_of_resistors_is_what_a_linear_solver_says_and_never_collapses():
    rails = [bare_load(f"r{i}", "resistance", 3.0 + i, nominal_v=5.0) for i in range(4)]
    rails = [dataclasses.replace(x, wire_mm=9000.0, wire_awg=30) for x in rails]
    rails[2] = dataclasses.replace(rails[2], via="r1")
    power = Power(source=bare_source(12.0, 2.0), load=tuple(rails), mode=ALWAYS)
    network = make_network(power)
    count = len(network.names)
    matrix, right = np.zeros((count, count)), np.zeros(count)
    for i, feed in enumerate(network.feeds):
        siemens = 1.0 / network.link_ohm[i]
        matrix[i, i] += siemens
        if feed < 0:
            right[i] += siemens * 12.0
        else:
            matrix[feed, feed] += siemens
            matrix[i, feed] -= siemens
            matrix[feed, i] -= siemens
    for node, load in zip(network.loads, power.load, strict=True):
        matrix[node, node] += load.idle_a / 5.0
    found = solve(network, draws(power))
    assert found.holds
    np.testing.assert_allclose(found.volts_v, np.linalg.solve(matrix, right), rtol=1e-12)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(devices(most_a=3.0))
def test_as_all_loads_rise_together_a_device_holds_up_to_one_point_and_not_beyond(power):
    network = make_network(power)
    ramp = np.array(draws(power))[:, None] * np.linspace(0.0, 1.0, 60)
    holds = solve(network, ramp).holds
    assert not (holds[1:] & ~holds[:-1]).any()


def test_a_collapse_names_the_part_whose_wire_cannot_pass_its_power():
    power = with_part(demo_power(), "camera", kind="power", wire_mm=60_000.0)
    network = make_network(power)
    found = solve(network, [load.peak_a for load in power.load])
    assert not found.holds
    assert network.names[int(found.collapsed_at)] == "camera"
    assert np.isnan(found.volts_v).all()
    assert np.isnan(found.source_w)


def test_results_are_read_only():
    found = solve(make_network(demo_power()), [0.1] * 7)
    assert not found.volts_v.flags.writeable
    assert found.volts_v.shape == (10,)
    assert found.holds.shape == ()


@pytest.mark.parametrize(
    ("amps", "message"),
    [
        ([1.0, 2.0], r"amps must be \(7,\) or \(7, samples\), .* found the shape \(2,\)"),
        ([-1.0] + [0.0] * 6, "load 'single-board computer' is asked for -1 A"),
        ([math.nan] + [0.0] * 6, "asked for nan A"),
    ],
)
def test_amps_that_cannot_be_are_refused(amps, message):
    with pytest.raises(InputError, match=message):
        solve(make_network(demo_power()), amps)


@pytest.mark.parametrize(
    ("factor", "message"),
    [
        ({"supply_v": 0.0}, "supply_v holds 0; it must be finite and above 0"),
        ({"wire_frac": -1.0}, "wire_frac holds -1"),
        ({"efficiency_frac": [1.0, math.inf]}, "efficiency_frac holds"),
    ],
)
def test_factors_that_cannot_be_are_refused(factor, message):
    with pytest.raises(InputError, match=message):
        solve(make_network(demo_power()), [0.1] * 7, **factor)


def test_samples_may_differ_in_supply_wire_and_efficiency():
    network = make_network(demo_power())
    found = solve(
        network,
        [0.1] * 7,
        supply_v=[12.0, 11.0, 12.0, 12.0],
        wire_frac=[1.0, 1.0, 2.0, 1.0],
        efficiency_frac=[1.0, 1.0, 1.0, 0.9],
    )
    watts = found.source_w
    assert found.volts_v.shape == (10, 4)
    assert found.volts_v[1, 1] < found.volts_v[1, 2] < found.volts_v[1, 3] < found.volts_v[1, 0]
    assert watts[3] > watts[0]


def test_volts_at_a_motor_follow_its_own_current():
    power = demo_power()
    rest = volts_at(power, "roof servo", 0.0, mode="actuate")
    moving = volts_at(power, "roof servo", 0.7, mode="actuate")
    stalled = volts_at(power, "roof servo", 2.2, mode="actuate")
    assert rest > moving > stalled
    # to6 makes 5.88 V at its low end; its wire and plug are a resistance
    ohm = (rest - stalled) / 2.2
    assert moving == pytest.approx(rest - 0.7 * ohm, abs=1e-9)
    assert rest == pytest.approx(6.0 * 0.98, abs=1e-9)
    for bad in ({"load": "roof", "mode": "actuate"}, {"load": "roof servo", "mode": "open"}):
        with pytest.raises(InputError, match="not known"):
            volts_at(power, bad["load"], 1.0, mode=bad["mode"])


def test_an_event_typed_in_python_is_checked_too():
    for event in (
        Event(name="gust", load="roof"),
        Event(name="gust", load="roof servo", mode="open"),
    ):
        with pytest.raises(InputError, match="not known"):
            will_it_reboot(demo_power(), event)


def test_a_label_and_a_ruler_are_enough():
    power = Power(
        source=Source(name="5 V supply", supply_v=5.0, limit_a=3.0),
        load=(Load(name="board", feed="source", kind="power", idle_a=0.6, peak_a=1.2),),
        mode=ALWAYS,
    )
    assert power_budget(power).parts[0].worst_v < 5.0


def test_a_battery_of_an_unknown_kind_is_refused():
    power = dataclasses.replace(
        demo_power(), battery=Battery(cell="lithum", cells=3, capacity_ah=5.0)
    )
    with pytest.raises(InputError, match='cell "lithum" is not known'):
        power_budget(power)


def test_a_feed_may_be_the_sources_own_name():
    power = with_part(demo_power(), "to5", feed="12 V wall supply")
    power = with_part(power, "grow light strip", feed="12 V wall supply")
    assert make_network(power).feeds == make_network(demo_power()).feeds


def test_a_converter_may_hang_on_a_loads_terminals():
    rail = Converter(name="to3", feed="source", via="board", out_v=3.3, limit_a=1.0)
    board = bare_load("board", "current", 0.5)
    lamp = dataclasses.replace(bare_load("lamp", "current", 0.2), feed="to3")
    power = Power(source=bare_source(5.0, 0.1), converter=(rail,), load=(board, lamp), mode=ALWAYS)
    network = make_network(power)
    assert network.names == ("supply", "board", "to3", "lamp")
    assert network.nominal_v[network.names.index("to3")] == 5.0


def test_blocks_of_samples_join_without_a_seam():
    network = make_network(demo_power())
    count = 2 * BLOCK_VALUES // len(network.names) + 7
    amps = np.array([load.peak_a for load in demo_power().load])
    ramp = amps[:, None] * np.linspace(0.1, 30.0, count)
    found = solve(network, ramp)
    for column in (0, count // 3, count // 2, count - 1):
        single = solve(network, ramp[:, column])
        np.testing.assert_allclose(found.volts_v[:, column], single.volts_v, atol=1e-9)
        assert int(found.collapsed_at[column]) == int(single.collapsed_at)
    assert found.holds[0]
    assert not found.holds[-1]


def test_events_batteries_and_groups_are_read_from_a_file():
    text = """
    apart = [["roof servo", "single-board computer"]]
    [battery]
    cell = "lead_acid"
    cells = 6
    capacity_ah = 7.2
    [[event]]
    name = "roof jams"
    load = "roof servo"
    kind = "stall"
    stall_ms = 800.0
    """
    power, faults = read_record(Power, demo_tables() | tomllib.loads(text), ("power",))
    assert faults == ()
    assert power.apart == (("roof servo", "single-board computer"),)
    assert power.battery == Battery(cell="lead_acid", cells=6, capacity_ah=7.2)
    assert power.event[0].stall_ms == 800.0
    assert [event.name for event in power_budget(power).events] == ["roof jams"]
