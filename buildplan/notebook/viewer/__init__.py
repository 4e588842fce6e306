"""A part, its findings, its pieces or a device in three dimensions, in a notebook's cell."""

from typing import TYPE_CHECKING

from buildplan.notebook.viewer.model import Scene, Values
from buildplan.notebook.viewer.scenes import (
    device_scene,
    findings_scene,
    part_scene,
    segments_scene,
    values_on,
)
from buildplan.part.model import Part

if TYPE_CHECKING:
    from buildplan.device.chain.model import DeviceStudy
    from buildplan.notebook.viewer.widget import View
    from buildplan.plan.model import PartPlan
    from buildplan.segments.model import SegmentPlan

__all__ = ["Values", "values_on", "view_device", "view_findings", "view_part", "view_segments"]


def view_part(part: Part, *values: Values) -> "View":
    """A part to turn, cut and look into; coloured by the first of some values, if there are any.

    Args:
        part: Any mesh.
        values: Numbers on its surface, of ``values_on``.
    """
    return _show(part_scene(part, values), colour_by=0 if values else -1)


def view_findings(planned: "PartPlan", *values: Values) -> "View":
    """A planned part with all its findings, each on its place; by wall thickness and gaps as well.

    Args:
        planned: One of ``plan.parts``.
        values: More numbers on its surface, of ``values_on``.
    """
    return _show(findings_scene(planned, values))


def view_segments(plan: "SegmentPlan") -> "View":
    """The pieces of a part, to be moved apart, with the steps that put them together."""
    return _show(segments_scene(plan), apart_frac=0.4)


def view_device(study: "DeviceStudy") -> "View":
    """The printed parts where they stand, what moves at every pose, and the device's findings."""
    return _show(device_scene(study))


def _show(scene: Scene, *, colour_by: int = -1, apart_frac: float = 0.0) -> "View":
    from buildplan.notebook.viewer.widget import View

    return View(scene, colour_by=colour_by, apart_frac=apart_frac)
