"""The chain: every answer about a device is the next one's input."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from buildplan.device.chain.agree import agreement_findings
from buildplan.device.chain.gaps import Gaps, sweep_gaps
from buildplan.device.chain.model import DeviceStudy
from buildplan.device.chain.motion import Motion, motion_of
from buildplan.device.chain.needs import list_needs
from buildplan.device.chain.placed import Placed, bodies_of, copies, meshes_of
from buildplan.device.chain.servo_volts import ServoVolts, servo_volts
from buildplan.device.chain.shape import DeviceTables, chosen_linkage
from buildplan.device.clearance import Assembly, Reached, plan_assembly, reach_plugs, reach_screws
from buildplan.device.heat.fan import travel_for
from buildplan.device.heat.inputs import heat_of
from buildplan.device.heat.model import HeatStudy
from buildplan.device.heat.study import study_heat
from buildplan.device.mechanism import (
    Mechanism,
    MechanismStudy,
    mechanism_of,
    study_mechanism,
    study_variant,
)
from buildplan.device.mechanism.cautions import cautions_for_drive
from buildplan.device.power import (
    Power,
    PowerBudget,
    Shelf,
    heat_sources_w,
    power_budget,
    with_mode_amps,
)
from buildplan.device.power.cases import amps_in_mode
from buildplan.device.view.check import ViewReport, check_views
from buildplan.findings import SEVERITIES, Finding, worst
from buildplan.tables.cautions import each_once
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.hardware import Screw


def study_device(
    tables: DeviceTables,
    placed: Sequence[Placed],
    *,
    feedstocks: Mapping[str, Feedstock] | None = None,
    materials: Sequence[Feedstock] = (),
    energy_cost_kwh: float = 0.0,
    shelf: Shelf | None = None,
    screws: Mapping[str, Screw] | None = None,
) -> DeviceStudy:
    """Travel, load, drive, volts at the servo, supply, heat, gaps and views, each from the last.

    Args:
        tables: Of the build file, or made by hand; what is missing is left out of the study.
        placed: Every copy of every printed part in the device, moving parts at rest.
        feedstocks: Of the printed parts, by part name; heat needs those of its walls.
        materials: Feedstocks to compare for warm walls and mounts.
        energy_cost_kwh: What a kilowatt-hour costs.
        shelf: Wires, fuses, capacitors and cells to choose from; the built-in ones left out.
        screws: Rows of screws by key; the built-in ones left out.

    Raises:
        InputError: As mechanism_of, study_mechanism, power_budget, study_heat, check_views and
            the clearance checks.
    """
    placed = tuple(placed)
    mechanism, drives = _drives(tables, placed)
    linkage = chosen_linkage(tables)
    built = next((study for study in drives if study.name == linkage), None)
    servo, moved = _at_its_volts(tables, mechanism, built, shelf)
    power = _with_servo_amps(tables, servo)
    budget = power_budget(power, energy_cost_kwh=energy_cost_kwh, shelf=shelf) if power else None
    heat = _heat(tables, placed, budget, feedstocks or {}, materials)
    motion = motion_of(mechanism.frame, built) if mechanism and built else None
    gaps = _gaps(tables, placed, mechanism, built)
    reached, assembly = _together(tables, placed, screws)
    views = _views(tables, placed, motion)
    agreed = agreement_findings(tables, built, servo)
    findings = _findings(moved or built, agreed, gaps, reached, assembly, budget, heat, views)
    cautions = [
        *(budget.cautions if budget else ()),
        *(cautions_for_drive(built, mechanism.spring) if mechanism and built else ()),
        *(heat.cautions if heat else ()),
    ]
    study = DeviceStudy(
        placed=placed,
        mechanism=mechanism,
        drives=drives,
        linkage=linkage,
        servo=servo,
        moved=moved,
        travel_deg=_travel_deg(tables),
        motion=motion,
        gaps=gaps,
        reached=reached,
        assembly=assembly,
        power=budget,
        heat=heat,
        views=views,
        needs=(),
        cautions=each_once(cautions),
        findings=findings,
        verdict=worst(findings),
    )
    return replace(study, needs=list_needs(study, tables))


def _drives(
    tables: DeviceTables, placed: Sequence[Placed]
) -> tuple[Mechanism | None, tuple[MechanismStudy, ...]]:
    if tables.mechanism is None:
        return None, ()
    mechanism = mechanism_of(tables.mechanism, meshes_of(placed))
    return mechanism, tuple(study_variant(mechanism, name) for name in mechanism.variants)


def _at_its_volts(
    tables: DeviceTables,
    mechanism: Mechanism | None,
    built: MechanismStudy | None,
    shelf: Shelf | None,
) -> tuple[ServoVolts | None, MechanismStudy | None]:
    """The built drive at the volts that the supply leaves its servo."""
    device, power = tables.device, tables.power
    if mechanism is None or built is None or power is None or not device.servo_load:
        return None, None
    mode = device.move_mode or _busiest(power, device.servo_load)
    found = servo_volts(
        power, device.servo_load, mode, built.drive, built.servo, built.lid, shelf=shelf
    )
    moved = study_mechanism(
        mechanism.lid,
        mechanism.hinge,
        built.linkage,
        found.servo,
        name=built.name,
        needs=built.needs,
        spring=mechanism.spring,
    )
    return found, moved


def _busiest(power: Power, load: str) -> str:
    """The mode in which a load takes most."""
    place = [one.name for one in power.load].index(load)
    return max(power.mode, key=lambda mode: float(amps_in_mode(power, mode.name)[place])).name


def _with_servo_amps(tables: DeviceTables, servo: ServoVolts | None) -> Power | None:
    """The supply with the servo's computed current in the mode in which it moves."""
    power = tables.power
    if power is None or servo is None:
        return power
    name = tables.device.servo_load
    mode = tables.device.move_mode or _busiest(power, name)
    loads = [
        with_mode_amps(load, mode, servo.amps_a) if load.name == name else load
        for load in power.load
    ]
    return replace(power, load=tuple(loads))


