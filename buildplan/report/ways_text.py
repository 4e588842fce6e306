"""The best ways up of a part on the terminal, so that one of them can be kept."""

from rich.console import Console
from rich.text import Text

from buildplan.checks.orientation import Orientation, OrientationCheck
from buildplan.report import numbers
from buildplan.report.terminal import hanging, table

SAME_WAY = 1e-6
"""Two ways are one where their matrices differ by no more than this."""


def print_ways(to: Console, check: OrientationCheck, currency: str) -> None:
    """As placed and the best ways, numbered, with what speaks for and against each."""
    to.print(
        Text.assemble(
            (check.part.replace("_", " "), "head"),
            f"   {numbers.count(check.directions, 'direction')} weighed on "
            f"{check.printer.replace('_', ' ')}",
        )
    )
    to.print()
    made = table(
        ("way", "", False),
        ("turned", "°", True),
        ("usual", "h", True),
        ("supports", "g", True),
        ("flat foot", "mm²", True),
        ("height", "mm", True),
        ("weighed cost", currency, True),
    )
    placed = check.as_placed
    rows = [("as placed" + ("" if placed.fits else ", does not fit"), placed)]
    rows += [(str(number), way) for number, way in enumerate(check.best, 1)]
    for label, way in rows:
        made.add_row(Text(label, style="head"), *_cells(way))
    to.print(made)
    to.print()
    for number, way in enumerate(check.best, 1):
        to.print(hanging(Text(f"{number} ", style="head"), way.reason))
    to.print()


def is_as_placed(way: Orientation, check: OrientationCheck) -> bool:
    """Whether a way is the one in which the part lies already."""
    pairs = zip(way.matrix, check.as_placed.matrix, strict=True)
    return all(abs(a - b) <= SAME_WAY for a, b in pairs)


def _cells(way: Orientation) -> list[str]:
    values = (
        (way.turn_deg, 0),
        (way.time_h, 1),
        (way.support_mass_g, 1),
        (way.contact_mm2, 0),
        (way.height_mm, 1),
        (way.total_cost, 2),
    )
    return [numbers.plain(numbers.num(value, digits)) for value, digits in values]
