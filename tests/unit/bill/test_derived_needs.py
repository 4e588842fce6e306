"""What asks for itself: screws, wires, what the list covers, spares; nothing is bought twice."""

import csv
import io
import math
import tomllib
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wanted import wanted

from buildplan.bill import bill_line, roll_up
from buildplan.bill import derived as d
from buildplan.errors import InputError
from buildplan.report.files import bill_csv
from buildplan.tables import inserts, screws

HOSTILE = '=HYPERLINK("http://x","y"),\n"@SUM(1)'


def need(item="screw M3 x 8", quantity="6", unit="piece", **more):
    amount = Decimal(quantity)
    usual = {
        "kind": "joint",
        "low": amount,
        "high": amount,
        "pack": Decimal(10),
        "used_in": "base",
        "asked_by": "0123abcd",
        "why": "six holes",
        "source": "ours",
    }
    return d.Need(item=item, quantity=amount, unit=unit, **(usual | more))


def item(name, need="6", pack="50", **more):
    covers, holds = more.pop("covers", ()), more.pop("holds", Decimal(0))
    needed = more.pop("needed", True)
    line = bill_line(wanted(item=name, need=need, pack=pack, **more))
    return d.Item(line=line, needed=needed, covers=covers, holds=holds)


def hole(owner, start, end, width, *, shut=False, boss=False):
    return d.Hole(
        owner=owner,
        part=owner,
        feature="boss" if boss else "",
        boss=boss,
        group="",
        start_mm=start,
        end_mm=end,
        diameter_mm=width,
        start_shut=False,
        end_shut=shut,
    )


def sized(*holes):
    found = d.find_fixings(holes, screws=screws(), inserts=inserts())
    return d.size_fixings(found, (), screws=screws(), inserts=inserts())


def test_a_hole_through_two_parts_asks_for_a_bolt_and_a_nut_and_a_single_one_for_nothing():
    one = hole("arm", (0.0, 0.0, 0.0), (0.0, 0.0, 3.0), 3.4)
    other = hole("shell", (0.0, 0.0, 3.0), (0.0, 0.0, 6.0), 3.4)
    found = {n.item: n.quantity for n in d.fixing_needs(sized(one, other))}
    assert found == {"screw M3 x 10": 1, "nut M3": 1}  # 6 + 2.4 + 0.5 = 8.9
    assert d.fixing_needs(sized(one)) == ()


def test_a_short_bore_is_told():
    bore = hole("shell", (0.0, 0.0, 5.0), (0.0, 0.0, 0.0), 4.0, shut=True, boss=True)
    told = [f.what for f in d.fixing_findings(sized(bore), inserts=inserts())]
    assert any(what.startswith("the bore for the M3") for what in told)
    assert any("bottom out" in what or "no standard" in what for what in told)


def test_what_the_list_has_too_little_of_is_told_and_not_bought_twice():
    split = d.split_needs([need(quantity="60")], [item("screw M3 x 8")])
    assert d.lines_of(split) == ()
    (finding,) = d.cover_findings(split)
    assert finding.severity == "caution"
    assert "needs 60 pieces" in finding.what
    assert "quantity = 60" in finding.remedy


def test_another_length_covers_nothing_and_an_unneeded_item_is_bought_at_its_price():
    split = d.split_needs([need()], [item("screw M3 x 20")])
    (line,) = d.lines_of(split)
    assert (line.wanted.item, line.packs, line.cost) == ("screw M3 x 8", 1, Decimal("0.00"))
    idle = item("screw M3 x 8", pack_cost="4.20", needed=False)
    (line,) = d.lines_of(d.split_needs([need()], [idle]))
    assert line.cost == Decimal("4.20")


def test_metres_in_a_set_are_held_against_metres_needed():
    metres = need(item="wire 20 AWG", quantity="12", unit="m")
    told = d.cover_findings(d.split_needs([metres], [item("wire 20 AWG", need="1", pack="1")]))
    assert "counts it by the piece" in told[0].what
    reel = item("wire 20 AWG", need="1", pack="1", holds=Decimal(10))
    (finding,) = d.cover_findings(d.split_needs([metres], [reel]))
    assert "quantity = 2" in finding.remedy


