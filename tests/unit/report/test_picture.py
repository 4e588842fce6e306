"""Pictures of parts: right depth, right place, clear background, any part, same bytes."""

import io

import numpy as np
import pytest
import solids
from PIL import Image

from buildplan.errors import InputError
from buildplan.kernels import raster, shade
from buildplan.part.model import Health, Part
from buildplan.report.picture import aim_camera, draw_part

HEALTH = Health(
    grade="exact",
    searched="quick",
    open_edges=0,
    holes=(),
    flipped_facets=0,
    duplicate_facets=0,
    degenerate_facets=0,
    overlapping_shells=0,
    self_intersections=0,
    repairs=(),
    volume_change_frac=0.0,
    patched_frac=0.0,
)


def part_of(vertices, facets):
    """A Part of any facets, open ones too, read-only as the reader gives it."""
    vertices = np.array(vertices, dtype=np.float64)
    facets = np.array(facets, dtype=np.int64)
    vertices.setflags(write=False)
    facets.setflags(write=False)
    return Part(
        name="part",
        source="",
        sha256="",
        key="",
        unit="mm",
        vertices_mm=vertices,
        facets=facets,
        size_mm=(1.0, 1.0, 1.0),
        volume_mm3=1.0,
        area_mm2=1.0,
        centre_of_mass_mm=(0.0, 0.0, 0.0),
        closed=True,
        shells=1,
        health=HEALTH,
        findings=(),
    )


def pixels(picture):
    return np.asarray(Image.open(io.BytesIO(picture.data)).convert("RGBA")).astype(int)


def draw(part, **settings):
    return draw_part(part, kind="png", **{"width_px": 160, "height_px": 120, **settings})


@pytest.fixture(scope="module")
def block():
    return part_of(*solids.arrays(solids.box(30.0, 20.0, 10.0, at=(5.0, -40.0, 7.0))))


def nearest_by_rays(eye, rays, vertices, facets):
    """Moeller and Trumbore 1997, over all facets, in plain numpy: distance and facet a ray."""
    best = np.full(len(rays), np.inf)
    which = np.full(len(rays), -1)
    for i, (a, b, c) in enumerate(vertices[facets]):
        across = np.cross(rays, c - a)
        whole = across @ (b - a)
        whole = np.where(np.abs(whole) < 1e-15, np.nan, whole)
        u = across @ (eye - a) / whole
        other = np.cross(eye - a, b - a)
        v = rays @ other / whole
        distance = other @ (c - a) / whole
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (distance > 0) & (distance < best)
        best[hit], which[hit] = distance[hit], i
    return best, which


def test_the_nearest_facet_and_its_depth_agree_with_rays_through_every_pixel():
    """Thirty interpenetrating facets in perspective, against ray casting."""
    rng = np.random.default_rng(3)
    vertices = rng.uniform(-1.0, 1.0, (90, 3))
    facets = np.arange(90).reshape(30, 3)
    rows, columns, zoom, eye = 60, 80, 90.0, np.array([0.0, 0.0, 3.0])
    away = eye[2] - vertices[:, 2]
    points = np.column_stack(
        [40 + zoom * vertices[:, 0] / away, 30 - zoom * vertices[:, 1] / away, 1 / away]
    )
    nearness = np.full((rows, columns), -np.inf, dtype=np.float32)
    nearest = np.full((rows, columns), -1, dtype=np.int32)
    raster.draw_facets(points, facets, nearness, nearest)
    row, column = np.mgrid[0:rows, 0:columns]
    rays = np.stack(
        [(column + 0.5 - 40) / zoom, -(row + 0.5 - 30) / zoom, -np.ones((rows, columns))], axis=-1
    ).reshape(-1, 3)
    distance, which = nearest_by_rays(eye, rays, vertices, facets)
    same = which.reshape(rows, columns) == nearest
    assert same.mean() > 0.998  # only pixel centres on an edge may differ
    seen = same & (nearest >= 0)
    assert seen.sum() > 2000
    assert np.allclose(1 / nearness[seen], distance.reshape(rows, columns)[seen], rtol=2e-6)


def test_a_point_falls_where_the_camera_says(block):
    """The outline of the drawn block is the outline of its projected corners, within a pixel."""
    picture = draw(block, width_px=320, height_px=240)
    solid = pixels(picture)[..., 3] > 250
    rows, columns = np.nonzero(solid)
    places = np.array([picture.at(corner) for corner in block.vertices_mm]) * (320, 240)
    assert (columns.min(), rows.min()) == pytest.approx(places.min(axis=0), abs=1.1)
    assert (columns.max() + 1, rows.max() + 1) == pytest.approx(places.max(axis=0), abs=1.1)
    assert picture.at(block.vertices_mm[0]) == picture.camera.at(block.vertices_mm[0])


