"""One row a control: label, slider or field, unit, and beside it what is wrong, in plain words."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from typing import Any, Literal

from buildplan.errors import BuildplanError, InputError
from buildplan.findings import Severity
from buildplan.report import numbers, style

Value = float | str
Values = Mapping[str, Value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """One input of a panel.

    Attributes:
        key: What it is called in the values of its panel.
        label: What it is called in words; ``about`` is the small line below.
        unit: Shown behind it.
        kind: A slider, a number that is typed, or a choice of texts.
        low, high, step: Of a slider; a typed number lies in low..high.
        digits: Decimals shown; 0 makes the value a whole number.
        choices: Value and words of each choice.
    """

    key: str
    label: str
    about: str = ""
    unit: str = ""
    kind: Literal["slider", "number", "choice"] = "slider"
    low: float = 0.0
    high: float = math.inf
    step: float = 1.0
    digits: int = 2
    choices: tuple[tuple[str, str], ...] = ()


def read_number(text: str, control: Control) -> float:
    """The number that somebody typed.

    Raises:
        InputError: It is no number, or not allowed; the message says what to write.
    """
    allowed = _range_words(control)
    try:
        value = float(text.strip())
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        comma = text.strip().replace(",", ".", 1)
        hint = f" Write it with a point: {comma}." if _is_number(comma) else f" Write {allowed}."
        raise InputError(f"“{text}” is not a number.{hint}")
    if not control.low <= value <= control.high:
        raise InputError(f"{text.strip()} is not allowed here. Write {allowed}.")
    return value


def plain_words(error: Exception) -> str:
    """An error as it stands beside a control: one line, no trace."""
    first = str(error).strip().splitlines()[0] if str(error).strip() else ""
    if isinstance(error, BuildplanError):
        return first
    if isinstance(error, OSError):
        return f"{error.filename or 'file'}: {error.strerror or error}"
    return (
        f"{type(error).__name__}: {first or 'no message'}. This is a fault in buildplan, not in "
        "your input; the old answer stays"
    )


def say(text: str, severity: Severity | None = None, *, quiet: bool = True) -> str:
    """The words beside a control, with a sign where they matter."""
    if not quiet or severity is not None:
        return f'<div class="say bad">{style.sign(severity)}{escape(text)}</div>'
    return f'<div class="say">{escape(text)}</div>'


@cache
def panel_css() -> str:
    """The style of panels: colours of the report in the theme of the page, without typefaces."""
    light = ";".join(f"--{name}:{pair[0]}" for name, pair in style.TOKENS.items())
    dark = ";".join(f"--{name}:{pair[1]}" for name, pair in style.TOKENS.items())
    text = (files("buildplan.notebook") / "panel.css").read_text("utf-8")
    return f".bp-panel{{{light}}}body[data-jp-theme-light=false] .bp-panel{{{dark}}}\n{text}"


@cache
def style_widget() -> Any:
    """The one widget of a kernel that carries style and typefaces, shown in every panel."""
    import ipywidgets

    return ipywidgets.HTML(f"<style>{style.font_faces()}{panel_css()}</style>")


def html_widget(text: str = "", **layout: str) -> Any:
    """A widget that shows HTML."""
    import ipywidgets

    place = {"width": "100%", "margin": "0"} | layout
    return ipywidgets.HTML(text, layout=ipywidgets.Layout(**place))


class Row:
    """A control in its row.

    Args:
        control: What it is.
        value: What it shows at first.
        changed: Called with key and value, or with key and the error of what was typed.
    """

    def __init__(
        self,
        control: Control,
        value: Value,
        changed: Callable[[str, Value | InputError], None],
    ) -> None:
        import ipywidgets

        self.control = control
        self._changed = changed
        self._silent = False
        self._last = value
        self.input = _input(control, value)
        self.input.observe(self._moved, "value")
        fixed = ipywidgets.Layout(flex="0 0 92px", width="92px", margin="0 0 0 8px")
        unit = ipywidgets.HTML(f'<div class="unit">{escape(control.unit)}</div>', layout=fixed)
        self._words = html_widget(width="0", flex="1 1 0", margin="0 0 0 8px")
        self.box = ipywidgets.HBox([self.input, unit, self._words])
        self.box.add_class("bp-row")
        self.widgets = (self.box, self.input, unit, self._words)

    def set(self, value: Value) -> None:
        """Show a value without telling anybody."""
        self._silent = True
        self._last = value
        try:
            self.input.value = _shown(self.control, value)
        finally:
            self._silent = False

    def say(self, text: str) -> None:
        """Put quiet words beside the control; what was wrong is forgotten."""
        self.input.remove_class("wrong")
        self._words.value = say(text)

    def refuse(self, text: str) -> None:
        """Mark the control as wrong and say why, beside it."""
        self.input.add_class("wrong")
        self._words.value = say(text, "stop")

    def _moved(self, change: Mapping[str, Any]) -> None:
        if self._silent:
            return
        key, found = self.control.key, change["new"]
        if self.control.kind == "slider" and self._echoed(found):
            return
        self._last = found
        if self.control.kind != "number":
            self._changed(key, found)
            return
        try:
            value: Value | InputError = read_number(found, self.control)
        except InputError as error:
            value = error
        self._changed(key, value)

    def _echoed(self, found: float) -> bool:
        """Whether a slider only says its own value again: pages send it with a rounding error."""
        last = self._last
        return not isinstance(last, str) and abs(found - last) < 1e-6 * self.control.step


def _input(control: Control, value: Value) -> Any:
    """The widget of a control, its label inside it so that they belong together."""
    import ipywidgets

    about = f"<span>{escape(control.about)}</span>" if control.about else ""
    common: dict[str, Any] = {
        "description": f"{escape(control.label)}{about}",
        "description_allow_html": True,
        "tooltip": control.label,
        "layout": ipywidgets.Layout(width="560px", flex="0 0 560px"),
        "style": {"description_width": "216px"},
    }
    shown: Any = _shown(control, value)
    if control.kind == "number":
        return ipywidgets.Text(value=shown, continuous_update=False, **common)
    if control.kind == "choice":
        pairs = [(words, key) for key, words in control.choices]
        return ipywidgets.Dropdown(options=pairs, value=shown, **common)
    low, high = min(control.low, shown), max(control.high, shown)
    if control.digits == 0:
        return ipywidgets.IntSlider(
            value=shown, min=round(low), max=round(high), step=round(control.step), **common
        )
    return ipywidgets.FloatSlider(
        value=shown,
        min=low,
        max=high,
        step=control.step,
        readout_format=f".{control.digits}f",
        **common,
    )


def _shown(control: Control, value: Value) -> Value:
    """A value as its widget takes it."""
    if control.kind == "choice" or isinstance(value, str):
        return str(value)
    if control.kind == "number":
        plain = repr(round(value, 6))
        decimals = len(plain.partition(".")[2]) if "e" not in plain else 9
        return f"{value:.{control.digits}f}" if decimals <= control.digits else plain
    return round(value) if control.digits == 0 else round(value, 9)


def _range_words(control: Control) -> str:
    if math.isinf(control.high):
        return f"a number of {numbers.num(control.low, 0)} or more"
    return (
        f"a number from {numbers.num(control.low, control.digits)} "
        f"to {numbers.num(control.high, control.digits)}"
    )


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
