"""The swept gap against closed forms, brute force, the other engine and a turned scene."""

import math
from dataclasses import replace

import numpy as np
import pytest
import solids
import swings
from manifold3d import Manifold
from scipy.spatial.transform import Rotation

from buildplan.device.clearance import Swing, TouchZone, sweep_hinge
from buildplan.device.clearance.solids import turn_pose
from buildplan.errors import InputError, MeshError
from buildplan.part.turn import turn_part

ENGINES = ("fcl", "manifold3d")


def only(clearance):
    (pair,) = clearance.pairs
    return pair


def swept(block, mover, swing, **more):
    fixed, moving = swings.as_part(block, "block"), swings.as_part(mover, "mover")
    return only(sweep_hinge([fixed], [moving], swing, **more))


@pytest.mark.parametrize("engine", ENGINES)
def test_a_bar_passes_a_corner_at_the_exact_gap_and_angle(engine):
    block, bar, least, at = swings.bar_past_corner()
    pair = only(sweep_hinge([block], [bar], swings.swing(45.0), engine=engine))
    assert pair.least_mm == pytest.approx(least, abs=1e-6)
    assert pair.at_deg == pytest.approx(at, abs=1e-3)
    assert pair.least_mm - 0.02 <= pair.proven_mm <= pair.least_mm
    middle = (31.0 - least / 2.0) * np.array([math.cos(0.69813170), math.sin(0.69813170)])
    assert pair.place_mm[:2] == pytest.approx(middle, abs=0.15)
    assert 1.0 <= pair.place_mm[2] <= 8.0
    assert not pair.violated
    assert not pair.unproven_deg


@pytest.mark.parametrize("engine", ENGINES)
def test_a_polygonal_pin_in_a_bore_has_its_closed_form_gap(engine):
    # corners of the pin on 5 mm, flats of the bore at 5.5 cos(pi / 24): 7.5 degrees apart
    pin = Manifold.cylinder(20.0, 5.0, 5.0, 24)
    bore = Manifold.cube((20.0, 20.0, 10.0), True) - Manifold.cylinder(30.0, 5.5, 5.5, 24, True)
    pair = swept(bore, pin, swings.swing(90.0), engine=engine, required_mm=0.4)
    assert pair.least_mm == pytest.approx(5.5 * math.cos(math.pi / 24) - 5.0, abs=1e-6)
    assert (pair.at_deg % 15.0) == pytest.approx(7.5, abs=0.01)
    assert not pair.violated


@pytest.mark.parametrize("engine", ENGINES)
def test_a_lid_lying_flush_clears_the_body_from_the_closed_form_angle_on(engine):
    body = Manifold.cube((60.0, 20.0, 30.0)).translate((0.0, -20.0, 0.0))
    lid = Manifold.cube((60.0, 3.0, 30.0))
    zone = TouchZone(
        name="hinge", point_mm=(0.0, 0.0, -1.0), end_mm=(0.0, 0.0, 31.0), radius_mm=4.0
    )
    pair = swept(body, lid, swings.swing(80.0), touch_zones=[zone], engine=engine)
    (violation,) = pair.violated
    assert (violation.from_deg, violation.least_mm) == (0.0, 0.0)
    # radius 4 mm, drawn round the true one: up to 0.05 % more
    assert violation.to_deg == pytest.approx(math.degrees(math.asin(0.3 / 4.0)), abs=0.12)
    assert violation.overlap_mm3 < 1e-3
    clearance = sweep_hinge(
        [swings.as_part(body, "body")],
        [swings.as_part(lid, "lid")],
        swings.swing(80.0),
        touch_zones=[zone],
        engine=engine,
    )
    assert [finding.severity for finding in clearance.findings] == ["caution"]
    assert "lid touches body from 0 to 4.2" in clearance.findings[0].what


