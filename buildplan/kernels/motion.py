"""Kernels of motion: time of every layer's moves with look-ahead over the whole layer.

Work goes through short loops over the moves of one layer, each simple enough for the compiler to
do several moves at once; a layer's moves stay in the processor's nearest memory meanwhile.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

Floats = NDArray[np.float64]

NO_LENGTH_MM = 1e-9
"""A move shorter than this is no move: its point is the point before."""

CURVE_SINE_SQUARE = 0.1225
"""Squared sine of half a turning angle (41 degrees) up to which corners may belong to a curve."""


@kernel
def take_corners(
    moves: int,
    unit_x: Floats,
    unit_y: Floats,
    length: Floats,
    speed: Floats,
    accel: Floats,
    go: Floats,
    deviation_mm: float,
    turn: Floats,
    cross: Floats,
    square: Floats,
    arc: Floats,
) -> None:
    """Largest squared speed at the start of every move, and how much of it belongs to a curve.

    A corner is taken on an arc of radius R that touches both moves, at v^2 = a R, with the lower of
    both accelerations, and no faster than either move. The arc passes the corner at the allowed
    deviation: R = deviation cos(t/2) / (1 - cos(t/2)), with turning angle t. It takes at most half
    of the shorter move: R tan(t/2) <= length / 2. On the chords of a curve the second is the
    curve's own radius, so the speed does not depend on how finely the curve is drawn. In a small
    turn the arc itself is driven at the corner's speed, so that chords are not sped through; a
    sharp corner is a point.

    With u = 1/tan(t/2) and w = 1/sin^2(t/2) the two radii are u length / 2 and
    deviation cos(t/2) (1 + cos(t/2)) w; written so, no digit is lost in turns of a millionth.

    Args:
        moves: How many of each array count.
        unit_x: (moves,) direction; likewise unit_y.
        unit_y: (moves,).
        length: (moves,) mm.
        speed: (moves,) top speed.
        accel: (moves,).
        go: (moves,) 0 where the move starts from rest, else 1.
        deviation_mm: Allowed distance between a corner and the path that is driven.
        turn: (moves,) room to work in; likewise cross.
        cross: (moves,).
        square: (moves + 1,) written: squared speeds at the starts, 0 after the last move.
        arc: (moves + 1,) written: length of the arc on each side of the start, 0 where none.

    Source: circular motion v^2 = a r; an arc within a tolerance of a corner is plane geometry
    (reference_values.toml, motion: circular_speed, corner_speed_90).
    """
    for i in range(1, moves):
        turn[i] = unit_x[i] * unit_x[i - 1] + unit_y[i] * unit_y[i - 1]
        cross[i] = abs(unit_x[i] * unit_y[i - 1] - unit_y[i] * unit_x[i - 1])
    for i in range(1, moves):
        slower = min(speed[i], speed[i - 1])
        square[i] = slower * slower
        arc[i] = min(accel[i], accel[i - 1])
    square[0] = square[moves] = 0.0
    arc[0] = arc[moves] = 0.0
    for i in range(1, moves):
        ahead = turn[i] > 0.0
        double = 1.0 + abs(turn[i])
        over_double = np.true_divide(1.0, double)
        over_sine = np.true_divide(1.0, cross[i])
        u = double * over_sine if ahead else cross[i] * over_double
        w = 2.0 * over_sine * over_sine * double if ahead else 2.0 * over_double
        cosine = math.sqrt(0.5 * (double if ahead else cross[i] * cross[i] * over_double))
        half_length = 0.5 * min(length[i], length[i - 1])
        radius = min(u * half_length, deviation_mm * cosine * (1.0 + cosine) * w)
        reach = min(half_length, deviation_mm * (1.0 + cosine) * math.sqrt(w))
        corner = arc[i] * radius
        binds = corner < square[i]
        square[i] = (corner if binds else square[i]) * go[i]
        arc[i] = reach * go[i] if binds and w * CURVE_SINE_SQUARE >= 1.0 else 0.0


@kernel
def time_moves(
    moves: int,
    length: Floats,
    speed: Floats,
    accel: Floats,
    square: Floats,
    arc: Floats,
    over_speed: Floats,
    over_accel: Floats,
    root: Floats,
    time: Floats,
) -> None:
    """Time of every move, from what its corners allow and what the moves around it can reach.

    Args:
        moves: How many of each array count.
        length: (moves,) mm.
        speed: (moves,) top speed; written: lowered where two arcs leave no room to speed up.
        accel: (moves,).
        square: (moves + 1,) squared speeds that the corners allow; written: those reached.
        arc: (moves + 1,) from take_corners.
        over_speed: (moves,) room to work in; likewise over_accel, root.
        over_accel: (moves,).
        root: (moves + 1,).
        time: (moves,) written.
    """
    for i in range(moves):
        free_mm = length[i] - arc[i] - arc[i + 1]
        peak = accel[i] * free_mm + 0.5 * (square[i] + square[i + 1])
        peak = max(peak, max(square[i], square[i + 1]))
        speed[i] = math.sqrt(min(peak, speed[i] * speed[i]))
    for i in range(moves):
        over_speed[i] = np.true_divide(1.0, speed[i])
        over_accel[i] = np.true_divide(1.0, accel[i])
    # what every move can brake from, then what every move can speed up to
    for i in range(moves - 1, -1, -1):
        reach = square[i + 1] + 2.0 * accel[i] * length[i]
        if square[i] > reach:
            square[i] = reach
    for i in range(moves):
        reach = square[i] + 2.0 * accel[i] * length[i]
        if square[i + 1] > reach:
            square[i + 1] = reach
    for i in range(moves + 1):
        root[i] = math.sqrt(square[i])
    # a trapezoid where the move is long enough to reach its speed, else a triangle
    for i in range(moves):
        mean = 0.5 * (square[i] + square[i + 1])
        flat = length[i] - (speed[i] * speed[i] - mean) * over_accel[i]
        triangle = math.sqrt(accel[i] * length[i] + mean)
        peak = speed[i] if flat >= 0.0 else triangle
        flat = flat if flat >= 0.0 else 0.0
        ramps = (2.0 * peak - root[i] - root[i + 1]) * over_accel[i]
        time[i] = ramps + flat * over_speed[i]


@kernel
def time_layers(
    x_mm: Floats,
    y_mm: Floats,
    role: NDArray[np.uint8],
    retract: NDArray[np.uint8],
    bead_mm: NDArray[np.float32],
    point_off: NDArray[np.int64],
    thickness_mm: Floats,
    role_speed_mm_s: Floats,
    role_accel_mm_s2: Floats,
    first_layer_frac: float,
    deviation_mm: float,
    flow_limit_mm3_s: float,
    layer_from: int,
    layer_to: int,
    retractions: NDArray[np.int64],
    role_time_s: Floats,
    role_length_mm: Floats,
) -> None:
    """Fill moving time and length by role, and retractions, of layers layer_from .. layer_to - 1.

    Each layer starts and ends at rest, so layers do not depend on each other and the numbers are
    the same in whatever blocks they are computed. Within a layer the speed at every point is the
    largest that the corner, both moves' speeds and all moves before and after allow.

    Args:
        x_mm: (n_points,); move i ends at point i.
        y_mm: (n_points,).
        role: (n_points,) of the move that ends at the point; 0 extrudes nothing.
        retract: (n_points,) 1 where the move retracts first; it starts and ends at rest.
        bead_mm: (n_points,) width of the bead that the move lays.
        point_off: (n_layers + 1,) points of a layer.
        thickness_mm: (n_layers,) layer thickness.
        role_speed_mm_s: (n_roles,) speed wanted.
        role_accel_mm_s2: (n_roles,) acceleration.
        first_layer_frac: Share of the wanted speed that extruding moves of layer 0 get.
        deviation_mm: Allowed distance between a corner and the path that is driven.
        flow_limit_mm3_s: Most volume per time that is melted: caps speed by bead and layer.
        layer_from: First layer to fill.
        layer_to: One past the last layer to fill.
        retractions: (n_layers,) written.
        role_time_s: (n_layers, n_roles) written.
        role_length_mm: (n_layers, n_roles) written.
    """
    most = 1
    for layer in range(layer_from, layer_to):
        most = max(most, point_off[layer + 1] - point_off[layer])
    code = np.empty(most, np.uint8)
    unit_x, unit_y, length = np.empty(most), np.empty(most), np.empty(most)
    speed, accel, go = np.empty(most), np.empty(most), np.empty(most)
    square, arc, root = np.empty(most + 1), np.empty(most + 1), np.empty(most + 1)
    time = np.empty(most)
    for layer in range(layer_from, layer_to):
        share = first_layer_frac if layer == 0 else 1.0
        moves = 0
        stops = 0
        going = 0.0
        for i in range(point_off[layer] + 1, point_off[layer + 1]):
            step_x = x_mm[i] - x_mm[i - 1]
            step_y = y_mm[i] - y_mm[i - 1]
            step_square = step_x * step_x + step_y * step_y
            retracts = retract[i] == 1
            if retracts:
                stops += 1
                going = 0.0
            if step_square <= NO_LENGTH_MM * NO_LENGTH_MM:
                continue
            kind = role[i]
            top = role_speed_mm_s[kind]
            if kind > 0:
                top *= share
                section = bead_mm[i] * thickness_mm[layer]
                if top * section > flow_limit_mm3_s:
                    top = flow_limit_mm3_s / section
            code[moves] = kind
            unit_x[moves] = step_x
            unit_y[moves] = step_y
            length[moves] = step_square
            speed[moves] = top
            accel[moves] = role_accel_mm_s2[kind]
            go[moves] = going
            going = 0.0 if retracts else 1.0
            moves += 1
        retractions[layer] = stops
        for i in range(moves):
            length[i] = math.sqrt(length[i])
            over_length = np.true_divide(1.0, length[i])
            unit_x[i] *= over_length
            unit_y[i] *= over_length
        take_corners(
            moves, unit_x, unit_y, length, speed, accel, go, deviation_mm, root, time, square, arc
        )
        # the directions have done their work: their arrays are room for the next step
        time_moves(moves, length, speed, accel, square, arc, unit_x, unit_y, root, time)
        for q in range(role_time_s.shape[1]):
            role_time_s[layer, q] = 0.0
            role_length_mm[layer, q] = 0.0
        for i in range(moves):
            role_time_s[layer, code[i]] += time[i]
            role_length_mm[layer, code[i]] += length[i]


@kernel
def time_travels_to(
    x_mm: Floats,
    y_mm: Floats,
    role: NDArray[np.uint8],
    retract: NDArray[np.uint8],
    point_off: NDArray[np.int64],
    wanted: NDArray[np.uint8],
    travel: int,
    speed_mm_s: float,
    accel_mm_s2: float,
    retract_s: float,
    layer_s: Floats,
) -> None:
    """Fill the seconds of every layer's travels, rest to rest, that end at a bead of some roles.

    Args:
        x_mm: (n_points,); move i ends at point i.
        y_mm: (n_points,).
        role: (n_points,) of the move that ends at the point.
        retract: (n_points,) 1 where the move retracts first.
        point_off: (n_layers + 1,) points of a layer.
        wanted: (n_roles,) 1 for the roles that count.
        travel: The role of a travel.
        speed_mm_s: Of a travel.
        accel_mm_s2: Of a travel.
        retract_s: Of one retraction.
        layer_s: (n_layers,) written.
    """
    ramp = speed_mm_s * speed_mm_s / accel_mm_s2
    last = point_off[len(layer_s)] - 1
    for layer in range(len(layer_s)):
        total = 0.0
        for i in range(max(point_off[layer], 1), min(point_off[layer + 1], last)):
            if role[i] != travel or wanted[role[i + 1]] == 0:
                continue
            length = math.sqrt((x_mm[i] - x_mm[i - 1]) ** 2 + (y_mm[i] - y_mm[i - 1]) ** 2)
            if length < ramp:
                total += 2.0 * math.sqrt(length / accel_mm_s2)
            else:
                total += length / speed_mm_s + speed_mm_s / accel_mm_s2
            if retract[i] == 1:
                total += retract_s
        layer_s[layer] = total
