"""What the checks measured on a part, and its ways up, as plain objects; no samples, no facets."""

from typing import Any

from buildplan.checks.beads import BeadCheck
from buildplan.checks.gaps import GapCheck
from buildplan.checks.orientation import Orientation, OrientationCheck
from buildplan.checks.overhangs import OverhangCheck
from buildplan.checks.run import PartChecks
from buildplan.checks.stability import StabilityCheck
from buildplan.checks.trapped import TrappedCheck
from buildplan.checks.walls import WallCheck
from buildplan.checks.warping import WarpingCheck
from buildplan.report.as_json.values import number, number_or_none, numbers_of


def checks_object(checks: PartChecks) -> dict[str, Any]:
    """Numbers of every check; beads and warping are for extrusion only, trapped for a vat."""
    made = {
        "walls": _walls(checks.walls),
        **_gaps(checks.gaps),
        "overhangs": _overhangs(checks.overhangs),
        "stability": _stability(checks.stability),
    }
    if checks.beads:
        made["beads"] = _beads(checks.beads[0])
    if checks.warping:
        made["warping"] = _warping(checks.warping[0])
    if checks.trapped:
        made["trapped"] = _trapped(checks.trapped[0])
    return made


def ways_object(check: OrientationCheck) -> dict[str, Any]:
    """As placed and the best ways up; a matrix turns the part as placed, 16 numbers by rows."""
    return {
        "directions": check.directions,
        "as_placed": _way(check.as_placed),
        "best": [_way(way) for way in check.best],
    }


def _walls(check: WallCheck) -> dict[str, Any]:
    return {
        "limit_mm": number(check.limit_mm),
        "measured_up_to_mm": number(check.cap_mm),
        "area_mm2": number(check.area_mm2),
        "thin_area_mm2": number(check.thin_area_mm2),
        "thin_frac": number(check.thin_frac),
        "vanish_frac": number(check.vanish_frac),
        "least_mm": number(check.least_mm),
        "low_mm": number(check.low_mm),
        "places": [
            {
                "verdict": wall.verdict,
                "kind": wall.region.kind,
                "limit_mm": number(wall.limit_mm),
                "area_mm2": number(wall.region.area_mm2),
                "least_mm": number(wall.region.least_mm),
                "low_mm": number(wall.region.low_mm),
                "median_mm": number(wall.region.median_mm),
                "point_mm": numbers_of(wall.region.point_mm),
                "box_mm": numbers_of(wall.region.box_mm),
            }
            for wall in check.walls
        ],
    }


def _beads(check: BeadCheck) -> dict[str, Any]:
    return {
        "bead_mm": number(check.bead_mm),
        "thin_mm3": number(check.thin_mm3),
        "thin_frac": number(check.thin_frac),
        "thin_layers": check.thin_layers,
        "places": [
            {
                "lost": place.lost,
                "volume_mm3": number(place.volume_mm3),
                "width_mm": number(place.width_mm),
                "length_mm": number(place.length_mm),
                "low_mm": number(place.low_mm),
                "high_mm": number(place.high_mm),
                "layers": place.layers,
                "point_mm": numbers_of(place.point_mm),
                "box_mm": numbers_of(place.box_mm),
            }
            for place in check.places
        ],
    }


def _gaps(check: GapCheck) -> dict[str, Any]:
    return {
        "gaps": [
            {
                "area_mm2": number(gap.area_mm2),
                "least_mm": number(gap.least_mm),
                "low_mm": number(gap.low_mm),
                "median_mm": number(gap.median_mm),
                "depth_mm": number(gap.depth_mm),
                "two_bodies": gap.two_bodies,
                "fused": gap.fused,
                "point_mm": numbers_of(gap.point_mm),
                "box_mm": numbers_of(gap.box_mm),
            }
            for gap in check.gaps
        ],
        "holes": [
            {
                "drawn_mm": number(hole.drawn_mm),
                "printed_mm": number(hole.printed_mm),
                "depth_mm": number(hole.depth_mm),
                "upright": hole.upright,
                "through": hole.through,
                "axis": numbers_of(hole.axis, 6),
                "point_mm": numbers_of(hole.point_mm),
            }
            for hole in check.holes
        ],
        "pins": [
            {
                "diameter_mm": number(pin.diameter_mm),
                "length_mm": number(pin.length_mm),
                "upright": pin.upright,
                "axis": numbers_of(pin.axis, 6),
                "point_mm": numbers_of(pin.point_mm),
            }
            for pin in check.pins
        ],
    }


