"""Which printer runs which feedstock."""

from buildplan.tables.feedstock import Feedstock, VatFeedstock
from buildplan.tables.printer import Printer, VatPrinter


def why_not(printer: Printer, feedstock: Feedstock) -> str:
    """Why a printer cannot run a feedstock, in words, or an empty text where it can.

    The process must be the same and the nozzle must reach the lowest usual extrusion temperature.
    A cool platform or an open frame is no hindrance here: that is for a check to judge.
    """
    if printer.process != feedstock.process:
        return f"{printer.key} is for {printer.process}, {feedstock.key} for {feedstock.process}"
    if isinstance(printer, VatPrinter) or isinstance(feedstock, VatFeedstock):
        return ""
    if printer.nozzle_max_c < feedstock.nozzle_low_c:
        return (
            f"the nozzle of {printer.key} reaches {printer.nozzle_max_c:g} C, "
            f"{feedstock.key} needs {feedstock.nozzle_low_c:g} C"
        )
    return ""
