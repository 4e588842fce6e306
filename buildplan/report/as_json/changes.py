"""What differs between two revisions, as plain objects."""

from typing import Any

from buildplan.bill import Changes
from buildplan.report.as_json.values import money, number


def changes_object(changes: Changes) -> dict[str, Any]:
    """Parts, lines and checks that differ; rows add up to the differences."""
    return {
        "before": changes.before,
        "after": changes.after,
        "same": changes.same,
        "reprint_h": number(changes.reprint_h),
        "time_h": number(changes.time_h),
        "mass_g": number(changes.mass_g),
        "lines_cost": money(changes.lines_cost),
        "parts": [
            {
                "name": one.name,
                "was": one.was,
                "kind": one.kind,
                "differs": list(one.differs),
                "time_h": number(one.time_h),
                "mass_g": number(one.mass_g),
                "cost": money(one.cost),
            }
            for one in changes.parts
        ],
        "lines": [
            {"item": one.item, "kind": one.kind, "packs": one.packs, "cost": money(one.cost)}
            for one in changes.lines
        ],
        "checks": [
            {"name": one.name, "before": one.before, "after": one.after} for one in changes.checks
        ],
    }
