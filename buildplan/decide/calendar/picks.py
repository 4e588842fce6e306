"""What the choice between options asks of the calendar: from a pick to days and money."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from buildplan.decide.calendar.batch import simulate
from buildplan.decide.calendar.model import Job, Posterior, Step
from buildplan.decide.calendar.order import schedule
from buildplan.decide.calendar.permission import attended_jobs, check_attended
from buildplan.decide.calendar.windows import Windows

Pick = TypeVar("Pick")
Network = tuple[tuple[Job, ...], tuple[Step, ...]]


def simulator_for(  # noqa: PLR0913 (what stays the same over all picks)
    network_of: Callable[[Pick], Network],
    cents_of: Callable[[Pick], int],
    windows: Windows,
    printers: tuple[str, ...],
    alone: Sequence[str] = (),
    *,
    draws: int = 2_000,
    seed: int = 0,
    posterior: Posterior | None = None,
) -> Callable[[Pick], tuple[float, float, int]]:
    """A function of a pick that gives (days until half are finished, until 9 in 10 are, cents).

    The luck of each print hangs on its name and the seed, so that two picks that share prints are
    compared with few draws. The order is sought anew for every pick.

    Args:
        network_of: Prints and steps of a pick (sent-out parts are deliveries).
        cents_of: Money of a pick.
        windows: From make_windows.
        printers: All printers that may be used.
        alone: Printers that may run while nobody is there, from may_run_alone.
        draws: Outcomes for each pick.
        seed: One for all picks.
        posterior: From the print log.

    Returns:
        The function; it raises NoPlanError where a pick has no end.
    """

    def simulate_pick(pick: Pick) -> tuple[float, float, int]:
        jobs, steps = network_of(pick)
        jobs = attended_jobs(jobs, alone)
        check_attended(jobs, windows)
        order = schedule(jobs, steps, windows, printers, seed)
        found = simulate(jobs, steps, windows, printers, order, draws, seed, posterior)
        return found.p50_h / 24.0, found.p90_h / 24.0, cents_of(pick)

    return simulate_pick