def _heat(
    tables: DeviceTables,
    placed: Sequence[Placed],
    budget: PowerBudget | None,
    feedstocks: Mapping[str, Feedstock],
    materials: Sequence[Feedstock],
) -> HeatStudy | None:
    """The enclosure with the watts that the supply says its parts take."""
    if tables.heat is None or tables.heat.bay is None:
        return None
    modes: list[tuple[str, float]] = []
    longest: dict[str, float] = {}
    computed: dict[str, Mapping[str, float]] = {}
    if budget is not None:
        modes = [(mode.name, mode.share_frac) for mode in budget.power.mode]
        longest = {mode.name: mode.longest_min for mode in budget.power.mode}
        computed = {name: heat_sources_w(budget.power, name) for name, _ in modes}
    case = heat_of(
        tables.heat,
        feedstocks=feedstocks,
        meshes=meshes_of(placed),
        modes=modes,
        computed=computed,
        longest_min=longest,
    )
    return study_heat(
        case,
        ambient_c=tables.device.ambient_c,
        feedstocks=materials,
        humidity_frac=tables.heat.bay.humidity_frac,
    )


def _travel_deg(tables: DeviceTables) -> float:
    """How far the lid must open for its chamber; nan where no chamber is given."""
    if tables.heat is None or tables.heat.chamber is None:
        return math.nan
    return travel_for(tables.heat.chamber, tables.device.ambient_c)


def _gaps(
    tables: DeviceTables,
    placed: Sequence[Placed],
    mechanism: Mechanism | None,
    built: MechanismStudy | None,
) -> tuple[Gaps, ...]:
    if mechanism is None or built is None or tables.mechanism is None:
        return ()
    return sweep_gaps(placed, tables.device, tables.mechanism.hinge, mechanism.frame, built)


def _together(
    tables: DeviceTables, placed: Sequence[Placed], screws: Mapping[str, Screw] | None
) -> tuple[tuple[Reached, ...], Assembly | None]:
    """Screws, plugs and the order in which everything goes in."""
    device, parts = tables.device, [one.part for one in placed]
    screw_places = [replace(one, not_yet=copies(placed, one.not_yet)) for one in device.screw]
    plug_places = [replace(one, not_yet=copies(placed, one.not_yet)) for one in device.plug]
    reached = (
        *(reach_screws(screw_places, parts, table=screws) if screw_places else ()),
        *(reach_plugs(plug_places, parts) if plug_places else ()),
    )
    if not device.component and not device.put_on:
        return reached, None
    ways = {put_on.part: put_on.ways_in for put_on in device.put_on}
    goes_on = {one.name: ways[one.part_name] for one in placed if one.part_name in ways}
    return reached, plan_assembly(parts, device.component, goes_on=goes_on)


def _views(
    tables: DeviceTables, placed: Sequence[Placed], motion: Motion | None
) -> ViewReport | None:
    if tables.views is None:
        return None
    bodies = bodies_of(placed)
    if motion is None:
        return check_views(tables.views, bodies)
    groups = {one.group for one in placed}
    poses = {group: stack for group, stack in motion.poses.items() if group in groups}
    return check_views(tables.views, bodies, angles_deg=motion.angle_deg, poses=poses)


def _findings(  # noqa: PLR0913 - one argument a room
    drive: MechanismStudy | None,
    agreed: Sequence[Finding],
    gaps: Sequence[Gaps],
    reached: Sequence[Reached],
    assembly: Assembly | None,
    budget: PowerBudget | None,
    heat: HeatStudy | None,
    views: ViewReport | None,
) -> tuple[Finding, ...]:
    """Of everything that is built, gravest first; of gaps that are kept only the tightest."""
    kept = [(one, f) for one in gaps for f in one.clearance.findings]
    passing = [
        (min(pair.least_mm for pair in one.clearance.pairs), finding)
        for one, finding in kept
        if finding.severity == "note"
    ]
    found = [
        *(drive.findings if drive else ()),
        *agreed,
        *(finding for _, finding in kept if finding.severity != "note"),
        *([min(passing, key=lambda row: row[0])[1]] if passing else []),
        *(finding for one in reached for finding in one.findings),
        *(assembly.findings if assembly else ()),
        *(budget.findings if budget else ()),
        *(heat.findings if heat else ()),
        *(views.findings if views else ()),
    ]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
