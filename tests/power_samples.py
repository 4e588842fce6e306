"""Devices for the tests of power: the demo's own, one load behind a wire, random trees."""

import dataclasses
import tomllib

from hypothesis import strategies as st

from buildplan.demo import demo_folder
from buildplan.device.power import Converter, Load, Mode, Power, Source
from buildplan.device.power.changes import with_part
from buildplan.tables.strict import read_record

ALWAYS = (Mode(name="idle", share_frac=1.0),)


def demo_tables():
    """The `[power]` tables of the sprout house, as tomllib gives them."""
    return tomllib.loads((demo_folder() / "build.toml").read_text("utf-8"))["power"]


def demo_power():
    power, faults = read_record(Power, demo_tables(), ("power",))
    assert not faults
    return power


def thin_lead():
    """The demo's first wiring: the 6 V converter on the computer's own thin 5 V lead."""
    power = with_part(demo_power(), "to6", via="single-board computer")
    return with_part(power, "single-board computer", wire_awg=24, wire_mm=300.0)


def bare_source(volts, ohm, **more):
    """A source that has all its resistance inside."""
    return Source(
        name="supply",
        supply_v=volts,
        limit_a=100.0,
        inner_ohm=ohm,
        tolerance_frac=0.0,
        wire_mm=0.0,
        plugs=0,
        **more,
    )


def bare_load(name="load", kind="power", amps=1.0, **more):
    """A load without a wire of its own."""
    given = {"feed": "source", "wire_mm": 0.0, "plugs": 0, "idle_a": amps, "peak_a": amps}
    return Load(name=name, kind=kind, **(given | more))


def one_load(volts, ohm, kind="power", amps=1.0, **more):
    """A source, a resistance, a load."""
    load = bare_load(kind=kind, amps=amps, nominal_v=volts, **more)
    return Power(source=bare_source(volts, ohm), load=(load,), mode=ALWAYS, wire_c=20.0)


def draws(power):
    """Amps of every load in its first mode."""
    return [load.idle_a for load in power.load]


def scaled_loads(power, factor):
    """Every load taking its amps times a factor."""
    loads = tuple(
        dataclasses.replace(x, idle_a=x.idle_a * factor, peak_a=x.peak_a * factor)
        for x in power.load
    )
    return dataclasses.replace(power, load=loads)


ROUND = {"allow_nan": False, "allow_infinity": False}


@st.composite
def devices(draw, kinds=("power", "current", "resistance"), most_a=2.0):
    """A random tree: up to three converters in a chain or side by side, up to five loads."""
    rails = []
    for i in range(draw(st.integers(0, 3))):
        feed = draw(st.sampled_from(["source", *(rail.name for rail in rails)]))
        rails.append(
            Converter(
                name=f"rail {i}",
                feed=feed,
                out_v=draw(st.floats(3.0, 12.0)),
                limit_a=100.0,
                efficiency_frac=draw(st.floats(0.5, 0.98)),
                idle_w=draw(st.floats(0.0, 0.2)),
                inner_ohm=draw(st.sampled_from([0.0, 0.02])),
                wire_mm=draw(st.floats(0.0, 2000.0)),
                wire_awg=24,
            )
        )
    loads = []
    for i in range(draw(st.integers(1, 5))):
        feed = draw(st.sampled_from(["source", *(rail.name for rail in rails)]))
        beside = ["", *(load.name for load in loads if load.feed == feed)]
        amps = draw(st.floats(0.0, most_a))
        loads.append(
            Load(
                name=f"load {i}",
                feed=feed,
                via=draw(st.sampled_from(beside)),
                kind=draw(st.sampled_from(kinds)),
                nominal_v=5.0,
                idle_a=amps,
                peak_a=amps,
                wire_mm=draw(st.floats(0.0, 3000.0)),
                wire_awg=draw(st.sampled_from([20, 24, 28])),
            )
        )
    source = Source(
        name="supply",
        supply_v=12.0,
        limit_a=100.0,
        inner_ohm=draw(st.floats(0.0, 0.5)),
        wire_mm=draw(st.floats(0.0, 2000.0)),
    )
    return Power(source=source, converter=tuple(rails), load=tuple(loads), mode=ALWAYS)


def swept_currents(network, amps, volts, rail):
    """Current in each wire and handed on at each node, for the volts of the last sweep."""
    count = len(network.names)
    given = [0.0] * count
    for node, load, amp in zip(network.loads, network.power.load, amps, strict=True):
        rated = load.nominal_v or network.nominal_v[node]
        given[node] += (
            amp
            * {
                "power": rated / volts[node],
                "current": 1.0,
                "resistance": volts[node] / rated,
            }[load.kind]
        )
    link = [0.0] * count
    for i in range(count - 1, -1, -1):
        link[i] = given[i]
        if rail[i] is not None:
            watts = rail[i] * given[i] / network.efficiency_frac[i] + network.idle_w[i]
            link[i] = watts / volts[i]
        if network.feeds[i] >= 0:
            given[network.feeds[i]] += link[i]
    return link, given


def swept_volts(network, rail, link, given):
    """Volts at the end of each wire and handed on, from the source down."""
    volts, out = [], []
    for i, feed in enumerate(network.feeds):
        fed = network.power.source.supply_v if feed < 0 else out[feed]
        volts.append(fed - network.link_ohm[i] * link[i])
        out.append(volts[i] if rail[i] is None else rail[i] - network.out_ohm[i] * given[i])
    return volts, out


def fixed_point(network, amps, rounds=20_000):
    """Volts by sweeping the tree from no load until nothing moves; None where they collapse.

    Plain, slow and written apart from the solver: it holds for power and current loads, whose
    volts only fall from sweep to sweep.
    """
    rail = [x if x == x else None for x in network.out_v]
    nothing = [0.0] * len(rail)
    volts, _ = swept_volts(network, rail, nothing, nothing)
    for _ in range(rounds):
        new_volts, out = swept_volts(network, rail, *swept_currents(network, amps, volts, rail))
        if min(new_volts) <= 0.02 or min(out) <= 0.02:
            return None
        moved = max(abs(a - b) for a, b in zip(volts, new_volts, strict=True))
        volts = new_volts
        if moved < 1e-13:
            return volts
    return "slow"


def continued(network, amps, least_step=1e-6):
    """Volts by raising all loads from nothing in small steps, each solved by scipy from the last.

    It follows the upper solution for every kind of load; None where the steps shrink to nothing
    before the full load.
    """
    import numpy as np
    from scipy.optimize import fsolve

    rail = [x if x == x else None for x in network.out_v]
    nothing = [0.0] * len(rail)
    amps = np.array(amps)

    def wrong(volts, share):
        link, given = swept_currents(network, amps * share, list(volts), rail)
        return np.array(volts) - np.array(swept_volts(network, rail, link, given)[0])

    volts = np.array(swept_volts(network, rail, nothing, nothing)[0])
    done, step = 0.0, 0.1
    while done < 1.0:
        share = min(1.0, done + step)
        new, _, code, _ = fsolve(wrong, volts, args=(share,), full_output=True, xtol=1e-12)
        is_near = np.abs(new - volts).max() < 1.0 and np.abs(wrong(new, share)).max() < 1e-8
        if code == 1 and is_near and new.min() > 0.02:
            volts, done, step = new, share, min(0.1, 1.5 * step)
            continue
        step *= 0.5
        if step < least_step:
            return None
    return volts
