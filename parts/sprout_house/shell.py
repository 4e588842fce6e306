"""The base shell: greenhouse, soil dam and electronics bay in one long print."""

import dimensions as d
from manifold3d import CrossSection, JoinType, Manifold
from shapes import (
    ROUND,
    Span,
    along_x,
    along_y,
    along_z,
    bar,
    box,
    disc,
    hole_pattern,
    join,
    polygon,
    round_rectangle,
)

AddAndCut = tuple[list[Manifold], list[Manifold]]


def base_shell() -> Manifold:
    """House body, open at the top; the bay is open at the bottom."""
    plan = round_rectangle((0.0, d.LENGTH), (0.0, d.DEPTH), d.CORNER)
    added: list[Manifold] = [_soil_dam()]
    cut: list[Manifold] = [*_windows(), *_vents(), *_small_openings(), *camera_arm_bolts()]
    for more, less in (_plate_bosses(), _board_bosses(), _servo_tabs(), _hinge_knuckles()):
        added += more
        cut += less
    upper = along_z(plan, (0.0, d.RIDGE + 20))
    behind = box((0.0, d.PARTITION), (d.DEPTH - 4, d.DEPTH + 30), (0.0, 200.0))
    return (join([_walls(plan), *added]) ^ (upper + behind)) - join(cut)


def _walls(plan: CrossSection) -> Manifold:
    side = polygon((0.0, 0.0), (d.DEPTH, 0.0), (d.DEPTH, d.REAR_RIM), (0.0, d.FRONT_RIM))
    house = along_x(side, (0.0, d.BAY_SIDE)) + along_y(_bay_section(0.0), (0.0, d.DEPTH))
    solid = house ^ along_z(plan, (0.0, d.RIDGE + 1))
    inner = plan.offset(-d.WALL, JoinType.Round, circular_segments=ROUND)
    high = (d.FLOOR, d.RIDGE + 9)
    bed = box((0.0, d.PARTITION), (0.0, d.DEPTH), high) ^ along_z(inner, high)
    bay = along_y(_bay_section(d.WALL), (0.0, d.DEPTH)) ^ along_z(inner, (-1.0, d.RIDGE))
    return solid - bed - bay


def _bay_section(shrink: float) -> CrossSection:
    """Section of the bay in (x, z): flat ridge, then a roof at 45 deg that needs no support."""
    outline = polygon(
        (d.PARTITION, -20.0),
        (d.LENGTH, -20.0),
        (d.LENGTH, d.EAVE),
        (d.CAP_END, d.RIDGE),
        (d.PARTITION, d.RIDGE),
    )
    return outline.offset(-shrink, JoinType.Miter, 4.0)


def _soil_dam() -> Manifold:
    return box((d.DAM, d.DAM + d.DAM_WALL), (1.0, d.DEPTH - 1), (1.0, d.SOIL))


def _plate_bosses() -> AddAndCut:
    posts = [
        along_z(disc(at, d.PLATE_BOSS_RADIUS), (0.0, d.PLATE_BOSS_HEIGHT)) for at in d.PLATE_SCREWS
    ]
    bore = d.INSERT_BORE / 2
    return posts, [along_z(disc(at, bore), (-1.0, d.INSERT_DEPTH + 1)) for at in d.PLATE_SCREWS]


def _wall_boss(x: float, y: float, z: float, way: int) -> tuple[Manifold, Manifold]:
    """Insert boss and its bore on a wall that faces +x (way 1) or -x (way -1).

    A foot at 45 deg carries the boss, so that it prints without support.
    """
    radius, reach = d.BOSS_RADIUS, d.BOSS_REACH
    span = sorted((x, x + way * reach))
    root = sorted((x - way * 0.5, x + way * 0.5))
    foot = bar((y, z), (y, z - reach - 2), radius, 2.5)
    boss = Manifold.batch_hull([along_x(disc((y, z), radius), span), along_x(foot, root)])
    deep = sorted((x + way * (reach - d.INSERT_DEPTH), x + way * (reach + 1)))
    return boss, along_x(disc((y, z), d.INSERT_BORE / 2), deep)


def _board_bosses() -> AddAndCut:
    """Bosses for the computer on the partition and three small boards on the right wall."""
    computer = hole_pattern(d.COMPUTER_AT, d.COMPUTER_HOLES)
    bosses = [_wall_boss(d.BAY_SIDE, y, z, 1) for y, z in computer]
    for centre, holes in zip(d.BOARDS_AT, d.BOARDS_HOLES, strict=True):
        right = d.LENGTH - d.WALL
        bosses += [_wall_boss(right, y, z, -1) for y, z in hole_pattern(centre, holes)]
    return [boss for boss, _ in bosses], [bore for _, bore in bosses]


def _servo_tabs() -> AddAndCut:
    """Two posts that the servo's ears are screwed to, and the hole for its shaft."""
    wall, mid = d.BAY_SIDE, d.SERVO[1]
    posts, bores = [], [along_x(disc(d.SERVO, 8.0), (d.PARTITION - 1, wall + 1))]
    for y in d.SERVO_TABS_Y:
        wide = (y - 4.5, y + 4.5)
        pad = box((wall - 1, wall + d.SERVO_TAB_REACH), wide, (mid - 8, mid + 8))
        foot = box((wall - 1, wall), wide, (mid - 20, mid - 8))
        posts.append(Manifold.batch_hull([pad, foot]))
        deep = (wall + 1, wall + d.SERVO_TAB_REACH + 1)
        bores += [along_x(disc((y, mid + up), 1.1), deep) for up in (-5.0, 5.0)]
    return posts, bores


