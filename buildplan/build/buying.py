"""What a build file says about buying: items, suppliers and their currencies."""

import dataclasses
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from buildplan.bill.shops import Shop
from buildplan.build.faults import array_of, duplicate_faults, name_faults
from buildplan.build.model import BoughtItem
from buildplan.build.shape import BoughtTable, SupplierTable
from buildplan.tables.strict import Fault, Path, read_record
from buildplan.tables.wording import not_known, show

CURRENCY = "[A-Z]{3}"


def currency_fault(value: object, path: Path) -> list[Fault]:
    """A fault where a currency is not three capitals."""
    if not isinstance(value, str) or re.fullmatch(CURRENCY, value):
        return []
    text = f'currency {show(value)} is not allowed. Allowed: three capitals, such as "EUR"'
    return [Fault(path=path, text=text)]


def read_bought(
    data: Mapping[str, Any], shops: Mapping[str, Shop], faults: list[Fault]
) -> tuple[BoughtItem, ...]:
    """Every bought item that is right; faults of the others are added.

    Where the file has suppliers, an item may only name one of them.
    """
    raws = array_of(data, "bought", faults)
    duplicate_faults(raws, ("bought",), faults)
    made = []
    for position, raw in enumerate(raws):
        path = ("bought", position)
        table, wrong = read_record(BoughtTable, raw, path)
        faults.extend(wrong)
        faults.extend(name_faults(raw.get("name"), (*path, "name")))
        if table is None:
            continue
        faults.extend(_item_faults(table, data, shops, path))
        values = {field.name: getattr(table, field.name) for field in dataclasses.fields(table)}
        values["price_break"] = tuple(
            (one.from_quantity, one.price_cost) for one in table.price_break
        )
        made.append(BoughtItem(**values))
    return tuple(made)


def read_shops(data: Mapping[str, Any], faults: list[Fault]) -> dict[str, Shop]:
    """The suppliers of a build file by name; faults are added."""
    raws = array_of(data, "supplier", faults)
    duplicate_faults(raws, ("supplier",), faults)
    found = {}
    for position, raw in enumerate(raws):
        path = ("supplier", position)
        table, wrong = read_record(SupplierTable, raw, path)
        faults.extend(wrong)
        faults.extend(name_faults(raw.get("name"), (*path, "name")))
        if table is None:
            continue
        faults.extend(_rate_fault(table.currency, data, (*path, "currency")))
        found[table.name] = Shop(
            name=table.name,
            shipping_cost=_exact(table.shipping_cost),
            free_from_cost=_exact(table.free_from_cost),
            least_order_cost=_exact(table.least_order_cost),
            lead_d=table.lead_d,
            currency=table.currency,
            import_frac=_exact(table.import_frac),
            import_cost=_exact(table.import_cost),
        )
    return found


def read_rates(data: Mapping[str, Any], faults: list[Fault]) -> dict[str, Decimal]:
    """What one unit of another currency costs, out of `[build]`."""
    head = data.get("build")
    raw = head.get("rates", {}) if isinstance(head, dict) else {}
    found = {}
    for currency, rate in raw.items() if isinstance(raw, dict) else ():
        path = ("build", "rates", currency)
        faults.extend(currency_fault(currency, path))
        if isinstance(rate, int | float) and not isinstance(rate, bool):
            if not 0.0 < rate < 1e9:
                text = f"rate {show(rate)} is out of range. Allowed: more than 0"
                faults.append(Fault(path=path, text=text))
            else:
                found[currency] = _exact(float(rate))
    return found


def _item_faults(
    table: BoughtTable, data: Mapping[str, Any], shops: Mapping[str, Shop], path: Path
) -> list[Fault]:
    """Names, ranges and breaks of an item that cannot be."""
    found = []
    if table.supplier and shops and table.supplier not in shops:
        text = not_known("supplier", table.supplier, tuple(shops))
        found.append(Fault(path=(*path, "supplier"), text=text))
    found.extend(_rate_fault(table.currency, data, (*path, "currency")))
    low, likely, high = table.price_low_cost, table.price_cost, table.price_high_cost
    if low > likely or (high and high < likely):
        text = (
            f"the price runs from {low:g} over {likely:g} to {high:g}. price_low_cost may not be "
            "above price_cost, nor price_high_cost below it"
        )
        found.append(Fault(path=(*path, "price_cost"), text=text))
    steps = [one.from_quantity for one in table.price_break]
    if steps != sorted(set(steps)):
        said = ", ".join(f"{step:g}" for step in steps)
        text = f"price_break from {said} must rise. Write the smallest quantity first"
        found.append(Fault(path=(*path, "price_break"), text=text))
    return found


def _rate_fault(currency: str, data: Mapping[str, Any], path: Path) -> list[Fault]:
    """A fault where a currency is no currency, or has no rate into the build's."""
    if not currency:
        return []
    wrong = currency_fault(currency, path)
    head = data.get("build")
    if wrong or not isinstance(head, dict) or currency == head.get("currency"):
        return wrong
    rates = head.get("rates", {})
    if not isinstance(rates, dict) or currency in rates:
        return []
    text = f"currency {show(currency)} has no rate. Write rates = {{ {currency} = ... }} in [build]"
    return [Fault(path=path, text=text)]


def _exact(value: float) -> Decimal:
    return Decimal(repr(value))
