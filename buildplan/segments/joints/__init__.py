"""Joints: pins, splines, tongues, lips, bolted tabs and glued faces, each with its proof."""

from buildplan.segments.joints.make import choose_joint, joinable_frac, make_joint
from buildplan.segments.joints.model import (
    BoughtPiece,
    Joint,
    JointKind,
    JointProof,
    JointSpec,
)

__all__ = [
    "BoughtPiece",
    "Joint",
    "JointKind",
    "JointProof",
    "JointSpec",
    "choose_joint",
    "joinable_frac",
    "make_joint",
]
