"""Lines of the bill that write themselves: screw lengths, bores, wire, spares, what covers what."""

import math
from decimal import Decimal

import manifold3d
import pytest
from gap_solids import as_part
from hypothesis import given
from hypothesis import strategies as st

from buildplan.bill import Wanted, bill_line
from buildplan.bill.derived import (
    Grip,
    Item,
    Need,
    Run,
    SpareCase,
    choose_screw,
    cut_m,
    find_fixings,
    fixing_findings,
    judge_spare,
    lengths_named,
    lines_of,
    mark_of_rows,
    read_hardware,
    reel_m,
    size_fixings,
    split_needs,
    wire_needs,
)
from buildplan.bill.derived.model import listed, stepped
from buildplan.bill.derived.screws import LENGTHS_MM, NUT_MM, TIP_MM
from buildplan.bill.derived.stacks import Hole
from buildplan.errors import InputError
from buildplan.part.bores import find_bores
from buildplan.tables.loader import inserts, screws


def grip(screw="M3", stack=3.0, into="insert", room=math.inf, thread=5.7):
    return Grip(screw=screw, stack_mm=stack, into=into, room_mm=room, thread_mm=thread)


def chosen(one):
    row = screws()[one.screw]
    return choose_screw(one, thread_mm=row.thread_mm, pitch_mm=row.pitch_mm)


@given(
    screw=st.sampled_from(sorted(LENGTHS_MM)),
    stack=st.floats(0.0, 40.0),
    room=st.one_of(st.just(math.inf), st.floats(0.0, 30.0)),
    into=st.sampled_from(["insert", "plastic", "metal"]),
)
def test_the_length_is_the_shortest_that_holds_and_never_bottoms_out(screw, stack, room, into):
    """ISO 4762:2004, lengths on sale; every one of them tried."""
    one = grip(screw, stack, into, room, math.inf)
    found = chosen(one)
    deepest = stack + room - TIP_MM
    whole = [x for x in LENGTHS_MM[screw] if stack + found.wanted_mm - 1e-9 <= x <= deepest + 1e-9]
    least = [x for x in LENGTHS_MM[screw] if stack + found.least_mm - 1e-9 <= x <= deepest + 1e-9]
    assert found.length_mm == (min(whole) if whole else max(least, default=0.0))
    assert found.serves == bool(least)
    assert found.short == (found.engaged_mm < found.wanted_mm - 1e-9)


def test_next_standard_length_and_bottoming_by_hand():
    # 8 mm plate, M3 in a 5.7 mm insert: 1.5 d = 4.5 mm of thread, so 12.5 mm: M3 x 16 is next
    assert chosen(grip(stack=8.0)).length_mm == 16.0
    # 3 mm plate in a hole 5 mm deep: M3 x 8 would need 5.5 mm of room with its tip
    shallow = chosen(grip(stack=3.0, room=5.0))
    assert (shallow.length_mm, shallow.bottoming_mm) == (6.0, 8.0)
    # in a hexagon nut (ISO 4032: 2.4 mm for M3) all of it and one pitch (0.5 mm, ISO 261)
    nut = chosen(grip(stack=7.0, into="nut", thread=math.inf))
    assert nut.wanted_mm == pytest.approx(NUT_MM["M3"] + 0.5)
    assert nut.length_mm == 10.0


def test_a_length_at_hand_serves_where_it_holds_as_well():
    row = screws()["M3"]
    one = grip(stack=1.6, into="plastic", thread=math.inf)
    found = choose_screw(
        one, thread_mm=row.thread_mm, pitch_mm=row.pitch_mm, at_hand_mm=(10.0, 25.0)
    )
    assert found.length_mm == 10.0
    with pytest.raises(InputError, match="no standard lengths"):
        choose_screw(grip("M7"), thread_mm=7.0, pitch_mm=1.0)


