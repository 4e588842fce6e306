"""A progress bar on the error stream: count of total, time left, how to stop."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from buildplan.report.terminal import WIDE, console


@contextmanager
def progress_bar(total: int, unit: str, *, shown: bool) -> Iterator[Callable[..., None]]:
    """Give a function (done, total, name="") that moves the bar; it vanishes when done."""
    to = console(err=True)
    if not shown or not to.is_terminal:
        yield lambda done, total, name="": None
        return
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(
            bar_width=20 if to.width < WIDE else 36,
            style="grey42",
            complete_style="#56B4E9",
            finished_style="#009E73",
        ),
        TextColumn("{task.completed:.0f} of {task.total:.0f} " + unit),
        TimeRemainingColumn(compact=True),
        TextColumn("left, Ctrl-C stops", style="dim"),
        console=to,
        transient=True,
    )
    task = bar.add_task(unit, total=total)

    def move(done: int, total: int, name: str = "") -> None:
        bar.update(task, completed=done, total=total, description=name or unit)

    with bar:
        yield move
