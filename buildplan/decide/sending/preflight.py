"""A part against what a service says it takes, before the file goes out and comes back refused."""

from dataclasses import dataclass

from buildplan.decide.sending.shape import ServiceTable
from buildplan.findings import Finding, Place, Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class SentFacts:
    """What a service looks at.

    Attributes:
        size_mm: Sides of the part's box, as its file has it.
        least_wall_mm: Thinnest wall that was measured, or None.
        feedstocks: Names of its feedstock: key, name, family.
        closed: Whether the mesh encloses a volume.
        fit_mm: Tightest clearance the part must keep, or None where it has none.
    """

    name: str
    size_mm: tuple[float, float, float]
    least_wall_mm: float | None
    feedstocks: tuple[str, ...]
    closed: bool
    fit_mm: float | None = None


def preflight(part: SentFacts, service: ServiceTable) -> tuple[Finding, ...]:
    """Every limit of a service that a part breaks, the gravest first.

    Size, feedstock and an open mesh stop it; thin walls and a promise wider than the fit are to be
    settled before ordering. A limit that the service does not state is not judged.
    """
    found = []
    asked, offered = sorted(part.size_mm, reverse=True), sorted(service.largest_mm, reverse=True)
    if len(offered) == len(asked) and any(a > b for a, b in zip(asked, offered, strict=True)):
        found.append(
            _finding(
                part,
                service,
                "stop",
                f"{part.name} is larger than {service.name} takes",
                (_sides(asked), f"at most {_sides(offered)}"),
                "cut it into pieces with `buildplan split`, or ask another service",
            )
        )
    named = {name.casefold() for name in part.feedstocks}
    if service.feedstocks and not named & {name.casefold() for name in service.feedstocks}:
        found.append(
            _finding(
                part,
                service,
                "stop",
                f"{service.name} does not print {part.feedstocks[0]}",
                (part.feedstocks[0], ", ".join(service.feedstocks)),
                "choose a feedstock it has, or ask another service",
            )
        )
    if not part.closed:
        found.append(
            _finding(
                part,
                service,
                "stop",
                f"the mesh of {part.name} is not closed: files like this come back refused",
                ("open", "closed"),
                "close it in the program it was drawn in, or take what `buildplan part` can repair",
            )
        )
    wall = part.least_wall_mm
    if wall is not None and service.least_wall_mm > 0.0 and wall < service.least_wall_mm:
        found.append(
            _finding(
                part,
                service,
                "caution",
                f"the thinnest wall of {part.name} lies below what {service.name} states",
                (f"{wall:.2f} mm", f"at least {service.least_wall_mm:g} mm"),
                "thicken it, or ask before ordering: printed in spite of a warning is often not "
                "refunded",
            )
        )
    promise = max(service.tolerance_mm, service.tolerance_frac * max(part.size_mm))
    if part.fit_mm is not None and promise > part.fit_mm:
        found.append(
            _finding(
                part,
                service,
                "caution",
                f"{service.name} promises {promise:.2f} mm, and {part.name} must fit to "
                f"{part.fit_mm:.2f} mm",
                (f"{promise:.2f} mm", f"at most {part.fit_mm:.2f} mm"),
                "leave more clearance, finish the fit by hand, or print this part at home",
            )
        )
    return tuple(found)


def _finding(
    part: SentFacts,
    service: ServiceTable,
    severity: Severity,
    what: str,
    compared: tuple[str, str],
    remedy: str,
) -> Finding:
    measured, required = compared
    return Finding(
        check="sending",
        severity=severity,
        what=what,
        where=Place(text=part.name),
        measured=measured,
        required=required,
        remedy=remedy,
        source=f"build file, [[service]] {service.name}",
    )


def _sides(sides_mm: list[float]) -> str:
    return " x ".join(f"{side:.0f}" for side in sides_mm) + " mm"
