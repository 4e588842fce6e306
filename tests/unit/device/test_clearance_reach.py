"""Screws, plugs and the order of assembly: what blocks what, where, by how much."""

import math
from dataclasses import replace

import pytest
import solids
import swings
from manifold3d import Manifold

from buildplan.device.clearance import (
    ComponentPlace,
    PlugPlace,
    ScrewPlace,
    Swing,
    TouchZone,
    plan_assembly,
    reach_plugs,
    reach_screws,
)
from buildplan.errors import InputError
from buildplan.tables.strict import read_record

SCREW = ScrewPlace(name="lid 1", screw="M3", seat_mm=(0.0, 0.0, 10.0), axis=(0.0, 0.0, -2.0))
PLUG = PlugPlace(
    name="supply",
    face_mm=(0.0, 0.0, 0.0),
    out=(1.0, 0.0, 0.0),
    high=(0.0, 0.0, 1.0),
    wide_mm=12.0,
    high_mm=6.0,
    length_mm=20.0,
)


def hole(diameter, z, high=200.0):
    return Manifold.cylinder(high, diameter / 2, diameter / 2, 64).translate((0.0, 0.0, z))


def block_with_bore(diameter, depth=4.0):
    """A block whose top lies at 10 + depth, with a flat bore down to the seat at 10."""
    body = solids.box(40, 40, 10 + depth, (-20.0, -20.0, 0.0)) - hole(diameter, 10.0)
    return swings.as_part(body, "block")


def cover(diameter, z=40.0):
    return swings.as_part(solids.box(60, 60, 3, (-30.0, -30.0, z)) - hole(diameter, z - 1), "cover")


def only(results):
    (result,) = results
    return result


def test_a_screw_in_a_bore_is_reached_with_the_room_beside_its_head():
    reached = only(reach_screws([SCREW], [block_with_bore(6.5)]))
    assert reached.access == "reached"
    assert reached.findings == ()
    # the blade, 2.5 * 2 / sqrt(3) across, stands 1 mm deep in the bore of 6.5 mm
    blade = 2.5 * 2.0 / math.sqrt(3.0)
    assert reached.spare_mm == pytest.approx((6.5 - blade) / 2.0, abs=0.01)


def test_a_bore_narrower_than_the_head_blocks_with_the_volume_of_the_ring():
    reached = only(reach_screws([SCREW], [block_with_bore(5.0, depth=3.0)]))
    assert reached.access == "blocked"
    (blocker,) = reached.blockers
    ring = math.pi / 4.0 * (5.5**2 - 5.0**2) * 2.95
    assert blocker.overlap_mm3 == pytest.approx(ring, rel=0.03)
    assert blocker.after_mm == pytest.approx(0.05, abs=1e-6)
    assert reached.findings[0].severity == "stop"
    assert "block is in the way" in reached.findings[0].what


def test_a_cover_over_the_screw_blocks_the_blade_and_says_how_far_up():
    reached = only(reach_screws([SCREW], [block_with_bore(6.5), cover(2.0)]))
    assert reached.access == "blocked"
    assert reached.blockers[0].part == "cover"
    assert reached.blockers[0].after_mm == pytest.approx(30.0, abs=1e-6)
    assert reached.spare_mm == 0.0
    finding = reached.findings[0]
    assert "the driver does not reach screw lid 1: cover is in the way, 30.0 mm" in finding.what
    assert finding.where.point_mm[2] == pytest.approx(41.5, abs=1e-6)


def test_a_hole_for_the_blade_alone_asks_for_the_screw_first():
    reached = only(reach_screws([SCREW], [block_with_bore(6.5), cover(4.0)]))
    assert reached.access == "driver only"
    assert reached.findings[0].severity == "caution"
    assert "before cover is mounted" in reached.findings[0].remedy


def test_a_part_that_is_not_there_yet_blocks_nothing():
    screw = replace(SCREW, not_yet=("cover",))
    assert only(reach_screws([screw], [block_with_bore(6.5), cover(2.0)])).access == "reached"


def test_a_wall_beside_the_handle_blocks_it_and_a_bent_key_passes():
    wall = swings.as_part(solids.box(5, 60, 200, (8.0, -30.0, 0.0)), "wall")
    base = swings.as_part(solids.box(8, 8, 10, (-4.0, -4.0, 0.0)), "base")
    blocked = only(reach_screws([SCREW], [base, wall]))
    assert blocked.blockers[0].part == "wall"
    assert blocked.blockers[0].after_mm == pytest.approx(83.0, abs=1e-6)
    assert only(reach_screws([replace(SCREW, handle_mm=0.0)], [base, wall])).access == "reached"


def test_a_slanted_screw_is_reached_along_its_own_axis():
    turned = block_with_bore(6.5)
    body = solids.box(40, 40, 14, (-20.0, -20.0, 0.0)) - hole(6.5, 10.0)
    body = body.rotate((0.0, 90.0, 0.0))
    screw = replace(SCREW, seat_mm=(10.0, 0.0, 0.0), axis=(-1.0, 0.0, 0.0))
    straight = only(reach_screws([SCREW], [turned]))
    other = only(reach_screws([screw], [swings.as_part(body, "block")]))
    assert other.access == "reached"
    assert other.spare_mm == pytest.approx(straight.spare_mm, abs=0.01)


