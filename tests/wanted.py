"""Wants of a bill, with the usual values filled in."""

from decimal import Decimal

from buildplan.bill import Wanted


def wanted(item="screw", need="10", pack="1", pack_cost="1.00", **more):
    texts = {
        key: Decimal(value) if isinstance(value, str) and key not in PLAIN else value
        for key, value in more.items()
    }
    usual = {
        "kind": "bought",
        "unit": "piece",
        "supplier": "",
        "lead_d": 0.0,
        "used_in": "",
    }
    return Wanted(
        item=item,
        need=Decimal(need),
        pack=Decimal(pack),
        pack_cost=Decimal(pack_cost),
        **(usual | texts),
    )


PLAIN = ("kind", "unit", "supplier", "used_in", "currency", "state", "asked_by")