def outer_knuckles() -> list[Span]:
    """Ranges of x of the shell's four knuckles."""
    near = d.MIDDLE_KNUCKLE / 2 + d.KNUCKLE_GAP
    far = near + d.OUTER_KNUCKLE
    return [span for at in d.STATIONS for span in ((at - far, at - near), (at + near, at + far))]


def _hinge_knuckles() -> AddAndCut:
    """Knuckles on the rear wall; their foot leans by less than 45 deg."""
    low, inner, outer = d.AXIS[1] - 22, d.DEPTH - 1, d.DEPTH - 0.4
    high = d.REAR_RIM - 12
    root = polygon((inner, low), (outer, low), (outer, high), (inner, high))
    section = CrossSection.batch_hull([disc(d.AXIS, d.KNUCKLE_RADIUS), root])
    bore = disc(d.AXIS, d.PIN / 2 + d.PLAY)
    spans = outer_knuckles()
    knuckles = [along_x(section, span) for span in spans]
    return knuckles, [along_x(bore, (span[0] - 1, span[1] + 1)) for span in spans]


def _pointed_window(centre: float, sill: float, width: float, shoulder: float) -> CrossSection:
    """Window with a pointed top at 45 deg, which prints without support."""
    half = width / 2
    sharp = polygon(
        (centre - half, sill),
        (centre + half, sill),
        (centre + half, shoulder),
        (centre, shoulder + half),
        (centre - half, shoulder),
    )
    shrunk = sharp.offset(-2.0, JoinType.Miter)
    return shrunk.offset(2.0, JoinType.Round, circular_segments=ROUND)


def _windows() -> list[Manifold]:
    """Glazed openings at the front, rear and left; x = 118 stays free for a cut."""
    sill, wide = d.SOIL + 4, 24.0
    near, far = (-1.0, d.WALL + 1), (d.DEPTH - d.WALL - 1, d.DEPTH + 1)
    cut = []
    for at in [29.0 + 35.6 * i for i in range(5)]:
        cut.append(along_y(_pointed_window(at, sill, wide, d.FRONT_RIM - 23), near))
        cut.append(along_y(_pointed_window(at, sill, wide, d.REAR_RIM - 38), far))
    for at in (37.0, 77.5, 118.0, 158.5):
        window = _pointed_window(at, sill, wide, d.rim_height(at) - 25)
        cut.append(along_x(window, near))
    return cut


def _vents() -> list[Manifold]:
    """Warm air leaves through slots in both gables, cool air enters low in the right wall."""
    near, far = (-1.0, d.WALL + 1), (d.DEPTH - d.WALL - 1, d.DEPTH + 1)
    half = 1.6
    cut = []
    for i in range(6):
        x = 221.0 + 7.5 * i
        top = min(d.RIDGE, d.RIDGE - (x + half - d.CAP_END)) - 13
        point = polygon((x - half, top - 1), (x + half, top - 1), (x, top + 1.2))
        slot = bar((x, 72.0), (x, top - 1), half) + point
        cut += [along_y(slot, near), along_y(slot, far)]
    for i in range(19):
        slot = bar((26.0 + 8 * i, 10.0), (26.0 + 8 * i, 19.0), half)
        cut.append(along_x(slot, (d.LENGTH - d.WALL - 1, d.LENGTH + 1)))
    return cut


def _small_openings() -> list[Manifold]:
    """Maker's mark (0.9 deep), power cable, sensor cable, cowl screws, camera ribbon."""
    wall = (d.PARTITION - 1, d.BAY_SIDE + 1)
    cut = [
        along_y(_sprout_mark((255.0, 40.0), 13.0), (-1.0, 0.9)),
        along_y(disc((262.0, 18.0), 5.0), (d.DEPTH - d.WALL - 1, d.DEPTH + 1)),
        along_x(disc((d.COWL_Y, d.COWL_TOP - 3.5), 2.5), wall),
        along_z(round_rectangle((217.0, 220.0), (58.0, 76.0), 1.4), (d.RIDGE - 9, d.RIDGE + 1)),
    ]
    screw_z = d.COWL_TOP - 9
    for side in d.COWL_SCREWS:
        screw = disc((d.COWL_Y + side, screw_z), d.SCREW_HOLE / 2)
        cut.append(along_x(screw, wall))
    return cut


def _sprout_mark(at: tuple[float, float], size: float) -> CrossSection:
    """Two seed leaves on a stem, in (x, z)."""
    lens = disc((0.55, 0.0), 1.0) ^ disc((-0.55, 0.0), 1.0)
    leaf = lens.translate((0.0, 0.835)).scale((size, size))
    stem = bar((0.0, size * 0.1), (0.0, -size * 1.25), size * 0.09)
    return (leaf.rotate(-58.0) + leaf.rotate(52.0).scale((0.85, 0.85)) + stem).translate(at)


def camera_arm_bolts() -> list[Manifold]:
    """Holes through the bay's roof and the arm's foot: one upright, one square to the 45 deg."""
    hole = along_z(disc((0.0, 0.0), d.SCREW_HOLE / 2), (-12.0, 12.0))
    upright = hole.translate((226.0, 113.0, d.RIDGE))
    leaning = hole.rotate((0.0, 45.0, 0.0)).translate((d.CAP_END + 10, 113.0, d.RIDGE - 10))
    return [upright, leaning]
