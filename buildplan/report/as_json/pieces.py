"""Parts in pieces and coupons as plain objects."""

from typing import Any

from buildplan.plan import CouponPlan, SplitAnswer
from buildplan.report.as_json.values import finding_object, number


def split_object(answer: SplitAnswer) -> dict[str, Any]:
    """A part that cannot be printed whole: its pieces, or why there are none."""
    from buildplan.report.segments_files import segments_object

    return {
        "part": answer.part,
        "refused": finding_object(answer.finding) if answer.finding is not None else None,
        "split": segments_object(answer.plan) if answer.plan is not None else None,
    }


def coupon_object(planned: CouponPlan) -> dict[str, Any]:
    """A coupon before a long print: what it proves and what it takes."""
    coupon = planned.coupon
    return {
        "part": planned.part,
        "feature": coupon.feature,
        "kind": planned.kind,
        "alike": planned.alike,
        "box_mm": [number(x, 3) for x in coupon.box_mm],
        "margin_mm": number(coupon.margin_mm),
        "has_base": coupon.has_base,
        "time_min": number(60.0 * planned.estimate.time_h),
        "mass_g": number(planned.estimate.mass_g),
        "total_cost": number(planned.estimate.total_cost),
    }
