"""Derived needs as lines of the bill, and the findings on what the shopping list covers."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from buildplan.bill.derived.cover import Covered, Item, Split
from buildplan.bill.derived.model import Need, whole
from buildplan.bill.derived.spares import FAIL_SOURCE, SpareAnswer, as_cost
from buildplan.bill.lines import BillLine, Wanted, bill_line
from buildplan.findings import Finding, Place

NO_PRICE = Decimal("0.00")
MOST_NAMED = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What the machine and its energy cost for one part, all copies: no order.

    Attributes:
        cost: Of both together.
    """

    part: str
    printer: str
    time_h: float
    energy_kwh: float
    machine_cost: float
    energy_cost: float
    asked_by: str

    @property
    def cost(self) -> Decimal:
        """Machine and energy."""
        return as_cost(self.machine_cost + self.energy_cost)


def lines_of(split: Split, tax_frac: Decimal = Decimal(0)) -> tuple[BillLine, ...]:
    """Lines of what nothing covers, without a price; and of what is only listed, at its price."""
    return (
        *(bill_line(_unpriced(need, tax_frac)) for need in split.open),
        *(bill_line(_priced(need, item)) for need, item in split.listed_only),
    )


def _unpriced(need: Need, tax_frac: Decimal) -> Wanted:
    return Wanted(
        kind=need.kind,
        item=need.item,
        need=need.quantity,
        need_low=need.low,
        need_high=need.high,
        unit=need.unit,
        pack=need.pack,
        pack_cost=NO_PRICE,
        least=need.least,
        supplier="",
        lead_d=0.0,
        used_in=need.used_in,
        tax_frac=tax_frac,
        asked_by=need.asked_by,
    )


def _priced(need: Need, item: Item) -> Wanted:
    """The item's own terms, for what the device needs of it."""
    wanted = item.line.wanted
    factor = Covered(item=item, needs=(need,)).factor(need)
    if factor <= 0:
        return replace(wanted, kind=need.kind, used_in=need.used_in, asked_by=need.asked_by)
    return replace(
        wanted,
        kind=need.kind,
        need=need.quantity / factor,
        need_low=need.low / factor,
        need_high=need.high / factor,
        used_in=need.used_in,
        asked_by=need.asked_by,
    )


def share_lines(shares: Iterable[Share]) -> tuple[BillLine, ...]:
    """Machine and energy as lines without an order: no pack is bought, ``pack_cost`` says what.

    They stand in no order and add nothing to what is to be paid.
    """
    return tuple(
        bill_line(
            Wanted(
                kind="share",
                item=f"machine and energy, {share.part.replace('_', ' ')}",
                need=Decimal(repr(round(share.time_h, 2))),
                unit="h",
                pack=Decimal(repr(max(round(share.time_h, 2), 0.01))),
                pack_cost=share.cost,
                supplier="",
                lead_d=0.0,
                used_in=share.printer,
                state="have",
                asked_by=share.asked_by,
            )
        )
        for share in shares
    )


def spare_lines(answers: Iterable[SpareAnswer], items: Sequence[Item]) -> tuple[BillLine, ...]:
    """One more pack of every item whose spare pays, on its own terms."""
    by_name = {item.name: item.line.wanted for item in items}
    lines = []
    for answer in answers:
        wanted = by_name[answer.item]
        lines.append(
            bill_line(
                replace(
                    wanted,
                    kind="spare",
                    item=f"{wanted.item}, spare",
                    need=wanted.pack,
                    need_low=Decimal(0),
                    need_high=Decimal(0),
                    spare_frac=Decimal(0),
                    on_hand=Decimal(0),
                    least=Decimal(0),
                )
            )
        )
    return tuple(lines)


def spare_finding(answers: Sequence[SpareAnswer], day_cost: float) -> Finding | None:
    """Which spares were added and why, or None."""
    if not answers:
        return None
    said = "; ".join(
        f"{a.item}: {a.chance_frac:.0%} x {a.delay_cost:.2f} = {a.worth_cost:.2f} against "
        f"{a.price_cost:.2f}"
        for a in answers
    )
    return Finding(
        check="bill",
        severity="note",
        what=f"{len(answers)} spares pay for themselves: {', '.join(a.item for a in answers)}",
        where=Place(text="bill of materials"),
        measured=said,
        required=f"chance x delay above the price, a day at {day_cost:g}",
        remedy="Leave one out by typing its own fail_frac into [[hardware.cover]].",
        source=FAIL_SOURCE,
    )


def cover_findings(split: Split) -> tuple[Finding, ...]:
    """What the shopping list buys too little or too much of, counts in other units or leaves out.

    Raises nothing: a need is never bought twice, only looked at.
    """
    found = [finding for one in split.covered if (finding := _cover_finding(one)) is not None]
    found += [_listed_only(need, item) for need, item in split.listed_only]
    return tuple(found)


