"""The terminal's look: plain tables, one rule under the head, a shape and a word for severity."""

from collections.abc import Iterable
from typing import IO

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text
from rich.theme import Theme

from buildplan.findings import Finding, Severity
from buildplan.report.gather import place_and_numbers, written

THEME = Theme(
    {
        "stop": "bold #D55E00",
        "caution": "bold #C98500",
        "note": "#2E8CC4",
        "good": "#009E73",
        "quiet": "dim",
        "head": "bold",
    }
)
_SIGNS: dict[str, tuple[str, str]] = {
    "stop": ("■", "stop"),
    "caution": ("▲", "caution"),
    "note": ("○", "note"),
    "ok": ("✓", "good"),
}
WIDE = 100


def console(file: IO[str] | None = None, width: int | None = None, *, err: bool = False) -> Console:
    """A console with the house's theme; it drops colour by itself where there is no terminal."""
    return Console(
        theme=THEME, highlight=False, file=file, width=width, stderr=err, soft_wrap=False
    )


def sign(severity: Severity | None) -> Text:
    """Coloured shape and the word in the terminal's own colour."""
    shape, style = _SIGNS[severity or "ok"]
    return Text.assemble((shape, style), f" {severity or 'ok'}")


def table(*columns: tuple[str, str, bool]) -> Table:
    """An empty table: (name, unit, whether numbers) for each column, the unit under the name."""
    made = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1),
        header_style="",
        show_edge=False,
        collapse_padding=True,
    )
    units = any(unit for _, unit, _ in columns)
    for name, unit, numeric in columns:
        head = Text(name, style="quiet")
        if units:
            head.append(f"\n{unit}", style="quiet")
        made.add_column(head, justify="right" if numeric else "left", no_wrap=numeric)
    return made


def hanging(first: Text, rest: str | Text) -> Table:
    """One paragraph whose later lines hang under its own first word, not under the sign."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True)
    grid.add_column()
    grid.add_row(first, rest)
    return grid


def finding_block(finding: Finding) -> Table:
    """A finding: what, then measured against required and where, then what to do."""
    shape, style = _SIGNS[finding.severity]
    body = Text()
    body.append(_sentence(_capital(written(finding.what))), style="head")
    body.append(f"\n{_capital(place_and_numbers(finding))}")
    body.append(f"\nDo: {_sentence(_capital(written(finding.remedy)))}")
    return hanging(Text.assemble((shape, style), f" {finding.severity:<8}"), body)


def note_row(check: str, text: str) -> Table:
    """What a check notes, in one line."""
    shape, style = _SIGNS["note"]
    body = Text.assemble((f"{_capital(check)}: ", "head"), _sentence(text))
    return hanging(Text.assemble((shape, style), " note    "), body)


def error_block(message: str) -> Table:
    """One fault, one paragraph."""
    return hanging(Text.assemble(("■", "stop"), (" error", "head")), Text(message))


def print_findings(to: Console, findings: Iterable[Finding]) -> None:
    """Findings, the gravest first."""
    order = {"stop": 0, "caution": 1, "note": 2}
    for finding in sorted(findings, key=lambda f: order[f.severity]):
        to.print(finding_block(finding))


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
