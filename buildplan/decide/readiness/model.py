"""What a claim, its test, a line of the list and the answer are."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "size", "mesh", "walls", "holes", "fits", "overhangs", "first layer", "feedstock",
    "mechanism", "clearance", "volts", "heat", "view", "other",
]  # fmt: skip
Evidence = Literal["computed", "coupon", "assumed"]
Band = Literal["now", "before printing", "skip"]
Verdict = Literal["go", "go with these open", "no-go"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimTest:
    """How a claim can be tried before the long print.

    Attributes:
        what: What to do, in words.
        own_h, machine_h: Hours that it takes; both count alike.
        mass_g: Feedstock that it takes; shown, not counted in hours.
        wait_d: Days that it takes by itself; they cost no hours, but it must be started first.
        sensitivity_frac: Chance that it shows a wrong claim.
        false_alarm_frac: Chance that it calls a right claim wrong.
    """

    what: str
    own_h: float
    machine_h: float = 0.0
    mass_g: float = 0.0
    wait_d: float = 0.0
    sensitivity_frac: float = 0.9
    false_alarm_frac: float = 0.03

    @property
    def hours(self) -> float:
        """Own hours and machine hours together."""
        return self.own_h + self.machine_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """Something that must be true, or the long print is lost.

    Attributes:
        about: Part or device that it is about.
        evidence: What it rests on.
        p_wrong_frac: Chance that it is wrong; 1 where a check says stop.
        seen_at_frac: Share of the print that is gone when it shows; 1 where it shows only in use.
        because: Why the chance is what it is, in words.
        remedy: What to do where a check says stop, or empty.
    """

    name: str
    about: str
    kind: Kind
    evidence: Evidence
    p_wrong_frac: float
    test: ClaimTest
    seen_at_frac: float = 1.0
    because: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessLine:
    """A claim in its band.

    Attributes:
        skip_h: Expected hours more when this test alone is left out of the list (in "skip": below
            0, what the test would cost more than it saves).
        listed_frac: Share of the draws, each chance off by up to 2x, that list its test.
        text: "skip it: +1.8 h, costs 0.2 h".
    """

    claim: Claim
    band: Band
    skip_h: float
    listed_frac: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """Whether to start a long print, and what to try before.

    Attributes:
        long_print_h: Hours of the print; ``redo_h`` own hours to change a drawing.
        untested_h: Expected hours lost when nothing is tried; ``tested_h`` with the list, its
            tests included. Claims that are wrong for sure are taken as mended.
        tests_h: Hours of the tests of the list.
        lines: "now", "before printing", "skip"; inside a band in the order to do them.
        stops: Claims that are wrong for sure.
        reason: Of the verdict, in words.
    """

    verdict: Verdict
    reason: str
    long_print_h: float
    redo_h: float
    untested_h: float
    tested_h: float
    tests_h: float
    lines: tuple[ReadinessLine, ...]
    stops: tuple[Claim, ...]
