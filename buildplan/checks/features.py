"""Which named features a finding touches."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.findings import Finding
from buildplan.part.feature import Feature
from buildplan.part.model import Part

MOST_NAMES = 3
"""More features than this are counted, not named."""

MOST_FEATURES = 8
"""A finding about more features than this is about the whole part."""


def name_features(
    part: Part, marks: Iterable[Mark], features: Sequence[Feature]
) -> tuple[Mark, ...]:
    """Marks whose place also names the features that it touches.

    A finding touches a feature where a facet it is about has a part of its box inside the feature's
    box; a finding without facets, where its point or its box does.
    """
    if not features:
        return tuple(marks)
    boxes = np.array([feature.box_mm for feature in features], dtype=np.float64)
    named = []
    for mark in marks:
        touched = np.flatnonzero(_touches(part, mark, boxes))
        names = [features[index].name for index in touched.tolist()]
        about_few = 0 < len(names) <= MOST_FEATURES
        named.append(replace(mark, finding=_with_names(mark.finding, names)) if about_few else mark)
    return tuple(named)


def _touches(part: Part, mark: Mark, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each feature box (k, 6) is touched."""
    where = mark.finding.where
    if len(mark.facets):
        corners = part.vertices_mm[part.facets[mark.facets]]
        low, high = corners.min(axis=1), corners.max(axis=1)
    elif where.point_mm:
        low = high = np.array([where.point_mm])
    elif where.box_mm:
        low, high = np.array([where.box_mm[:3]]), np.array([where.box_mm[3:]])
    else:
        return np.zeros(len(boxes), np.bool_)
    meets = (low[:, None] <= boxes[None, :, 3:]) & (high[:, None] >= boxes[None, :, :3])
    touched: NDArray[np.bool_] = meets.all(axis=2).any(axis=0)
    return touched


def _with_names(finding: Finding, names: list[str]) -> Finding:
    listed = ", ".join(names[:MOST_NAMES])
    if len(names) > MOST_NAMES:
        listed += f" and {len(names) - MOST_NAMES} more"
    place = finding.where
    text = f"{place.text}, touches {listed}" if place.text else f"touches {listed}"
    return replace(finding, where=replace(place, text=text))
