"""How a part is got, as the build file says it: whole, in so many pieces, or from a service."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from buildplan.tables.strict import Fault
from buildplan.tables.wording import not_known

MOST_PIECES = 8

_PIECES = re.compile(r"([2-9]|[1-9]\d+) pieces")


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a part is got.

    Attributes:
        pieces: 1 for whole, more for exactly so many pieces, 0 for as few as it must be.
        service: Who makes it; empty at home.
    """

    pieces: int = 0
    service: str = ""


AS_IT_MUST = Way()
"""At home, whole where it fits and keeps the longest print, else cut."""


def read_way(
    text: object, services: Sequence[str], path: tuple[str | int, ...]
) -> tuple[Way, tuple[Fault, ...]]:
    """A way out of its text; where it is none of the allowed, the fault says what is.

    Args:
        text: "" for as it must, "whole", "3 pieces", or the name of a service.
        services: Names of the build file's services.
        path: Where the text stands.
    """
    if not isinstance(text, str) or not text:
        return AS_IT_MUST, ()
    if text == "whole":
        return Way(pieces=1), ()
    if text in services:
        return Way(service=text), ()
    found = _PIECES.fullmatch(text)
    if found and int(found[1]) <= MOST_PIECES:
        return Way(pieces=int(found[1])), ()
    allowed = ("whole", f"2 pieces to {MOST_PIECES} pieces", *services)
    return AS_IT_MUST, (Fault(path=path, text=not_known("way", text, allowed)),)


def way_text(pieces: int, service: str = "") -> str:
    """A way as the build file says it."""
    if service:
        return service
    return "whole" if pieces <= 1 else f"{pieces} pieces"
