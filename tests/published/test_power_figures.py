"""Copper, Peukert, ports and drops against published values and closed forms.

Sources: IEC 60028 (copper), ASTM B258 (gauges), W. Peukert 1897 (batteries), USB 2.0 ch. 7.2.1,
USB 3.x, Battery Charging 1.2 and Type-C (ports), IEC 62368-1 (touch limits); each entry of
reference_values.toml, area electrical, names its own.
"""

import math

import pytest
from power_samples import bare_load, bare_source, demo_power

from buildplan.device.power import (
    Load,
    Mode,
    Power,
    capacitance_uf,
    choose_fuse,
    copper_ohm,
    make_network,
    peukert_h,
    solve,
)
from buildplan.device.power.cautions import TOUCH_LIMIT_V
from buildplan.device.power.changes import HEADROOM
from buildplan.device.power.findings import DROP_LIMIT_FRAC
from buildplan.device.power.shape import PORT_LIMITS
from buildplan.device.power.sizing import even_current_a, wall_efficiency_frac
from buildplan.device.power.tree import COPPER_OHM_MM2_M, COPPER_PER_K
from buildplan.tables import cells, wires

ALWAYS = (Mode(name="idle", share_frac=1.0),)


def shared(volts, ohm, *loads):
    power = Power(source=bare_source(volts, ohm), load=loads, mode=ALWAYS, wire_c=20.0)
    found = solve(make_network(power), [load.idle_a for load in loads])
    return float(found.volts_v[1])


def behind_wire(awg, length_mm, amps, wire_c=20.0):
    """Volts lost in a pair of wires."""
    load = bare_load(kind="current", amps=amps, wire_mm=length_mm, wire_awg=awg)
    power = Power(source=bare_source(12.0, 0.0), load=(load,), mode=ALWAYS, wire_c=wire_c)
    return 12.0 - float(solve(make_network(power), [amps]).volts_v[1])


def test_copper_has_the_resistivity_and_the_coefficient_of_iec_60028(reference):
    assert reference.agrees("electrical", "rho_cu", COPPER_OHM_MM2_M)
    assert reference.agrees("electrical", "alpha_cu", COPPER_PER_K)
    warm = copper_ohm(1.0, 1000.0, 90.0) / copper_ohm(1.0, 1000.0, 20.0)
    assert reference.agrees("electrical", "rho_cu_90C", warm)


def test_half_a_metre_of_awg_22_drops_a_tenth_of_a_volt_at_two_amps(reference):
    assert reference.agrees("electrical", "drop_awg22", behind_wire(22, 500.0, 2.0))
    assert round(behind_wire(22, 500.0, 2.0, 50.0), 4) == 0.1184


@pytest.mark.parametrize(("awg", "left_v"), [(24, 4.07), (20, 5.24)])
def test_fifteen_feet_of_wire_at_two_and_a_half_amps_take_this_from_six_volts(awg, left_v):
    # closed form: 6 - 2 * 4.572 m * R * 2.5 A, with 84.2 and 33.3 ohm/km (ASTM B258, IEC 60028)
    ohm_m = wires()[f"AWG{awg}"].resistance_ohm_km * 1e-3
    drop = behind_wire(awg, 15 * 304.8, 2.5)
    assert math.isclose(drop, 2 * 4.572 * ohm_m * 2.5, rel_tol=1e-9)
    assert abs(6.0 - drop - left_v) < 0.01


@pytest.mark.parametrize(("ohm", "both_v"), [(0.05, 4.94), (0.1, 4.78), (0.2, 4.46)])
def test_a_stalled_servo_pulls_down_the_board_on_the_same_wire(ohm, both_v):
    # closed form: 5.10 V - R * (1.2 A + 2 A)
    board = bare_load("board", "current", 1.2)
    servo = bare_load("servo", "current", 2.0)
    assert abs(shared(5.10, ohm, board, servo) - both_v) < 1e-9
    assert abs(shared(5.10, 0.2, board) - 4.86) < 1e-9


def test_peukert_gives_the_worked_examples_in_both_forms(reference):
    entry = reference["electrical", "peukert_capacity_form"]
    one_amp = entry["inputs"]["Cp"]
    for amps, hours in zip(entry["inputs"]["I"], entry["expected"], strict=True):
        found = peukert_h(one_amp, amps, rated_h=one_amp, peukert_frac=1.2)
        assert math.isclose(found, hours, rel_tol=entry["tolerance"]["rel"])
    # hour-rated form: 100 Ah over 20 h
    assert math.isclose(peukert_h(100.0, 5.0), 20.0, rel_tol=1e-12)
    assert abs(peukert_h(100.0, 10.0) - 8.7055) < 5e-5


def test_without_peukert_loss_energy_over_power_is_the_runtime(reference):
    # 50 Wh at 3 W, as 10 Ah of 5 V at 0.6 A
    found = peukert_h(10.0, 0.6, rated_h=5.0, peukert_frac=1.0)
    assert reference.agrees("electrical", "battery_simple", found)


