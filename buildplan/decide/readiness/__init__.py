"""Readiness: what must be true before the long print, and which tests are worth their hours."""

from buildplan.decide.readiness.claims import CouponOffer, PartFacts, claims_for
from buildplan.decide.readiness.judge import judge_readiness
from buildplan.decide.readiness.model import Claim, ClaimTest, Readiness, ReadinessLine
from buildplan.decide.readiness.shape import OwnClaim, read_own_claims
from buildplan.decide.readiness.stake import best_tests, fail_fast, hours_at_stake

__all__ = [
    "Claim",
    "ClaimTest",
    "CouponOffer",
    "OwnClaim",
    "PartFacts",
    "Readiness",
    "ReadinessLine",
    "best_tests",
    "claims_for",
    "fail_fast",
    "hours_at_stake",
    "judge_readiness",
    "read_own_claims",
]
