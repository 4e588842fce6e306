"""Recipes: the process settings of one print, as rows of tables/recipes.toml."""

from dataclasses import dataclass
from typing import Literal

InfillStyle = Literal["parallel", "crossed", "three_way", "wave", "concentric"]
SlitFill = Literal["sparse", "dense"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtrusionRecipe:
    """Settings of a material extrusion print.

    A bead is modelled as spacing x layer: ``bead_mm`` is the distance between neighbouring beads,
    so the extruded volume per length is bead_mm * layer_mm at any layer thickness.

    Attributes:
        layer_mm: Layer thickness.
        bead_mm: Spacing of neighbouring beads.
        wall_beads: Beads along every outline.
        floor_layers: Solid layers over every downward face.
        roof_layers: Solid layers under every upward face.
        infill_frac: Share of the inside that is filled (0..1).
        infill_style: "parallel" (turned each layer), "crossed", "three_way", "wave", "concentric".
        slit_fill: What fills a slit too narrow for whole beads: "sparse" infill or "dense" beads.
        margin_beads: Beads laid flat around the first layer.
        supports: Whether unsupported regions get support columns.
        overhang_limit_deg: Lean from the vertical that holds without support.
        bridge_limit_mm: Longest span between two anchors that holds without support.
        support_frac: Share of a support column that is filled.
        support_gap_layers: Empty layers between a support and the part above it.
        support_clearance_mm: Sideways distance between a support and the part.
        support_face_layers: Denser layers at the top of a support.
        support_least_mm2: Supported pieces smaller than this are left out.
        outline_mm_s: Speed of the outermost bead. Likewise wall, centre, infill, ...
        first_layer_frac: Speed of the first layer as a share of the usual speeds.
        retract_over_mm: Travel longer than this that leaves the outline retracts.
        retract_always_over_mm: Travel longer than this always retracts.
        layer_time_least_s: A layer takes at least this long (it must set); extruding slows down.
        speed_least_mm_s: Extruding never slows below this.
    """

    key: str
    name: str
    process: Literal["extrusion"] = "extrusion"
    about: str
    layer_mm: float
    bead_mm: float
    wall_beads: int
    floor_layers: int
    roof_layers: int
    infill_frac: float
    infill_style: InfillStyle
    slit_fill: SlitFill
    margin_beads: int
    supports: bool
    overhang_limit_deg: float
    bridge_limit_mm: float
    support_frac: float
    support_gap_layers: int
    support_clearance_mm: float
    support_face_layers: int
    support_least_mm2: float
    outline_mm_s: float
    wall_mm_s: float
    centre_mm_s: float
    infill_mm_s: float
    floor_roof_mm_s: float
    support_mm_s: float
    support_face_mm_s: float
    margin_mm_s: float
    first_layer_frac: float
    retract_over_mm: float
    retract_always_over_mm: float
    layer_time_least_s: float
    speed_least_mm_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VatRecipe:
    """Settings of a vat photopolymerization print.

    Attributes:
        exposure_s: Exposure of a usual layer.
        first_exposure_s: Exposure of each of the first layers.
        first_layers: How many first layers.
        ramp_layers: Layers over which the exposure falls linearly to the usual one.
        lift_mm: Height of the lift after each layer.
        lift_mm_s: Speed up; likewise lower_mm_s down.
        slow_area_mm2: Cured area over which the lift is slowed.
        slow_lift_mm_s: Speed up over that area.
        rest_before_s: Rest before the exposure; rest_after_s after it.
        supports: Whether islands and overhangs get support columns.
        overhang_limit_deg: Lean from the vertical that holds without support.
        tip_pitch_mm: Distance between support tips under an unsupported area.
        tip_mm: Diameter of a tip; tip_length_mm its cone; column_mm the column below.
        hollow_wall_mm: Wall left when the part is hollowed; 0 prints it solid.
    """

    key: str
    name: str
    process: Literal["vat"] = "vat"
    about: str
    layer_mm: float
    exposure_s: float
    first_exposure_s: float
    first_layers: int
    ramp_layers: int
    lift_mm: float
    lift_mm_s: float
    lower_mm_s: float
    slow_area_mm2: float
    slow_lift_mm_s: float
    rest_before_s: float
    rest_after_s: float
    supports: bool
    overhang_limit_deg: float
    tip_pitch_mm: float
    tip_mm: float
    tip_length_mm: float
    column_mm: float
    hollow_wall_mm: float


Recipe = ExtrusionRecipe | VatRecipe
