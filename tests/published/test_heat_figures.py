"""Films, a sealed box, a vent and a fan against published values.

Sources: Churchill and Chu 1975 by Incropera (6th ed., example 9.2) and Cengel (9-19E); McAdams
1954; ASHRAE Fundamentals 1997, ch. 25, eq. 37; the library ht as oracle of the films. Each entry of
reference_values.toml, area heat, names its own.
"""

import math

import ht
import numpy as np
import pytest
from warm_boxes import plain_box

from buildplan.device.heat.air import (
    Air,
    air_at,
    dew_point_c,
    nusselt_down,
    nusselt_side,
    nusselt_up,
    still_film_w_m2,
)
from buildplan.device.heat.box import Openings, WarmPart
from buildplan.device.heat.network import ROOM, heat_net, steady_c

FIXED = Air(
    conductivity_w_mk=np.array(0.02676),
    viscosity_m2_s=np.array(1.655e-5),
    prandtl=np.array(0.7065),
    density_kg_m3=np.array(1.15),
)


def test_vertical_plate_of_incropera(reference):
    found = float(nusselt_side(np.array(2.63e9 * 0.69), np.array(0.69)))
    assert reference.agrees("heat", "churchill_chu_incropera", found)


def test_vertical_plate_of_cengel(reference):
    found = float(nusselt_side(np.array(550.3e6), np.array(0.7256)))
    assert reference.agrees("heat", "churchill_chu_cengel", found)


def test_level_plate_hot_side_up_of_mcadams(reference):
    # far above the band in which both forms are joined here
    found = float(nusselt_up(np.array(3.21e8 * 5.54)))
    assert reference.agrees("heat", "mcadams_up", found)


@pytest.mark.parametrize("rayleigh", [1e3, 1e5, 3e6, 4.6e6, 1.01e7, 1e8, 1e10])
def test_films_equal_those_of_ht_outside_the_joined_band(rayleigh):
    prandtl = 0.71
    grashof = rayleigh / prandtl
    up = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=True)
    down = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=False)
    side = ht.conv_free_immersed.Nu_vertical_plate_Churchill(prandtl, grashof)
    assert float(nusselt_up(np.array(rayleigh))) == pytest.approx(up, rel=1e-12)
    assert float(nusselt_side(np.array(rayleigh), np.array(prandtl))) == pytest.approx(
        side, rel=1e-12
    )
    if rayleigh < 1e10:  # the source ends at 1e10
        assert float(nusselt_down(np.array(rayleigh))) == pytest.approx(down, rel=1e-12)


@pytest.mark.parametrize("rayleigh", [4.8e6, 7e6, 9.9e6])
def test_within_the_band_the_joined_form_lies_at_most_7_percent_above_the_source(rayleigh):
    source = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(0.71, rayleigh / 0.71, buoyancy=True)
    found = float(nusselt_up(np.array(rayleigh)))
    assert source <= found <= 1.07 * source


@pytest.mark.parametrize(("watts", "entry"), [(3, "3W"), (5, "5W"), (8, "8W")])
def test_sealed_box_of_thin_metal(reference, watts, entry):
    expected = reference["heat", f"sealed_box_{entry}"]["expected"]["dT_K"]
    # walls without resistance and without an inner film are not modelled: a thin copper wall, and
    # the outer faces weighed by their area
    box = plain_box(conductivity_w_mk=400.0, wall_mm=0.2)
    parts = (WarmPart(name="heater", area_mm2=2000.0, limit_c=300.0),)
    net = heat_net(box, parts, {"heater": float(watts)}, ambient_c=25.0, air=FIXED)
    temps = dict(zip(net.names, steady_c(net), strict=True))
    area = {wall.face: wall.area_mm2 for wall in box.walls}
    mean = sum(area[face] * temps[f"{face} outside"] for face in area) / sum(area.values())
    # the reference has one temperature for all six faces; here each has its own, and the mean of
    # the same heat over films that differ by face lies within 3 % of it
    assert mean - 25.0 == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("entry", ["3W", "5W", "8W"])
