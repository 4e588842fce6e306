"""Heat: ten thousand samples against a hundred single cases, and films against ht."""

import ht
import numpy as np
import pytest
from benchmarks.ratio import ratio, record
from warm_boxes import DEMO_PARTS, DEMO_W, VENTS, demo_box

from buildplan.device.heat.air import nusselt_side
from buildplan.device.heat.network import Factors, heat_net, steady_c

pytestmark = pytest.mark.slow


def test_ten_thousand_samples_cost_less_than_a_hundred_cases():
    box, rng = demo_box(openings=VENTS), np.random.default_rng(0)
    film = rng.uniform(0.75, 1.25, 10_000)
    power = {name: watts * rng.uniform(0.8, 1.2, 10_000) for name, watts in DEMO_W.items()}

    def batch():
        net = heat_net(
            box, DEMO_PARTS, power, ambient_c=np.full(10_000, 32.0), factors=Factors(film_frac=film)
        )
        return steady_c(net)

    def singles():
        for _ in range(100):
            steady_c(heat_net(box, DEMO_PARTS, DEMO_W, ambient_c=32.0))

    record("10 000 heat samples", "100 single cases", ratio(batch, singles, rounds=5), 1.0)


def test_films_of_many_values_beat_the_oracle():
    rayleigh = np.logspace(3.0, 9.0, 2000)

    def oracle():
        for value in rayleigh:
            ht.conv_free_immersed.Nu_vertical_plate_Churchill(0.71, value / 0.71)

    measured = ratio(lambda: nusselt_side(rayleigh, np.full(2000, 0.71)), oracle)
    record("2000 films", "ht", measured, 10.0)
