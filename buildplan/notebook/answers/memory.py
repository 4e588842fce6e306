"""Which build a notebook is about, and its plan, worked out once and kept while nothing changes."""

import hashlib
import os
import time
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from buildplan.build import Build, load_build
from buildplan.build.keep import BUILD_FILE
from buildplan.build.toml_text import read_toml
from buildplan.checks.orientation import OrientationCheck
from buildplan.decide.card import BadDayCard
from buildplan.device.chain.model import DeviceStudy
from buildplan.errors import InputError
from buildplan.notebook.answers.answer import Answer, table
from buildplan.notebook.answers.plain_errors import say_errors_plainly
from buildplan.notebook.chosen import base_folder, chosen_build
from buildplan.notebook.show import open_demo
from buildplan.plan import (
    PartPlan,
    Plan,
    chosen_option,
    log_path,
    make_plan,
    study_build_device,
    table_path,
    ways_up,
)
from buildplan.plan.again import mark_without_small, plan_again
from buildplan.plan.model import SplitAnswer
from buildplan.report import numbers
from buildplan.report.sections import capital, words
from buildplan.report.verdict import longest_print
from buildplan.tables.wording import normal_key, not_known

Found = TypeVar("Found")

VARIABLE = "BUILDPLAN_BUILD"
"""Environment variable that names a build file where a notebook names none."""

KEPT = 8
"""How many plans, studies and splits a process keeps; the one used longest ago goes first."""

SHOWN_AFTER_S = 0.2
"""Progress is drawn no more often than this."""

_kept: OrderedDict[tuple[str, str], Any] = OrderedDict()
"""What was worked out, by kind and mark; the only state of the notebooks. See ``KEPT``."""


def open_build(path: str | Path = "") -> Build:
    """The build that a notebook is about.

    Args:
        path: A build file or its folder. Left empty: the one that the environment variable
            BUILDPLAN_BUILD names; else the one chosen in notebook 00; else the one beside the
            notebook or in the folder above; else the demo, laid out beside the notebook.

    Raises:
        BuildFileError: It is not there, or wrong; the message says where.
    """
    say_errors_plainly()
    named = str(path) or os.environ.get(VARIABLE, "") or chosen_build(base_folder())
    if named:
        place = Path(named).expanduser()
        return load_build(place / BUILD_FILE if place.is_dir() else place)
    near = [Path(folder) / BUILD_FILE for folder in (".", "..")]
    return next((load_build(one) for one in near if one.is_file()), None) or open_demo()


def show_build(build: Build) -> Answer:
    """Which file is open, what is in it, and what it says enough about."""
    now = current(build)
    device = now.device
    said = [
        ("build file", str(now.path.absolute())),
        ("printers", ", ".join(words(printer.name) for printer in now.printers)),
        ("bought items", str(len(now.bought))),
        ("services", ", ".join(one.name for one in now.decisions.services) or "none"),
        ("lid and drive", "yes" if device.mechanism else "not said"),
        ("supply", "yes" if device.power else "not said"),
        ("heat", "yes" if device.heat else "not said"),
        ("when you are there", "yes" if now.decisions.attended else "not said"),
        ("print log", log_words(now)),
    ]
    if now.data == "invented":
        said.append(("prices, quotes and log", "invented"))
    parts = numbers.count(len(now.parts), "kind of part", "kinds of part")
    return Answer(
        heading=f"{capital(words(now.name))}: {parts}",
        html=table(
            (("what", "the file has", ""), ("value", "", "")),
            [{"what": what, "value": value} for what, value in said],
        ),
        with_fonts=True,
    )


def log_words(build: Build) -> str:
    """Where the log of a build is, or that there is none yet."""
    path, csv = log_path(build), table_path(build)
    if path.exists():
        return path.name
    return f"{csv.name}, a table" if csv is not None else "none yet"