def test_a_collision_is_stopped_with_its_interval_and_volume():
    # the corner (30, 1) of the bar rises to 0.3 mm below the slab at y = 10
    bar = Manifold.cube((30.0, 2.0, 5.0)).translate((0.0, -1.0, 0.0))
    slab = Manifold.cube((100.0, 2.0, 5.0)).translate((-50.0, 10.0, 0.0))
    clearance = sweep_hinge(
        [swings.as_part(slab, "slab")], [swings.as_part(bar, "bar")], swings.swing(45.0)
    )
    (violation,) = only(clearance).violated
    top = math.degrees(math.asin(9.7 / math.hypot(30.0, 1.0)) - math.atan2(1.0, 30.0))
    assert violation.from_deg == pytest.approx(top, abs=0.05)
    assert violation.to_deg == 45.0
    stop = clearance.findings[0]
    assert stop.severity == "stop"
    assert "bar runs into slab from" in stop.what
    assert stop.where.point_mm == violation.place_mm
    assert 10.0 <= violation.place_mm[1] <= 12.0
    turned = bar.rotate((0.0, 0.0, violation.at_deg)) ^ slab
    assert violation.overlap_mm3 == pytest.approx(turned.volume(), rel=1e-9)


def test_a_needle_that_a_scan_by_the_degree_steps_over_is_found():
    bar = Manifold.cube((200.0, 0.1, 5.0)).translate((0.0, -0.05, 0.0))
    needle = Manifold.cube((0.1, 0.1, 5.0)).translate((180.0, 0.0, 0.0))
    needle = needle.rotate((0.0, 0.0, 33.37))
    pair = swept(needle, bar, swings.swing(90.0), required_mm=0.05)
    assert pair.least_mm == 0.0
    (violation,) = pair.violated
    assert violation.from_deg == pytest.approx(33.37, abs=0.05)
    assert violation.to_deg == pytest.approx(33.42, abs=0.05)
    whole = [turn_pose(swings.swing(90.0), angle) for angle in range(91)]
    assert min(bar.transform(pose).min_gap(needle, 50.0) for pose in whole) > 0.5


@pytest.mark.parametrize("seed", range(12))
def test_the_proof_never_misses_what_a_fine_scan_finds(seed):
    block, mover, swing = swings.random_scene(seed)
    pair = swept(block, mover, swing, required_mm=1.0, reach_mm=30.0)
    angles = np.linspace(swing.from_deg, swing.to_deg, 700)
    gaps = np.array([block.min_gap(mover.transform(turn_pose(swing, a)), 30.0) for a in angles])
    assert gaps.min() >= pair.proven_mm - 1e-9
    assert pair.least_mm <= gaps.min() + 1e-9
    told = np.zeros(len(angles), dtype=bool)
    for violation in pair.violated:
        told |= (angles >= violation.from_deg) & (angles <= violation.to_deg)
    assert told[gaps < 1.0 - 0.01].all()
    # and what is told is told rightly, but for the width of a coarse stretch
    assert (gaps[told] < 1.0 + 0.5).all()
    assert not pair.unproven_deg


