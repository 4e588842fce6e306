"""Lids and linkages for tests."""

import math

import numpy as np

from buildplan.device.mechanism import (
    Hinge,
    Lid,
    RodLimits,
    Servo,
    hinge_load,
    rod_linkage,
)

KG_CM = 98.0665


def plain_lid(mass_g=200.0, forward_mm=90.0, up_mm=3.0, edge_mm=200.0):
    return Lid(
        mass_g=mass_g,
        centre_forward_mm=forward_mm,
        centre_up_mm=up_mm,
        edge_mm=edge_mm,
        inertia_g_mm2=mass_g * edge_mm**2 / 3.0,
        face_mm2=150.0 * edge_mm,
        face_forward_mm=edge_mm / 2.0,
    )


def pane_lid():
    """A glazed roof vent of 350 g on a roof that slopes by 15 degrees, in a light wind."""
    lid = Lid(
        mass_g=350.0,
        centre_forward_mm=112.0,
        centre_up_mm=2.0,
        edge_mm=225.0,
        inertia_g_mm2=350.0 * 225.0**2 / 3.0,
        face_mm2=280.0 * 220.0,
        face_forward_mm=112.0,
    )
    slope = math.radians(15.0)
    hinge = Hinge(
        to_deg=65.0,
        friction_n_mm=25.0,
        down=(-math.sin(slope), -math.cos(slope)),
        gust_m_s=3.0,
        extra_g=40.0,
        extra_forward_mm=112.0,
    )
    return lid, hinge


def pane_limits(**changes):
    ranges = {
        "servo_forward_mm": (10.0, 120.0),
        "servo_up_mm": (-90.0, -35.0),
        "horn_mm": (12.0, 30.0),
        "lid_forward_mm": (25.0, 140.0),
        "lid_up_mm": (-15.0, 0.0),
    }
    return RodLimits(**(ranges | changes))


def strong_servo(**changes):
    numbers = {
        "name": "strong",
        "supply_v": 5.0,
        "stall_n_mm": 9.8 * KG_CM,
        "no_load_deg_s": 312.5,
        "stall_a": 2.1,
        "moving_a": 0.25,
    }
    return Servo(**(numbers | changes))


def load_of(lid, to_deg=60.0, poses=61, **hinge):
    angles = np.linspace(0.0, to_deg, poses)
    return hinge_load(lid, Hinge(to_deg=to_deg, **hinge), angle_deg=angles)


def rod(sx=20.0, sy=-60.0, horn=20.0, shut=0.0, bx=45.0, by=-6.0):
    return rod_linkage(servo_mm=(sx, sy), horn_mm=horn, horn_shut_deg=shut, lid_pin_mm=(bx, by))


def random_rod(rng):
    return rod(
        rng.uniform(-60, 120),
        rng.uniform(-90, -20),
        rng.uniform(8, 40),
        rng.uniform(-180, 180),
        rng.uniform(20, 150),
        rng.uniform(-30, 10),
    )
