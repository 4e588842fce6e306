"""Warping: how much the foot of a part would shrink if the platform did not hold it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import NO_FACETS, Mark
from buildplan.errors import InputError, TableError
from buildplan.findings import Finding, Place, Severity
from buildplan.part.model import Part
from buildplan.tables import feedstocks, rules_for, source_of
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock
from buildplan.tables.match import why_not
from buildplan.tables.printer import ExtrusionPrinter, Printer
from buildplan.tables.rules import ExtrusionRules, Rules

FOOT_HEIGHT_MM = 3.0
"""The lowest few millimetres decide: what lifts is the foot (ours)."""

MARGIN_MM = 5.0
"""Usual width of a margin of beads against lifting corners (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpingCheck:
    """How much half the foot would shrink freely, from setting to the air around it.

    Attributes:
        chord_mm: Longest distance within the foot, the lowest FOOT_HEIGHT_MM of the part.
        set_c: Temperature at which the feedstock sets; chamber_c is the air around the part.
        shrink_mm: expansion * (set - chamber) * chord / 2; 0 for a vat part, which is not hot.
        marks: At most one, on the facets of the foot.
    """

    chord_mm: float
    set_c: float
    chamber_c: float
    shrink_mm: float
    marks: tuple[Mark, ...]


def check_warping(part: Part, printer: Printer, feedstock: Feedstock, rules: Rules) -> WarpingCheck:
    """The free shrinking of half the foot's longest chord, against what lifts corners.

    d = a (T_set - T_chamber) L / 2, with a the expansion, L the longest chord of the foot and
    T_set the greater of glass transition and deflection temperature at 0.45 MPa: a glassy feedstock
    bears no stress above the first, a partly crystalline one (PA12) does up to about the second.

    It ranks feedstock, size and printer; it does not know infill, corners, or the platform's grip.

    Raises:
        InputError: Printer, feedstock and rules are of different processes.

    Source: linear thermal expansion; limits ours (see the rules' source lines).
    """
    processes = {printer.process, feedstock.process, rules.process}
    if len(processes) > 1:
        raise InputError(
            f"warping of {part.name!r}: printer, feedstock and rules are for "
            f"{' and '.join(sorted(processes))}; all three must be of one process"
        )
    chord, ends = _longest_chord(part)
    if not (
        isinstance(printer, ExtrusionPrinter)
        and isinstance(feedstock, ExtrusionFeedstock)
        and isinstance(rules, ExtrusionRules)
    ):
        return WarpingCheck(chord_mm=chord, set_c=0.0, chamber_c=0.0, shrink_mm=0.0, marks=())
    chamber = _chamber_c(printer, rules)
    shrink = free_shrink_mm(feedstock, chamber, chord)
    finding = _say(part, printer, feedstock, rules, chord, ends)
    marks = () if finding is None else (Mark(finding=finding, facets=_foot_facets(part)),)
    return WarpingCheck(
        chord_mm=chord,
        set_c=setting_c(feedstock),
        chamber_c=chamber,
        shrink_mm=shrink,
        marks=marks,
    )


def setting_c(feedstock: ExtrusionFeedstock) -> float:
    """Temperature below which a feedstock carries stress, from its table row."""
    return max(feedstock.glass_transition_c, feedstock.heat_deflection_c)


def free_shrink_mm(feedstock: ExtrusionFeedstock, chamber_c: float, chord_mm: float) -> float:
    """Free shrinking of half a chord from setting to the chamber; never below 0."""
    drop_k = max(0.0, setting_c(feedstock) - chamber_c)
    return feedstock.expansion_um_mk * 1e-6 * drop_k * 0.5 * chord_mm


def _chamber_c(printer: ExtrusionPrinter, rules: ExtrusionRules) -> float:
    return rules.chamber_warm_c if printer.enclosed else rules.chamber_open_c


def _longest_chord(part: Part) -> tuple[float, NDArray[np.float64]]:
    """Longest distance between two points of the foot seen from above, and its ends (2, 2)."""
    from scipy.spatial import ConvexHull, QhullError
    from scipy.spatial.distance import pdist

    points = _foot_points(part)
    try:
        points = points[ConvexHull(points).vertices]
    except QhullError:  # a foot that is a line or a point
        points = np.unique(points, axis=0)
    if len(points) < 2:
        return 0.0, np.repeat(points[:1], 2, axis=0)
    distances = pdist(points)
    best = int(np.argmax(distances))
    i, j = (int(k[best]) for k in np.triu_indices(len(points), 1))
    return float(distances[best]), points[[i, j]]


def _foot_points(part: Part) -> NDArray[np.float64]:
    """Plan of the part's surface below FOOT_HEIGHT_MM: corners there, edges cut at that height."""
    z = part.vertices_mm[:, 2]
    top = float(z.min()) + FOOT_HEIGHT_MM
    points = [part.vertices_mm[z <= top][:, :2]]
    for first, second in ((0, 1), (1, 2), (2, 0)):
        a, b = part.facets[:, first], part.facets[:, second]
        crossing = (z[a] <= top) != (z[b] <= top)
        p, q = part.vertices_mm[a[crossing]], part.vertices_mm[b[crossing]]
        share = (top - p[:, 2]) / (q[:, 2] - p[:, 2])
        points.append(p[:, :2] + share[:, None] * (q[:, :2] - p[:, :2]))
    return np.vstack(points)


def _foot_facets(part: Part) -> NDArray[np.int64]:
    z = part.vertices_mm[:, 2]
    numbers = np.flatnonzero((z[part.facets] <= z.min() + FOOT_HEIGHT_MM).any(axis=1))
    if not len(numbers):
        return NO_FACETS
    numbers.flags.writeable = False
    return numbers


def _grade(
    printer: ExtrusionPrinter, feedstock: ExtrusionFeedstock, rules: ExtrusionRules, shrink: float
) -> Severity | None:
    if shrink < rules.warp_note_mm:
        return None
    open_hot = feedstock.needs_enclosure and not printer.enclosed
    return "caution" if shrink >= rules.warp_caution_mm or open_hot else "note"


def _say(
    part: Part,
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    rules: ExtrusionRules,
    chord_mm: float,
    ends: NDArray[np.float64],
) -> Finding | None:
    chamber = _chamber_c(printer, rules)
    shrink = free_shrink_mm(feedstock, chamber, chord_mm)
    severity = _grade(printer, feedstock, rules, shrink)
    if severity is None:
        return None
    field = "warp_caution_mm" if shrink >= rules.warp_caution_mm else "warp_note_mm"
    open_hot = feedstock.needs_enclosure and not printer.enclosed
    middle = 0.5 * (ends[0] + ends[1])
    bottom = float(part.vertices_mm[:, 2].min())
    (x0, y0), (x1, y1) = ends.tolist()
    return Finding(
        check="warping",
        severity=severity,
        what=(
            f"corners may lift: {feedstock.key} wants to shrink {shrink:.2f} mm at each end of the "
            f"{chord_mm:.0f} mm foot"
            + (" on an open printer, and needs a closed one" if open_hot else "")
        ),
        where=Place(
            text=f"the ends near ({x0:.0f}, {y0:.0f}) and ({x1:.0f}, {y1:.0f}) mm",
            point_mm=(float(middle[0]), float(middle[1]), bottom),
        ),
        measured=(
            f"{shrink:.2f} mm, from {setting_c(feedstock):g} C down to {chamber:g} C of chamber air"
        ),
        required=f"below {getattr(rules, field):g} mm",
        remedy=_remedy(printer, feedstock, rules, chord_mm, severity),
        source=_rule(rules, field),
    )


def _remedy(
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    rules: ExtrusionRules,
    chord_mm: float,
    severity: Severity,
) -> str:
    """Margin, chamber, corners, another feedstock: what helps here, with numbers."""
    if severity == "note":
        return (
            f"Lay a margin of {MARGIN_MM:g} mm of beads, keep draughts off, and round upright "
            "corners of the foot."
        )
    said = [f"lay a margin of {MARGIN_MM:g} mm of beads and round upright corners of the foot"]
    if not printer.enclosed:
        warm = free_shrink_mm(feedstock, rules.chamber_warm_c, chord_mm)
        said.insert(0, f"close the printer in ({rules.chamber_warm_c:g} C of air: {warm:.2f} mm)")
    other = _other_feedstock(printer, feedstock, rules, chord_mm)
    text = "; ".join(said) + (f"; {other}" if other else "") + "."
    return text[0].upper() + text[1:]


def _other_feedstock(
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    rules: ExtrusionRules,
    chord_mm: float,
) -> str:
    """The feedstock of the table that bears most heat among those that shrink by a fifth less."""
    chamber = _chamber_c(printer, rules)
    shrink = free_shrink_mm(feedstock, chamber, chord_mm)
    fitting = [
        (row.service_c, row)
        for row in feedstocks().values()
        if isinstance(row, ExtrusionFeedstock)
        and not why_not(printer, row)
        and not (row.needs_enclosure and not printer.enclosed)
        and rules_for(row).key == rules_for(feedstock).key
        and free_shrink_mm(row, chamber, chord_mm) <= 0.8 * shrink
    ]
    if not fitting:
        return ""
    service, row = max(fitting, key=lambda pair: pair[0])
    return (
        f"{row.key} would shrink {free_shrink_mm(row, chamber, chord_mm):.2f} mm instead of "
        f"{shrink:.2f} mm, and serves up to {service:g} C instead of {feedstock.service_c:g} C"
    )


def _rule(rules: ExtrusionRules, field: str) -> str:
    try:
        source = source_of("rule", rules.key, field)
    except TableError:
        source = "your own row"
    return f"rule {rules.key!r}, {field}: {source}"
