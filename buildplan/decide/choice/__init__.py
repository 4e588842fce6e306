"""The choice: for every part at home, in pieces or sent out, all parts decided together."""

from buildplan.decide.choice.change import (
    OwnTimeStep,
    QuoteChange,
    Supervision,
    own_time_steps,
    part_range,
    quote_changes,
    supervision_price,
)
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
from buildplan.decide.choice.shortlist import Refined, Simulated, refine, shortlist
from buildplan.decide.choice.solve import NoChoiceError, choose, front, soonest
from buildplan.decide.choice.why import reasons, settle
from buildplan.decide.choice.words import (
    quote_words,
    range_words,
    reason_words,
    supervision_words,
)

__all__ = [
    "AtHome",
    "Case",
    "Chosen",
    "Machine",
    "NoChoiceError",
    "OwnTimeStep",
    "PartOptions",
    "QuoteChange",
    "Reason",
    "Refined",
    "SentOut",
    "Service",
    "Simulated",
    "Stock",
    "Supervision",
    "Terms",
    "Totals",
    "choose",
    "evaluate",
    "front",
    "own_time_steps",
    "part_range",
    "quote_changes",
    "quote_words",
    "range_words",
    "reason_words",
    "reasons",
    "refine",
    "settle",
    "shortlist",
    "soonest",
    "supervision_price",
    "supervision_words",
]
