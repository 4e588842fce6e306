"""The section "Pieces and coupons": parts cut into pieces, and what to print small first."""

from typing import Any

from buildplan.plan import CouponPlan, Plan, SplitAnswer
from buildplan.report import numbers
from buildplan.report.assembly_picture import draw_assembly
from buildplan.report.embed import data_address
from buildplan.report.gather import written
from buildplan.report.sections import capital, words
from buildplan.segments.assembly import assembly_steps, bought_for
from buildplan.segments.model import SegmentPlan, SplitRow


def pieces_section(plan: Plan) -> dict[str, Any]:
    """A table of choices, pieces and steps for each part that is cut; the coupons."""
    return {
        "heading": _heading(plan),
        "currency": plan.currency,
        "splits": [split_rows(answer) for answer in plan.splits],
        "coupons": [_coupon(coupon) for coupon in plan.coupons],
    }


def _heading(plan: Plan) -> str:
    cut = [answer for answer in plan.splits if answer.plan is not None]
    if cut:
        count = sum(len(answer.plan.pieces) for answer in cut if answer.plan is not None)
        return f"{capital(words(cut[0].part))} is printed in {numbers.count(count, 'piece')}"
    minutes = sum(60.0 * coupon.estimate.time_h for coupon in plan.coupons)
    coupons = numbers.count(len(plan.coupons), "coupon")
    return f"{coupons}, {numbers.num(minutes, 0, 'min')} in all, before the long print"


def split_rows(answer: SplitAnswer) -> dict[str, Any]:
    """The table of choices, the pieces and the steps of one part."""
    made = answer.plan
    names = [answer.part, *(p.name for p in (*made.pieces, *made.loose))] if made else [answer.part]
    if made is None:
        refused = answer.finding
        why = refused.remedy if refused is not None else ""
        return {"name": words(answer.part), "summary": written(why, names), "rows": []}
    return {
        "name": words(answer.part),
        "summary": written(made.summary, names),
        "picture": data_address(draw_assembly(made, kind="webp")) if made.joints else "",
        "rows": [_row(row, index == made.chosen, names) for index, row in enumerate(made.table)],
        "pieces": _pieces(made),
        "steps": [f"{capital(written(step.text, names))}." for step in assembly_steps(made)],
        "buy": ", ".join(f"{b.quantity:g} × {b.item}" for b in bought_for(made.joints)),
    }


def _row(row: SplitRow, is_chosen: bool, names: list[str]) -> dict[str, Any]:
    return {
        "pick": is_chosen,
        "cells": [
            str(row.pieces),
            numbers.num(row.run.expected_h, 1),
            numbers.num(row.run.high_h, 1),
            numbers.num(row.longest_h, 1),
            numbers.num(row.own_min, 0),
            numbers.num(row.mass_g, 0),
            numbers.num(row.print_cost, 2),
        ],
        "reason": written(row.reason, names),
    }


def _pieces(made: SegmentPlan) -> list[dict[str, str]]:
    return [
        {
            "name": words(piece.name),
            "hours": numbers.num(piece.estimate.time_h, 1),
            "mass": numbers.num(piece.estimate.mass_g, 0),
            "size": numbers.size(piece.part.size_mm),
            "laid": piece.laid,
        }
        for piece in (*made.pieces, *made.loose)
    ]


def _coupon(planned: CouponPlan) -> dict[str, str]:
    return {
        "part": words(planned.part),
        "proves": f"{planned.kind}: {planned.coupon.feature}",
        "alike": f"and {planned.alike} more like it" if planned.alike else "the only one",
        "minutes": numbers.num(60.0 * planned.estimate.time_h, 0),
        "mass": numbers.num(planned.estimate.mass_g, 1),
        "cost": numbers.num(planned.estimate.total_cost, 2),
    }
