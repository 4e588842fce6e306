"""The findings of reach and assembly: what is in the way of what, and what to do."""

from collections.abc import Collection, Sequence

from buildplan.device.clearance.model import Access, Blocker, Step, WayIn
from buildplan.device.clearance.words import point_words
from buildplan.findings import Finding, Place

SCREW_SOURCE = "heads and keys: ISO 4762; blade and handle: common practice, no source"
PLUG_SOURCE = "computed from the plug's box; travel to free it: common practice, no source"
ORDER_SOURCE = "computed from boxes and parts, by straight moves without a turn"


def reach_findings(
    name: str, kind: str, access: Access, blockers: Sequence[Blocker]
) -> tuple[Finding, ...]:
    """A stop where a tool or plug is blocked, a caution where only the blade passes."""
    if access == "reached":
        return ()
    worst = blockers[0]
    others = f" and {len(blockers) - 1} more" if len(blockers) > 1 else ""
    if access == "driver only":
        what = (
            f"the head of screw {name} does not pass {worst.part}{others}, {worst.after_mm:.1f} "
            "mm above its seat, though the driver's blade does"
        )
        remedy = f"Put this screw in before {worst.part} is mounted, or widen the way to the head."
    elif kind == "screw":
        what = (
            f"the driver does not reach screw {name}: {worst.part}{others} is in the way, "
            f"{worst.after_mm:.1f} mm above its seat"
        )
        remedy = (
            f"Drive it before {worst.part} is mounted (name that part as not yet there), cut an "
            "opening for the driver, or take a bent key or a longer blade."
        )
    else:
        what = (
            f"plug {name} cannot go in or come off: {worst.part}{others} is in the way, "
            f"{worst.after_mm:.1f} mm from its face"
        )
        remedy = (
            f"Turn or move the connector, plug it in before {worst.part} is mounted, or take an "
            "angled plug."
        )
    return (
        Finding(
            check="reach",
            severity="stop" if access == "blocked" else "caution",
            what=what,
            where=Place(
                text=f"{worst.part} near {point_words(worst.place_mm)}", point_mm=worst.place_mm
            ),
            measured=f"{worst.overlap_mm3:.1f} mm3 of {worst.part} in the way",
            required="nothing in the way",
            remedy=remedy,
            source=SCREW_SOURCE if kind == "screw" else PLUG_SOURCE,
        ),
    )


def way_words(direction: Sequence[float]) -> str:
    """A direction in words: "down (-z)", or its numbers."""
    names = {
        (1, 0, 0): "along +x",
        (-1, 0, 0): "along -x",
        (0, 1, 0): "along +y",
        (0, -1, 0): "along -y",
        (0, 0, 1): "upwards, along +z",
        (0, 0, -1): "downwards, along -z",
    }
    whole = tuple(round(x) for x in direction)
    if all(abs(x - y) < 1e-9 for x, y in zip(direction, whole, strict=True)):
        known = names.get((int(whole[0]), int(whole[1]), int(whole[2])))
        if known is not None:
            return known
    return "along (" + ", ".join(f"{x:.2f}" for x in direction) + ")"


def step_words(step: Step | WayIn) -> str:
    """How something goes in: "upwards, along +z, then 10 mm along -x"."""
    first = way_words(step.direction)
    return f"{first}, then {step.then_mm:g} mm {way_words(step.then)}" if step.then else first


def order_findings(
    order: Sequence[Step],
    stuck: Sequence[tuple[str, Sequence[WayIn]]],
    present: Collection[str],
) -> tuple[Finding, ...]:
    """A stop for everything that cannot go in, and the order as a note.

    Args:
        order: What goes in.
        stuck: What does not, with all its ways.
        present: What cannot be taken away: only that counts as in the way.
    """
    found = [_stuck(name, ways, {*present} - {name}) for name, ways in stuck]
    if order:
        steps = "; ".join(f"{step.name} {step_words(step)}" for step in order)
        found.append(
            Finding(
                check="assembly",
                severity="note",
                what=f"goes together in this order: {steps}",
                where=Place(text=f"{len(order)} steps"),
                measured=f"{len(order)} of {len(order) + len(stuck)} go in",
                required="every one, by one or two straight moves",
                remedy="Keep this order, or one in which nothing waits behind what blocks it.",
                source=ORDER_SOURCE,
            )
        )
    return tuple(found)


def _stuck(name: str, ways: Sequence[WayIn], present: Collection[str]) -> Finding:
    """The way with the least in it, and what that is."""

    def in_the_way(way: WayIn) -> list[Blocker]:
        return [blocker for blocker in way.blockers if blocker.part in present]

    best = min(ways, key=lambda way: sum(blocker.overlap_mm3 for blocker in in_the_way(way)))
    blockers = in_the_way(best)
    worst = blockers[0]
    names = ", ".join(blocker.part for blocker in blockers)
    overlap = sum(blocker.overlap_mm3 for blocker in blockers)
    seated = worst.after_mm <= 0.0
    met = "where it sits" if seated else f"{worst.after_mm:.1f} mm before its seat"
    remedy = (
        f"Check the box of {name} against {worst.part}: they share room where it sits."
        if seated
        else f"Open a way through {worst.part}, split it, or turn the component while it goes in: "
        "moves with a turn are not tried."
    )
    return Finding(
        check="assembly",
        severity="stop",
        what=(
            f"{name} cannot be put in by straight moves, {len(ways)} ways tried; "
            f"{step_words(best)} it meets {names}, {met}"
        ),
        where=Place(
            text=f"{worst.part} near {point_words(worst.place_mm)}", point_mm=worst.place_mm
        ),
        measured=f"{overlap:.1f} mm3 in the way",
        required="one direction with nothing in the way",
        remedy=remedy,
        source=ORDER_SOURCE,
    )
