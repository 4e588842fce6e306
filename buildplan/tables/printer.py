"""Printers as generic classes: rows of tables/printers.toml."""

from dataclasses import dataclass
from typing import Literal

Platform = Literal["rectangle", "round"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtrusionPrinter:
    """A material extrusion machine.

    Attributes:
        platform: "rectangle", or "round" (then width and depth are both the diameter).
        width_mm: Build volume along x.
        depth_mm: Build volume along y.
        height_mm: Build volume along z.
        platform_margin_mm: Strip along the platform's edge that a part must leave free.
        nozzle_mm: Bore of the nozzle.
        reel_diameter_mm: Diameter of the feedstock strand.
        speed_limit_mm_s: Highest speed of any move.
        travel_mm_s: Usual speed of moves without extruding.
        print_accel_mm_s2: Acceleration of extruding moves other than the outline bead.
        outline_accel_mm_s2: Acceleration of the outline bead.
        travel_accel_mm_s2: Acceleration of moves without extruding.
        corner_deviation_mm: Distance by which a corner may be cut, which sets its speed.
        flow_limit_mm3_s: Melt flow that the hot end holds.
        retract_s: Time of one retraction and its return.
        layer_speed_mm_s: Speed of the vertical axis at a layer change.
        layer_accel_mm_s2: Acceleration of the vertical axis.
        head_clear_mm: Radius around the nozzle's axis within which the head reaches down to the
            layer; a finished part must stay out of it.
        beam_clear_mm: Height of the beam (or the arms) that carries the head, over the nozzle's
            tip; a finished part under it must stay lower.
        nozzle_max_c: Highest nozzle temperature.
        platform_max_c: Highest platform temperature.
        enclosed: Whether the chamber is closed and warm.
        warm_up_s: Time from switching on to the first bead.
        warm_up_w: Mean electrical power while warming up.
        hold_w: Mean electrical power that keeps nozzle and platform hot.
        motion_w: Mean electrical power of motors, fans and electronics.
        price_cost: Price paid for the machine.
        life_h: Printing hours that the price is spread over.
        upkeep_cost_h: Wear parts and upkeep for an hour of printing.
        set_up_min: Own time to prepare and clear one build cycle.
        time_spread_frac: One-sided spread of the hours until the print log says otherwise.
    """

    key: str
    name: str
    process: Literal["extrusion"] = "extrusion"
    about: str
    platform: Platform
    width_mm: float
    depth_mm: float
    height_mm: float
    platform_margin_mm: float
    nozzle_mm: float
    reel_diameter_mm: float
    speed_limit_mm_s: float
    travel_mm_s: float
    print_accel_mm_s2: float
    outline_accel_mm_s2: float
    travel_accel_mm_s2: float
    corner_deviation_mm: float
    flow_limit_mm3_s: float
    retract_s: float
    layer_speed_mm_s: float
    layer_accel_mm_s2: float
    head_clear_mm: float
    beam_clear_mm: float
    nozzle_max_c: float
    platform_max_c: float
    enclosed: bool
    warm_up_s: float
    warm_up_w: float
    hold_w: float
    motion_w: float
    price_cost: float
    life_h: float
    upkeep_cost_h: float
    set_up_min: float
    time_spread_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VatPrinter:
    """A vat photopolymerization machine.

    Attributes:
        pixel_mm: Pitch of the exposed pixels.
        lift_accel_mm_s2: Acceleration of the vertical axis.
        warm_up_s: Time from start to the first exposure (levelling, warming the liquid).
        light_w: Electrical power while exposing.
        hold_w: Mean electrical power otherwise.
        Others: as in ExtrusionPrinter.
    """

    key: str
    name: str
    process: Literal["vat"] = "vat"
    about: str
    platform: Platform
    width_mm: float
    depth_mm: float
    height_mm: float
    platform_margin_mm: float
    pixel_mm: float
    lift_accel_mm_s2: float
    warm_up_s: float
    light_w: float
    hold_w: float
    price_cost: float
    life_h: float
    upkeep_cost_h: float
    set_up_min: float
    time_spread_frac: float


Printer = ExtrusionPrinter | VatPrinter
