"""After the device was put together: first power and heat soak against what was computed."""

from collections.abc import Mapping

from buildplan.device.chain.model import DeviceStudy
from buildplan.errors import InputError
from buildplan.journal.accept import Accepted, accepted_as
from buildplan.tables.wording import not_known

AMPS_FRAC = 0.2
"""Labels and data sheets state currents about as well (common practice, no source)."""


def accept_amps(study: DeviceStudy, measured_a: Mapping[str, float]) -> tuple[Accepted, ...]:
    """Current out of the source, mode by mode, against the power budget.

    Args:
        study: With a power budget.
        measured_a: By mode of the build file, read on a meter in the supply's lead.

    Raises:
        InputError: No `[power]`, a mode that is none, or a current below 0.
    """
    if study.power is None:
        raise InputError("first power: the build file has no [power] to hold currents against")
    cases = {case.name: case for case in study.power.cases if case.kind == "mode"}
    found = []
    for mode, amps in measured_a.items():
        if mode not in cases:
            raise InputError(f"first power: {not_known('mode', mode, tuple(cases))}")
        if not amps >= 0.0:
            raise InputError(f"first power: {amps} A in {mode} found; 0 or more needed")
        likely = cases[mode].source_a
        low, high = likely * (1.0 - AMPS_FRAC), likely * (1.0 + AMPS_FRAC)
        cause = ""
        if amps > high:
            cause = (
                "something draws more than its label: switch it off and look for a warm part, a "
                "reversed module or a rail set too high"
            )
        elif amps < low:
            cause = "a part is not on yet, or its label states the most it ever takes"
        found.append(_told(f"{mode}, current", amps, (likely, low, high), "A", 2, cause))
    return tuple(found)


def accept_soak(
    study: DeviceStudy, measured_c: Mapping[str, float], room_c: float
) -> tuple[Accepted, ...]:
    """Temperatures after half an hour or more in the warmest mode, against the heat network.

    Rises over the room are compared, since the room is another than the build file's; the range is
    that of the draws over films, walls and watts, and at least a quarter of the rise.

    Args:
        study: With a heat network.
        measured_c: By place of the network.
        room_c: Of the air in the room.

    Raises:
        InputError: No `[heat]`, a place that is none, or a place colder than the room.
    """
    if study.heat is None:
        raise InputError("heat soak: the build file has no [heat] to hold temperatures against")
    nodes = {node.name: node for node in study.heat.nodes}
    found = []
    for name, degrees in measured_c.items():
        if name not in nodes:
            raise InputError(f"heat soak: {not_known('place', name, tuple(nodes))}")
        if degrees < room_c:
            raise InputError(
                f"heat soak: {name} at {degrees:g} C in a room of {room_c:g} C found; nothing here "
                "is colder than the room: measure again"
            )
        node, ambient = nodes[name], study.heat.ambient_c
        low = min(node.low_c, node.temp_c - node.doubt_k) - ambient + room_c
        high = max(node.high_c, node.temp_c + node.doubt_k) - ambient + room_c
        likely = node.temp_c - ambient + room_c
        cause = ""
        if degrees > high:
            warmest = ambient + degrees - room_c
            cause = (
                f"on the warmest day that is {warmest:.0f} °C: look for a covered vent, a fan that "
                "does not turn, or a part that takes more watts than its table"
            )
            if node.limit_c == node.limit_c and warmest > node.limit_c:
                cause += f"; its limit is {node.limit_c:.0f} °C: do not leave it running"
        elif degrees < low:
            cause = "it has not run long enough, or takes fewer watts than its table"
        found.append(_told(name, degrees, (likely, low, high), "°C", 0, cause))
    return tuple(found)


def _told(
    what: str,
    found: float,
    promised: tuple[float, float, float],
    unit: str,
    digits: int,
    cause: str,
) -> Accepted:
    expected, low, high = promised
    said = (
        f"{what}: {found:.{digits}f} {unit}, computed {expected:.{digits}f} "
        f"({low:.{digits}f} to {high:.{digits}f})"
    )
    return accepted_as(what, found, promised, said, cause)
