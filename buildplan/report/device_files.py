"""Writing the device's figures out, each whole or not at all."""

from pathlib import Path

from buildplan.device.chain.model import DeviceStudy
from buildplan.files import write_whole
from buildplan.report.device_pictures.heat import draw_heat
from buildplan.report.device_pictures.lid import draw_lid
from buildplan.report.device_pictures.power import draw_energy, draw_event, draw_volts
from buildplan.report.device_pictures.sight import draw_sight
from buildplan.report.platform_picture import PlatformPicture


def write_figures(study: DeviceStudy, folder: Path) -> tuple[Path, ...]:
    """One SVG file a figure; their absolute paths."""
    target = folder.resolve()
    return tuple(
        write_whole(target / f"{name}.svg", picture.data.decode("utf-8"))
        for name, picture in figures_of(study)
    )


def figures_of(study: DeviceStudy) -> list[tuple[str, PlatformPicture]]:
    """Every figure that the study has numbers for, by name."""
    found = []
    if study.drives:
        found.append(("lid", draw_lid(study)))
    if study.power is not None:
        found.append(("volts", draw_volts(study.power)))
        found.append(("energy", draw_energy(study.power)))
        found += [
            (f"event_{number + 1}", draw_event(study.power, number))
            for number in range(len(study.power.events))
        ]
    if study.heat is not None:
        found.append(("heat", draw_heat(study.heat)))
    found += [
        ("sight", draw_sight(report)) for report in (study.views.camera if study.views else ())
    ]
    return found
