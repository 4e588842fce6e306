"""The bad-day card: what a print takes when it does not go as usual, and when to look at it."""

from buildplan.decide.card.day import bad_day
from buildplan.decide.card.model import BadDay, Chances, Look, TryHours
from buildplan.decide.card.runs import Run, run_of_estimates, run_of_row, runs_of_plan
from buildplan.decide.card.tries import hours_of_tries
from buildplan.decide.card.ways import (
    BadDayCard,
    HomeWay,
    RiskMark,
    Spool,
    bad_day_card,
    spool_of,
)
from buildplan.decide.card.when import looks_of
from buildplan.decide.card.words import way_sentences

__all__ = [
    "BadDay",
    "BadDayCard",
    "Chances",
    "HomeWay",
    "Look",
    "RiskMark",
    "Run",
    "Spool",
    "TryHours",
    "bad_day",
    "bad_day_card",
    "hours_of_tries",
    "looks_of",
    "run_of_estimates",
    "run_of_row",
    "runs_of_plan",
    "spool_of",
    "way_sentences",
]
