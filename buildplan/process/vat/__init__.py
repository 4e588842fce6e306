"""Part, layers and settings -> what a vat photopolymerization print takes."""

from buildplan.process.vat.estimate import cycle_time, estimate_vat
from buildplan.process.vat.model import VatCycle, VatEstimate

__all__ = ["VatCycle", "VatEstimate", "cycle_time", "estimate_vat"]
