"""A hinged lid and its drive: torque, force, locks, time, pinch, the best push rod."""

from buildplan.device.mechanism.bound import (
    TorqueBound,
    certificate,
    torque_bound,
)
from buildplan.device.mechanism.drives import (
    CableDrive,
    DirectDrive,
    Drive,
    Linkage,
    cable_drive,
    direct_drive,
    drive_lid,
    rod_drive,
)
from buildplan.device.mechanism.inputs import (
    Mechanism,
    Variant,
    mechanism_of,
    study_variant,
)
from buildplan.device.mechanism.judge import (
    RodLimits,
)
from buildplan.device.mechanism.lid import (
    HingeFrame,
    Lid,
    hinge_frame,
    lid_from_mesh,
    lid_from_ruler,
    with_sheet,
)
from buildplan.device.mechanism.load import (
    N_MM_OF_KG_CM,
    Hinge,
    HingeLoad,
    down_in_frame,
    hinge_load,
)
from buildplan.device.mechanism.locks import (
    Lock,
    cable_locks,
    rod_locks,
)
from buildplan.device.mechanism.optimise import (
    BestRod,
    best_rod,
)
from buildplan.device.mechanism.pinch import (
    Pinch,
    edge_pinch,
)
from buildplan.device.mechanism.rod import (
    RodLinkage,
    rod_linkage,
)
from buildplan.device.mechanism.servo import (
    Opening,
    PowerUpJump,
    ProgrammedMove,
    Servo,
    at_voltage,
    inertia_n_mm,
    open_lid,
    power_up_jump,
    programmed_move,
    servo_of,
)
from buildplan.device.mechanism.shape import (
    MechanismTables,
    read_mechanism,
)
from buildplan.device.mechanism.strength import (
    rod_buckling_n,
)
from buildplan.device.mechanism.study import (
    MechanismStudy,
    Needs,
    study_mechanism,
)
from buildplan.device.mechanism.tolerance import (
    RodTolerance,
    rod_tolerance,
)

__all__ = [
    "BestRod",
    "CableDrive",
    "DirectDrive",
    "Drive",
    "Hinge",
    "HingeFrame",
    "HingeLoad",
    "Lid",
    "Linkage",
    "Lock",
    "Mechanism",
    "MechanismStudy",
    "MechanismTables",
    "N_MM_OF_KG_CM",
    "Needs",
    "Opening",
    "Pinch",
    "PowerUpJump",
    "ProgrammedMove",
    "RodLimits",
    "RodLinkage",
    "RodTolerance",
    "Servo",
    "TorqueBound",
    "Variant",
    "at_voltage",
    "best_rod",
    "cable_drive",
    "cable_locks",
    "certificate",
    "direct_drive",
    "down_in_frame",
    "drive_lid",
    "edge_pinch",
    "hinge_frame",
    "hinge_load",
    "inertia_n_mm",
    "lid_from_mesh",
    "lid_from_ruler",
    "mechanism_of",
    "open_lid",
    "power_up_jump",
    "programmed_move",
    "read_mechanism",
    "rod_buckling_n",
    "rod_drive",
    "rod_linkage",
    "rod_locks",
    "rod_tolerance",
    "servo_of",
    "study_mechanism",
    "study_variant",
    "torque_bound",
    "with_sheet",
]
