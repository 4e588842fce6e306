"""An answer in a cell: a heading that says it, a figure or table, and the same as plain text."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from buildplan.findings import Severity
from buildplan.report import numbers, style
from buildplan.report.embed import FILLS_DARK, drawing
from buildplan.report.page import template_named
from buildplan.report.platform_picture import FILLS, PlatformPicture

if TYPE_CHECKING:
    from markupsafe import Markup

BREAKS = {"p", "li", "tr", "h2", "h3", "h4", "figcaption", "caption", "dd", "summary"}
"""Elements that end a line of the plain text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a question of a guided notebook gets back; shown by being the last thing in a cell.

    It is plain HTML: it stays readable when the kernel is gone, and asks for nothing.

    Attributes:
        heading: The answer in one sentence.
        html: What stands below it, already escaped.
        severity: Its sign: "stop", "caution", "note", or "ok" for a tick; empty for none.
        with_fonts: Whether it brings the typefaces; once in a notebook is enough.
    """

    heading: str
    html: str
    severity: str = ""
    with_fonts: bool = False

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        """Page for the notebook, text for everything else."""
        return {"text/html": self._page(), "text/plain": str(self)}

    def __str__(self) -> str:
        """The answer as plain text."""
        said = f"{self.severity}: " if self.severity else ""
        return f"{said}{numbers.plain(self.heading)}\n{plain_text(self.html)}".strip()

    def _page(self) -> str:
        from markupsafe import escape

        mark = sign(self.severity, 20) if self.severity else ""
        body = f'<div class="bp-answer"><h2>{mark} {escape(self.heading)}</h2>{self.html}</div>'
        faces = style.font_faces() if self.with_fonts else ""
        return numbers.bind_units(f"<style>{faces}{answer_css()}</style>{body}")


@cache
def answer_css() -> str:
    """The report's own style, kept inside an answer, in the theme of the notebook."""
    fills = (FILLS, FILLS_DARK)
    light, dark = (
        ";".join(
            [f"--{name}:{pair[place]}" for name, pair in style.TOKENS.items()]
            + [f"--fill{number}:{fill}" for number, fill in enumerate(fills[place])]
        )
        for place in (0, 1)
    )
    report = (files("buildplan.report") / "templates" / "report.css").read_text("utf-8")
    own = (files("buildplan.notebook.answers") / "answers.css").read_text("utf-8")
    report = report.partition("@page")[0]  # paper is the report's business
    return (
        f".bp-answer{{{light}}}\nbody[data-jp-theme-light=false] .bp-answer{{{dark}}}\n"
        f".bp-answer{{\n{report}\n}}\n{own}"
    )


def sign(severity: str, size_px: int = 16) -> "Markup":
    """The sign of a severity; a tick for anything else."""
    from markupsafe import Markup

    known: dict[str, Severity] = {"stop": "stop", "caution": "caution", "note": "note"}
    return Markup(style.sign(known.get(severity), size_px))


def table(
    columns: Sequence[tuple[str, str, str]],
    rows: Iterable[Mapping[str, Any]],
    *,
    right: Iterable[str] = (),
) -> str:
    """A table of a section's rows; every text is escaped, drawings stay drawings.

    Args:
        columns: Key in the rows, head, unit; the key "severity" is drawn as its sign.
        rows: With a key for every column; a row whose "pick" is true is marked.
        right: Keys of numbers.
    """
    from markupsafe import escape

    kept = set(right)

    def kind(key: str, place: int) -> str:
        return ' class="r"' if key in kept else ' class="w"' if place else ""

    heads = "".join(
        f"<th{kind(key, place)}>{escape(head)}"
        + (f'<br><span class="unit">{escape(unit)}</span>' if unit else "")
        + "</th>"
        for place, (key, head, unit) in enumerate(columns)
    )
    body = "".join(
        ('<tr class="pick">' if row.get("pick") else "<tr>")
        + "".join(
            f"<td{kind(key, place)}>{_cell(key, row[key])}</td>"
            for place, (key, _, _) in enumerate(columns)
        )
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="scroll"><table><thead><tr>{heads}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def figure(picture: PlatformPicture, mark: str, caption: str) -> str:
    """A drawing with the sentence that says how to read it."""
    from markupsafe import escape

    drawn = drawing(picture, f"answer-{mark}")
    return f'<figure class="plot">{drawn}<figcaption>{escape(caption)}</figcaption></figure>'


def sentences(lines: Iterable[str], kind: str = "") -> str:
    """Each line a paragraph."""
    from markupsafe import escape

    name = f' class="{kind}"' if kind else ""
    return "".join(f"<p{name}>{escape(line)}</p>" for line in lines)


def template(name: str, **values: Any) -> str:
    """One of the report's own sections, as the report shows it."""

    def marked(severity: str | None, size_px: int = 16) -> "Markup":
        return sign(severity or "", size_px)

    return template_named(name).render(sign=marked, none=None, **values)


def not_asked(heading: str, what_to_add: Iterable[str]) -> Answer:
    """The answer where the build file does not say enough: what to write into it."""
    lines = [f"<code>{_escaped(line)}</code>" for line in what_to_add]
    html = "<p>Write this into the build file, then run the cell again:</p>" + "".join(
        f"<p>{line}</p>" for line in lines
    )
    return Answer(heading=heading, html=html, severity="note")


def plain_text(html: str) -> str:
    """The words of a page: a line for each paragraph, cells of a row parted by bars."""
    reader = _Words()
    reader.feed(html)
    reader.close()
    lines = ("".join(reader.found)).splitlines()
    kept = (" ".join(numbers.plain(line).split()).strip(" |") for line in lines)
    return "\n".join(line for line in kept if line)


class _Words(HTMLParser):
    """Collects the text of a page; pictures by what they say they show."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._inside_drawing = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin an element."""
        said = dict(attrs)
        if tag == "svg" or self._inside_drawing:
            self._inside_drawing += tag == "svg"
            if said.get("aria-label"):
                self.found.append(f"[{said['aria-label']}]\n")
            return
        if tag == "img" and said.get("alt"):
            self.found.append(f"[picture: {said['alt']}]\n")
        if tag == "br":
            self.found.append(" ")

    def handle_endtag(self, tag: str) -> None:
        """End an element."""
        if tag == "svg":
            self._inside_drawing -= 1
        elif tag in ("td", "th"):
            self.found.append(" | ")
        elif tag in BREAKS:
            self.found.append("\n")

    def handle_data(self, data: str) -> None:
        """Words."""
        if not self._inside_drawing:
            self.found.append(data.replace("\n", " "))


def _cell(key: str, value: Any) -> str:
    from markupsafe import escape

    return str(sign(str(value)) if key == "severity" else escape(value))


def _escaped(text: str) -> str:
    from markupsafe import escape

    return str(escape(text))
