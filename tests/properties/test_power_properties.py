"""Laws that every power tree keeps: Kirchhoff, energy, monotony, scaling, the exact limit."""

import dataclasses

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from power_samples import continued, devices, draws, fixed_point, one_load, scaled_loads

from buildplan.device.power import (
    events_of,
    low_end,
    make_network,
    power_budget,
    solve,
    will_it_reboot,
)
from buildplan.device.power.changes import with_part

QUICK = settings(max_examples=100, deadline=None, derandomize=True)
MONOTONE = ("power", "current")


def children(network, node):
    return [i for i, feed in enumerate(network.feeds) if feed == node]


def own_amps(network, node, volts):
    """What the load at a node draws at its volts."""
    if node not in network.loads:
        return 0.0
    load = network.power.load[network.loads.index(node)]
    rated = load.nominal_v or network.nominal_v[node]
    return {
        "power": load.idle_a * rated / volts,
        "current": load.idle_a,
        "resistance": load.idle_a * volts / rated,
    }[load.kind]


@QUICK
@given(devices())
def test_currents_add_up_at_every_node_and_every_wire_drops_what_ohm_says(power):
    network = make_network(power)
    found = solve(network, draws(power))
    assume(found.holds)
    for i, feed in enumerate(network.feeds):
        fed = power.source.supply_v if feed < 0 else found.out_v[feed]
        assert abs(fed - network.link_ohm[i] * found.link_a[i] - found.volts_v[i]) < 1e-9
        given_a = sum(found.link_a[k] for k in children(network, i))
        given_a += own_amps(network, i, found.volts_v[i])
        assert abs(found.out_a[i] - given_a) < 1e-9
        if np.isnan(network.out_v[i]):
            assert abs(found.link_a[i] - given_a) < 1e-9
    assert found.residual_v < 1e-9


@QUICK
@given(devices())
def test_power_out_of_the_source_is_power_in_loads_wires_and_converters(power):
    network = make_network(power)
    found = solve(network, draws(power))
    assume(found.holds)
    in_loads = sum(
        found.volts_v[node] * own_amps(network, node, found.volts_v[node]) for node in network.loads
    )
    total = in_loads + found.link_w.sum() + found.converter_w.sum()
    assert abs(found.source_w - total) < 1e-9 * max(1.0, total)


@QUICK
@given(devices(kinds=MONOTONE), st.floats(1.01, 1.6))
def test_more_load_or_more_ohms_raises_no_voltage_and_mends_no_collapse(power, factor):
    network = make_network(power)
    amps = np.array(draws(power))
    found = solve(network, amps)
    for worse in (solve(network, amps * factor), solve(network, amps, wire_frac=factor)):
        if not found.holds:
            assert not worse.holds
        elif worse.holds:
            assert (worse.volts_v <= found.volts_v + 1e-9).all()


@QUICK
@given(devices(most_a=1.5), st.integers(2, 6))
def test_a_batch_gives_what_its_cases_give_one_by_one(power, count):
    network = make_network(power)
    factors = np.linspace(0.2, 1.8, count)
    amps = np.array(draws(power))[:, None] * factors
    batch = solve(network, amps)
    for column in range(count):
        single = solve(network, amps[:, column])
        assert bool(single.holds) == bool(batch.holds[column])
        assert int(single.collapsed_at) == int(batch.collapsed_at[column])
        np.testing.assert_allclose(batch.volts_v[:, column], single.volts_v, atol=1e-9)


@QUICK
@given(st.floats(1.0, 60.0), st.floats(0.01, 5.0), st.sampled_from([1e-6, 1e-4, 0.1, 0.9]))
def test_one_load_collapses_exactly_above_v_squared_over_four_r(volts, ohm, off):
    limit_a = volts / (4.0 * ohm)
    network = make_network(one_load(volts, ohm))
    below = solve(network, [limit_a * (1.0 - off)])
    assert below.holds
    exact = 0.5 * volts * (1.0 + np.sqrt(off))
    assert abs(below.volts_v[-1] / exact - 1.0) < 1e-9
    above = solve(network, [limit_a * (1.0 + off)])
    assert not above.holds
    assert np.isnan(above.volts_v).all()


@QUICK
@given(devices(), st.floats(0.1, 10.0))
def test_ohms_times_k_and_amps_over_k_leave_every_voltage(power, k):
    idle = tuple(dataclasses.replace(x, idle_w=0.0, inner_ohm=0.0) for x in power.converter)
    power = dataclasses.replace(power, converter=idle)
    network = make_network(power)
    found = solve(network, draws(power))
    assume(found.holds)
    other = solve(network, np.array(draws(power)) / k, wire_frac=k)
    assert other.holds
    np.testing.assert_allclose(other.volts_v, found.volts_v, rtol=1e-8)
    np.testing.assert_allclose(other.link_a * k, found.link_a, rtol=1e-7, atol=1e-9)


@QUICK
@given(devices(), st.floats(0.2, 5.0))
def test_all_volts_times_k_and_all_amps_times_k_is_the_same_device(power, k):
    idle = tuple(dataclasses.replace(x, idle_w=0.0) for x in power.converter)
    power = dataclasses.replace(power, converter=idle)
    larger = dataclasses.replace(
        scaled_loads(power, k),
        source=dataclasses.replace(power.source, supply_v=power.source.supply_v * k),
        converter=tuple(dataclasses.replace(x, out_v=x.out_v * k) for x in power.converter),
    )
    loads = tuple(dataclasses.replace(x, nominal_v=5.0 * k) for x in larger.load)
    larger = dataclasses.replace(larger, load=loads)
    found = solve(make_network(power), draws(power))
    other = solve(make_network(larger), draws(larger))
    assume(found.holds)
    assert other.holds
    np.testing.assert_allclose(other.volts_v, found.volts_v * k, rtol=1e-8)


