"""Which parts share a platform: the build cycles of every printer that was given a part."""

from collections.abc import Iterable

from buildplan.build import Build
from buildplan.checks.packing import CyclePlan, PackRequest, choose_cycles
from buildplan.plan.model import PartPlan, chosen_option
from buildplan.tables.printer import Printer


def plan_cycles(build: Build, planned: Iterable[PartPlan]) -> tuple[CyclePlan, ...]:
    """For each printer with two or more copies of what fits it, how to print them in cycles."""
    by_printer: dict[str, list[PartPlan]] = {}
    for item in planned:
        option = chosen_option(item)
        if option.fit.fits and item.sent is None:
            by_printer.setdefault(option.printer, []).append(item)
    printers: dict[str, Printer] = {
        printer.key: printer for request in build.parts for printer in request.printers
    }
    return tuple(
        choose_cycles([_request(item) for item in items], printers[key])
        for key, items in by_printer.items()
        if sum(item.quantity for item in items) > 1
    )


def _request(item: PartPlan) -> PackRequest:
    return PackRequest(
        name=item.name,
        part=item.part,
        estimate=chosen_option(item).raw,
        quantity=item.quantity,
        feedstock=item.feedstock,
        recipe=item.recipe,
    )