def test_one_temperature_on_six_faces_gives_off_the_published_watts(reference, entry):
    row = reference["heat", f"sealed_box_{entry}"]
    rise = row["expected"]["dT_K"]
    box = plain_box()
    watts = {"conv": 0.0, "rad": 0.0}
    for wall in box.walls:
        film = still_film_w_m2(
            np.array(float(wall.face == "up")),
            np.array(float(wall.face == "side")),
            np.array(25.0 + rise),
            np.array(25.0),
            np.array(wall.length_mm * 1e-3),
            FIXED,
        )
        watts["conv"] += float(film) * wall.area_mm2 * 1e-6
        glow = 0.9 * 5.670374419e-8 * ((298.15 + rise) ** 4 - 298.15**4)
        watts["rad"] += glow * wall.area_mm2 * 1e-6
    assert watts["conv"] == pytest.approx(row["expected"]["q_conv_W"], rel=1e-5)
    assert watts["rad"] == pytest.approx(row["expected"]["q_rad_W"], rel=1e-5)
    assert sum(watts.values()) == pytest.approx(row["inputs"]["P_W"], rel=1e-5)


def test_air_between_two_vents_flows_as_ashrae_says(reference):
    flow = reference["heat", "stack_vent"]["expected"]
    # 500 mm2 twice, 100 mm apart, 40 C inside and 25 C outside: rho c Q d
    box = plain_box(openings=Openings(low_mm2=500.0, high_mm2=500.0, rise_mm=100.0))
    net = heat_net(box, (), {}, ambient_c=25.0)
    lift = next(bundle for bundle in net.bundles if bundle.start == (0,) and bundle.end == (ROOM,))
    watts = float(lift.flow_w(np.array([40.0]), np.array([25.0]))[0])
    density = float(air_at(25.0).density_kg_m3)
    # the entry takes g = 9.81
    assert watts == pytest.approx(density * 1006.5 * flow * 15.0, rel=2e-4)


def test_ten_watts_at_ten_kelvin_take_0_83_litres_a_second(reference):
    litres = 10.0 / (1.2 * 1005.0 * 10.0) * 1e3
    assert reference.agrees("heat", "fan_flow_SI", litres)
    box = plain_box(openings=Openings(fan_m3_s=litres * 1e-3))
    net = heat_net(box, (), {}, ambient_c=20.0)
    blown = next(bundle for bundle in net.bundles if bundle.end == (ROOM,))
    watts = float(blown.flow_w(np.array([30.0]), np.array([20.0]))[0])
    assert watts == pytest.approx(10.0, rel=0.01)  # rho 1.204 and c 1006.5 here


@pytest.mark.parametrize(
    ("temp", "conductivity", "viscosity"),
    [(26.85, 0.0263, 1.589e-5), (76.85, 0.0300, 2.092e-5)],
)
def test_air_agrees_with_the_table_of_incropera(temp, conductivity, viscosity):
    # Introduction to Heat Transfer, 6th ed., table A.4, 300 K and 350 K
    air = air_at(temp)
    assert float(air.conductivity_w_mk) == pytest.approx(conductivity, rel=0.01)
    assert float(air.viscosity_m2_s) == pytest.approx(viscosity, rel=0.02)
    assert float(air.prandtl) == pytest.approx(0.70, abs=0.015)


def test_dew_point_is_where_saturation_pressures_meet():
    # Alduchov and Eskridge 1996, equation 21: e = 6.1094 exp(17.625 T / (T + 243.04)) hPa
    def pressure(temp):
        return 6.1094 * math.exp(17.625 * temp / (temp + 243.04))

    dew = dew_point_c(26.0, 0.9)
    assert pressure(dew) == pytest.approx(0.9 * pressure(26.0), rel=1e-9)
    assert dew == pytest.approx(24.2, abs=0.05)
