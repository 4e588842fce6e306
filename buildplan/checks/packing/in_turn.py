"""One after another on one platform: whether head and beam clear what is finished."""

from dataclasses import dataclass

from buildplan.checks.packing.model import Placing
from buildplan.checks.packing.outline import polygon_of
from buildplan.tables.printer import ExtrusionPrinter


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """The head or the beam hits a finished copy while another is printed."""

    what: str
    finished: str
    printed: str
    found_mm: float
    allowed_mm: float


def order_in_turn(placings: tuple[Placing, ...], printer: ExtrusionPrinter) -> tuple[Placing, ...]:
    """Copies in an order to print them one after another: what is low first, front to back."""

    def rank(placing: Placing) -> tuple[bool, float, float]:
        box = polygon_of(placing.outline).bounds
        return placing.height_mm > printer.beam_clear_mm, float(box[1]), float(box[0])

    ordered = sorted(placings, key=rank)
    high = sorted((p for p in ordered if rank(p)[0]), key=lambda p: p.height_mm)
    return (*(p for p in ordered if not rank(p)[0]), *high)


def find_clash(placings: tuple[Placing, ...], printer: ExtrusionPrinter) -> Clash | None:
    """First clash when copies are printed one after another in the order given, or None.

    While a copy is printed the nozzle goes over its outline, from the platform to its top. The head
    is a cylinder of head_clear_mm around the nozzle that reaches down to the layer: every finished
    outline must stay that far from the printed one. The beam runs along x at beam_clear_mm over the
    nozzle's tip, as deep as the head: a finished copy may be higher only where it lies in y wholly
    outside the depth that the beam passes. On a round platform arms come from all sides, so no
    finished copy may be higher. Nothing is assumed of frames, cables and clips beside the head.
    """
    import shapely

    shapes = [polygon_of(p.outline) for p in placings]
    reach = printer.head_clear_mm
    for later, printed in enumerate(placings):
        low_y, high_y = shapes[later].bounds[1] - reach, shapes[later].bounds[3] + reach
        for earlier in range(later):
            finished = placings[earlier]
            names = {
                "finished": f"{finished.name} {finished.copy}",
                "printed": f"{printed.name} {printed.copy}",
            }
            apart = float(shapely.distance(shapes[earlier], shapes[later]))
            if apart < reach - 1e-9:
                return Clash(what="head", found_mm=apart, allowed_mm=reach, **names)
            box = shapes[earlier].bounds
            beside = printer.platform == "rectangle" and (box[3] <= low_y or box[1] >= high_y)
            if finished.height_mm > printer.beam_clear_mm and not beside:
                return Clash(
                    what="beam",
                    found_mm=finished.height_mm,
                    allowed_mm=printer.beam_clear_mm,
                    **names,
                )
    return None
