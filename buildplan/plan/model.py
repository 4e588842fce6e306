"""What a plan is: every part on its printers, and the whole build."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from buildplan.bill import BillLine, Budget, RollUp
from buildplan.bill.derived import Need
from buildplan.checks.fit import Fit
from buildplan.checks.marks import Mark
from buildplan.checks.orientation import OrientationCheck
from buildplan.checks.packing import CyclePlan
from buildplan.checks.run import PartChecks
from buildplan.decide.calendar import Attendance, Bar, Finish, Hold, OrderLine, Windows
from buildplan.decide.card import BadDayCard, Run
from buildplan.decide.choice import Case, Chosen, QuoteChange, Reason, Supervision, Totals
from buildplan.decide.readiness import Readiness
from buildplan.decide.sending import SendRow
from buildplan.device.chain.model import DeviceStudy
from buildplan.findings import Finding, Severity, Spread
from buildplan.part import Part
from buildplan.process.compare import FeedstockComparison
from buildplan.process.estimate import PrintEstimate
from buildplan.segments.coupon import Coupon
from buildplan.segments.model import SegmentPlan
from buildplan.tables.cautions import Caution
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.recipe import Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterOption:
    """One part on one printer.

    Attributes:
        estimate: With what the print log taught, where there is one.
        raw: The estimator's own, which the log compares with what happens.
        basis: Whose prints the hours rest on, in words.
    """

    printer: str
    fit: Fit
    estimate: PrintEstimate
    raw: PrintEstimate
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPlan:
    """One part on every printer that may print it, and the one chosen.

    Attributes:
        options: One for each printer asked, in the order asked.
        chosen: Index of the chosen option: the cheapest that fits, or the one that lacks least.
        reason: Why, in words.
        comparison: Every feedstock on the chosen printer; empty where it was not asked for.
        checks: Whether it will print on the chosen printer, with the numbers behind it.
        orientations: The best ways up on the chosen printer, against the part as placed.
        marks: Findings of its fit, its estimate, the checks and the ways up on the chosen printer,
            with the facets they are about, the gravest first.
        findings: The findings of the marks.
        sent: The service that makes it, as the build file says; None at home. What stands above is
            then what it would take at home, and the findings are those of the service's limits.
    """

    name: str
    quantity: int
    part: Part
    feedstock: Feedstock
    recipe: Recipe
    options: tuple[PrinterOption, ...]
    chosen: int
    reason: str
    comparison: tuple[FeedstockComparison, ...]
    checks: PartChecks
    orientations: OrientationCheck
    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...]
    sent: SendRow | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SplitAnswer:
    """A part that cannot be printed whole: its pieces, or why there are none.

    Attributes:
        plan: The pieces, or None.
        finding: Why not, or None.
    """

    part: str
    plan: SegmentPlan | None
    finding: Finding | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CouponPlan:
    """A coupon that proves a feature before a long print.

    Attributes:
        part: The part it is cut from.
        kind: Kind of the feature.
        alike: How many more features of the kind the part has.
    """

    part: str
    kind: str
    alike: int
    coupon: Coupon
    estimate: PrintEstimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyPrint:
    """What must be true before one long print, and what it takes on a bad day."""

    part: str
    card: BadDayCard
    readiness: Readiness


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CalendarPlan:
    """When all is finished.

    Attributes:
        windows: When somebody is there.
        finish: Over many outcomes; None where it is refused.
        bars: The usual outcome, with one person for everything.
        holds: What holds the finish up, the most hours first.
        orders: Last day to order from every supplier, the most pressing first.
        attendance: What printing alone is worth; None where no printer may.
        refused: Why there is no calendar, or empty.
        findings, cautions: On printers that may or may not run alone.
    """

    windows: Windows
    finish: Finish | None
    bars: tuple[Bar, ...]
    holds: tuple[Hold, ...]
    orders: tuple[OrderLine, ...]
    attendance: Attendance | None
    refused: str
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoicePlan:
    """Every part at home, in pieces or sent out, decided together.

    Attributes:
        case: All options.
        prints: By part: the prints of each of its options at home, which come first in the case.
        chosen: The best choice, or None where nothing keeps what is asked.
        as_planned: What the rest of the plan counts: each part the way the build file says, else at
            home on its own cheapest printer.
        reasons: Why each part is got the way it is.
        front: Choices that nothing beats in cost, day and chance of losing a long print at once.
        quotes: What a service would have to ask for a part that is made at home.
        supervision: What printing only while somebody is there costs; None where it is so anyway.
        rows: Every part at every service.
        refused: Why there is no choice, or empty.
        findings: On quotes.
    """

    case: Case
    prints: Mapping[str, tuple[Run, ...]]
    chosen: Chosen | None
    as_planned: Totals
    reasons: tuple[Reason, ...]
    front: tuple[Chosen, ...]
    quotes: tuple[QuoteChange, ...]
    supervision: Supervision | None
    rows: tuple[SendRow, ...]
    refused: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedBill:
    """What the build asks for besides its own list.

    Attributes:
        needs: All of them, covered or not, with their reasons.
        lines: Of what nothing covers, of spares that pay and of tools that are missing: orders.
        shares: Machine and energy by part: no orders, ``pack_cost`` says what they come to.
        findings: Gravest first.
    """

    needs: tuple[Need, ...]
    lines: tuple[BillLine, ...]
    shares: tuple[BillLine, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the whole build takes.

    Attributes:
        logged: Prints in the log that the numbers rest on; 0 without one.
        time_h: Machine hours of all copies; the hours of all parts are taken to be off together,
            since one uncalibrated printer errs the same way on each.
        own_time_h: Own time to set up, clear, wash and cure.
        print_cost: Feedstock used, energy, machine and own time of all copies.
        cycles: For each printer that a part was given to, what shares a build cycle.
        splits: Parts that fit no printer or take longer than allowed, in pieces.
        coupons: Small prints that prove a feature before a long one.
        derived: What asks for itself: screws in holes, wires, consumables, spares, tools.
        bill: Feedstock by whole packs, coupons in it, joints' goods, what services make, bought
            items, and of ``derived`` what the shopping list does not cover.
        bill_cost: All orders with their shipping.
        orders: The bill by supplier, exact to the cent.
        budget: The bill with its spread, and what moves it.
        device: Will it move, be fed, stay cool and see; None where the build file does not say.
        ready: What must be true before each long print, the longest first.
        calendar: When all is finished; None where the build file does not say when you are there.
        choice: At home, in pieces or sent out; None where no part has two ways.
        verdict: The gravest severity of any finding, or None.
        first: What to do first, the gravest first, each in one sentence.
    """

    name: str
    file: str
    sha256: str
    revision: str
    currency: str
    invented: bool
    parts: tuple[PartPlan, ...]
    logged: int
    time_h: Spread
    mass_g: Spread
    own_time_h: float
    print_cost: Decimal
    cycles: tuple[CyclePlan, ...]
    splits: tuple[SplitAnswer, ...]
    coupons: tuple[CouponPlan, ...]
    derived: DerivedBill
    bill: tuple[BillLine, ...]
    bill_cost: Decimal
    orders: RollUp
    budget: Budget
    device: DeviceStudy | None
    ready: tuple[ReadyPrint, ...]
    calendar: CalendarPlan | None
    choice: ChoicePlan | None
    verdict: Severity | None
    first: tuple[str, ...]


def chosen_option(planned: PartPlan) -> PrinterOption:
    """The printer option that the plan counts."""
    return planned.options[planned.chosen]