def plan_of(build: Build) -> Plan:
    """The whole plan of a build, worked out once in this process.

    It is kept until the build file, a mesh, a table file or the print log changes: the mark under
    which it is kept is the SHA-256 of all of them. At most ``KEPT`` results are kept. A file that
    changed on the disk is read anew. Where only states of orders or results of tests changed, no
    part is planned anew.

    Raises:
        InputError: As make_plan.
    """
    now = current(build)

    def work(said: "Said") -> Plan:
        return make_plan(now, progress=said.counted)

    mark, near = mark_of_files(now), mark_of_files(now, small=False)
    kept = _kept.get(("near plan", near))
    if isinstance(kept, Plan) and ("plan", mark) not in _kept:
        _keep("plan", mark, plan_again(now, kept))
    what = f"Planning {numbers.count(len(now.parts), 'part')}"
    plan = remembered("plan", mark, work, what)
    _keep("near plan", near, plan)
    return plan


def study_of(build: Build) -> DeviceStudy | None:
    """What the device of a build needs, kept like a plan; None where the file says nothing of it.

    A plan that is kept already holds it.

    Raises:
        InputError: As study_build_device.
    """
    now = current(build)
    if now.device.empty:
        return None
    mark = mark_of_files(now, small=False)
    plan = _kept.get(("near plan", mark))
    if isinstance(plan, Plan):
        return plan.device
    return remembered(
        "study", mark, lambda _: study_build_device(now), "Working out what the device needs"
    )


def pieces_of(build: Build, item: PartPlan, pieces: int = 0) -> SplitAnswer | None:
    """The part cut into pieces, also where it need not be; kept like a plan.

    Args:
        build: The build.
        item: Of its plan.
        pieces: Exactly so many; 0 for as many as are best, which is None for a short print that
            fits.

    Raises:
        InputError: As make_plan.
    """
    from buildplan.plan.learned import read_experience
    from buildplan.plan.pieces import cut_into, plan_offers

    now, plan = current(build), plan_of(build)
    if not pieces:
        for answer in plan.splits:
            if answer.part == item.name:
                return answer

    def work(_: "Said") -> SplitAnswer | None:
        if pieces:
            return cut_into(now, item, pieces, read_experience(now))
        offers = plan_offers(now, [item], plan.splits, read_experience(now))
        return next(iter(offers), None)

    what = f"Cutting the {words(item.name)}" + (f" into {pieces} pieces" if pieces else "")
    return remembered(f"{pieces} pieces {item.name}", mark_of_files(now), work, what)


def ways_of(build: Build, part: str) -> tuple[OrientationCheck, tuple[tuple[float, ...], ...]]:
    """The best ways up of a part, estimated in full, with their matrices; kept like a plan.

    Raises:
        InputError: As ways_up.
    """
    now = current(build)
    return remembered(
        f"ways {normal_key(part)}",
        mark_of_files(now),
        lambda _: ways_up(now, part),
        f"Estimating the ways to lay the {words(part)}",
    )


def name_of(build: Build, part: str = "") -> str:
    """Name of a part as the build file has it; left out, that of the longest print.

    Raises:
        InputError: There is no such part.
    """
    if not part:
        return part_of(plan_of(build)).name
    names = [request.name for request in current(build).parts]
    found = [name for name in names if normal_key(name) == normal_key(part)]
    if not found:
        raise InputError(not_known("part", part, names))
    return found[0]


def card_of_part(build: Build, item: PartPlan) -> BadDayCard:
    """What a part takes on a bad day by every way to get it; kept like a plan.

    Raises:
        InputError: As make_plan.
    """
    from buildplan.plan.choice import send_rows_of
    from buildplan.plan.learned import read_experience
    from buildplan.plan.ready import card_of

    now, plan = current(build), plan_of(build)
    for one in plan.ready:
        if one.part == item.name:
            return one.card
    cut = pieces_of(now, item)
    offers = [] if cut is None else [cut]

    def work(_: "Said") -> BadDayCard:
        rows = plan.choice.rows if plan.choice else send_rows_of(now, plan.parts)
        return card_of(now, item, offers, rows, read_experience(now))

    return remembered(
        f"card {item.name}",
        mark_of_files(now),
        work,
        f"Drawing 20 000 days of the {words(item.name)}",
    )


