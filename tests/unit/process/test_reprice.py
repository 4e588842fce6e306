"""Money at other prices, without the estimate, is what the whole estimate gives."""

from dataclasses import fields, replace

import numpy as np
import pytest

import buildplan as bp
from buildplan.demo import demo_folder
from buildplan.process.estimate import Prices, price_again

OTHER = Prices(energy_cost_kwh=0.47, own_time_cost_h=31.5)


@pytest.mark.parametrize("process", ["extrusion", "vat"])
def test_new_prices_give_every_number_of_the_whole_estimate(process):
    part = bp.read_part(demo_folder() / "servo_arm.stl", unit="mm")
    if process == "extrusion":
        machine, stuff, recipe = "large_moving_bed", "petg", bp.recipe("everyday")
        dearer = replace(bp.feedstock(stuff), price_cost_kg=47.3)
    else:
        machine, stuff, recipe = "mid_vat", "tough_photopolymer", bp.recipe("everyday", "vat")
        dearer = replace(bp.feedstock(stuff), price_cost_l=91.7)
    printer = bp.printer(machine)
    first = bp.estimate_print(part, printer, bp.feedstock(stuff), recipe)
    whole = bp.estimate_print(part, printer, dearer, recipe, prices=OTHER)
    quick = price_again(first, printer, dearer, OTHER)
    assert quick.total_cost != first.total_cost
    for field in fields(whole):
        assert np.array_equal(getattr(quick, field.name), getattr(whole, field.name)), field.name
