"""The roof vent with its clear sheet, and the bottom plate."""

import dimensions as d
from linkage import roof_place
from manifold3d import CrossSection, Manifold
from shapes import along_x, along_z, bar, box, cone, disc, join, polygon, round_rectangle

# underside and top of the roof above the hinge axis
LOW = d.SEAL - d.AXIS_UP
TOP = LOW + d.ROOF_THICK


def middle_knuckles() -> list[tuple[float, float]]:
    """Ranges of x of the roof's two knuckles."""
    half = d.MIDDLE_KNUCKLE / 2
    return [(at - half, at + half) for at in d.STATIONS]


def roof_vent() -> Manifold:
    """Moving roof: a frame with three panes, hinged at the rear, with a lug for the rod.

    Drawn from the hinge axis (y = backward, z = up), then laid on the rim.
    """
    parts, bores = [_frame()], []
    for span in middle_knuckles():
        parts.append(along_x(_knuckle_section(), span))
        bores.append(along_x(disc((0.0, 0.0), d.PIN / 2 + d.PLAY), (span[0] - 1, span[1] + 1)))
    pin = (-d.ROOF_PIN[0], d.ROOF_PIN[1])
    root = ((pin[0] - 12, LOW), (pin[0] + 12, LOW), (pin[0] + 12, LOW + 1), (pin[0] - 12, LOW + 1))
    lug = CrossSection.batch_hull([disc(pin, 5.5), polygon(*root)])
    parts.append(along_x(lug, d.LUG_X))
    bores.append(along_x(disc(pin, d.SCREW_HOLE / 2), (d.LUG_X[0] - 1, d.LUG_X[1] + 1)))
    return (join(parts) - join(bores)).transform(roof_place()[:3])


def _frame() -> Manifold:
    """Frame with a finger lip at the front, panes, and a rebate for the sheet underneath."""
    (x0, x1), (near, far) = d.ROOF_X, d.ROOF_FORWARD
    frame = along_z(round_rectangle((x0, x1), (-far, -near), 5.0), (LOW, TOP))
    lip = Manifold.batch_hull(
        [
            box((84.0, 124.0), (-far - 9, -far + 4), (TOP - 3, TOP)),
            box((78.0, 130.0), (-far, -far + 4), (LOW, TOP)),
        ]
    )
    hole_x = (x0 + d.FRAME_WIDTH, x1 - d.FRAME_WIDTH)
    hole_y = (-far + d.FRAME_WIDTH, -near - d.FRAME_WIDTH)
    ledge = d.REBATE_WIDTH
    rebate = along_z(
        round_rectangle(
            (hole_x[0] - ledge, hole_x[1] + ledge), (hole_y[0] - ledge, hole_y[1] + ledge), 3.0
        ),
        (LOW - 1, LOW + d.REBATE_DEPTH),
    )
    light = along_z(round_rectangle(hole_x, hole_y, 4.0), (LOW - 1, TOP + 1))
    third = (hole_x[1] - hole_x[0]) / 3
    bars = [
        box(
            (hole_x[0] + i * third - 3, hole_x[0] + i * third + 3),
            (hole_y[0] - 2, hole_y[1] + 2),
            (LOW + d.REBATE_DEPTH, TOP),
        )
        for i in (1, 2)
    ]
    return join([(frame + lip) - rebate - light, *bars])


def _knuckle_section() -> CrossSection:
    """Knuckle and the arm that joins it to the frame, clear of the rear rim at any angle."""
    near = d.ROOF_FORWARD[0]
    flat = polygon((-2.0, TOP - 0.5), (1.5, TOP - 0.5), (1.5, TOP), (-2.0, TOP))
    hook = CrossSection.batch_hull([disc((0.0, 0.0), d.KNUCKLE_RADIUS), flat])
    arm = polygon(
        (-near - 4, LOW),
        (-near + 0.7, LOW),
        (0.0, -d.KNUCKLE_RADIUS + 1),
        (0.0, TOP),
        (-near - 4, TOP),
    )
    return hook + arm


def clear_sheet() -> Manifold:
    """The bought sheet in the roof's rebate: not printed, for drawing and for the mass balance."""
    (x0, x1), (near, far) = d.ROOF_X, d.ROOF_FORWARD
    inset = d.FRAME_WIDTH - d.REBATE_WIDTH + 0.5
    outline = round_rectangle((x0 + inset, x1 - inset), (-far + inset, -near - inset), 3.0)
    flat = along_z(outline, (LOW + 0.2, LOW + d.REBATE_DEPTH - 0.2))
    return flat.transform(roof_place()[:3])


def bottom_plate() -> Manifold:
    """Closes the bay from below and carries four feet; a grille lets cool air in."""
    plate = along_z(round_rectangle((0.0, d.LENGTH), (0.0, d.DEPTH), d.CORNER), (-3.0, 0.0))
    feet = [
        cone(9.0, 8.5, 11.0).translate((x, y, -12.0))
        for x in (24.0, d.LENGTH - 24)
        for y in (24.0, d.DEPTH - 24)
    ]
    through = (-4.0, 1.0)
    openings = [
        along_z(round_rectangle((x, x + 70), (y, y + 56), 10.0), through)
        for x in (40.0, 124.0)
        for y in (36.0, 104.0)
    ]
    grille = [
        along_z(bar((x, y), (x, y + 44), 1.7), through)
        for x in range(232, 286, 9)
        for y in (38.0, 114.0)
    ]
    radius = d.SCREW_HOLE / 2
    screws = []
    for x, y in d.PLATE_SCREWS:
        screws.append(along_z(disc((x, y), radius), through))
        screws.append(cone(1.7, radius + 1.7, radius).translate((x, y, -3.0)))
    return join([plate, *feet]) - join([*openings, *grille, *screws])
