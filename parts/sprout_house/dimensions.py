"""Every dimension of the sprout house that more than one shape needs.

All lengths are in mm and all areas and volumes follow from that; angles carry their unit in the
name. Device frame: x along the windowsill (left to right), y from the room to the window, z up.
The origin is the front left bottom corner of the base shell.
"""

import math

import numpy as np

# plan of the base shell, and how thick it is
LENGTH, DEPTH, CORNER = 300.0, 196.0, 16.0
WALL, FLOOR = 3.0, 2.4

# heights: greenhouse rim at the front and at the rear, ridge of the electronics bay
FRONT_RIM, REAR_RIM, RIDGE = 86.0, 118.0, 124.0

# electronics bay: left face of the partition, right end of the flat ridge, foot of the 45 deg roof
PARTITION, CAP_END, EAVE = 212.0, 238.0, 62.0
BAY_SIDE = PARTITION + WALL

# soil dam: the linkage runs dry on its right; four beads thick
SOIL, DAM, DAM_WALL = 46.0, 190.0, 1.8

# fits: radial play of hinge and linkage bores; gap between rim and shut roof (foam strip)
PLAY, SEAL = 0.25, 0.4

# M3 hardware: bore and depth for a heat-set insert, clearance hole
# (depth, and the boss below, are revision A: known to be too small, see build.toml [device])
INSERT_BORE, INSERT_DEPTH, SCREW_HOLE = 4.0, 6.0, 3.4
BOSS_RADIUS, BOSS_REACH = 4.2, 8.0
PLATE_BOSS_RADIUS, PLATE_BOSS_HEIGHT = 5.5, 11.0

# hinge: pin, knuckles, the two stations along x, lengths of middle and outer knuckles, axial play
PIN, KNUCKLE_RADIUS = 4.0, 5.5
STATIONS, MIDDLE_KNUCKLE, OUTER_KNUCKLE, KNUCKLE_GAP = (40.0, 168.0), 14.0, 12.0, 0.3
AXIS_BACK, AXIS_UP = 6.5, 0.9  # hinge axis behind the rear wall, above the plane of the rim

# the hinge frame, in (y, z): up along the rim, away from the rim, and the axis itself
SLOPE_RAD = math.atan2(REAR_RIM - FRONT_RIM, DEPTH)
BACKWARD = np.array([math.cos(SLOPE_RAD), math.sin(SLOPE_RAD)])
UPWARD = np.array([-math.sin(SLOPE_RAD), math.cos(SLOPE_RAD)])
AXIS = np.array([DEPTH, REAR_RIM]) + AXIS_BACK * BACKWARD + AXIS_UP * UPWARD

# roof vent: thickness, range along x, range in front of the hinge axis, frame, rebate for the sheet
ROOF_THICK, ROOF_X, ROOF_FORWARD = 6.0, (-3.0, 210.5), (6.5, 211.0)
FRAME_WIDTH, REBATE_DEPTH, REBATE_WIDTH = 14.0, 3.2, 5.0

# linkage: servo pivot in (y, z); crank length and its angle with the roof shut; pin on the roof,
# both in the hinge frame (forward of the axis, above it); where crank, rod and lug lie along x
SERVO = np.array([121.0, 53.0])
CRANK, CRANK_SHUT_DEG = 42.0, -127.0
ROOF_PIN = np.array([56.5, -11.2])
CRANK_X, ROD_X, LUG_X = (203.0, 207.8), (196.7, 202.7), (203.0, 208.0)
TRAVEL_DEG = 60.0

# boards on the walls of the bay: centre in (y, z), hole pattern
COMPUTER_AT, COMPUTER_HOLES = (56.0, 58.0), (80.0, 50.0)
BOARDS_AT = ((40.0, 39.0), (98.0, 39.0), (156.0, 39.0))
BOARDS_HOLES = ((46.0, 18.0), (38.0, 16.0), (34.0, 14.0))
SERVO_TABS_Y, SERVO_TAB_REACH = (SERVO[0] - 15.0, SERVO[0] + 35.5), 10.0

# screws that hold the bottom plate, in (x, y)
PLATE_SCREWS = (
    (11.5, 11.5),
    (11.5, 184.5),
    (220.0, 8.0),
    (220.0, 188.0),
    (289.7, 10.3),
    (289.7, 185.7),
)

# sensor cowl: place along y, top, distance of its middle from the partition, screws either side
COWL_Y, COWL_TOP, COWL_OUT, COWL_SCREWS = 46.0, 88.0, 42.0, (-18.0, 18.0)

# camera: where it is and where it looks
CAMERA = np.array([232.0, 98.0, 230.0])
LOOK_AT = np.array([105.0, 98.0, 45.0])
CAMERA_HOLES = (24.0, 20.0)


def rim_height(y: float) -> float:
    """Height of the greenhouse's rim at a distance from the front."""
    return FRONT_RIM + (REAR_RIM - FRONT_RIM) * y / DEPTH
