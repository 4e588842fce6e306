"""The ways to lay one part of a build, estimated in full, as the build file keeps them."""

import numpy as np

from buildplan.build import Build
from buildplan.checks.orientation import OrientationCheck, OrientationWeights, rank_orientations
from buildplan.errors import InputError
from buildplan.part import read_part
from buildplan.part.turn import turn_features, turn_part
from buildplan.plan.part import plan_part
from buildplan.tables.wording import normal_key, not_known


def ways_up(build: Build, part_name: str) -> tuple[OrientationCheck, tuple[tuple[float, ...], ...]]:
    """The best ways up of a part on the printer its plan chooses, and the matrix of each.

    The matrices turn the mesh as its file has it, so ``keep_orientation`` takes them as they are.

    Raises:
        InputError: The build has no such part, or it cannot be planned.
    """
    known = {normal_key(request.name): request for request in build.parts}
    request = known.get(normal_key(part_name))
    if request is None:
        names = [request.name for request in build.parts]
        raise InputError(f"{build.path.name}: {not_known('part', part_name, names)}")
    part = turn_part(
        read_part(request.path, unit=request.unit, name=request.name), request.orientation
    )
    features = turn_features(request.features, request.orientation)
    planned = plan_part(
        part, request.printers, request.feedstock, request.recipe, prices=build.prices
    )
    option = planned.options[planned.chosen]
    printer = next(p for p in request.printers if p.key == option.printer)
    check = rank_orientations(
        part,
        printer,
        request.feedstock,
        request.recipe,
        features=features,
        weights=OrientationWeights(
            energy_cost_kwh=build.prices.energy_cost_kwh,
            own_time_cost_h=build.prices.own_time_cost_h,
        ),
        estimate=option.estimate,
        exact=True,
    )
    now = np.array(request.orientation).reshape(4, 4)
    turned = []
    for way in check.best:
        matrix = np.eye(4)
        matrix[:3, :3] = np.array(way.matrix).reshape(4, 4)[:3, :3] @ now[:3, :3]
        turned.append(tuple(float(x) for x in matrix.ravel()))
    return check, tuple(turned)