def test_a_plug_is_reached_or_blocked_by_what_stands_before_it():
    wall = swings.as_part(solids.box(3, 40, 40, (30.0, -20.0, -20.0)), "wall")
    blocked = only(reach_plugs([PLUG], [wall]))
    assert blocked.access == "blocked"
    assert blocked.blockers[0].after_mm == pytest.approx(30.0)
    assert blocked.blockers[0].overlap_mm3 == pytest.approx(12.0 * 6.0 * 3.0)
    assert "plug supply cannot go in or come off: wall" in blocked.findings[0].what
    away = swings.as_part(solids.box(3, 40, 40, (37.5, -20.0, -20.0)), "wall")
    reached = only(reach_plugs([PLUG], [away]))
    assert reached.access == "reached"
    assert reached.spare_mm == pytest.approx(2.5)
    assert only(reach_plugs([replace(PLUG, not_yet=("wall",))], [wall])).access == "reached"


def tray():
    """An open tray, 3 mm thick, 60 x 40 x 30 mm inside."""
    body = solids.box(66, 46, 33) - solids.box(60, 40, 40, (3.0, 3.0, 3.0))
    return swings.as_part(body, "tray")


def lid():
    return swings.as_part(solids.box(66, 46, 3, (0.0, 0.0, 33.0)), "lid")


BOARD = ComponentPlace(name="board", box_mm=(5.0, 5.0, 3.0, 50.0, 35.0, 12.0))
FAN = ComponentPlace(name="fan", box_mm=(10.0, 10.0, 15.0, 40.0, 30.0, 25.0))


def test_what_lies_below_goes_in_first_and_the_lid_last():
    plan = plan_assembly([tray(), lid()], [FAN, BOARD], goes_on={"lid": ()})
    assert plan.base == ("tray",)
    assert [step.name for step in plan.order] == ["board", "fan", "lid"]
    assert all(step.direction == (0.0, 0.0, -1.0) for step in plan.order)
    assert plan.stuck == ()
    (note,) = plan.findings
    assert "board downwards, along -z; fan downwards, along -z; lid" in note.what
    assert note.measured == "3 of 3 go in"


def test_a_way_names_what_stands_in_it_with_its_exact_volume():
    plan = plan_assembly([tray()], [BOARD, FAN])
    ways = dict(plan.ways)
    down = ways["board"][0]
    (blocker,) = down.blockers
    assert blocker.part == "fan"
    # 30 x 20 x 10 mm, drawn in by 0.2 mm on each side
    assert blocker.overlap_mm3 == pytest.approx(29.6 * 19.6 * 9.6)
    # from the board's top at 11.8 to the fan's underside at 15.2
    assert blocker.after_mm == pytest.approx(3.4)
    assert down.step_mm == 0.0
    # from outside the scene's top at 33 to the board's underside at 3.2, and 1 mm more
    assert down.travel_mm == pytest.approx(33.0 - 3.2 + 1.0)


def test_a_closed_box_lets_nothing_in_and_says_what_to_open():
    shut = swings.as_part(
        solids.box(66, 46, 40) - solids.box(60, 40, 30, (3.0, 3.0, 3.0)), "housing"
    )
    plan = plan_assembly([shut], [BOARD])
    assert plan.stuck == ("board",)
    assert plan.order == ()
    (stop,) = plan.findings
    assert stop.severity == "stop"
    assert "board cannot be put in by straight moves, 6 ways tried" in stop.what
    assert "Open a way through housing" in stop.remedy


def test_a_board_under_a_ledge_goes_in_by_two_moves():
    # a ledge over the left 20 mm of the tray, from 16 to 19: down beside it, then 20 mm to the left
    ledged = solids.box(66, 46, 33) - solids.box(60, 40, 40, (3.0, 3.0, 3.0))
    ledged += solids.box(22, 40, 3, (2.0, 3.0, 16.0))
    board = replace(BOARD, box_mm=(5.0, 5.0, 3.0, 41.0, 35.0, 12.0))
    plan = plan_assembly([swings.as_part(ledged, "tray")], [board])
    (step,) = plan.order
    assert step.direction == (0.0, 0.0, -1.0)
    assert step.then == (-1.0, 0.0, 0.0)
    assert step.then_mm == 20.0
    assert "board downwards, along -z, then 20 mm along -x" in plan.findings[0].what
    # 41 + 20 stays within the far wall at 63, 48 + 20 does not
    longer = replace(BOARD, box_mm=(5.0, 5.0, 3.0, 48.0, 35.0, 12.0))
    assert plan_assembly([swings.as_part(ledged, "tray")], [longer]).stuck == ("board",)


