"""The power tree of the demo: many samples at once against one by one, and against plain sweeps."""

import numpy as np
from benchmarks.ratio import ratio, record
from power_samples import demo_power, fixed_point

from buildplan.device.power import make_network, solve

SAMPLES = 10_000
SINGLES = 100


def drawn(network):
    """Amps of every load between none and its peak, for 10 000 devices."""
    peaks = np.array([load.peak_a for load in network.power.load])
    return peaks[:, None] * np.random.default_rng(0).uniform(0.2, 1.0, (len(peaks), SAMPLES))


def test_ten_thousand_samples_cost_less_than_a_hundred_singles():
    network = make_network(demo_power())
    amps = drawn(network)
    batch = solve(network, amps)
    for column in range(0, SAMPLES, SAMPLES // SINGLES):
        single = solve(network, amps[:, column])
        np.testing.assert_allclose(batch.volts_v[:, column], single.volts_v, atol=1e-9)
    times = ratio(
        lambda: solve(network, amps),
        lambda: [solve(network, amps[:, column]) for column in range(SINGLES)],
        rounds=7,
    )
    what = "10 000 power trees in one batch, each"
    record(what, "100 of them one by one, each", times * SAMPLES / SINGLES, 100.0)


def test_a_batch_of_trees_is_many_times_faster_than_plain_sweeps():
    network = make_network(demo_power())
    amps = drawn(network)[:, :SINGLES]
    np.testing.assert_allclose(
        solve(network, amps).volts_v[:, 0], fixed_point(network, amps[:, 0]), atol=1e-9
    )
    times = ratio(
        lambda: solve(network, amps),
        lambda: [fixed_point(network, amps[:, column]) for column in range(SINGLES)],
        rounds=7,
    )
    record("100 power trees in one batch", "plain sweeps until nothing moves", times, 5.0)