def _cover_finding(one: Covered) -> Finding | None:
    wanted = one.item.line.wanted
    if not one.same_unit:
        return _units(one)
    need = one.wanted
    if need > one.item.there:
        return _short(one, need)
    if need > wanted.need and wanted.state != "have":
        return _packs_hold(one, need)
    least = math.ceil(need / wanted.pack)
    if one.item.line.packs > max(least, 1) and wanted.state == "to order":
        return _too_much(one, need, least)
    return None


def _amount(value: Decimal, unit: str) -> str:
    shown = whole(float(value))
    return f"{shown} pieces" if unit == "piece" and shown != "1" else f"{shown} {unit}"


def _where(one: Covered) -> Place:
    return Place(text=f"bill of materials, {one.item.name}")


def _asks(one: Covered) -> str:
    return "; ".join(need.why for need in one.needs)


def _short(one: Covered, need: Decimal) -> Finding:
    wanted = one.item.line.wanted
    there, asked = _amount(one.item.there, wanted.unit), _amount(need, wanted.unit)
    said = f"you have {there}" if wanted.state == "have" else f"the build file buys {there}"
    return Finding(
        check="bill",
        severity="caution",
        what=f"needs {asked} of {one.item.name}, {said}",
        where=_where(one),
        measured=there,
        required=f"{asked} ({_asks(one)})",
        remedy=f"Write quantity = {whole(math.ceil(need))} for {one.item.name}.",
        source=one.needs[0].source,
    )


def _packs_hold(one: Covered, need: Decimal) -> Finding:
    wanted = one.item.line.wanted
    asked, said = _amount(need, wanted.unit), _amount(wanted.need, wanted.unit)
    return Finding(
        check="bill",
        severity="note",
        what=f"needs {asked} of {one.item.name}, the build file asks for {said}; "
        "the packs hold enough",
        where=_where(one),
        measured=f"{said} in packs of {whole(float(wanted.pack))}",
        required=f"{asked} ({_asks(one)})",
        remedy=f"Write quantity = {whole(math.ceil(need))} for {one.item.name}.",
        source=one.needs[0].source,
    )


def _too_much(one: Covered, need: Decimal, packs: int) -> Finding:
    wanted = one.item.line.wanted
    asked = _amount(need, wanted.unit)
    return Finding(
        check="bill",
        severity="note",
        what=f"needs {asked} of {one.item.name}, the build file buys {one.item.line.packs} packs "
        f"where {packs} would do",
        where=_where(one),
        measured=_amount(one.item.there, wanted.unit),
        required=f"{asked} ({_asks(one)})",
        remedy=f"Write quantity = {whole(math.ceil(need))}, if nothing else takes the rest.",
        source=one.needs[0].source,
    )


def _units(one: Covered) -> Finding:
    wanted = one.item.line.wanted
    other = next(need for need in one.needs if one.factor(need) <= 0)
    asked = _amount(other.quantity, other.unit)
    return Finding(
        check="bill",
        severity="note",
        what=f"needs {asked} of {other.item}; the build file counts it by the {wanted.unit}",
        where=_where(one),
        measured=_amount(wanted.need, wanted.unit),
        required=f"{asked} ({other.why})",
        remedy=f'Write holds = ... ({other.unit} in one {wanted.unit}) for "{one.item.name}" in '
        "[[hardware.cover]].",
        source=other.source,
    )


def _listed_only(need: Need, item: Item) -> Finding:
    return Finding(
        check="bill",
        severity="caution",
        what=f"{item.name} is marked as not needed, but the device takes "
        f"{_amount(need.quantity, need.unit)}",
        where=Place(text=f"bill of materials, {item.name}"),
        measured="needed = false",
        required=need.why,
        remedy=f"Take needed = false away from {item.name}, or say what else does its work.",
        source=need.source,
    )


def price_finding(needs: Sequence[Need]) -> Finding | None:
    """Which lines stand at 0 because nobody knows their price, or None."""
    if not needs:
        return None
    names = [need.item for need in needs]
    said = ", ".join(names[:MOST_NAMED])
    if len(names) > MOST_NAMED:
        said += f" and {len(names) - MOST_NAMED} more"
    lines = "1 line has" if len(names) == 1 else f"{len(names)} lines have"
    return Finding(
        check="bill",
        severity="note",
        what=f"{lines} no price and stand at 0.00",
        where=Place(text="bill of materials"),
        measured=f"no price: {said}",
        required="a price for everything that is bought",
        remedy=f'Write a [[bought]] item of the same name for each, such as "{names[0]}".',
        source="the build file prices none of that name",
    )


def tool_finding(words: str) -> Finding:
    """Which tools the device takes, where nobody says which are at hand."""
    return Finding(
        check="bill",
        severity="note",
        what=f"it takes these tools: {words}",
        where=Place(text="bill of materials"),
        measured="tools at hand are not listed",
        required="every tool at hand before it is needed",
        remedy="Write tools = [...] in [hardware]; what is missing then comes on the bill.",
        source="common practice, no source",
    )
