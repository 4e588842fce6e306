"""The choice: for every part at home, in pieces or sent out, all parts decided together."""

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import (
    AtHome,
    Case,
    Chosen,
    Machine,
    PartOptions,
    Reason,
    SentOut,
    Service,
    Stock,
    Terms,
    Totals,
)
from buildplan.decide.choice.solve import NoChoiceError, choose, front, soonest
from buildplan.decide.choice.why import reasons

__all__ = [
    "AtHome",
    "Case",
    "Chosen",
    "Machine",
    "NoChoiceError",
    "PartOptions",
    "Reason",
    "SentOut",
    "Service",
    "Stock",
    "Terms",
    "Totals",
    "choose",
    "evaluate",
    "front",
    "reasons",
    "soonest",
]
