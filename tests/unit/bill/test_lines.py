"""Bill lines: whole packs and exact cents."""

from decimal import Decimal

import pytest

from buildplan.bill import Wanted, bill_line, total_cost
from buildplan.errors import InputError


def wanted(need, pack, pack_cost):
    return Wanted(
        kind="bought",
        item="screws",
        need=Decimal(need),
        unit="pcs",
        pack=Decimal(pack),
        pack_cost=Decimal(pack_cost),
        supplier="",
        lead_d=2.0,
        used_in="base shell",
    )


@pytest.mark.parametrize(
    ("need", "pack", "packs", "spare"),
    [("0", "50", 0, "0"), ("1", "50", 1, "49"), ("50", "50", 1, "0"), ("51", "50", 2, "49")],
)
def test_needs_are_bought_in_whole_packs(need, pack, packs, spare):
    line = bill_line(wanted(need, pack, "3.10"))
    assert (line.packs, line.spare) == (packs, Decimal(spare))
    assert line.cost == Decimal("3.10") * packs


def test_sums_are_exact_where_floats_are_not():
    lines = [bill_line(wanted("1", "1", "0.10")) for _ in range(3)]
    assert total_cost(lines) == Decimal("0.30")
    assert 0.1 + 0.1 + 0.1 != 0.3


@pytest.mark.parametrize(
    ("need", "pack", "cost"), [("-1", "1", "1"), ("1", "0", "1"), ("1", "1", "-1")]
)
def test_impossible_lines_are_refused_with_their_numbers(need, pack, cost):
    with pytest.raises(InputError, match='bill line "screws": needs'):
        bill_line(wanted(need, pack, cost))
