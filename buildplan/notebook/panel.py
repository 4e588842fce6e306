"""A live panel: controls over one pure function, kept in the build file, answered as keys rest."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from typing import Any, Generic, TypeVar

from buildplan.build import Build
from buildplan.build.keep import Change
from buildplan.build.keep_many import OwnRow
from buildplan.errors import InputError
from buildplan.findings import Severity
from buildplan.notebook.cells import replace_in_cell
from buildplan.notebook.controls import (
    Control,
    Row,
    Value,
    Values,
    html_widget,
    panel_css,
    plain_words,
    style_widget,
)
from buildplan.notebook.kept import Kept
from buildplan.notebook.last_wins import AtOnce, Clock, Counts, LastWins, kernel_clock
from buildplan.report import numbers, style

Answer = TypeVar("Answer")

LOOK_S = 1.0
"""How often the build file's time stamp is looked at."""

SLOW_S = 0.3
"""Work that takes longer shows how far it is, and can be stopped."""

TICK_S = 0.2
"""How often the bar of work that goes on is drawn again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Live(Generic[Answer]):
    """What a panel shows: pure functions of the build, nothing of widgets.

    Attributes:
        title: Of the panel; ``note`` the words beside it.
        controls: Its inputs; ``read`` their values in the build file.
        keep: What to write for new values: changes and rows that must be there first.
        work: The answer, in another thread.
        draw: The answer as HTML, with the one before it where there is one.
        says: Words beside the controls, by key.
    """

    title: str
    note: Callable[[Build], str]
    controls: Callable[[Build], Sequence[Control]]
    read: Callable[[Build], Values]
    keep: Callable[[Build, Values], tuple[Sequence[Change], Sequence[OwnRow]]]
    work: Callable[[Build], Answer]
    draw: Callable[[Answer, Answer | None], str]
    says: Callable[[Build, Answer], Mapping[str, str]]


class Panel(Generic[Answer]):
    """The widgets of a live panel. Its states: up to date, working, out of date, wrong input.

    Args:
        live: What it shows.
        kept: The build file.
        clock: Where time and work come from; the running kernel's own where None.
    """

    def __init__(self, live: Live[Answer], kept: Kept, *, clock: Clock | None = None) -> None:
        import ipywidgets

        self._live, self.kept = live, kept
        self._clock = clock if clock is not None else kernel_clock()
        self._values: dict[str, Value] = dict(live.read(kept.build))
        self._last_key = ""
        self._closed = False
        self._before: Answer | None = None
        begun_s = self._clock.now_s()
        self._answer = live.work(kept.build)
        self._usual_s = self._clock.now_s() - begun_s
        self._wins: LastWins[dict[str, Value], Answer] = LastWins(
            live.work,
            self._show,
            self._fail,
            clock=self._clock,
            keep=self._keep,
            freeze=self._freeze,
        )
        self._begun_s = 0.0
        self._ticking = False
        self._title, self._out, self._foot = html_widget(), html_widget(), html_widget()
        self._stale = html_widget(width="auto")
        self.rows = {
            control.key: Row(control, self._values[control.key], self._changed)
            for control in live.controls(kept.build)
        }
        self._again = ipywidgets.Button(description="Read the file again")
        self._again.on_click(lambda _: self._go_on())
        self._stopped = False
        self._state = ipywidgets.HBox([self._stale, self._again])
        self._state.add_class("bp-line")
        self._state.layout.display = "none"
        self._bar = html_widget(width="auto")
        self._stop = ipywidgets.Button(description="Stop")
        self._stop.add_class("plain")
        self._stop.on_click(lambda _: self.stop())
        self._progress = ipywidgets.HBox([self._bar, self._stop])
        self._progress.add_class("bp-line")
        self._progress.layout.display = "none"
        boxes = [row.box for row in self.rows.values()]
        states = [self._state, self._progress]
        parts = [style_widget(), self._title, *boxes, *states, self._out, self._foot]
        self.box = ipywidgets.VBox(parts, layout=ipywidgets.Layout(width="100%"))
        self.box.add_class("bp-panel")
        self._saved(f"read from {kept.path.name}")
        self._draw()
        self._count(Counts(pressed=0, computed=0, settle_s=0.0))
        replace_in_cell(self)
        if not isinstance(self._clock, AtOnce):
            self._clock.later(LOOK_S, self._look)

    def close(self) -> None:
        """Take the panel's widgets out of the page; nothing of what was kept is lost."""
        self._closed = True
        parts = [self._title, self._stale, self._out, self._foot, self._again, self._state]
        parts += [self._bar, self._stop, self._progress]
        for widget in (*parts, *(w for row in self.rows.values() for w in row.widgets), self.box):
            widget.close()

    def read_again(self) -> None:
        """Take over what the file says now."""
        try:
            self.kept.read_again()
            self._before, self._answer = self._answer, self._live.work(self.kept.build)
        except Exception as error:  # noqa: BLE001 - said in the panel
            self._mark_stale(plain_words(error))
            return
        self._follow_file()
        self._fresh()
        self._saved(f"read again from {self.kept.path.name}, {datetime.now():%H:%M:%S}")
        self._draw()

    def stop(self) -> None:
        """Want no answer to the last change; the last one stays, marked as out of date."""
        if not self._wins.busy:
            return
        self._wins.stop()
        self._working(False)
        self._stopped = True
        self._again.description = "Work it out again"
        label = self.rows[self._last_key].control.label
        self._mark_stale(
            f"Stopped: the answer before {label} was changed stays; the new value is saved."
        )
        self._foot.value = ""

    def _go_on(self) -> None:
        """What the button beside the stale mark does: read the file again, or work again."""
        if not self._stopped:
            self.read_again()
            return
        self._fresh()
        self._wins.again()
        if self._wins.busy:
            self._clock.later(SLOW_S, self._mark_working)

    @property
    def answer(self) -> Answer:
        """The last answer."""
        return self._answer

    def _repr_mimebundle_(self, **asked: Any) -> dict[str, Any]:
        """The widget, and the answer as plain HTML for a page without a kernel."""
        bundle: dict[str, Any] = dict(self.box._repr_mimebundle_(**asked))
        bundle["text/html"] = self._still()
        return bundle

    def _still(self) -> str:
        given = "; ".join(
            f"{row.control.label} {_in_words(row.control, self._values[key])}"
            for key, row in self.rows.items()
        )
        return (
            f'<style>{panel_css()}</style><div class="bp-panel">'
            f'<div class="title">{escape(self._live.title)}'
            f"<span>{escape(self._live.note(self.kept.build))}</span></div>"
            f'<p class="say">{escape(given)}</p>{self._live.draw(self._answer, None)}'
            f'<p class="quiet">A picture of {datetime.now():%Y-%m-%d %H:%M}. Run the cell to make '
            "it answer again; all inputs are in the build file.</p></div>"
        )

    # ---- what happens ----------------------------------------------------------------------------

    def _changed(self, key: str, value: Value | InputError) -> None:
        self._last_key = key
        row = self.rows[key]
        if isinstance(value, InputError):
            row.refuse(str(value))
            self._not_saved(row)
            return
        row.say("")
        self._values[key] = value
        self._wins.press(dict(self._values))
        if self._wins.busy:
            self._clock.later(SLOW_S, self._mark_working)

    def _freeze(self, values: dict[str, Value]) -> Build:
        """The build as kept when work begins; it never changes."""
        self._begun_s = self._clock.now_s()
        return self.kept.build

    def _keep(self, values: dict[str, Value]) -> None:
        changed = self.kept.changed_beneath()
        if changed:  # the file's other values go before those on the page
            self.kept.read_again()
            values = {**self._live.read(self.kept.build), self._last_key: values[self._last_key]}
        changes, rows = self._live.keep(self.kept.build, values)
        self.kept.keep(changes, rows)
        self._values = dict(self._live.read(self.kept.build))
        label = self.rows[self._last_key].control.label
        self._saved(self.kept.saved_words(label))
        if changed:
            self._follow_file()
            self._fresh()

    def _show(self, values: dict[str, Value], answer: Answer, counts: Counts) -> None:
        if self._closed:
            return
        self._before, self._answer = self._answer, answer
        self._usual_s = max(self._usual_s, self._clock.now_s() - self._begun_s)
        self._working(False)
        if self._stopped:
            self._fresh()
        self._draw()
        self._count(counts)

    def _fail(self, values: dict[str, Value], error: Exception) -> None:
        if self._closed:
            return
        self._working(False)
        row = self.rows[self._last_key]
        kept = self._live.read(self.kept.build)[self._last_key]
        words = plain_words(error)
        if kept == values[self._last_key]:
            row.refuse(f"Saved, but not worked out: {words}")
        else:
            row.refuse(words)
            self._values[self._last_key] = kept
            self._not_saved(row)
        self._foot.value = ""

    def _look(self) -> None:
        """Look at the file's time stamp, and once more after a while."""
        if self._closed:
            return
        if not self._wins.busy and self.kept.changed_beneath():
            self._stopped = False
            self._again.description = "Read the file again"
            self._mark_stale(
                f"{self.kept.path.name} was changed outside this panel; what is shown is older."
            )
        self._clock.later(LOOK_S, self._look)

    # ---- what is seen ----------------------------------------------------------------------------

    def _draw(self) -> None:
        drawn = self._live.draw(self._answer, self._before)
        self._out.value = f'<div class="answer">{drawn}</div>'
        for key, words in self._live.says(self.kept.build, self._answer).items():
            self.rows[key].say(words)

    def _follow_file(self) -> None:
        self._values = dict(self._live.read(self.kept.build))
        for key, row in self.rows.items():
            row.set(self._values[key])

    def _fresh(self) -> None:
        self._stopped = False
        self._again.description = "Read the file again"
        self._state.layout.display = "none"
        self.box.remove_class("isstale")

    def _mark_stale(self, why: str) -> None:
        self._stale.value = f'<div class="stale"><b>Out of date.</b> {escape(why)}</div>'
        self._state.layout.display = "flex"
        self.box.add_class("isstale")

    def _mark_working(self) -> None:
        """Show how far the work is, by the longest one so far."""
        if self._ticking or self._closed or not self._wins.busy:
            return
        self._working(True)
        self._ticking = True
        self._tick()

    def _tick(self) -> None:
        if self._closed or not self._wins.busy:
            self._ticking = False
            return
        gone_s = max(self._clock.now_s() - self._begun_s, 0.0)
        usual_s = max(self._usual_s, SLOW_S)
        share = min(gone_s / usual_s, 0.95)
        self._bar.value = (
            '<div class="prog"><span class="pbar">'
            f'<i style="width:{100.0 * share:.0f}%"></i></span>'
            f"Working it out: {numbers.num(gone_s, 1, 's')}, at most "
            f"{numbers.num(usual_s, 1, 's')} so far</div>"
        )
        self._clock.later(TICK_S, self._tick)

    def _working(self, goes_on: bool) -> None:
        self._progress.layout.display = "flex" if goes_on else "none"
        if not goes_on:
            self.box.remove_class("isworking")
            return
        self.box.add_class("isworking")
        self._foot.value = ""

    def _count(self, counts: Counts) -> None:
        settled = (
            f"; settled {numbers.num(counts.settle_s, 2, 's')} after the last key"
            if counts.pressed
            else ""
        )
        self._foot.value = (
            f'<div class="quiet foot">Up to date. {numbers.count(counts.pressed, "key")} pressed, '
            f"{numbers.count(counts.computed, 'computation')}{settled}. "
            f"Kept in {escape(str(self.kept.path))}</div>"
        )

    def _saved(self, text: str, severity: Severity | None = None) -> None:
        self._title.value = (
            f'<div class="title">{escape(self._live.title)}'
            f"<span>{escape(self._live.note(self.kept.build))}</span>"
            f'<span class="right">{style.sign(severity, 14)}{escape(text)}</span></div>'
        )

    def _not_saved(self, row: Row) -> None:
        kept = self._live.read(self.kept.build)[row.control.key]
        shown = _in_words(row.control, kept)
        self._saved(f"{row.control.label} not saved: {self.kept.path.name} keeps {shown}", "stop")


def _in_words(control: Control, value: Value) -> str:
    if isinstance(value, str):
        return dict(control.choices).get(value, value)
    return numbers.num(value, control.digits, control.unit)
