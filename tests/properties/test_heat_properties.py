"""The heat network balances, has one root, and moves the way physics does."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from warm_boxes import DEMO_PARTS, DEMO_W, VENTS, demo_box, plain_box

from buildplan.device.heat.box import Openings, WarmPart
from buildplan.device.heat.network import (
    Factors,
    balance_w,
    flows_w,
    heat_net,
    room_w,
    sources_w,
    steady_c,
)
from buildplan.device.heat.transient import Phase, heat_j_k, settled_cycle, warm_up

WATTS = st.floats(0.0, 40.0)
SIZES = st.floats(40.0, 600.0)


@st.composite
def cases(draw):
    box = plain_box(
        draw(SIZES),
        draw(SIZES),
        draw(SIZES),
        conductivity_w_mk=draw(st.floats(0.05, 1.0)),
        emissivity_frac=draw(st.floats(0.1, 1.0)),
    )
    area = draw(st.floats(10.0, 0.2 * box.area_mm2))
    vents = Openings(low_mm2=area, high_mm2=area, rise_mm=draw(st.floats(10.0, 200.0)))
    box = replace(box, openings=draw(st.sampled_from([Openings(), vents])))
    parts = tuple(
        WarmPart(name=f"p{i}", area_mm2=draw(st.floats(500.0, 30_000.0)), limit_c=80.0)
        for i in range(draw(st.integers(1, 3)))
    )
    power = {part.name: draw(WATTS) for part in parts}
    return box, parts, power, draw(st.floats(-10.0, 45.0))


def temps(case):
    box, parts, power, ambient = case
    net = heat_net(box, parts, power, ambient_c=ambient)
    return net, steady_c(net)


@given(cases())
@settings(max_examples=60, deadline=None)
def test_what_is_put_in_goes_out_and_every_node_is_in_balance(case):
    net, temp = temps(case)
    put_in = sources_w(net)
    assert np.abs(flows_w(net, temp) + put_in).max() < 1e-9
    assert float(room_w(net, temp)) == pytest.approx(float(put_in.sum()), abs=1e-9)


@given(cases())
@settings(max_examples=60, deadline=None)
def test_nothing_is_colder_than_the_room_and_the_warmest_is_a_part(case):
    net, temp = temps(case)
    assert temp.min() >= case[3] - 1e-6
    assert int(temp.argmax()) >= len(net.names) - len(case[1]) or np.ptp(temp) < 1e-6


@given(cases())
@settings(max_examples=40, deadline=None)
def test_the_balance_has_a_sign_at_either_end(case):
    net, _ = temps(case)
    whole = float(sources_w(net).sum())
    cold = flows_w(net, np.full(len(net.names), case[3])).sum() + whole
    hot = flows_w(net, np.full(len(net.names), case[3] + 400.0)).sum() + whole
    assert cold >= 0.0 > hot


@given(cases(), st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_the_derivatives_are_those_of_a_network_with_one_root(case, seed):
    net, _ = temps(case)
    state = case[3] + np.random.default_rng(seed).uniform(0.0, 80.0, len(net.names))
    slope = balance_w(net, state)[1]
    off = slope - np.diag(np.diag(slope))
    assert off.min() >= -1e-6
    assert slope.sum(axis=0).max() <= 1e-6


@given(cases(), st.floats(0.1, 10.0))
@settings(max_examples=40, deadline=None)
def test_more_watts_are_warmer_everywhere(case, more):
    box, parts, power, ambient = case
    _, cool = temps(case)
    warmer = {name: watts + (more if name == "p0" else 0.0) for name, watts in power.items()}
    _, warm = temps((box, parts, warmer, ambient))
    assert (warm >= cool - 1e-7).all()
    assert warm[-len(parts)] > cool[-len(parts)]


@given(cases(), st.floats(1.1, 3.0))
@settings(max_examples=40, deadline=None)
def test_larger_vents_and_brighter_walls_never_warm_a_part(case, factor):
    box, parts, power, ambient = case
    _, before = temps(case)
    openings = box.openings
    if openings.low_mm2 * factor < 0.4 * box.area_mm2:
        larger = replace(
            openings, low_mm2=openings.low_mm2 * factor, high_mm2=openings.high_mm2 * factor
        )
        _, after = temps((replace(box, openings=larger), parts, power, ambient))
        assert (after <= before + 1e-7).all()
    brighter = replace(box, emissivity_frac=min(1.0, box.emissivity_frac * factor))
    _, after = temps((brighter, parts, power, ambient))
    # an outer face may gain a little from a part that now shines on it more
    assert (after[-len(parts) :] <= before[-len(parts) :] + 1e-7).all()


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_many_samples_at_once_equal_each_alone(seed):
    rng = np.random.default_rng(seed)
    film, ambient = rng.uniform(0.7, 1.3, 5), rng.uniform(10.0, 40.0, 5)
    power = {name: watts * rng.uniform(0.5, 1.5, 5) for name, watts in DEMO_W.items()}
    box = demo_box(openings=VENTS)
    net = heat_net(box, DEMO_PARTS, power, ambient_c=ambient, factors=Factors(film_frac=film))
    together = steady_c(net)
    for i in range(5):
        alone = heat_net(
            box,
            DEMO_PARTS,
            {name: float(values[i]) for name, values in power.items()},
            ambient_c=float(ambient[i]),
            factors=Factors(film_frac=float(film[i])),
        )
        assert steady_c(alone) == pytest.approx(together[i], abs=1e-7)


def test_two_hundred_random_starts_end_at_one_root():
    from scipy.optimize import root

    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=35.0)
    found, source = steady_c(net), sources_w(net)
    rng = np.random.default_rng(4)
    for _ in range(200):
        start = rng.uniform(20.0, 120.0, len(net.names))
        other = root(lambda t: flows_w(net, t) + source, start, tol=1e-12)
        if np.abs(other.fun).max() < 1e-8:
            assert np.abs(other.x - found).max() < 1e-6


def test_without_power_everything_has_the_rooms_temperature():
    net = heat_net(demo_box(), DEMO_PARTS, dict.fromkeys(DEMO_W, 0.0), ambient_c=21.5)
    assert steady_c(net) == pytest.approx(np.full(len(net.names), 21.5), abs=1e-6)


def test_after_a_long_time_it_is_as_warm_as_the_steady_answer():
    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=35.0)
    warming = warm_up(net, [Phase(lasts_s=24 * 3600.0, power_w=DEMO_W)])
    assert warming.temp_c[-1] == pytest.approx(steady_c(net), abs=2e-3)


def test_a_duty_of_one_is_the_steady_answer_and_halves_alternate_about_it():
    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=25.0)
    whole = [Phase(lasts_s=1800.0, power_w=DEMO_W)] * 24
    assert warm_up(net, whole).temp_c[-1] == pytest.approx(steady_c(net), abs=5e-3)
    off = dict.fromkeys(DEMO_W, 0.0)
    halves = [Phase(lasts_s=300.0, power_w=p) for _ in range(60) for p in (DEMO_W, off)]
    part = warm_up(net, halves).temp_c[-400:, -4]
    half = {name: watts / 2.0 for name, watts in DEMO_W.items()}
    mean = steady_c(heat_net(demo_box(openings=VENTS), DEMO_PARTS, half, ambient_c=25.0))[-4]
    assert part.max() > mean + 2.0  # mean power hides the peaks
    assert part.min() < mean


@given(cases(), st.floats(1.1, 3.0))
@settings(max_examples=40, deadline=None)
def test_the_only_warm_part_is_cooler_with_more_surface(case, factor):
    # beside a warm one, a part without power may get warmer: it takes up more of the other's heat
    box, (part, *_), power, ambient = case
    _, before = temps((box, (part,), power, ambient))
    larger = replace(part, area_mm2=part.area_mm2 * factor)
    _, after = temps((box, (larger,), power, ambient))
    assert after[-1] <= before[-1] + 1e-7


def test_a_settled_cycle_of_one_phase_is_the_steady_answer():
    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=25.0)
    cycle = settled_cycle(net, [Phase(lasts_s=600.0, power_w=DEMO_W)])
    assert cycle.temp_c == pytest.approx(
        np.broadcast_to(steady_c(net), cycle.temp_c.shape), abs=1e-3
    )


def test_a_settled_cycle_ends_where_it_began_and_gives_off_what_it_got():
    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=25.0)
    off = dict.fromkeys(DEMO_W, 0.0)
    phases = [Phase(lasts_s=180.0, power_w=DEMO_W), Phase(lasts_s=420.0, power_w=off)]
    cycle = settled_cycle(net, phases)
    assert cycle.temp_c[-1] == pytest.approx(cycle.temp_c[0], abs=0.01)
    out = np.array([float(room_w(net, row)) for row in cycle.temp_c])
    given_off = float(np.trapezoid(out, cycle.time_s))
    assert given_off == pytest.approx(180.0 * sum(DEMO_W.values()), rel=0.01)
    mean = steady_c(
        heat_net(
            demo_box(openings=VENTS),
            DEMO_PARTS,
            {name: 0.3 * watts for name, watts in DEMO_W.items()},
            ambient_c=25.0,
        )
    )
    peak = cycle.temp_c.max(axis=0)
    assert peak[-4] > mean[-4] + 5.0  # mean power hides the peak
    assert peak[-4] < steady_c(net)[-4]


def test_stored_and_given_off_heat_add_up_to_what_was_put_in():
    net = heat_net(demo_box(openings=VENTS), DEMO_PARTS, DEMO_W, ambient_c=25.0)
    warming = warm_up(net, [Phase(lasts_s=7200.0, power_w=DEMO_W)], rtol=1e-8)
    out = np.array([float(room_w(net, row)) for row in warming.temp_c])
    given_off = float(np.trapezoid(out, warming.time_s))
    stored = float((heat_j_k(net) * (warming.temp_c[-1] - 25.0)).sum())
    put_in = 7200.0 * sum(DEMO_W.values())
    assert given_off + stored == pytest.approx(put_in, rel=1e-3)
