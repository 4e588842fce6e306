"""A part with all its directions weighed, and what a few of them need when looked at closely."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.orientation.candidates import AXES, FlatFaces, candidate_axes, flat_faces
from buildplan.checks.orientation.costing import (
    Geometry,
    Job,
    needed_contact,
    pulled_features,
)
from buildplan.checks.orientation.model import OrientationWeights
from buildplan.checks.orientation.place import tidy_turn
from buildplan.checks.orientation.support import (
    Support,
    Tree,
    habits_of,
    lean_limit,
    measure_support,
    plant_tree,
)
from buildplan.checks.orientation.weigh import Weighed, weigh_directions
from buildplan.part.feature import Feature
from buildplan.part.model import Part
from buildplan.process.supports.hanging import LIMIT_SLACK_FRAC
from buildplan.tables import rules_for
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

Matrix = NDArray[np.float64]

FEW_POINTS, MANY_POINTS = 256, 2048
"""Points for the support of a finalist, and of those listed."""

PLACED_FRAC = 0.98
"""What the cost of the part as placed counts in the order, so that no tie turns it."""

ROUND_FRAC = 1.02
"""Likewise of a direction that is none of the part's own axes and faces."""

FLAT_FRAC = 0.01
"""And so much less for the way that lies on most, so that of equal ones the flattest wins."""

GROUND_FRAC = 0.1
"""Ways up that lie flat on less than this share of the contact needed come after all others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What every step needs."""

    part: Part
    job: Job
    tree: Tree
    weighed: Weighed
    faces: FlatFaces
    limit: float
    contact_height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A finalist: its row in the weighed directions, its rotation, its support."""

    row: int
    turn: Matrix
    fits: bool
    support: Support


def make_job(
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    features: Sequence[Feature],
    weights: OrientationWeights,
) -> Job:
    """What the part is printed with and weighed by."""
    axes, pull, names = pulled_features(features, recipe.process)
    return Job(
        printer=printer,
        feedstock=feedstock,
        recipe=recipe,
        rules=rules_for(feedstock),
        weights=weights,
        volume_mm3=abs(part.volume_mm3),
        area_mm2=part.area_mm2,
        axes=axes,
        pull=pull,
        names=names,
        time_factor_frac=1.0,
    )


def set_scene(part: Part, job: Job, count: int, workers: int) -> Scene:
    """The part with every direction weighed over all its facets."""
    from buildplan.kernels.orientations import facet_table

    table = facet_table(part.vertices_mm, part.facets)
    faces = flat_faces(table, max(part.size_mm))
    limit = lean_limit(job.recipe.overhang_limit_deg, LIMIT_SLACK_FRAC)
    contact_height_mm = 0.5 * job.recipe.layer_mm
    return Scene(
        part=part,
        job=job,
        tree=plant_tree(part.vertices_mm, part.facets, table),
        weighed=weigh_directions(
            part,
            table,
            candidate_axes(faces, count),
            limit=limit,
            contact_height_mm=contact_height_mm,
            workers=workers,
        ),
        faces=faces,
        limit=limit,
        contact_height_mm=contact_height_mm,
    )


def hanging_facets(scene: Scene, row: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Ascending facets that hang with a weighed direction up, and how far each faces down."""
    from buildplan.kernels.orientations import list_hanging

    weighed = scene.weighed
    return list_hanging(
        scene.tree.table,
        weighed.up[row],
        float(weighed.lowest_mm[row]),
        scene.limit,
        scene.contact_height_mm,
    )


def measured_way(
    scene: Scene, row: int, turn: Matrix, *, fits: bool, samples: int = FEW_POINTS
) -> Way:
    """A way with its support, from so many points."""
    lowest = float(scene.weighed.lowest_mm[row])
    hanging = hanging_facets(scene, row)
    support = measure_support(
        scene.tree,
        turn,
        lowest,
        hanging,
        samples=samples,
        habits=habits_of(scene.job.recipe),
    )
    return Way(row=row, turn=turn, fits=fits, support=support)


def finished_way(scene: Scene, way: Way) -> Way:
    """A way laid along the platform, with its support from many points."""
    turn = way.turn
    if way.row:
        turn = tidy_turn(scene.part.vertices_mm, turn, scene.job.printer)
    return measured_way(scene, way.row, turn, fits=way.fits, samples=MANY_POINTS)


def coarse_geometry(weighed: Weighed) -> Geometry:
    """All directions by the columns down to the platform: the most that they can take."""
    return Geometry(
        up=weighed.up,
        height_mm=weighed.height_mm,
        plan_mm2=weighed.plan_mm2,
        contact_mm2=weighed.contact_mm2,
        supported_mm2=weighed.overhang_mm2,
        supported_plan_mm2=weighed.overhang_mm2,
        support_mm3=weighed.column_mm3,
        on_part_frac=np.zeros(len(weighed.up)),
    )


def rows_of(ways: Sequence[Way]) -> NDArray[np.int64]:
    """Rows of ways in the weighed directions."""
    return np.array([way.row for way in ways], dtype=np.int64)


def geometry_of(scene: Scene, ways: Sequence[Way]) -> Geometry:
    """What the cost model takes of some ways, with their support as the rays found it."""
    rows, weighed = rows_of(ways), scene.weighed
    return Geometry(
        up=weighed.up[rows],
        height_mm=weighed.height_mm[rows],
        plan_mm2=weighed.plan_mm2[rows],
        contact_mm2=weighed.contact_mm2[rows],
        supported_mm2=np.array([way.support.supported_mm2 for way in ways]),
        supported_plan_mm2=np.array([way.support.plan_mm2 for way in ways]),
        support_mm3=np.array([way.support.support_mm3 for way in ways]),
        on_part_frac=np.array([way.support.on_part_frac for way in ways]),
    )


def order_ways(
    scene: Scene, rows: NDArray[np.int64], ways: Geometry, cost: Matrix
) -> NDArray[np.int64]:
    """Ways from the best to the worst: those that lie on enough first, then by cost."""
    loose = ways.contact_mm2 < GROUND_FRAC * needed_contact(scene.job, ways.height_mm)
    own_rows = 2 * (AXES + len(scene.faces.normals))
    factor = np.where(rows == 0, PLACED_FRAC, np.where(rows < own_rows, 1.0, ROUND_FRAC))
    factor -= FLAT_FRAC * ways.contact_mm2 / max(float(ways.contact_mm2.max(initial=0.0)), 1e-9)
    return np.lexsort((factor * cost, loose))