def _overhangs(check: OverhangCheck) -> dict[str, Any]:
    return {
        "overhang_mm2": number(check.overhang_mm2),
        "supported_mm2": number(check.carried_mm2),
        "support_mm3": number(check.support_mm3),
        "on_part_mm2": number(check.on_part_mm2),
        "contact_mm2": number(check.contact_mm2),
        "regions": [
            {
                "kind": region.kind,
                "needs_support": region.needs_support,
                "area_mm2": number(region.area_mm2),
                "plan_mm2": number(region.plan_mm2),
                "span_mm": number(region.span_mm),
                "carried_frac": number(region.carried_frac),
                "reach_mm": number_or_none(region.reach_mm),
                "lean_deg": number(region.lean_deg),
                "low_mm": number(region.low_mm),
                "high_mm": number(region.high_mm),
                "point_mm": numbers_of(region.point_mm),
                "box_mm": numbers_of(region.box_mm),
            }
            for region in check.regions
        ],
    }


def _stability(check: StabilityCheck) -> dict[str, Any]:
    return {
        "flat_mm2": number(check.flat_mm2),
        "touching_mm2": number(check.touching_mm2),
        "contact_mm2": number(check.contact_mm2),
        "held_mm2": number(check.held_mm2),
        "margin_mm": number(check.margin_mm),
        "centre_mm": numbers_of(check.centre_mm),
        "tip_margin_mm": number(check.tip_margin_mm),
        "tip_deg": number(check.tip_deg),
        "growing_margin_mm": number(check.growing_margin_mm),
        "growing_deg": number(check.growing_deg),
        "growing_z_mm": number(check.growing_z_mm),
        "supported_deg": number(check.supported_deg),
        "leaves_z_mm": number(check.leaves_z_mm) if check.leaves_z_mm >= 0.0 else None,
        "slenderness_frac": number_or_none(check.slenderness_frac),
        "first_layer_pieces": len(check.pieces_mm2),
        "least_piece_mm2": number(min(check.pieces_mm2)) if check.pieces_mm2 else None,
        "thin_pieces": check.thin_pieces,
    }


def _warping(check: WarpingCheck) -> dict[str, Any]:
    return {
        "chord_mm": number(check.chord_mm),
        "set_c": number(check.set_c),
        "chamber_c": number(check.chamber_c),
        "shrink_mm": number(check.shrink_mm),
    }


def _trapped(check: TrappedCheck) -> dict[str, Any]:
    return {
        "islands": [
            {"point_mm": numbers_of(island.point_mm), "depth_mm": number_or_none(island.depth_mm)}
            for island in check.islands
        ],
        "pockets": [
            {
                "kind": pocket.kind,
                "volume_mm3": number(pocket.volume_mm3),
                "suction_area_mm2": number(pocket.suction_area_mm2),
                "suction_low_mm": number(pocket.suction_low_mm),
                "suction_high_mm": number(pocket.suction_high_mm),
                "pooled_mm3": number(pocket.pooled_mm3),
                "by_platform": pocket.by_platform,
                "vent_mm": number(pocket.vent_mm),
                "point_mm": numbers_of(pocket.point_mm),
                "box_mm": numbers_of(pocket.box_mm),
                "drain_holes": [
                    {
                        "purpose": hole.purpose,
                        "point_mm": numbers_of(hole.point_mm),
                        "direction": numbers_of(hole.direction, 6),
                        "diameter_mm": number(hole.diameter_mm),
                        "wall_mm": number(hole.wall_mm),
                    }
                    for hole in pocket.holes
                ],
            }
            for pocket in check.pockets
        ],
    }


def _way(way: Orientation) -> dict[str, Any]:
    return {
        "matrix": numbers_of(way.matrix, 9),
        "up": numbers_of(way.up, 6),
        "turn_deg": number(way.turn_deg, 3),
        "fits": way.fits,
        "exact": way.exact,
        "height_mm": number(way.height_mm),
        "contact_mm2": number(way.contact_mm2),
        "overhang_mm2": number(way.overhang_mm2),
        "supported_mm2": number(way.supported_mm2),
        "support_mm3": number(way.support_mm3),
        "support_mass_g": number(way.support_mass_g),
        "on_part_frac": number(way.on_part_frac),
        "time_h": number(way.time_h),
        "weak_features": list(way.weak),
        "time_cost": number(way.time_cost),
        "support_cost": number(way.support_cost),
        "removal_cost": number(way.removal_cost),
        "break_cost": number(way.break_cost),
        "loose_cost": number(way.loose_cost),
        "total_cost": number(way.total_cost),
        "reason": way.reason,
    }