@given(
    count=st.integers(1, 700), pack=st.integers(1, 60), price=st.integers(1, 900),
    have=st.integers(0, 80), least=st.integers(0, 120),
)  # fmt: skip
def test_whole_packs_are_those_of_trying_every_number(count, pack, price, have, least):
    line = bill_line(
        wanted(
            need=str(count), pack=str(pack), pack_cost=str(Decimal(price) / 100),
            on_hand=str(have), least=str(least),
        )
    )  # fmt: skip
    open_need = max(count - have, 0)
    if open_need == 0:
        assert line.packs == 0
        return
    tried = next(n for n in range(1, 800) if n * pack >= open_need and n * pack >= least)
    assert line.packs == tried
    assert line.cost == Decimal(tried * price) / 100
    assert line.to_next_pack == tried * pack - open_need


@given(prices=st.lists(st.integers(0, 99_999), min_size=1, max_size=12))
def test_cents_of_lines_and_orders_add_up(prices):
    lines = [
        bill_line(wanted(item=f"a {k}", pack_cost=str(Decimal(price) / 100), supplier=f"s{k % 3}"))
        for k, price in enumerate(prices)
    ]
    orders = roll_up(lines, shops={}, currency="EUR", rates={})
    assert orders.goods_cost == Decimal(sum(10 * price for price in prices)) / 100
    assert orders.goods_cost == sum(one.goods_cost for one in orders.orders)


def test_shares_are_told_and_never_ordered():
    share = d.Share(
        part="base_shell", printer="large", time_h=21.5, energy_kwh=3.0, machine_cost=5.4,
        energy_cost=1.15, asked_by="0123abcd",
    )  # fmt: skip
    (line,) = d.share_lines([share])
    assert (line.packs, line.cost) == (0, Decimal("0.00"))
    assert line.wanted.pack_cost == Decimal("6.55")


def test_a_spare_pays_by_its_chance_and_the_wait():
    case = d.SpareCase(
        item="servo", fail_frac=0.05, count=1, lead_d=10.0, price_cost=16.0, shipping_cost=5.0,
        left=0.0,
    )  # fmt: skip
    worth = 0.05 * (10.0 * 40.0 + 5.0)
    assert math.isclose(d.judge_spare(case, 40.0).worth_cost, worth)
    assert [one.item for one in d.paying([case], 40.0)] == ["servo"]
    assert d.paying([case], 10.0) == ()


def test_hostile_names_stay_one_harmless_cell():
    (line,) = d.lines_of(d.split_needs([need(item=HOSTILE, used_in=HOSTILE)], []))
    rows = list(csv.reader(io.StringIO(bill_csv((line,), "EUR"))))
    assert len(rows) == 2
    cells = dict(zip(rows[0], rows[1], strict=True))
    assert cells["item"] == "'" + HOSTILE
    assert cells["asked_by"] == "0123abcd"
    assert not any(cell.startswith(("=", "@")) for cell in rows[1])


def test_every_fault_of_the_table_is_told_at_once():
    data = tomllib.loads(
        '[hardware]\nown_leads = ["sevro"]\n[[hardware.fixing]]\nname = "a"\nscrew = "M33"\n'
        'stack_mm = 3.0\n[[hardware.bond]]\nname = "seam"\nitem = "glue"\n'
        '[[hardware.cover]]\nbought = "wire"\n'
    )
    _, faults = d.read_hardware(data, bought=["wires"], loads=["servo"], parts=["base"])
    said = "\n".join(fault.text for fault in faults)
    for word in ("sevro", "M33", "seam", "wire"):
        assert word in said


def test_a_negative_price_of_a_spare_is_refused():
    case = d.SpareCase(
        item="servo", fail_frac=0.05, count=1, lead_d=-1.0, price_cost=16.0, shipping_cost=5.0,
        left=0.0,
    )  # fmt: skip
    with pytest.raises(InputError, match="servo"):
        d.judge_spare(case, 1.0)
