"""Rules of thumb: which row holds for which feedstock, and what they may not say."""

import dataclasses

import pytest

from buildplan.errors import TableError
from buildplan.tables import feedstock, feedstocks, load_table, rules, rules_for

ROW = """
[[rule]]
key = "mine"
name = "my printer"
process = "vat"
about = "measured"
modulus_below_mpa = 100000.0
wall_least_mm = 0.5
wall_structural_mm = 0.9
gap_fused_mm = 0.2
gap_moving_mm = 0.3
hole_shrink_mm = 0.1
hole_lying_shrink_mm = 0.1
hole_least_mm = 0.5
hole_note_mm = 3.0
pin_least_mm = 0.8
bridge_limit_mm = 5.0
cantilever_limit_mm = 1.0
drain_least_mm = 3.5
trapped_least_mm3 = 20.0
pooled_least_mm3 = 1000.0
suction_least_mm2 = 100.0
[rule.sources]
_all = "measured on coupons"
"""


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("PLA", "extrusion"),
        ("PC", "extrusion"),
        ("TPU", "soft_extrusion"),
        ("standard_photopolymer", "vat"),
        ("flexible_photopolymer", "vat"),
    ],
)
def test_the_rules_of_a_feedstock_go_by_process_and_stiffness(name, key):
    assert rules_for(feedstock(name)).key == key


def test_every_feedstock_has_rules_of_its_process():
    for row in feedstocks().values():
        assert rules_for(row).process == row.process


def test_own_rows_are_looked_at_instead():
    own = load_table("rule", ROW)
    assert rules_for(feedstock("standard_photopolymer"), own).name == "my printer"
    with pytest.raises(TableError, match=r"no row of rules holds for PLA .* mine"):
        rules_for(feedstock("PLA"), own)


def test_limits_that_contradict_each_other_are_refused():
    wrong = ROW.replace("gap_fused_mm = 0.2", "gap_fused_mm = 0.4")
    with pytest.raises(TableError, match=r"gap_fused_mm 0\.4 and gap_moving_mm 0\.3 do not agree"):
        load_table("rule", wrong)


def test_a_soft_feedstock_is_allowed_no_more_than_a_stiff_one():
    stiff, soft = rules()["extrusion"], rules()["soft_extrusion"]
    wider = ("wall_structural_mm", "gap_fused_mm", "gap_moving_mm", "hole_least_mm", "pin_least_mm")
    for field in dataclasses.fields(stiff):
        if field.name in wider:
            assert getattr(soft, field.name) >= getattr(stiff, field.name)