def part_of(plan: Plan, name: str = "") -> PartPlan:
    """A planned part by its name; left out, the one with the longest print.

    Raises:
        InputError: There is no such part.
    """
    if not name:
        return longest_print(plan)
    found = [item for item in plan.parts if normal_key(item.name) == normal_key(name)]
    if not found:
        raise InputError(not_known("part", name, [item.name for item in plan.parts]))
    return found[0]


def time_h(item: PartPlan) -> float:
    """Hours of one copy on its chosen printer."""
    return chosen_option(item).estimate.time_h


def current(build: Build) -> Build:
    """The build as its file has it now.

    Raises:
        BuildFileError: It has become wrong or is gone.
    """
    try:
        same = hashlib.sha256(build.path.read_bytes()).hexdigest() == build.sha256
    except OSError:
        same = False  # gone: let the reader say so
    return build if same else load_build(build.path)


def mark_of_files(build: Build, *, small: bool = True) -> str:
    """SHA-256 over what a plan rests on: build file, rows of the tables, meshes, print log.

    Args:
        build: As its file has it now.
        small: False leaves out states of orders and results of tests.
    """
    values = build.sha256 if small else mark_without_small(build, read_toml(build.path)[0])
    mark = hashlib.sha256(f"{build.path.absolute()} {values}".encode())
    mark.update(repr(build.tables).encode())
    logs = [path for path in (log_path(build), table_path(build)) if path is not None]
    for path in [*(part.path for part in build.parts), *logs]:
        mark.update(path.read_bytes() if path.is_file() else b"none")
        mark.update(str(path).encode())
    return mark.hexdigest()


def forget() -> None:
    """Drop everything that is kept."""
    _kept.clear()


class Said:
    """A line below the cell that says what is worked out, how far it is, and how long it took."""

    def __init__(self, what: str) -> None:
        self._what, self._begun, self._drawn = what, time.monotonic(), 0.0
        self._line = _line_below_cell()
        self._draw(f"{what}. The first time on a computer compiles for a minute or two.")

    def counted(self, done: int, total: int) -> None:
        """So many parts are done."""
        if time.monotonic() - self._drawn > SHOWN_AFTER_S:
            rest = "; now what they share" if done == total else ""
            self._draw(f"{self._what}: {done} of {total} done{rest}.")

    def done(self) -> None:
        """It is worked out."""
        took = numbers.num(time.monotonic() - self._begun, 0, "s")
        self._draw(
            f"{self._what} took {took}. It is kept until the build file, a mesh or the log changes."
        )

    def failed(self) -> None:
        """It could not be; the error says why."""
        self._draw(f"{self._what} stopped; see below.")

    def _draw(self, text: str) -> None:
        self._drawn = time.monotonic()
        if self._line is not None:
            self._line(text)


def _line_below_cell() -> Callable[[str], None] | None:
    """A function that writes one line of the running cell anew; None outside of a notebook."""
    from html import escape

    from IPython.core.getipython import get_ipython
    from IPython.display import DisplayHandle

    shell: Any = get_ipython()
    if shell is None or not hasattr(shell, "kernel"):
        return None
    handle = DisplayHandle()  # type: ignore[no-untyped-call]  # carries no types
    shown = False

    def write(text: str) -> None:
        nonlocal shown
        bundle = {
            "text/html": f'<p style="opacity:.75;margin:2px 0">{escape(text)}</p>',
            "text/plain": numbers.plain(text),
        }
        send: Any = handle.update if shown else handle.display
        send(bundle, raw=True)
        shown = True

    return write


def remembered(kind: str, mark: str, work: Callable[[Said], Found], what: str) -> Found:
    """What a piece of work gave, done once for a kind and a mark; the cell says how far it is.

    Args:
        kind: Name of the work, with what it is about.
        mark: Of ``mark_of_files``: where it changes the work is done again.
        work: Is handed the line below the cell.
        what: What is done, as the line says it.
    """
    key = (kind, mark)
    if key in _kept:
        _kept.move_to_end(key)
        found: Found = _kept[key]
        return found
    said = Said(what)
    try:
        found = work(said)
    except BaseException:
        said.failed()
        raise
    said.done()
    _keep(kind, mark, found)
    return found


def _keep(kind: str, mark: str, found: object) -> None:
    _kept[kind, mark] = found
    _kept.move_to_end((kind, mark))
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
