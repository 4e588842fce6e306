"""A study of many combinations as plain objects."""

from collections.abc import Sequence
from typing import Any

from buildplan.plan.study import StudyRow
from buildplan.report.as_json.values import number


def study_object(rows: Sequence[StudyRow], currency: str) -> dict[str, Any]:
    """Every combination; numbers are null where one cannot be computed."""
    return {
        "currency": currency,
        "rows": [
            {
                "part": row.part,
                "way": row.way,
                "matrix": [number(x, 9) for x in row.matrix],
                "recipe": row.recipe,
                "feedstock": row.feedstock,
                "printer": row.printer,
                "fits": row.fits,
                "how": row.how,
                "time_h": None if row.refused else number(row.time_h),
                "mass_g": None if row.refused else number(row.mass_g),
                "support_g": None if row.refused else number(row.support_g),
                "cost": None if row.refused else number(row.cost),
                "refused": row.refused,
            }
            for row in rows
        ],
    }