def test_a_component_drawn_into_a_part_is_told_to_share_its_room():
    sunk = replace(BOARD, box_mm=(5.0, 5.0, 1.0, 50.0, 35.0, 12.0))
    plan = plan_assembly([tray()], [sunk])
    assert plan.stuck == ("board",)
    assert "it meets tray, where it sits" in plan.findings[0].what
    assert "share room" in plan.findings[0].remedy


def test_two_that_block_each_other_are_both_stuck():
    hooks = [
        ComponentPlace(name="left", box_mm=(5, 5, 3, 20, 35, 12), ways_in=((-1.0, 0.0, 0.0),)),
        ComponentPlace(name="right", box_mm=(30, 5, 3, 50, 35, 12), ways_in=((1.0, 0.0, 0.0),)),
    ]
    floor = swings.as_part(solids.box(66, 46, 3), "floor")
    plan = plan_assembly([floor], hooks)
    assert plan.stuck == ("left", "right")
    assert len(plan.findings) == 2


def test_a_lid_under_an_overhang_slides_in_from_the_side():
    rails = solids.box(66, 46, 33) - solids.box(60, 40, 40, (3.0, 3.0, 3.0))
    rails -= solids.box(90, 42, 3, (-10.0, 2.0, 28.0))
    slide = swings.as_part(solids.box(66, 41.6, 2.6, (0.0, 2.2, 28.2)), "slide")
    plan = plan_assembly([swings.as_part(rails, "tray"), slide], [BOARD], goes_on={"slide": ()})
    assert [step.name for step in plan.order] == ["board", "slide"]
    assert plan.order[1].direction[2] == 0.0
    down = dict(plan.ways)["slide"][0]
    assert down.blockers[0].part == "tray"
    assert down.step_mm == 2.0


def test_impossible_places_are_refused_with_their_numbers():
    block = block_with_bore(6.5)
    with pytest.raises(InputError, match="row 'M33' is not in the table"):
        reach_screws([replace(SCREW, screw="M33")], [block])
    with pytest.raises(InputError, match="screw lid 1: axis: a direction"):
        reach_screws([replace(SCREW, axis=(0.0, 0.0, 0.0))], [block])
    with pytest.raises(InputError, match="not_yet names 'roof'"):
        reach_screws([replace(SCREW, not_yet=("roof",))], [block])
    with pytest.raises(InputError, match=r"45\.0 degrees apart"):
        reach_plugs([replace(PLUG, high=(1.0, 0.0, 1.0))], [block])
    with pytest.raises(InputError, match="its box is -45 x 30 x 9 mm"):
        plan_assembly([block], [replace(BOARD, box_mm=(50.0, 5.0, 3.0, 5.0, 35.0, 12.0))])
    with pytest.raises(InputError, match="'block' is used twice"):
        plan_assembly([block], [replace(BOARD, name="block")])
    with pytest.raises(InputError, match="'roof' is no part"):
        plan_assembly([block], [BOARD], goes_on={"roof": ()})
    with pytest.raises(InputError, match="step of 0 mm"):
        plan_assembly([block], [BOARD], step_mm=0.0)
    with pytest.raises(InputError, match="board: way in"):
        plan_assembly([block], [replace(BOARD, ways_in=((0.0, 0.0, 0.0),))])


@pytest.mark.parametrize(
    ("record", "table"),
    [
        (
            Swing,
            {"point_mm": [0.0, 1.0, 2.0], "axis": [1.0, 0.0, 0.0], "to_deg": 60.0},
        ),
        (
            TouchZone,
            {"name": "pin", "point_mm": [0.0] * 3, "end_mm": [9.0, 0.0, 0.0], "radius_mm": 3.0},
        ),
        (
            ScrewPlace,
            {"name": "lid", "screw": "M3", "seat_mm": [0.0] * 3, "axis": [0.0, 0.0, -1.0]},
        ),
        (
            ComponentPlace,
            {"name": "board", "box_mm": [0.0, 0.0, 0.0, 9.0, 9.0, 9.0], "ways_in": [[0.0, 0, 1]]},
        ),
    ],
)
def test_a_build_file_can_hold_every_table_and_is_held_to_its_limits(record, table):
    good, faults = read_record(record, table)
    assert faults == ()
    assert good.__class__ is record
    _, faults = read_record(record, {**table, "colour": "red"})
    assert len(faults) == 1
    key = next(key for key, value in table.items() if isinstance(value, list))
    _, faults = read_record(record, {**table, key: [1.0]})
    assert len(faults) == 1


def test_limits_of_the_tables_are_told_with_the_number_found():
    _, faults = read_record(
        Swing, {"point_mm": [0.0] * 3, "axis": [1.0, 0.0, 0.0], "to_deg": 7200.0}
    )
    assert "7200" in faults[0].text
    _, faults = read_record(
        TouchZone,
        {"name": "pin", "point_mm": [0.0] * 3, "end_mm": [9.0, 0.0, 0.0], "radius_mm": 0.0},
    )
    assert "radius_mm" in faults[0].text