@pytest.mark.parametrize("seed", range(12))
def test_both_engines_give_the_same_answer(seed):
    block, mover, swing = swings.random_scene(seed)
    ours, other = (swept(block, mover, swing, engine=engine) for engine in ENGINES)
    assert ours.least_mm == pytest.approx(other.least_mm, abs=1e-4)
    assert ours.proven_mm == pytest.approx(other.proven_mm, abs=1e-4)
    assert ours.beyond == other.beyond
    assert len(ours.violated) == len(other.violated)
    for mine, theirs in zip(ours.violated, other.violated, strict=True):
        assert mine.from_deg == pytest.approx(theirs.from_deg, abs=1e-4)
        assert mine.to_deg == pytest.approx(theirs.to_deg, abs=1e-4)
        assert mine.overlap_mm3 == pytest.approx(theirs.overlap_mm3, abs=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_turning_and_moving_the_whole_scene_changes_nothing(seed):
    block, mover, swing = swings.random_scene(seed)
    rotation = Rotation.random(random_state=seed).as_matrix()
    shift = np.array([13.0, -7.0, 5.0])
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = rotation, shift
    parts = [swings.as_part(block, "block"), swings.as_part(mover, "mover")]
    turned = [turn_part(part, pose.ravel()) for part in parts]
    other = swings.swing(
        swing.to_deg, axis=rotation @ swing.axis, point=rotation @ swing.point_mm + shift
    )
    first = only(sweep_hinge(parts[:1], parts[1:], swing))
    second = only(sweep_hinge(turned[:1], turned[1:], other))
    assert second.least_mm == pytest.approx(first.least_mm, abs=1e-6)
    assert [v.from_deg for v in second.violated] == pytest.approx(
        [v.from_deg for v in first.violated], abs=0.02
    )
    for mine, theirs in zip(first.violated, second.violated, strict=True):
        # five looks across a span whose ends are known to a hundredth of a degree
        assert theirs.overlap_mm3 == pytest.approx(mine.overlap_mm3, rel=0.02, abs=1e-6)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_ball_inside_a_block_is_told_though_no_surfaces_meet(engine):
    block = Manifold.cube((50.0, 50.0, 50.0), True)
    ball = Manifold.sphere(5.0, 32)
    clearance = sweep_hinge(
        [swings.as_part(block, "block")],
        [swings.as_part(ball, "ball")],
        swings.swing(30.0, axis=(0.0, 0.0, 1.0), point=(3.0, 0.0, 0.0)),
        engine=engine,
    )
    pair = only(clearance)
    assert pair.least_mm == pair.proven_mm == 0.0
    (violation,) = pair.violated
    assert (violation.from_deg, violation.to_deg) == (0.0, 30.0)
    assert violation.overlap_mm3 == pytest.approx(ball.volume(), rel=1e-6)
    assert clearance.findings[0].severity == "stop"
    assert pair.contained == (engine == "fcl")


def test_a_ball_that_swings_into_a_block_is_told_up_to_the_end():
    block = Manifold.cube((60.0, 60.0, 60.0)).translate((-30.0, 20.0, -30.0))
    ball = Manifold.sphere(3.0, 32).translate((50.0, 0.0, 0.0))
    pair = swept(block, ball, swings.swing(100.0), engine="fcl")
    (violation,) = pair.violated
    assert pair.contained
    assert violation.to_deg == 100.0
    assert violation.overlap_mm3 == pytest.approx(ball.volume(), rel=1e-6)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_gap_beyond_the_reach_reads_at_least(engine):
    block = solids.box(10, 10, 10, (200.0, 200.0, 0.0))
    mover = solids.box(10, 10, 10, (5.0, 0.0, 0.0))
    clearance = sweep_hinge(
        [swings.as_part(block, "block")],
        [swings.as_part(mover, "mover")],
        swings.swing(90.0),
        engine=engine,
    )
    pair = only(clearance)
    assert pair.beyond
    assert pair.least_mm == pair.proven_mm == 20.0
    assert pair.place_mm == ()
    assert "keeps >= 20 mm from block" in clearance.findings[0].what


def test_poses_that_run_out_leave_what_is_open_told():
    block, bar, _, _ = swings.bar_past_corner()
    clearance = sweep_hinge([block], [bar], swings.swing(45.0), most_poses=3, required_mm=0.58)
    pair = only(clearance)
    assert pair.unproven_deg
    assert pair.proven_mm < 0.58
    assert clearance.findings[0].severity == "caution"
    assert "not settled" in clearance.findings[0].what


def test_the_posed_angle_shifts_the_travel():
    block, bar, least, at = swings.bar_past_corner()
    pair = only(sweep_hinge([block], [bar], swings.swing(65.0, from_deg=20.0, posed_deg=20.0)))
    assert pair.least_mm == pytest.approx(least, abs=1e-6)
    assert pair.at_deg == pytest.approx(at + 20.0, abs=1e-3)


def test_a_sliding_pair_is_left_out_and_named():
    block, bar, _, _ = swings.bar_past_corner()
    other = swings.as_part(solids.box(5, 5, 5, (100.0, 0.0, 0.0)), "post")
    clearance = sweep_hinge([block, other], [bar], swings.swing(45.0), sliding=[("bar", "block")])
    assert clearance.sliding == (("bar", "block"),)
    assert [pair.fixed for pair in clearance.pairs] == ["post"]


def test_without_fcl_the_other_engine_is_taken(monkeypatch):
    block, bar, least, _ = swings.bar_past_corner()
    assert sweep_hinge([block], [bar], swings.swing(45.0)).engine == "fcl"
    monkeypatch.setattr("buildplan.device.clearance.gauge.find_spec", lambda name: None)
    clearance = sweep_hinge([block], [bar], swings.swing(45.0))
    assert clearance.engine == "manifold3d"
    assert only(clearance).least_mm == pytest.approx(least, abs=1e-6)
    with pytest.raises(InputError, match="extra 'motion'"):
        sweep_hinge([block], [bar], swings.swing(45.0), engine="fcl")


def test_impossible_input_is_refused_with_its_numbers():
    block, bar, _, _ = swings.bar_past_corner()

    def sweep(swing=None, fixed=(block,), moving=(bar,), **more):
        return sweep_hinge(fixed, moving, swing or swings.swing(45.0), **more)

    with pytest.raises(InputError, match="from 60 to 0 degrees"):
        sweep(swings.swing(0.0, from_deg=60.0))
    with pytest.raises(InputError, match="length above 0"):
        sweep(swings.swing(45.0, axis=(0.0, 0.0, 0.0)))
    with pytest.raises(InputError, match="required gap of 0 mm"):
        sweep(required_mm=0.0)
    with pytest.raises(InputError, match=r"reach of 0\.1 mm"):
        sweep(reach_mm=0.1)
    with pytest.raises(InputError, match="0 poses"):
        sweep(most_poses=0)
    with pytest.raises(InputError, match=r"\(bar, wall\)"):
        sweep(sliding=[("bar", "wall")])
    with pytest.raises(InputError, match="block more than once"):
        sweep(fixed=(block, block))
    with pytest.raises(InputError, match="moving parts: found none"):
        sweep(moving=())
    with pytest.raises(InputError, match="engine 'rays'"):
        sweep(engine="rays")
    zone = TouchZone(name="all", point_mm=(0, 0, -9), end_mm=(0, 0, 99), radius_mm=90.0)
    with pytest.raises(InputError, match=r"take all 2400\.0 mm3 of bar"):
        sweep(touch_zones=[zone])
    with pytest.raises(InputError, match="touch zone flat: cylinder"):
        sweep(touch_zones=[replace(zone, name="flat", end_mm=(0, 0, -9))])
    with pytest.raises(InputError, match="finite"):
        sweep(Swing(point_mm=(math.nan, 0.0, 0.0), axis=(0.0, 0.0, 1.0), to_deg=9.0))


def test_an_open_part_is_refused_with_its_edges():
    block, bar, _, _ = swings.bar_past_corner()
    torn = replace(
        bar,
        closed=False,
        health=replace(bar.health, open_edges=7),
    )
    with pytest.raises(MeshError, match="7 open edges"):
        sweep_hinge([block], [torn], swings.swing(45.0))
    hollow = replace(bar, facets=bar.facets[:-1])
    with pytest.raises(MeshError, match="is no solid"):
        sweep_hinge([block], [hollow], swings.swing(45.0))
    lying = replace(bar, volume_mm3=bar.volume_mm3 * 1.5)
    with pytest.raises(MeshError, match="the part has 3600"):
        sweep_hinge([block], [lying], swings.swing(45.0))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 260))
def test_the_proof_holds_over_many_random_scenes(seed):
    block, mover, swing = swings.random_scene(seed)
    ours, other = (
        swept(block, mover, swing, required_mm=0.5, reach_mm=30.0, engine=engine)
        for engine in ENGINES
    )
    angles = np.linspace(swing.from_deg, swing.to_deg, 1500)
    gaps = np.array([block.min_gap(mover.transform(turn_pose(swing, a)), 30.0) for a in angles])
    for pair in (ours, other):
        assert pair.proven_mm - 1e-9 <= gaps.min()
        assert pair.least_mm <= gaps.min() + 1e-9
        told = np.zeros(len(angles), dtype=bool)
        for violation in pair.violated:
            told |= (angles >= violation.from_deg) & (angles <= violation.to_deg)
        assert told[gaps < 0.5 - 0.01].all()
    assert ours.least_mm == pytest.approx(other.least_mm, abs=1e-4)
