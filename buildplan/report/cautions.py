"""The usual cautions for what a plan uses. They defer to local codes and licensed practice."""

from buildplan.plan import Plan
from buildplan.tables.cautions import Caution, caution, each_once


def cautions_for(plan: Plan) -> tuple[Caution, ...]:
    """Each caution once: those of the processes in use, of the device and the general ones."""
    processes = {item.feedstock.process for item in plan.parts}
    said = list(plan.device.cautions) if plan.device is not None else []
    said += plan.calendar.cautions if plan.calendar is not None else ()
    if "extrusion" in processes:
        said += [
            caution("printing", "parts are printed by extrusion"),
            caution("hot_printer", "parts are printed by extrusion"),
            caution("fumes", "parts are printed by extrusion"),
        ]
    if "vat" in processes:
        said.append(caution("resin", "parts are printed in a vat"))
    said += [
        caution("food_children", "the device stands where people live"),
        caution("loads", "parts are printed"),
    ]
    return each_once(said)
