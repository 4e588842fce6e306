"""Compiling the kernels ahead of the first real run, and knowing whether that is still to do."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import partial
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Any, get_args

from buildplan.tables.recipe import ExtrusionRecipe, InfillStyle

Progress = Callable[[int, int, str], None]
"""Called with (steps done, steps in all, name of the next step)."""


def cold_kernels() -> int:
    """How many compiled functions have no entry in the cache on disk yet.

    A kernel whose source changed since counts as warm until it runs; this is for a message only.
    """
    import buildplan.kernels

    for module in iter_modules(buildplan.kernels.__path__):
        import_module(f"buildplan.kernels.{module.name}")
    from buildplan.kernels.jit import KERNELS

    return sum(1 for kernel in KERNELS if not _is_cached(kernel))


def warm_up(progress: Progress | None = None) -> int:
    """Run the main job on two small demo parts so that every kernel is compiled; steps run."""
    steps = _steps()
    for done, (name, step) in enumerate(steps):
        if progress is not None:
            progress(done, len(steps), name)
        step()
    if progress is not None:
        progress(len(steps), len(steps), "done")
    return len(steps)


def _steps() -> list[tuple[str, Callable[[], Any]]]:
    """The main job on three small parts, one step for each group of kernels."""
    import numpy as np

    import buildplan as bp
    from buildplan.checks.surface import measure_surface
    from buildplan.decide.calendar import Job, schedule
    from buildplan.decide.calendar.windows import windows_from
    from buildplan.demo import demo_folder
    from buildplan.device.clearance import sweep_rod
    from buildplan.part import part_from_mesh
    from buildplan.report.picture import draw_part
    from buildplan.segments.axis import profile_along

    folder = demo_folder()
    printer, feedstock = bp.printer("small_moving_bed"), bp.feedstock("pla")
    everyday = bp.recipe("everyday")
    assert isinstance(everyday, ExtrusionRecipe)
    arm = bp.read_part(folder / "servo_arm.stl")
    ring = bp.read_part(folder / "camera_ring.3mf")

    def print_hours(style: InfillStyle) -> Any:
        dense = style == "concentric"
        recipe = replace(
            everyday, infill_style=style, supports=True, slit_fill="dense" if dense else "sparse"
        )
        return bp.estimate_print(arm, printer, feedstock, recipe)

    def vat_hours() -> Any:
        return bp.estimate_print(
            ring,
            bp.printer("small_vat"),
            bp.feedstock("standard_photopolymer"),
            bp.recipe("everyday", process="vat"),
        )

    def extrusion_checks() -> Any:
        wall = bp.read_part(folder / "camera_arm.stl")
        return bp.check_part(wall, printer, feedstock, everyday)

    def vat_checks() -> Any:
        return bp.check_part(
            ring,
            bp.printer("small_vat"),
            bp.feedstock("standard_photopolymer"),
            bp.recipe("everyday", process="vat"),
        )

    def rod_sweep() -> Any:
        start = np.array([[0.0, 0.0, 60.0], [0.0, 5.0, 60.0]])
        return sweep_rod(
            [arm], angle_deg=[0.0, 10.0], start_mm=start, end_mm=start + 20.0, radius_mm=2.0
        )

    def overlapping_shells() -> Any:
        vertices, facets = np.array(arm.vertices_mm), np.array(arm.facets)
        both = part_from_mesh(
            np.vstack([vertices, vertices + 1.0]),
            np.vstack([facets, facets + len(vertices)]),
            health="quick",
        )
        return measure_surface(both, inside_cap_mm=1.0, outside_cap_mm=1.0)

    def order_of_prints() -> Any:
        windows = windows_from(
            [(0.0, 48.0)], first_day=date(2031, 1, 1), day_end_h=np.array([24.0, 48.0])
        )
        jobs = tuple(Job(name=name, print_h=1.0, printers=("one",)) for name in "ab")
        return schedule(jobs, (), windows, ("one",))

    styles: tuple[InfillStyle, ...] = get_args(InfillStyle)
    return [
        ("text meshes", lambda: bp.read_part(folder / "push_rod.obj")),
        ("fit", lambda: bp.check_fit(arm, printer)),
        ("cuts", lambda: profile_along(np.array(arm.vertices_mm), np.array(arm.facets), 0)),
        ("checks, extrusion", extrusion_checks),
        ("checks, vat", vat_checks),
        ("ways up", lambda: bp.rank_orientations(arm, printer, feedstock, everyday, count=2)),
        ("rod", rod_sweep),
        ("overlapping shells", overlapping_shells),
        ("order of prints", order_of_prints),
        ("picture", lambda: draw_part(arm, width_px=64, height_px=48)),
        ("vat", vat_hours),
        *((f"hours, {style}", partial(print_hours, style)) for style in styles),
    ]


def _is_cached(kernel: Any) -> bool:
    folder = kernel.stats.cache_path
    if not folder:
        return False
    function = kernel.py_func
    stem = f"{function.__module__.rsplit('.', 1)[-1]}.{function.__qualname__}-"
    return any(Path(folder).glob(f"{stem}*.nbi"))