def drilled(depth, diameter=4.0, through=False):
    block = manifold3d.Manifold.cube([30.0, 20.0, 10.0])
    height = 12.0 if through else depth
    drill = manifold3d.Manifold.cylinder(height + 1.0, diameter / 2, circular_segments=64)
    return as_part(block - drill.translate([15.0, 10.0, 10.0 - height]))


@pytest.mark.parametrize(("depth", "through"), [(6.5, False), (10.0, True)])
def test_bores_are_found_with_their_depth_and_floor(depth, through):
    (bore,) = find_bores(drilled(depth, through=through))
    assert bore.diameter_mm == pytest.approx(4.0, abs=1e-6)
    assert bore.depth_mm == pytest.approx(depth, abs=1e-6)
    assert bore.blind is not through


def test_a_pin_and_a_slot_are_no_bores():
    pin = manifold3d.Manifold.cylinder(10.0, 2.0, circular_segments=48)
    slot = manifold3d.Manifold.cube([30.0, 20.0, 10.0])
    slot -= manifold3d.Manifold.cube([12.0, 4.0, 12.0]).translate([9.0, 8.0, -1.0])
    assert find_bores(as_part(pin)) == ()
    assert find_bores(as_part(slot)) == ()


def hole(part, low, high, diameter, **changes):
    values = {
        "owner": part, "part": part, "feature": "", "boss": False, "group": "",
        "start_mm": (0.0, 0.0, low), "end_mm": (0.0, 0.0, high), "diameter_mm": diameter,
        "start_shut": False, "end_shut": False,
    }  # fmt: skip
    return Hole(**(values | changes))


def test_a_plate_on_a_boss_asks_for_an_insert_and_the_next_screw():
    row = inserts()["M3"]
    bore = hole("shell", 0.0, 7.0, row.hole_mm, boss=True, feature="boss 1", start_shut=True)
    plate = hole("plate", 7.0, 10.0, screws()["M3"].hole_medium_mm)
    (fixing,) = find_fixings([bore, plate], screws=screws(), inserts=inserts())
    (sized,) = size_fixings([fixing], (), screws=screws(), inserts=inserts(), at_hand_mm={})
    assert (fixing.insert, fixing.grip.stack_mm) == ("M3", pytest.approx(3.0))
    assert sized.choice.length_mm == 8.0
    assert fixing_findings([sized], inserts=inserts()) == ()


def test_holes_that_are_not_in_line_ask_for_nothing():
    off = hole("plate", 7.0, 10.0, 3.4, start_mm=(2.0, 0.0, 7.0), end_mm=(2.0, 0.0, 10.0))
    other = hole("shell", 0.0, 7.0, 3.4)
    assert find_fixings([other, off], screws=screws(), inserts=inserts()) == ()


def run(name="lamp", length=500.0, conductors=2, gauge="20 AWG"):
    return Run(
        name=name, feed="supply", rail="12 V", gauge=gauge, length_mm=length, conductors=conductors
    )


def test_wire_is_what_is_cut_with_slack_and_both_ends():
    assert cut_m(run()) == pytest.approx(0.5 * 1.1 + 0.04)
    (need,) = wire_needs([run(), run("pump", 250.0)])
    assert need.quantity == Decimal("1.81")  # 2 x 0.59 + 2 x 0.315
    assert need.low == Decimal("1.50")
    assert need.pack == Decimal("2.0")
    assert [one.item for one in wire_needs([run(), run(gauge="24 AWG")])] == [
        "wire 20 AWG",
        "wire 24 AWG",
    ]


@given(
    st.lists(st.floats(0.05, 2.0), min_size=1, max_size=12), st.sampled_from([1.0, 2.0, 5.0, 10.0])
)
def test_from_the_wire_that_is_bought_every_piece_can_be_cut(pieces, pack):
    bought = max(math.ceil(reel_m(pieces, pack) / pack - 1e-9), 1)
    if max(pieces) > pack:
        assert bought * pack >= sum(pieces)
        return
    reels = [pack] * bought
    for piece in sorted(pieces, reverse=True):
        place = next((k for k, left in enumerate(reels) if left >= piece - 1e-9), None)
        assert place is not None
        reels[place] -= piece


