"""Part, printer, feedstock, recipe -> PrintEstimate: hours, feedstock, energy and money."""

from buildplan.process.estimate.model import PRICE_SOURCES, Prices, PrintEstimate, RoleShare
from buildplan.process.estimate.reprice import price_again
from buildplan.process.estimate.run import estimate_print

__all__ = [
    "PRICE_SOURCES",
    "Prices",
    "PrintEstimate",
    "RoleShare",
    "estimate_print",
    "price_again",
]
