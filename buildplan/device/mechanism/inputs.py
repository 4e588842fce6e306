"""From the build file's `[mechanism]` tables to what the calculation takes."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.mechanism.drives import CableDrive, DirectDrive, Linkage
from buildplan.device.mechanism.lid import (
    HingeFrame,
    Lid,
    hinge_frame,
    lid_from_mesh,
    lid_from_ruler,
    with_sheet,
)
from buildplan.device.mechanism.load import Hinge, down_in_frame
from buildplan.device.mechanism.rod import rod_linkage
from buildplan.device.mechanism.servo import Servo
from buildplan.device.mechanism.shape import (
    CableTable,
    DirectTable,
    LinkageTable,
    MechanismTables,
    RodTable,
    ServoTable,
)
from buildplan.device.mechanism.study import MechanismStudy, Needs, study_mechanism
from buildplan.device.spring import HelpSpring
from buildplan.errors import InputError

Mesh = tuple[NDArray[np.float64], NDArray[np.int64]]
"""Vertices (n, 3) in the device with the lid shut, facets (m, 3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One drive of a build file, ready to be computed."""

    linkage: Linkage
    servo: Servo
    needs: Needs


@dataclass(frozen=True, slots=True, kw_only=True)
class Mechanism:
    """A lid, its hinge and every drive that a build file proposes, by name."""

    frame: HingeFrame
    lid: Lid
    hinge: Hinge
    spring: HelpSpring | None
    variants: Mapping[str, Variant]


def mechanism_of(tables: MechanismTables, meshes: Mapping[str, Mesh]) -> Mechanism:
    """What the calculation takes, from the tables of a build file.

    Args:
        tables: As read_mechanism gives them.
        meshes: By part name, where they sit in the shut device.

    Raises:
        InputError: A part without mesh, directions that are not square, a linkage that cannot be
            put together.
    """
    hinge = tables.hinge
    frame = hinge_frame(
        point_mm=hinge.point_mm, axis=hinge.axis, forward=hinge.forward, up=hinge.up
    )
    spring = tables.spring
    return Mechanism(
        frame=frame,
        lid=_lid(tables, frame, meshes),
        hinge=Hinge(
            from_deg=hinge.from_deg,
            to_deg=hinge.to_deg,
            friction_n_mm=hinge.friction_n_mm,
            down=down_in_frame(frame, hinge.down),
            gust_m_s=hinge.gust_m_s,
            extra_g=hinge.extra_g,
            extra_forward_mm=hinge.extra_forward_mm,
        ),
        spring=HelpSpring(shut_n_mm=spring.shut_n_mm, rate_n_mm_deg=spring.rate_n_mm_deg)
        if spring
        else None,
        variants={
            name: Variant(
                linkage=linkage_of(name, table),
                servo=_servo(table.servo, tables.servo[table.servo]),
                needs=Needs(
                    least_transmission_deg=0.0
                    if isinstance(table, DirectTable)
                    else table.least_transmission_deg,
                    safety_factor=table.safety_factor,
                    move_s=hinge.move_s,
                ),
            )
            for name, table in tables.linkage.items()
        },
    )


def study_variant(mechanism: Mechanism, name: str) -> MechanismStudy:
    """Everything about one of the drives that a build file proposes.

    Raises:
        InputError: There is no such drive, or as study_mechanism.
    """
    if name not in mechanism.variants:
        raise InputError(f"linkage {name!r} is not known; allowed: {', '.join(mechanism.variants)}")
    variant = mechanism.variants[name]
    return study_mechanism(
        mechanism.lid,
        mechanism.hinge,
        variant.linkage,
        variant.servo,
        name=name,
        needs=variant.needs,
        spring=mechanism.spring,
    )


def _lid(tables: MechanismTables, frame: HingeFrame, meshes: Mapping[str, Mesh]) -> Lid:
    load = tables.roof_load
    if not load.part:
        lid = lid_from_ruler(
            mass_g=load.mass_g,
            balance_mm=load.balance_mm,
            length_mm=load.length_mm,
            width_mm=load.width_mm,
        )
    elif load.part in meshes:
        vertices, facets = meshes[load.part]
        lid = lid_from_mesh(
            vertices,
            facets,
            frame,
            density_g_cm3=load.density_g_cm3,
            solid_frac=load.solid_frac,
            mass_g=load.mass_g,
        )
    else:
        raise InputError(
            f"mechanism: part {load.part!r} has no mesh here; allowed: "
            f"{', '.join(meshes) or 'none'}"
        )
    if not load.sheet_mass_g > 0.0:
        return lid
    return with_sheet(
        lid,
        mass_g=load.sheet_mass_g,
        forward_mm=load.sheet_forward_mm,
        up_mm=load.sheet_up_mm,
        length_mm=load.sheet_length_mm,
    )


def linkage_of(name: str, table: LinkageTable) -> Linkage:
    """The drive that one table of a build file describes.

    Raises:
        InputError: It cannot be put together.
    """
    if isinstance(table, DirectTable):
        return DirectDrive()
    if isinstance(table, CableTable):
        return CableDrive(
            lid_point_mm=table.roof_pin_mm,
            guide_mm=table.guide_mm,
            drum_mm=table.drum_mm,
            guide_loss_frac=table.guide_loss_frac,
        )
    return _rod(name, table)


def _rod(name: str, table: RodTable) -> Linkage:
    try:
        return rod_linkage(
            servo_mm=table.servo_at_mm,
            horn_mm=table.horn_mm,
            horn_shut_deg=table.horn_shut_deg,
            lid_pin_mm=table.roof_pin_mm,
            rod_mm=table.rod_mm,
        )
    except InputError as error:
        raise InputError(f"linkage {name!r}: {error}") from None


def _servo(name: str, table: ServoTable) -> Servo:
    return Servo(
        name=table.about or name,
        supply_v=table.supply_v,
        stall_n_mm=table.stall_n_mm,
        no_load_deg_s=table.no_load_deg_s,
        stall_a=table.stall_a,
        moving_a=table.moving_a,
        hold_a=table.hold_a,
        sweep_deg=table.sweep_deg,
        hold_frac=table.hold_frac,
        play_deg=table.play_deg,
    )
