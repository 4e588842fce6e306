"""Parts that a service makes, as the build file says: their findings, lines and orders."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from buildplan.bill import BillLine, Shop, Wanted, bill_line, cents
from buildplan.build import Build
from buildplan.checks.marks import Mark, findings_of
from buildplan.decide.sending import SendRow, ServiceTable
from buildplan.findings import SEVERITIES, Finding, Place, Spread
from buildplan.plan.model import PartPlan


def with_ways(
    build: Build, planned: Sequence[PartPlan], rows: Sequence[SendRow]
) -> tuple[PartPlan, ...]:
    """The parts, those that a service makes with its row and the findings of its limits.

    Args:
        build: Says who makes what.
        planned: Every part as it would be printed at home.
        rows: Every part at every service.
    """
    by_pair = {(row.part, row.service): row for row in rows}
    ways = {request.name: request.way for request in build.parts}
    found = []
    for item in planned:
        row = by_pair.get((item.name, ways[item.name].service))
        if row is None:
            found.append(item)
            continue
        findings = [*row.findings, *_unpriced(row)]
        health = [mark for mark in item.marks if mark.finding.check == "health"]
        marks = tuple(
            sorted(
                (*health, *(Mark(finding=finding) for finding in findings)),
                key=lambda mark: SEVERITIES.index(mark.finding.severity),
            )
        )
        found.append(replace(item, sent=row, marks=marks, findings=findings_of(marks)))
    return tuple(found)


def _unpriced(row: SendRow) -> tuple[Finding, ...]:
    """What is not known of a price: that there is none, or that it is guessed."""
    if row.goods_cost is not None and row.quoted:
        return ()
    guessed = row.goods_cost is not None
    where = row.part.replace("_", " ")
    return (
        Finding(
            check="sending",
            severity="note" if guessed else "caution",
            what=f"its price at {row.service} is {'guessed' if guessed else 'not known'}",
            where=Place(text=where),
            measured=row.basis,
            required="a quote of the service",
            remedy=f"Ask {row.service} for a quote and enter it as [[quote]].",
            source="build file",
        ),
    )


def sent_lines(planned: Iterable[PartPlan], build: Build) -> tuple[BillLine, ...]:
    """One line for every part that a service makes, and what lacks to its least order."""
    tables = {table.name: table for table in build.decisions.services}
    by_service: dict[str, list[BillLine]] = {}
    for item in planned:
        if item.sent is not None:
            here = by_service.setdefault(item.sent.service, [])
            here.append(_line(item, item.sent, tables[item.sent.service], build))
    lines: list[BillLine] = []
    for service, own in by_service.items():
        lines += own
        least = cents(tables[service].least_order_cost)
        lacks = least - sum((line.cost for line in own), Decimal("0.00"))
        if lacks > 0:
            lines.append(_top_up(tables[service], lacks, build))
    return tuple(lines)


def _line(item: PartPlan, row: SendRow, table: ServiceTable, build: Build) -> BillLine:
    goods = row.goods_cost
    each = goods if goods is not None else Spread(low=0.0, likely=0.0, high=0.0)
    known = goods is not None and not row.quoted
    return bill_line(
        Wanted(
            kind="sent",
            item=item.name if goods is not None else f"{item.name} (no price known)",
            need=Decimal(item.quantity),
            unit="piece",
            pack=Decimal(1),
            pack_cost=cents(each.likely / item.quantity),
            pack_low_cost=cents(each.low / item.quantity) if known else Decimal(0),
            pack_high_cost=cents(each.high / item.quantity) if known else Decimal(0),
            supplier=row.service,
            lead_d=table.lead_d,
            used_in=row.basis,
            tax_frac=Decimal(repr(build.tax_frac)),
            asked_by=build.sha256[:8],
        )
    )


def _top_up(table: ServiceTable, lacks: Decimal, build: Build) -> BillLine:
    return bill_line(
        Wanted(
            kind="sent",
            item=f"up to the least order of {table.name}",
            need=Decimal(1),
            unit="piece",
            pack=Decimal(1),
            pack_cost=lacks,
            supplier=table.name,
            lead_d=table.lead_d,
            used_in=f"its least order is {table.least_order_cost:.2f}",
            tax_frac=Decimal(repr(build.tax_frac)),
            asked_by=build.sha256[:8],
        )
    )


def shops_of(build: Build) -> Mapping[str, Shop]:
    """Suppliers and services with their terms, by name; a supplier goes before a service so named.

    The least order of a service stands in the bill as a line of its own.
    """
    services = {
        table.name: Shop(
            name=table.name,
            shipping_cost=cents(table.shipping_cost),
            free_from_cost=cents(table.free_from_cost),
            lead_d=table.lead_d,
            currency=build.currency,
            import_frac=Decimal(repr(table.import_frac)),
            import_cost=cents(table.import_cost),
        )
        for table in build.decisions.services
    }
    return {**services, **build.shops}
