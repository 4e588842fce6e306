"""What the repair ladder did to one mesh, and the words it says about it."""

from dataclasses import dataclass, field

import numpy as np

from buildplan.findings import Finding, Place, Severity
from buildplan.part.holes import Opening
from buildplan.part.model import Hole

QUIET_CHANGE_FRAC = 0.01
"""Change of volume above which a repair is a caution instead of a note."""

OUR_RULE = "our rule: no repair without saying so"


@dataclass(slots=True, kw_only=True)
class RepairLog:
    """What the ladder did so far; lives only while one mesh is made whole."""

    repairs: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    flipped: int = 0
    duplicate: int = 0
    degenerate: int = 0
    overlapping: int = 0
    crossing: int = 0
    holes: tuple[Hole, ...] = ()
    open_edges: int = 0
    patched_frac: float = 0.0
    volume: float | None = None
    unsure: bool = False

    def repaired(self, what: str, change: float, *, lost: bool = False, where: str = "") -> None:
        """Note a repair, graver where it changed the volume or lost a shell."""
        loud = lost or abs(change) > QUIET_CHANGE_FRAC
        severity: Severity = "caution" if loud else "note"
        self.repairs.append(what)
        self.findings.append(
            Finding(
                check="repair",
                severity=severity,
                what=what,
                where=Place(text=where or "the whole part"),
                measured=f"volume changed by {100.0 * change:+.2f} %",
                required=f"within {100.0 * QUIET_CHANGE_FRAC:g} %",
                remedy=(
                    "Compare the volume with the design file, or export the part again."
                    if loud
                    else "Nothing to do; export the part again to be rid of this note."
                ),
                source=OUR_RULE,
            )
        )

    def sum_up(self, change: float) -> None:
        """Add a caution where small repairs together changed the volume by more than one may."""
        if abs(change) <= QUIET_CHANGE_FRAC or any(f.severity != "note" for f in self.findings):
            return
        self.findings.append(
            Finding(
                check="repair",
                severity="caution",
                what=f"{plural(len(self.repairs), 'repair')} together changed the volume",
                where=Place(text="the whole part"),
                measured=f"volume changed by {100.0 * change:+.2f} %",
                required=f"within {100.0 * QUIET_CHANGE_FRAC:g} %",
                remedy="Compare the volume with the design file, or export the part again.",
                source=OUR_RULE,
            )
        )


def plural(count: int, thing: str) -> str:
    """A number of things in words."""
    return f"{count} {thing}" + ("" if count == 1 else "s")


def places_of(openings: tuple[Opening, ...]) -> str:
    """Where the first three openings are, in words."""
    shown = ", ".join(
        "({:.4g}, {:.4g}, {:.4g})".format(*opening.hole.centre_mm) for opening in openings[:3]
    )
    return f"near {shown}" + (" and more" if len(openings) > 3 else "") + " mm"


def round_up(span: float) -> float:
    """A length rounded up to two digits, to be typed in."""
    step = 10.0 ** (np.floor(np.log10(span)) - 1.0)
    return float(f"{np.ceil(span / step) * step:.6g}")


def estimate_only(large: tuple[Opening, ...], widest: float, patch_frac: float) -> Finding:
    """Caution: openings stay, and every number made from the part is an estimate."""
    hole = large[0].hole
    return Finding(
        check="health",
        severity="caution",
        what=(
            f"the part is open: {plural(len(large), 'hole')} left, the largest "
            f"{hole.span_mm:.4g} mm wide with {hole.edges} edges; numbers are estimates"
        ),
        where=Place(text=places_of(large), point_mm=hole.centre_mm),
        measured=f"{hole.span_mm:.4g} mm wide, {100.0 * patch_frac:.2g} % of the surface",
        required=f"at most {widest:.4g} mm to be patched unasked",
        remedy=(
            "Close the part in the design file, or let the reader fill it: "
            f"--fill-holes {round_up(hole.span_mm):g} on the command line, "
            f"fill_holes_mm={round_up(hole.span_mm):g} in Python."
        ),
        source="our choice: 5 % of the diagonal",
    )


def not_united(overlapping: int, shells: int) -> Finding:
    """Caution: shells overlap, and what they share is counted twice."""
    return Finding(
        check="health",
        severity="caution",
        what=(
            f"{plural(overlapping, 'shell')} overlap and could not be united; the overlap counts "
            "twice"
        ),
        where=Place(text="the whole part"),
        measured=f"{overlapping} of {shells} shells",
        required="shells that do not overlap",
        remedy="Unite the bodies in the design file and export again.",
        source=OUR_RULE,
    )


def crosses_itself(crossing: int, facets: int, where: Place) -> Finding:
    """Caution: the surface crosses itself."""
    return Finding(
        check="health",
        severity="caution",
        what=f"{crossing} of {facets} facets pass through another facet of the same shell",
        where=where,
        measured=f"{crossing} facets",
        required="0 facets",
        remedy="Look at the part there; mend it in the design file if volume and fit matter.",
        source="3MF Core Specification 1.4.0, 4.1: a solid does not cross itself",
    )


def search_stopped(facets: int) -> Finding:
    """Caution: the search for crossings was cut short."""
    return Finding(
        check="health",
        severity="caution",
        what=f"the search for crossing facets among {facets} stopped early, too many lie close",
        where=Place(text="the whole part"),
        measured="more pairs than the search may try",
        required="at most 60 pairs a facet",
        remedy="Export a coarser mesh, or one body a file.",
        source="our choice, so that no file takes minutes",
    )


def dropped_empty(dropped: int, facets: int) -> Finding:
    """Note: facets whose corners coincide cover nothing and were passed over."""
    return Finding(
        check="health",
        severity="note",
        what=f"{dropped} of {facets} facets had two equal corners and were passed over",
        where=Place(text="the whole part"),
        measured=f"{dropped} facets",
        required="0 facets",
        remedy="Nothing to do: they cover no area.",
        source=OUR_RULE,
    )