@pytest.mark.parametrize("view_deg", [(0, 0), (34, 27), (-120, 60), (200, -40), (90, 89), (0, -89)])
def test_the_whole_part_is_in_the_picture_from_everywhere(block, view_deg):
    camera = aim_camera(block, width_px=100, height_px=300, view_deg=view_deg)
    places = np.array([camera.at(corner) for corner in block.vertices_mm])
    assert places.min() > 0.05
    assert places.max() < 0.95


def test_the_view_is_named_by_where_the_viewer_stands(block):
    right, left = block.vertices_mm.max(axis=0), block.vertices_mm.min(axis=0)
    front = aim_camera(block, view_deg=(0, 0))
    assert front.at((right[0], 0, 0))[0] > front.at((left[0], 0, 0))[0]
    assert front.toward == pytest.approx((0, -1, 0))
    assert aim_camera(block, view_deg=(90, 0)).toward == pytest.approx((1, 0, 0))


def test_equal_parts_give_equal_bytes_and_inputs_stay(block):
    before = block.vertices_mm.copy(), block.facets.copy()
    for kind in ("webp", "png"):
        once = draw_part(block, width_px=90, height_px=60, kind=kind)
        assert once.kind == kind
        assert once.data == draw_part(block, width_px=90, height_px=60, kind=kind).data
    assert np.array_equal(before[0], block.vertices_mm)
    assert np.array_equal(before[1], block.facets)


def test_the_background_is_clear_and_only_a_dark_shadow_lies_on_it(block):
    image = pixels(draw(block, width_px=320, height_px=240))
    alpha = image[..., 3]
    assert alpha[0].max() == alpha[-1].max() == alpha[:, 0].max() == alpha[:, -1].max() == 0
    shadow = (alpha > 20) & (alpha < 200)
    assert shadow.sum() > 500
    assert np.median(image[shadow][:, :3]) < 60
    part = image[alpha == 255]
    assert len(part) > 10_000
    assert part[:, :3].min() > 30
    red, _, blue = part[:, :3].mean(axis=0)
    assert red > blue  # a warm grey


def test_no_shadow_is_seen_from_below(block):
    alpha = pixels(draw(block, view_deg=(20, -40)))[..., 3]
    assert ((alpha > 0) & (alpha < 255)).sum() < 800  # the softened outline only
    assert (alpha == 255).sum() > 3000


def test_the_top_is_lightest_and_the_right_side_darkest(block):
    picture = draw(block, width_px=320, height_px=240)
    low, high = block.vertices_mm.min(axis=0), block.vertices_mm.max(axis=0)
    middle = (low + high) / 2
    shades = []
    for axis, side in ((2, high), (1, low), (0, high)):
        point = middle.copy()
        point[axis] = side[axis]
        x, y = picture.at(point)
        shades.append(pixels(picture)[int(y * 240), int(x * 320), :3].mean())
    top, front, right = shades
    assert top > front + 8 > right + 16


def test_another_colour_paints_the_part(block):
    image = pixels(draw(block, colour="#2060c0"))
    red, green, blue = image[image[..., 3] == 255][:, :3].mean(axis=0)
    assert blue > green > red


def test_a_wall_throws_a_shadow_on_the_floor_behind_it():
    floor = solids.box(40.0, 40.0, 2.0)
    wall = solids.box(2.0, 40.0, 20.0, at=(19.0, 0.0, 1.0))
    picture = draw(part_of(*solids.arrays(floor + wall)), width_px=320, height_px=240)
    image = pixels(picture)

    def brightness(point):
        x, y = picture.at(point)
        return image[int(y * 240), int(x * 320), :3].mean()

    assert (
        brightness((23.0, 30.0, 2.0)) < brightness((6.0, 8.0, 2.0)) - 25
    )  # the sun stands on the left


def test_normals_are_smooth_on_a_ball_and_flat_on_a_block(block):
    vertices, facets = solids.arrays(solids.sphere(10.0, 64))
    normals = shade.corner_normals(vertices, facets, np.cos(np.radians(30.0)))
    radial = (vertices - (0, 0, 10.0)) / 10.0
    turn = np.einsum("fci,fci->fc", normals, radial[facets])
    assert np.degrees(np.arccos(np.clip(turn, -1, 1))).max() < 2.0
    flat = shade.corner_normals(
        np.array(block.vertices_mm), np.array(block.facets), np.cos(np.radians(30.0))
    )
    assert np.allclose(np.abs(flat).max(axis=2), 1.0)


