"""Writing the device's figures out, each whole or not at all."""

from pathlib import Path

from buildplan.device.chain.model import DeviceStudy
from buildplan.files import write_whole
from buildplan.report.device_pictures.canvas import Kind
from buildplan.report.device_pictures.heat import draw_heat
from buildplan.report.device_pictures.lid import draw_lid
from buildplan.report.device_pictures.power import draw_energy, draw_event, draw_volts
from buildplan.report.device_pictures.sight import draw_sight
from buildplan.report.platform_picture import PlatformPicture


def write_figures(study: DeviceStudy, folder: Path) -> tuple[Path, ...]:
    """An SVG and a PNG file of each figure; their absolute paths."""
    target = folder.resolve()
    kinds: tuple[Kind, ...] = ("svg", "png")
    return tuple(
        write_whole(target / f"{name}.{picture.kind}", picture.data)
        for kind in kinds
        for name, picture in figures_of(study, kind=kind)
    )


def figures_of(study: DeviceStudy, *, kind: Kind = "svg") -> list[tuple[str, PlatformPicture]]:
    """Every figure that the study has numbers for, by name."""
    found = []
    if study.drives:
        found.append(("lid", draw_lid(study, kind=kind)))
    if study.power is not None:
        found.append(("volts", draw_volts(study.power, kind=kind)))
        found.append(("energy", draw_energy(study.power, kind=kind)))
        found += [
            (f"event_{number + 1}", draw_event(study.power, number, kind=kind))
            for number in range(len(study.power.events))
        ]
    if study.heat is not None:
        found.append(("heat", draw_heat(study.heat, kind=kind)))
    found += [
        ("sight", draw_sight(report, kind=kind))
        for report in (study.views.camera if study.views else ())
    ]
    return found