@QUICK
@given(devices(), st.randoms(use_true_random=False))
def test_the_order_of_the_tables_changes_nothing(power, random):
    loads, rails = list(power.load), list(power.converter)
    random.shuffle(loads)
    random.shuffle(rails)
    mixed = dataclasses.replace(power, load=tuple(loads), converter=tuple(rails))
    one, other = make_network(power), make_network(mixed)
    first, second = solve(one, draws(power)), solve(other, draws(mixed))
    assert bool(first.holds) == bool(second.holds)
    for name in one.names:
        a, b = first.volts_v[one.names.index(name)], second.volts_v[other.names.index(name)]
        assert (np.isnan(a) and np.isnan(b)) or abs(a - b) < 1e-9


@QUICK
@given(devices())
def test_without_load_every_part_has_its_no_load_volts(power):
    bare = tuple(dataclasses.replace(x, idle_w=0.0) for x in power.converter)
    network = make_network(dataclasses.replace(power, converter=bare))
    found = solve(network, np.zeros(len(power.load)))
    assert found.holds
    for node, feed in enumerate(network.feeds):
        fed = power.source.supply_v if feed < 0 else found.out_v[feed]
        assert abs(found.volts_v[node] - fed) < 1e-12
    assert not found.ground_v.any()


@QUICK
@given(devices(kinds=MONOTONE, most_a=4.0))
def test_the_solver_agrees_with_plain_sweeps_until_nothing_moves(power):
    network = make_network(power)
    swept = fixed_point(network, draws(power))
    assume(swept != "slow")
    found = solve(network, draws(power))
    assert bool(found.holds) == (swept is not None)
    if swept is not None:
        np.testing.assert_allclose(found.volts_v, swept, atol=1e-9)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(devices(most_a=4.0))
def test_the_solver_agrees_with_scipy_led_up_from_no_load_for_every_kind_of_load(power):
    power = dataclasses.replace(
        power, converter=tuple(dataclasses.replace(x, idle_w=0.0) for x in power.converter)
    )
    network = make_network(power)
    led = continued(network, draws(power))
    found = solve(network, draws(power))
    assert bool(found.holds) == (led is not None)
    if led is not None:
        np.testing.assert_allclose(found.volts_v, led, atol=1e-7)


@QUICK
@given(devices())
def test_the_low_end_lowers_rails_but_not_what_the_loads_ask(power):
    low = low_end(power)
    assert low.source.supply_v < power.source.supply_v
    one, other = make_network(power), make_network(low)
    drawn = [
        load.idle_a * (load.nominal_v or one.nominal_v[node])
        for load, node in zip(power.load, one.loads, strict=True)
    ]
    again = [
        load.idle_a * (load.nominal_v or other.nominal_v[node])
        for load, node in zip(low.load, other.loads, strict=True)
    ]
    np.testing.assert_allclose(drawn, again)


@QUICK
@given(devices(kinds=MONOTONE, most_a=1.0), st.sampled_from([16, 18]))
def test_a_thicker_or_shorter_wire_lowers_no_voltage(power, gauge):
    found = solve(make_network(power), draws(power))
    assume(found.holds)
    for load in power.load:
        for change in ({"wire_awg": gauge}, {"wire_mm": load.wire_mm * 0.5}):
            better = make_network(with_part(power, load.name, **change))
            other = solve(better, draws(power))
            assert other.holds
            assert (other.volts_v >= found.volts_v - 1e-9).all()


@QUICK
@given(devices())
def test_ground_shift_is_half_the_wires_drop_all_the_way_up(power):
    network = make_network(power)
    found = solve(network, draws(power))
    assume(found.holds)
    for node in range(len(network.names)):
        shift, here = 0.0, node
        while here >= 0:
            shift += network.return_ohm[here] * found.link_a[here]
            here = network.feeds[here]
        assert abs(found.ground_v[node] - shift) < 1e-9


@settings(max_examples=60, deadline=None, derandomize=True)
@given(devices(most_a=3.0), st.data())
def test_every_device_gets_a_whole_budget_and_every_remedy_keeps_its_word(power, data):
    loads = []
    for load in power.load:
        peak_a = load.idle_a * data.draw(st.sampled_from([1.0, 2.6, 6.0])) + 0.1
        least_v = data.draw(st.sampled_from([0.0, 2.5, 4.6]))
        loads.append(dataclasses.replace(load, peak_a=peak_a, least_v=least_v))
    limit_a = data.draw(st.sampled_from([1.0, 3.0, 50.0]))
    power = dataclasses.replace(
        power,
        load=tuple(loads),
        converter=tuple(
            dataclasses.replace(x, limit_a=limit_a, least_in_v=2.0) for x in power.converter
        ),
        source=dataclasses.replace(power.source, limit_a=limit_a),
    )
    budget = power_budget(power, energy_cost_kwh=0.3)
    assert len(budget.parts) == len(power.load)
    assert len(budget.rails) == 1 + len(power.converter)
    assert all(finding.remedy and finding.measured for finding in budget.findings)
    assert not any("nan" in f"{f.what} {f.measured} {f.required}" for f in budget.findings)
    for event in budget.events:
        assert (event.failure is None) == (not event.fixes)
        tried = next(x for x in events_of(power) if x.name == event.name)
        for fix in event.fixes:
            if fix.passes and fix.kind not in ("wait", "capacitor") and ", and " not in fix.text:
                assert fix.volts_v > 0.0
                start = will_it_reboot(fix.power, tried).phases[1].case
                part = event.failure.part
                names = [load.name for load in power.load]
                if part in names:
                    assert abs(start.volts_v[names.index(part)] - fix.volts_v) < 1e-9
