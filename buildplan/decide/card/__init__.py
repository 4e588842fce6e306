"""The bad-day card: what a print takes when it does not go as usual, and when to look at it."""

from buildplan.decide.card.day import bad_day
from buildplan.decide.card.model import BadDay, Chances, Look, TryHours
from buildplan.decide.card.tries import hours_of_tries
from buildplan.decide.card.when import looks_of

__all__ = ["BadDay", "Chances", "Look", "TryHours", "bad_day", "hours_of_tries", "looks_of"]
