"""What a device's study holds: every answer, and the one table of what the device needs."""

from dataclasses import dataclass
from typing import Literal

from buildplan.device.chain.gaps import Gaps
from buildplan.device.chain.motion import Motion
from buildplan.device.chain.placed import Placed
from buildplan.device.chain.servo_volts import ServoVolts
from buildplan.device.clearance import Assembly, Reached
from buildplan.device.heat.model import HeatStudy
from buildplan.device.mechanism import Mechanism, MechanismStudy
from buildplan.device.power import PowerBudget
from buildplan.device.view.check import ViewReport
from buildplan.findings import Finding, Severity
from buildplan.tables.cautions import Caution

Verdict = Literal["within", "note", "caution", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One line of what a device needs.

    Attributes:
        step: "travel", "load", "drive", "volts", "supply", "heat", "feedstock", "gaps", "views".
        question: What is asked, as the maker would.
        needs: What it takes, with unit.
        has: What there is, with unit.
        verdict: "within" the limit, or the gravest finding of this step.
        takes: Which earlier answer this line was computed from; empty for the first.
    """

    step: str
    question: str
    needs: str
    has: str
    verdict: Verdict
    takes: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeviceStudy:
    """Will it move, will the supply carry it, will the heat get out, will the sensors see.

    Attributes:
        placed: Every copy of every printed part where it stands, moving parts at rest.
        mechanism: The lid with its hinge and all drives; None without a `[mechanism]`.
        drives: Every drive of the build file at its label's volts, in its order.
        linkage: Name of the one that is built.
        servo: The volts that its servo gets; None where the supply does not say.
        moved: The built drive at those volts; None without a drive.
        travel_deg: How far the lid must open for its chamber; nan where no chamber is given.
        motion: Poses of the moving groups; None without a drive.
        gaps, reached, assembly: Will it go together and move freely; empty where not asked.
        power, heat, views: Each None where the build file has no such table.
        needs: One table, each line from the answers before it.
        cautions: Texts that hold for this device, each once.
        findings: Of everything that is built, gravest first; drives that are only compared keep
            their own.
        verdict: The gravest of them.
    """

    placed: tuple[Placed, ...]
    mechanism: Mechanism | None
    drives: tuple[MechanismStudy, ...]
    linkage: str
    servo: ServoVolts | None
    moved: MechanismStudy | None
    travel_deg: float
    motion: Motion | None
    gaps: tuple[Gaps, ...]
    reached: tuple[Reached, ...]
    assembly: Assembly | None
    power: PowerBudget | None
    heat: HeatStudy | None

    views: ViewReport | None
    needs: tuple[Need, ...]
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]
    verdict: Severity | None
