"""The findings on fingers in a lid's gap, in words."""

import math
from typing import TYPE_CHECKING

from buildplan.device.mechanism.pinch import FINGER_HIGH_MM, FINGER_LOW_MM, FINGER_N
from buildplan.findings import Finding, Place

if TYPE_CHECKING:
    from buildplan.device.mechanism.study import MechanismStudy

SOURCES = "ISO 13854:2017, Table 1 (25 mm); small gap: common practice"


def pinch_findings(study: "MechanismStudy") -> tuple[Finding, ...]:
    """The window in which a finger fits, and the force where it is too much."""
    pinch = study.pinch
    if math.isnan(pinch.window_from_deg):
        return ()
    window = f"{pinch.window_from_deg:.1f} to {pinch.window_to_deg:.1f} degrees"
    found = [
        Finding(
            check="mechanism",
            severity="note",
            what=f"A finger fits and is not free while the lid stands at {window}",
            where=Place(text=f"drive {study.name}, free edge, {window}"),
            measured=f"gap of {FINGER_LOW_MM:g} to {FINGER_HIGH_MM:g} mm at the edge",
            required="no time spent there with power on",
            remedy=f"Move quickly through {window}, stop there never, and keep children's hands "
            f"out; the lid's own weight presses {pinch.weight_n:.1f} N.",
            source=SOURCES,
        )
    ]
    if pinch.worst_n > FINGER_N:
        edge = study.lid.edge_mm
        push = (pinch.worst_n - pinch.weight_n) * edge
        room = max(FINGER_N - pinch.weight_n, 0.0) * edge
        percent = math.floor(100.0 * room / push) if push > 0.0 else 0
        remedy = (
            f"Limit the servo to {percent} % of its torque while it closes, or have the program "
            "let go where it stops early"
            if room > 0.0
            else f"Balance the lid: its own weight alone presses {pinch.weight_n:.1f} N"
        )
        found.append(
            Finding(
                check="mechanism",
                severity="caution",
                what=f"The closing edge can press {pinch.worst_n:.0f} N on a finger",
                where=Place(text=f"drive {study.name}, free edge, {pinch.worst_deg:.1f} degrees"),
                measured=f"{pinch.worst_n:.1f} N",
                required=f"at most {FINGER_N:g} N",
                remedy=f"{remedy}, and put a soft strip on the edge.",
                source="10 to 20 N for small powered lids: common practice, no standard",
            )
        )
    return tuple(found)