def test_a_fan_of_many_facets_keeps_time_and_flat_normals():
    count = 20_000
    turn = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    rim = np.column_stack([np.cos(turn), np.sin(turn), np.full(count, 0.3)])
    vertices = np.vstack([[0.0, 0.0, 0.0], rim])
    index = np.arange(count)
    facets = np.column_stack([np.zeros_like(index), 1 + index, 1 + (index + 1) % count])
    normals = shade.corner_normals(vertices, facets, 0.8)
    assert np.allclose(normals[:, 0], normals[:, 1], atol=1e-3)


def test_edges_are_drawn_dark_and_flat_faces_are_not(block):
    """Across the block's upper front edge the line is darker than both faces."""
    picture = draw(block, width_px=320, height_px=240)
    low, high = block.vertices_mm.min(axis=0), block.vertices_mm.max(axis=0)
    x, y = picture.at(((low[0] + high[0]) / 2, low[1], high[2]))
    column, row = int(x * 320), int(y * 240)
    strip = pixels(picture)[row - 6 : row + 7, column, :3].mean(axis=1)
    assert strip[5:8].min() < min(strip[0], strip[-1]) - 8
    assert abs(strip[0] - strip[1]) < 3


ODD_PARTS = {
    "one facet": ([[0, 0, 0], [10, 0, 0], [0, 10, 5]], [[0, 1, 2]]),
    "one facet seen edge on": ([[0, 0, 0], [10, 0, 0], [0, 0, 10]], [[0, 1, 2]]),
    "a facet without area": ([[0, 0, 0], [10, 0, 0], [20, 0, 0]], [[0, 1, 2]]),
    "all in one point": ([[3, 3, 3], [3, 3, 3], [3, 3, 3]], [[0, 1, 2]]),
    "needle": solids.arrays(solids.box(100.0, 0.001, 0.001)),
    "upright needle": solids.arrays(solids.box(0.001, 0.001, 100.0)),
    "sheet": solids.arrays(solids.box(100.0, 100.0, 0.0001)),
    "huge": solids.arrays(solids.box(3e7, 1e7, 1e7, at=(-1e8, 1e8, 1e8))),
    "tiny": solids.arrays(solids.box(1e-5, 1e-5, 1e-5)),
}


@pytest.mark.parametrize("name", ODD_PARTS)
def test_odd_parts_are_drawn_and_seen(name):
    part = part_of(*ODD_PARTS[name])
    image = pixels(draw(part))
    assert image.shape == (120, 160, 4)
    if name != "all in one point":
        assert (image[..., 3] > 60).sum() > 60
    assert all(np.isfinite(aim_camera(part).at(vertex)).all() for vertex in part.vertices_mm)


def test_one_facet_looks_the_same_from_behind_as_from_the_front():
    corners = [[0, 0, 0], [10, 0, 0], [0, 10, 5]]
    front, back = (pixels(draw(part_of(corners, [order]))) for order in ([0, 1, 2], [0, 2, 1]))
    assert np.abs(front - back).max() <= 1


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"width_px": 5}, "5 x 120 pixels was asked for; 16 to 1600"),
        ({"height_px": 5000}, "160 x 5000 pixels"),
        ({"view_deg": (0, 90)}, "the view is 90 deg up; -89 to 89 deg"),
        ({"view_deg": (0, float("nan"))}, "the view is nan deg up"),
        ({"view_deg": (float("inf"), 0)}, "the view is turned by inf deg"),
        ({"colour": "red"}, "'red' is not a colour"),
        ({"colour": "#12345g"}, "is not a colour"),
    ],
)
def test_impossible_settings_are_refused(block, settings, says):
    with pytest.raises(InputError, match=says):
        draw(block, **settings)


def test_each_kernel_is_compiled_for_one_set_of_types(block):
    """Read-only and writable parts alike: compile time counts."""
    draw(block)
    draw(part_of(*(np.array(array) for array in (block.vertices_mm, block.facets))))
    for kernel in (raster.draw_facets, raster.draw_slivers, raster.look_along, shade.compose):
        assert len(kernel.signatures) == 1
    for kernel in (shade.surface_points, shade.add_light, shade.edge_lines):
        assert len(kernel.signatures) == 1
