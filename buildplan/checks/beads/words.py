"""What is said about strips that one bead cannot fill."""

from collections.abc import Sequence

from buildplan.checks.beads.model import NARROWEST_BEADS, BeadPlace
from buildplan.checks.marks import Mark
from buildplan.findings import Finding, Place, Severity
from buildplan.tables.rules import Rules


def bead_marks(places: Sequence[BeadPlace], bead_mm: float, rules: Rules) -> tuple[Mark, ...]:
    """Findings about what no bead fills, then about what only a squeezed one does."""
    lost = [place for place in places if place.lost]
    squeezed = [place for place in places if not place.lost]
    findings = _say(lost, bead_mm, rules, "caution") + _say(squeezed, bead_mm, rules, "note")
    return tuple(Mark(finding=finding) for finding in findings)


def _say(
    places: list[BeadPlace], bead_mm: float, rules: Rules, severity: Severity
) -> list[Finding]:
    """One finding for places of one kind: the largest, and how many more there are."""
    if not places:
        return []
    place = places[0]
    narrowest = NARROWEST_BEADS * bead_mm
    least = min(p.width_mm for p in places)
    volume = sum(p.volume_mm3 for p in places)
    if severity == "caution":
        what = (
            f"a strip {place.width_mm:.2f} mm wide and {place.length_mm:.1f} mm long is too narrow "
            f"even for a squeezed bead, over {place.high_mm - place.low_mm:.1f} mm of height"
        )
        fate = "it will be left out or break up into blobs"
    else:
        what = (
            f"a strip {place.width_mm:.2f} mm wide and {place.length_mm:.1f} mm long takes at "
            f"most one squeezed bead, over {place.high_mm - place.low_mm:.1f} mm of height"
        )
        fate = "it prints thin and weak, if at all,"
    more = len(places) - 1
    if more:
        what += f"; {more} more place{'s' if more > 1 else ''} like it"
    x, y, z = place.point_mm
    return [
        Finding(
            check="beads",
            severity=severity,
            what=what,
            where=Place(
                text=f"near ({x:.0f}, {y:.0f}, {z:.0f}) mm, {place.low_mm:.1f} to "
                f"{place.high_mm:.1f} mm up",
                point_mm=place.point_mm,
                box_mm=place.box_mm,
            ),
            measured=f"{least:.2f} mm at the narrowest, {volume:.1f} mm³ in all",
            required=f"at least {bead_mm:g} mm, one bead ({narrowest:.2f} mm squeezed)",
            remedy=(
                f"Make it at least {bead_mm:g} mm thick ({rules.wall_structural_mm:g} mm where it "
                f"carries load), or take a finer bead: {fate} as it is."
            ),
            source="recipe, bead_mm: a bead is the thinnest wall; common practice, no source",
        )
    ]
