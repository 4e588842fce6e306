"""`[[service]]`, `[[quote]]` and `[choice]` of the build file.

::

    [[service]]
    name = "Service Alder"
    shipping_cost = 6.90
    lead_d = 6.0
    lead_high_d = 9.0
    feedstocks = ["PETG", "PLA"]
    largest_mm = [300.0, 300.0, 250.0]
    least_wall_mm = 0.8

    [[quote]]
    service = "Service Alder"
    part = "base_shell"
    cost = 118.00

    [choice]
    day_cost = 2.00
    done_by = "2031-04-10"
    most_loss_frac = 0.3
"""

from dataclasses import dataclass
from typing import Annotated

from buildplan.tables.limits import Within

Money = Annotated[float, Within(0.0, 10_000_000.0)]
Days = Annotated[float, Within(0.0, 1000.0)]
Length = Annotated[float, Within(0.0, 10_000.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceTable:
    """`[[service]]`: who makes parts for you, and on what terms.

    Attributes:
        shipping_cost: Of one order; free from ``free_from_cost``, where that is not 0.
        least_order_cost: Least that an order is charged at.
        lead_d: Usual days from order to door; lead_high_d: 1 time in 10 later.
        feedstocks: What it prints in; empty where it does not say.
        largest_mm: Longest, middle and shortest side it takes, in any order; empty for no limit.
        least_wall_mm: Thinner walls are refused or at your own risk; 0 where it does not say.
        tolerance_mm, tolerance_frac: What it promises: the larger of the two.
        import_frac: Duty on the goods; import_cost: handling of one order at the border.
        finish_h: Own hours to inspect and finish a part of it.
        terms: Anything that bites: "no refund when printed in spite of a warning".
    """

    name: str
    shipping_cost: Money = 0.0
    least_order_cost: Money = 0.0
    free_from_cost: Money = 0.0
    lead_d: Days
    lead_high_d: Days = 0.0
    feedstocks: tuple[str, ...] = ()
    largest_mm: tuple[Length, ...] = ()
    least_wall_mm: Length = 0.0
    tolerance_mm: Length = 0.0
    tolerance_frac: Annotated[float, Within(0.0, 0.5)] = 0.0
    import_frac: Annotated[float, Within(0.0, 5.0)] = 0.0
    import_cost: Money = 0.0
    finish_h: Annotated[float, Within(0.0, 1000.0)] = 0.25
    terms: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteTable:
    """`[[quote]]`: what a service asks for one copy of a part.

    Attributes:
        feedstock: In what; empty for the part's own.
        said_on: Day of the quote ("2031-03-01"), or empty.
    """

    service: str
    part: str
    cost: Money
    feedstock: str = ""
    said_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceTable:
    """`[choice]`: what is asked of the plan for all parts.

    Attributes:
        day_cost: What being done a day earlier is worth.
        done_by: Latest day ("2031-04-10"), or empty.
        most_loss_frac: Highest chance of losing a long print; 1 for any.
    """

    day_cost: Money = 0.0
    done_by: str = ""
    most_loss_frac: Annotated[float, Within(0.0, 1.0)] = 1.0