def test_a_duty_averages_the_current_to_the_power_of_the_exponent():
    # closed form: half the time 2 A, half 0: the charge of 1 A, but I = (0.5 * 2^k)^(1/k)
    assert math.isclose(even_current_a([0.5, 0.5], [2.0, 0.0], 1.0), 1.0)
    assert math.isclose(even_current_a([0.5, 0.5], [2.0, 0.0], 1.2), 2.0 * 0.5 ** (1 / 1.2))


def test_lithium_cells_have_the_exponent_found_for_them(reference):
    assert "1.0-1.05" in reference["electrical", "battery_simple"]["note"]
    assert 1.0 <= cells()["li_ion"].peukert_frac <= 1.05


def test_ports_give_what_their_standards_say(reference):
    assert reference["electrical", "usb2"]["expected"][1] == PORT_LIMITS["usb 2"].limit_a
    assert reference["electrical", "usb3"]["expected"][1] == PORT_LIMITS["usb 3"].limit_a
    assert reference.agrees("electrical", "usb_bc", PORT_LIMITS["usb charging"].limit_a)
    given = [PORT_LIMITS[key].limit_a for key in ("usb c 1.5 A", "usb c 3 A")]
    assert reference["electrical", "usb_c"]["expected"] == given
    for port in PORT_LIMITS.values():
        assert reference.agrees("electrical", "usb_vbus", port.least_v)


def test_the_caution_for_touch_starts_well_below_the_limit_of_the_standard(reference):
    limit_v = reference["electrical", "es1_dc"]["expected"]
    assert limit_v == 60.0
    assert limit_v > TOUCH_LIMIT_V == 42.4


def test_a_fuse_carries_three_quarters_of_its_rating_for_long(reference):
    steady_a = reference["electrical", "fuse_75"]["inputs"]["I_A"]
    found = choose_fuse(steady_a, ("AWG 20", 11.0), 5.0)
    assert reference.agrees("electrical", "fuse_75", found.rating_a)


def test_a_capacitor_covers_a_spike_but_not_a_start():
    # closed form: C = I t / dV: 2 A, 0.25 V
    assert math.isclose(capacitance_uf(2.0, 0.25, 10.0), 80_000.0)
    assert math.isclose(capacitance_uf(2.0, 0.25, 1.0), 8_000.0)


def test_a_capacitor_beside_a_feed_follows_the_step_response():
    # closed form: v falls by I R (1 - exp(-t / (R C))); after t it has fallen by the dip
    step_a, ohm, dip_v, time_s = 2.0, 0.3, 0.25, 0.004
    farad = capacitance_uf(step_a, dip_v, time_s * 1e3, feed_ohm=ohm) * 1e-6
    assert math.isclose(step_a * ohm * (1 - math.exp(-time_s / (ohm * farad))), dip_v)
    assert capacitance_uf(step_a, dip_v, 4.0, feed_ohm=0.12) == 0.0
    almost = capacitance_uf(step_a, dip_v, 4.0, feed_ohm=1e6)
    assert math.isclose(almost, capacitance_uf(step_a, dip_v, 4.0), rel_tol=1e-6)


def test_defaults_lie_inside_common_practice(reference):
    assert reference.agrees("electrical", "supply_headroom", HEADROOM)
    assert reference.agrees("electrical", "drop_practice", 100 * DROP_LIMIT_FRAC)
    for rail in demo_power().converter:
        assert reference.agrees("electrical", "reg_buck", rail.efficiency_frac)


@pytest.mark.parametrize(
    ("entry", "load", "key"),
    [
        ("load_sbc_idle", "single-board computer", "idle_a"),
        ("load_sbc_full_load", "single-board computer", "count_a"),
        ("load_standard_servo_stall", "roof servo", "peak_a"),
        ("load_tof_ranging", "distance sensor", "watch_a"),
        ("load_mcu_board", "microcontroller board", "watch_a"),
        ("load_camera_module", "camera", "count_a"),
    ],
)
def test_the_demos_currents_lie_inside_common_practice(reference, entry, load, key):
    found: Load = next(x for x in demo_power().load if x.name == load)
    assert reference.agrees("electrical", entry, getattr(found, key))


def test_a_wall_supplys_efficiency_is_that_of_its_class_and_nowhere_jumps():
    # Commission Regulation (EU) 2019/1782: 0.071 ln P - 0.0014 P + 0.67 up to 49 W, then 0.88
    assert math.isclose(wall_efficiency_frac(36.0), 0.071 * math.log(36) - 0.0504 + 0.67)
    assert wall_efficiency_frac(60.0) == 0.88
    assert abs(wall_efficiency_frac(49.0) - 0.88) < 0.003
    assert abs(wall_efficiency_frac(1.0) - wall_efficiency_frac(1.001)) < 0.01
