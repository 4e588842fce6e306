"""Rules of thumb for what a process can print: rows of tables/rules.toml."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtrusionRules:
    """What material extrusion can make, beyond what bead and layer say.

    Attributes:
        modulus_below_mpa: The row holds for feedstocks with a tensile modulus below this.
        wall_structural_mm: Thinner walls carry little load.
        gap_fused_mm: Narrower gaps close up.
        gap_moving_mm: Gap that two parts need to move on each other.
        hole_shrink_mm: How much narrower an upright hole prints than drawn, in diameter.
        hole_lying_shrink_mm: Likewise for a hole that lies across the layers.
        hole_least_mm: Narrower holes close up.
        hole_note_mm: Holes up to this diameter are listed with the diameter to expect.
        pin_least_mm: Thinner pins snap off.
        cantilever_limit_mm: Longest free reach that holds without support.
        tip_least_deg: A part must bear this lean before it tips over.
        slenderness_limit_frac: Height over the root of the contact area that still stands well.
        contact_least_mm2: Less contact with the platform comes loose.
        piece_least_mm2: First-layer pieces smaller than this come loose.
        chamber_open_c: Air around a part on an open printer; chamber_warm_c in a closed one.
        warp_note_mm: Free shrinking of a footprint's half length that begins to lift corners.
        warp_caution_mm: Likewise that usually lifts corners.
    """

    key: str
    name: str
    process: Literal["extrusion"] = "extrusion"
    about: str
    modulus_below_mpa: float
    wall_structural_mm: float
    gap_fused_mm: float
    gap_moving_mm: float
    hole_shrink_mm: float
    hole_lying_shrink_mm: float
    hole_least_mm: float
    hole_note_mm: float
    pin_least_mm: float
    cantilever_limit_mm: float
    tip_least_deg: float
    slenderness_limit_frac: float
    contact_least_mm2: float
    piece_least_mm2: float
    chamber_open_c: float
    chamber_warm_c: float
    warp_note_mm: float
    warp_caution_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VatRules:
    """What vat photopolymerization can make.

    Attributes:
        wall_least_mm: Thinner walls do not form or tear off.
        bridge_limit_mm: Longest span between two anchors that holds without support.
        drain_least_mm: A hole through which liquid runs out must be this wide.
        trapped_least_mm3: Liquid shut in for good below this is not worth a word.
        pooled_least_mm3: Likewise liquid that stays in a bowl until it is poured out.
        suction_least_mm2: A section that the film shuts pulls noticeably from here on.
        Others: as in ExtrusionRules.
    """

    key: str
    name: str
    process: Literal["vat"] = "vat"
    about: str
    modulus_below_mpa: float
    wall_least_mm: float
    wall_structural_mm: float
    gap_fused_mm: float
    gap_moving_mm: float
    hole_shrink_mm: float
    hole_lying_shrink_mm: float
    hole_least_mm: float
    hole_note_mm: float
    pin_least_mm: float
    bridge_limit_mm: float
    cantilever_limit_mm: float
    drain_least_mm: float
    trapped_least_mm3: float
    pooled_least_mm3: float
    suction_least_mm2: float


Rules = ExtrusionRules | VatRules
