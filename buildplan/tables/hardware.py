"""Bought hardware: wires, screws, heat-set inserts, servos, as rows of their TOML tables."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A copper wire by its gauge number.

    diameter_mm = 0.127 * 92**((36 - awg) / 39) (ASTM B258), of a solid conductor;
    resistance_ohm_km = 1000 * 0.017241379 / area_mm2 at 20 C (IEC 60028).

    Attributes:
        awg: Gauge number of ASTM B258.
        diameter_mm: Bare diameter of the solid conductor.
        area_mm2: Copper cross-section.
        resistance_ohm_km: Resistance of one conductor at 20 C; a loop counts its length twice.
        open_air_a: Current for one short wire in free air (chassis wiring).
        bundled_a: Cautious current for long or bundled runs (power transmission).
        note: Usual use, in words.
    """

    key: str
    name: str
    awg: int
    diameter_mm: float
    area_mm2: float
    resistance_ohm_km: float
    open_air_a: float
    bundled_a: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw:
    """A metric socket head cap screw with coarse thread, and the holes it wants.

    stress_area_mm2 = pi / 4 * (thread_mm - 0.9382 * pitch_mm)**2 (ISO 898-1).

    Attributes:
        thread_mm: Nominal thread diameter.
        pitch_mm: Coarse pitch (ISO 261).
        hole_fine_mm: Clearance hole, fine series (ISO 273); likewise medium and coarse.
        head_diameter_mm: Largest diameter of the head (ISO 4762).
        head_height_mm: Largest height of the head (ISO 4762).
        socket_mm: Width of the hexagon key (ISO 4762).
        tap_hole_mm: Drill before cutting a thread.
        stress_area_mm2: Tensile stress area.
        note: What to mind, in words.
    """

    key: str
    name: str
    thread_mm: float
    pitch_mm: float
    hole_fine_mm: float
    hole_medium_mm: float
    hole_coarse_mm: float
    head_diameter_mm: float
    head_height_mm: float
    socket_mm: float
    tap_hole_mm: float
    stress_area_mm2: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Insert:
    """A brass insert that is pressed hot into a thermoplastic boss.

    Attributes:
        screw: Key of the screw that it takes.
        thread_mm: Nominal thread diameter.
        outer_mm: Outside diameter over the knurls.
        length_mm: Length of the insert.
        hole_mm: Hole to print for it, as it should measure.
        hole_tolerance_mm: The hole may be larger by this.
        depth_extra_mm: How much deeper than the insert a blind hole should be.
        boss_wall_mm: Least plastic around the hole.
        note: What to mind, in words.
    """

    key: str
    name: str
    screw: str
    thread_mm: float
    outer_mm: float
    length_mm: float
    hole_mm: float
    hole_tolerance_mm: float
    depth_extra_mm: float
    boss_wall_mm: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointFit:
    """How loosely a pin sits in a printed hole, or a tongue in a groove.

    Attributes:
        clearance_mm: Gap on each side (radial for a pin), as drawn.
        note: What it is for, in words.
    """

    key: str
    name: str
    clearance_mm: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ServoClass:
    """A class of hobby servos: typical figures, and the range that data sheets of the class span.

    Attributes:
        supply_v: Voltage that torque, speed and currents hold for.
        stall_n_mm: Torque at which it stops; low and high over the class likewise. A label in
            kg cm times 98.0665 gives N mm.
        no_load_deg_s: Speed without load: 60 over the label's seconds for 60 degrees.
        stall_a: Current while it is held fast.
        moving_a: Current while it turns without load.
        hold_a: Current while it stands still without load.
        sweep_deg: Turn from end to end.
        hold_frac: Share of the stall torque that it can hold for minutes.
        play_deg: Play of its gears at the horn.
        note: What to mind, in words.
    """

    key: str
    name: str
    mass_g: float
    supply_v: float
    stall_n_mm: float
    stall_low_n_mm: float
    stall_high_n_mm: float
    no_load_deg_s: float
    no_load_low_deg_s: float
    no_load_high_deg_s: float
    stall_a: float
    stall_low_a: float
    stall_high_a: float
    moving_a: float
    hold_a: float
    sweep_deg: float
    hold_frac: float
    play_deg: float
    note: str