@given(st.floats(0.0, 1.0), st.integers(1, 6), st.floats(0.0, 30.0), st.floats(0.0, 20.0))
def test_a_spare_pays_where_the_expected_delay_costs_more(fail_frac, count, lead_d, price):
    case = SpareCase(
        item="servo", fail_frac=fail_frac, count=count, lead_d=lead_d, price_cost=price,
        shipping_cost=4.0, left=0.0,
    )  # fmt: skip
    found = judge_spare(case, day_cost=2.0)
    none_fails = (1.0 - fail_frac) ** count
    assert found.worth_cost == pytest.approx((1.0 - none_fails) * (2.0 * lead_d + 4.0))
    assert found.pays == (found.worth_cost > price)


def need(item="screw M3 x 8", quantity="6", unit="piece", **changes):
    amount = Decimal(quantity)
    values = {
        "kind": "joint", "item": item, "quantity": amount, "low": amount, "high": amount,
        "unit": unit, "pack": Decimal(10), "used_in": "plate", "asked_by": "0123abcd",
        "why": "six holes", "source": "ISO 4762",
    }  # fmt: skip
    return Need(**(values | changes))


def item(name="M3x8 screws", quantity="6", needed=True, **changes):
    wanted = Wanted(
        kind="bought", item=name, need=Decimal(quantity), unit="piece", pack=Decimal(50),
        pack_cost=Decimal("4.20"), supplier="Fern", lead_d=2.0, used_in="plate",
    )  # fmt: skip
    return Item(line=bill_line(wanted), needed=needed, **changes)


def test_what_the_list_covers_is_not_bought_again():
    split = split_needs([need(), need("nut M3", "4")], [item()])
    assert [one.item.name for one in split.covered] == ["M3x8 screws"]
    assert [line.wanted.item for line in lines_of(split)] == ["nut M3"]
    (line,) = lines_of(split)
    assert (line.packs, line.cost) == (1, Decimal("0.00"))


def test_an_item_that_is_only_listed_becomes_a_line_at_its_price():
    split = split_needs([need()], [item(needed=False)])
    (line,) = lines_of(split)
    assert (line.cost, line.wanted.kind) == (Decimal("4.20"), "joint")


@given(st.permutations(["plate", "boss", "rod", "lid"]))
def test_the_mark_of_what_asks_does_not_hang_on_the_order(order):
    rows = [run(name) for name in order]
    assert mark_of_rows(rows) == mark_of_rows(sorted(rows, key=lambda one: one.name))
    assert mark_of_rows(rows) != mark_of_rows([run("plate", 501.0), *rows[1:]])


@given(st.floats(0.0, 1e4), st.sampled_from(["piece", "m", "ml", "g"]))
def test_needs_are_never_rounded_down(value, unit):
    assert float(stepped(value, unit)) >= value - 1e-6


def test_names_are_told_short():
    assert listed(["boss 2", "boss 1", "boss 3", "plate"]) == "boss 1 to 3, plate"
    assert lengths_named(["screw M3 x 8", "M3x12 pan", "glue"]) == {"M3": (8.0, 12.0)}


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"own_leads": ["servo"]}, 'own_leads "servo" is not known'),
        ({"cover": [{"bought": "wire"}]}, 'bought "wire" is not known'),
        ({"fixing": [{"name": "a", "screw": "M7", "stack_mm": 2.0}]}, 'screw "M7" is not known'),
        ({"bond": [{"name": "a", "item": "glue"}]}, "neither run_mm nor area_mm2"),
        ({"signals": {"lamp": -1}}, "Allowed: 0 to 100"),
        ("none", "hardware must be a table"),
    ],
)
def test_a_wrong_hardware_table_says_what_is_allowed(table, said):
    _, faults = read_hardware({"hardware": table}, bought=("glue",), loads=("lamp",))
    assert any(said in fault.text for fault in faults)
