"""Calendar and readiness as plain objects."""

from typing import Any

from buildplan.decide.card import BadDayCard, HomeWay
from buildplan.plan.model import CalendarPlan, ReadyPrint
from buildplan.report.as_json.choice import sent_object
from buildplan.report.as_json.values import finding_object, number


def calendar_object(calendar: CalendarPlan) -> dict[str, Any]:
    """Days with their chances, what sets the date, bars in hours from the first day, orders."""
    finish = calendar.finish
    return {
        "first_day": calendar.windows.first_day.isoformat(),
        "refused": calendar.refused or None,
        "p50_day": finish.p50_day.isoformat() if finish else None,
        "p90_day": finish.p90_day.isoformat() if finish else None,
        "waiting_h": number(finish.waiting_h) if finish else None,
        "unattended_h": number(finish.unattended_h) if finish else None,
        "by_day": [
            {"day": row.day.isoformat(), "chance_frac": number(row.chance_frac)}
            for row in (finish.by_day if finish else ())
        ],
        "items": [
            {"name": item.name, "critical_frac": number(item.critical_frac)}
            for item in (finish.items if finish else ())
        ],
        "sets_the_date": [
            {
                "kind": hold.kind,
                "name": hold.name,
                "lead": hold.lead,
                "sooner_h": number(hold.sooner_p50_h),
                "without_day": hold.without_day.isoformat(),
                "chain_frac": number(hold.chain_frac),
            }
            for hold in calendar.holds
        ],
        "bars": [
            {
                "lane": bar.lane,
                "task": bar.task,
                "kind": bar.kind,
                "start_h": number(bar.start_h),
                "end_h": number(bar.end_h),
            }
            for bar in calendar.bars
        ],
        "orders": [{"what": line.name, "by": line.by.isoformat()} for line in calendar.orders],
        "findings": [finding_object(finding) for finding in calendar.findings],
    }


def way_object(way: HomeWay) -> dict[str, Any]:
    """One way of printing a part at home."""
    return {
        "label": way.label,
        "pieces": way.pieces,
        "possible": not way.reason,
        "reason": way.reason,
        "usual_h": number(way.usual_h),
        "high_h": number(way.high_h),
        "mean_h": number(way.mean_h),
        "any_failure_frac": number(way.any_failure_frac),
        "usual_cost": number(way.usual_cost),
        "lost_cost": number(way.lost_cost),
        "own_h": number(way.own_h),
        "exact": way.exact,
    }


def card_object(whole: BadDayCard) -> dict[str, Any]:
    """Hours on good and bad days by every way, what is at stake, when to look."""
    card = whole.day
    return {
        "ways": [way_object(way) for way in whole.home],
        "sent": [sent_object(row) for row in whole.sent],
        "tries_reason": whole.tries_reason,
        "mean_words": whole.mean_words,
        "usual_h": number(card.usual_h),
        "median_h": number(card.median_h),
        "high_h": number(card.high_h),
        "mean_h": number(card.mean_h),
        "mean_exists": card.mean_exists,
        "any_failure_frac": number(card.any_failure_frac),
        "gives_up_frac": number(card.gives_up_frac),
        "tries": card.tries,
        "lost_g": number(card.lost_g),
        "lost_cost": number(card.lost_cost),
        "high_lost_g": number(card.high_lost_g),
        "high_lost_cost": number(card.high_lost_cost),
        "reels": card.reels,
        "looks": [
            {
                "after_h": number(look.after_h),
                "layer": look.layer,
                "z_mm": number(look.z_mm),
                "why": look.why,
            }
            for look in card.looks
        ],
        "basis": card.basis,
    }


def ready_object(one: ReadyPrint) -> dict[str, Any]:
    """Verdict, hours at stake and every claim with its band."""
    ready = one.readiness
    return {
        "part": one.part,
        "card": card_object(one.card),
        "verdict": ready.verdict,
        "reason": ready.reason,
        "long_print_h": number(ready.long_print_h),
        "untested_h": number(ready.untested_h),
        "tested_h": number(ready.tested_h),
        "tests_h": number(ready.tests_h),
        "stops": [claim.name for claim in ready.stops],
        "claims": [
            {
                "name": line.claim.name,
                "kind": line.claim.kind,
                "evidence": line.claim.evidence,
                "wrong_frac": number(line.claim.p_wrong_frac),
                "test": line.claim.test.what,
                "band": line.band,
                "skip_h": number(line.skip_h),
            }
            for line in ready.lines
        ],
    }
