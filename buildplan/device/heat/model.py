"""What a study of the heat holds."""

from dataclasses import dataclass
from typing import Literal

from buildplan.device.heat.inputs import HeatCase
from buildplan.findings import Finding
from buildplan.tables.cautions import Caution

NodeKind = Literal["air", "wall", "outside", "part", "mount"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeHeat:
    """One place in its warmest mode, against what it stands.

    Attributes:
        name: "air", "up inside", "single-board computer", "mounts of converters".
        mode: In which it is warmest, held for its longest stretch, or for hours.
        longest_min: That stretch; 0 for hours.
        temp_c: There; print it with ``doubt_k``.
        doubt_k: A quarter of its rise over the room: films are known no better (findings of
            handbooks lie 20 to 30 % apart).
        low_c, high_c: 5 and 95 of 100 draws over films, walls and watts.
        limit_c: What it stands; nan for the air.
        mean_c: At the day's mean power.
    """

    name: str
    kind: NodeKind
    mode: str
    longest_min: float
    temp_c: float
    doubt_k: float
    low_c: float
    high_c: float
    limit_c: float
    mean_c: float

    @property
    def margin_c(self) -> float:
        """What is left to the limit; nan without one."""
        return self.limit_c - self.temp_c


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedstockHeat:
    """Walls and mounts of one feedstock.

    Attributes:
        wall_c, mount_c: Warmest wall and printed mount of it; nan without printed mounts.
        limit_c: What it stands for long.
        passes: Whether both stay below with their doubt.
    """

    key: str
    name: str
    wall_c: float
    mount_c: float
    limit_c: float
    passes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatAnswers:
    """What would bring the place that lacks most to its limit with its doubt, each alone.

    Attributes:
        node: That place.
        target_c: What it is to stay below.
        vent_mm2: Each of two equal openings; inf where no vent does; nan where the rise between
            low and high vents is not known.
        fan_l_s: Flow through the box; inf where no usual fan does.
        sink_k_w: Weakest heat sink; 0 where none does, nan for a place that takes no sink.
        hottest_c: Warmest room in which it passes as it is.
        held_min: How long its warmest mode may last, from the day's mean; inf for ever.
        line: The same in one line.
    """

    node: str
    target_c: float
    vent_mm2: float
    fan_l_s: float
    sink_k_w: float
    hottest_c: float
    held_min: float
    line: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStudy:
    """Will the heat get out?

    Attributes:
        ambient_c: Of the room.
        nodes: The air, walls, outsides, parts and printed mounts.
        minutes_to_90: Until the part that lacks most has nine tenths of its rise, from cold.
        feedstocks: What the walls could be made of, the softest first.
        answers: For the place that lacks most; None where no part has a limit.
        dew_point_c: Of the room's air; nan where its humidity is not given.
        findings: Gravest first.
    """

    case: HeatCase
    ambient_c: float
    nodes: tuple[NodeHeat, ...]
    minutes_to_90: float
    feedstocks: tuple[FeedstockHeat, ...]
    answers: HeatAnswers | None
    dew_point_c: float
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]
