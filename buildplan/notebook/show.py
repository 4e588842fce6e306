"""Results in a cell: plain HTML tables and pictures, readable again without a running kernel."""

from base64 import b64encode
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from IPython.display import HTML

from buildplan.build import Build, load_build
from buildplan.checks.fit import Fit
from buildplan.demo import BUILD_FILE, lay_out
from buildplan.findings import Finding
from buildplan.part import Part, read_part
from buildplan.process.compare import FeedstockComparison
from buildplan.process.estimate import PrintEstimate
from buildplan.report import numbers, style
from buildplan.report.picture import draw_part

Cell = tuple[str, bool]
"""Text of a table cell and whether it is a number."""

DEMO = "sprout house"
"""Name of the demo build in its file."""

_CSS = (
    ".bp{font:15px/1.5 system-ui,sans-serif;max-width:70em}"
    ".bp table{border-collapse:collapse;margin:0}"
    ".bp th{font-weight:400;opacity:.7;text-align:left;padding:2px 16px 4px 0;"
    "border-bottom:1px solid currentColor;vertical-align:bottom}"
    ".bp td{text-align:left;padding:4px 16px 4px 0;border-bottom:1px solid rgba(128,128,128,.3);"
    "vertical-align:baseline}"
    ".bp th:not(.r),.bp td:not(.r){text-align:left!important}"
    ".bp .r{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}"
    ".bp .mark{vertical-align:-2px;margin-right:6px}.bp p{margin:6px 0}"
)


def open_demo(folder: str | Path = "sprout_house") -> Build:
    """The demo build: the one of the working folder, else laid out beside the notebook."""
    place = Path(folder)
    if not (place / BUILD_FILE).is_file():
        near = (Path(one) / BUILD_FILE for one in (".", ".."))
        builds = (load_build(file) for file in near if file.is_file())
        demo = next((build for build in builds if build.name == DEMO), None)
        if demo is not None:
            return demo
        lay_out(place)
    return load_build(place / BUILD_FILE)


def show_parts(build: Build) -> HTML:
    """Every part of a build: size, volume, triangles, mesh grade, what to look at."""
    rows = []
    for request in build.parts:
        part = read_part(request.path, unit=request.unit, name=request.name)
        rows.append(
            [
                (_words(part.name), False),
                (str(request.quantity), True),
                (numbers.size(part.size_mm), True),
                (numbers.num(part.volume_mm3 / 1000, 1), True),
                (numbers.num(len(part.facets), 0), True),
                (part.health.grade, False),
                (request.feedstock.name, False),
                (_looks(part.findings), False),
            ]
        )
    head = ("part", "count", "size", "volume\ncm³", "facets", "mesh", "feedstock", "look at")
    return _page(_table(head, rows))


def show_part(part: Part, width_px: int = 560) -> HTML:
    """A picture of the part the way it is printed, its numbers, and what was found."""
    picture = draw_part(part, width_px=width_px, height_px=round(width_px * 0.72))
    data = b64encode(picture.data).decode()
    facts = (
        f"{_words(part.name)}: {numbers.size(part.size_mm)}, "
        f"{numbers.num(part.volume_mm3 / 1000, 1, 'cm³')}, {len(part.facets)} facets, "
        f"{numbers.count(part.shells, 'shell')}, mesh {part.health.grade}"
    )
    return _page(
        f'<img alt="{escape(_words(part.name))}" width="{width_px}" '
        f'src="data:image/{picture.kind};base64,{data}">'
        f"<p>{escape(facts)}</p>{_findings(part.findings)}"
    )


def show_fit(fits: Sequence[Fit]) -> HTML:
    """One row a printer: whether the part fits, how, and the room left."""
    rows = [
        [
            (_words(fit.printer), False),
            ("fits " + fit.how if fit.fits else "does not fit", False),
            (", ".join(numbers.num(x, 0) for x in fit.slack_mm), True),
        ]
        for fit in fits
    ]
    return _page(_table(("printer", "fit", "room left x, y, z\nmm"), rows))


def show_hours(estimates: Sequence[PrintEstimate]) -> HTML:
    """One row an estimate: hours with their spread, feedstock, energy and money."""
    rows = [
        [
            (f"{_words(e.printer)}, {e.recipe}", False),
            (numbers.num(e.time_h, 1), True),
            (
                f"{numbers.num(e.time_spread_h.low, 1)} to {numbers.num(e.time_spread_h.high, 1)}",
                True,
            ),
            (numbers.num(e.mass_g, 0), True),
            (numbers.num(e.length_m, 1), True),
            (numbers.num(e.energy_kwh, 2), True),
            (numbers.num(e.total_cost, 2), True),
        ]
        for e in estimates
    ]
    head = (
        "printer, recipe",
        "usual\nh",
        "8 times in 10\nh",
        "mass\ng",
        "strand\nm",
        "energy\nkWh",
        "cost",
    )
    roles = _table(
        ("where the hours go", "time\nh", "length\nm", "mass\ng"),
        [
            [
                (_words(share.role), False),
                (numbers.num(share.time_h, 2), True),
                (numbers.num(share.length_m, 1), True),
                (numbers.num(share.mass_g, 1), True),
            ]
            for share in sorted(estimates[0].by_role, key=lambda s: -s.time_h)
        ],
    )
    return _page(_table(head, rows) + f"<p></p>{roles}{_findings(estimates[0].findings)}")


def show_feedstocks(comparison: Iterable[FeedstockComparison]) -> HTML:
    """One row a feedstock: hours, grams and money on this printer, what it is good and bad for."""
    rows = []
    for row in comparison:
        values = (
            (numbers.num(row.time_h, 1), numbers.num(row.mass_g, 0), numbers.num(row.total_cost, 2))
            if row.runs
            else ("", "", "")
        )
        good = row.good_for if row.runs else f"not on this printer: {row.reason}"
        rows.append(
            [
                (row.name, False),
                *((value, True) for value in values),
                (numbers.num(row.service_c, 0), True),
                (good, False),
                (row.bad_for if row.runs else "", False),
            ]
        )
    head = ("feedstock", "usual\nh", "mass\ng", "cost", "holds\n°C", "good for", "bad for")
    return _page(_table(head, rows))


def _page(body: str) -> HTML:
    # the display class carries no types
    return HTML(  # type: ignore[no-untyped-call]
        f'<style>:root{{{_variables()}}}{_CSS}</style><div class="bp">{body}</div>'
    )


def _variables() -> str:
    names = ("vermilion", "orange", "blue", "green")
    light = {name: style.TOKENS[name][0] for name in names} | {"ink": "currentColor"}
    return ";".join(f"--{name}:{value}" for name, value in light.items())


def _table(head: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    numeric = [cell[1] for cell in rows[0]] if rows else [False] * len(head)
    heads = "".join(
        f"<th{_right(right)}>{escape(name).replace(chr(10), '<br>')}</th>"
        for name, right in zip(head, numeric, strict=True)
    )
    body = "".join(
        "<tr>" + "".join(f"<td{_right(right)}>{_text(text)}</td>" for text, right in row) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"


def _right(numeric: bool) -> str:
    return ' class="r"' if numeric else ""


def _text(text: str) -> str:
    return text if text.startswith("<svg") else escape(text)


def _looks(findings: tuple[Finding, ...]) -> str:
    if not findings:
        return style.sign(None) + "nothing"
    return "<br>".join(style.sign(f.severity) + escape(f"{f.severity}: {f.what}") for f in findings)


def _findings(findings: tuple[Finding, ...]) -> str:
    return "".join(
        f"<p>{style.sign(f.severity)}<b>{f.severity}</b> {escape(f.what)}. "
        f"{escape(f.measured)}; {escape(f.required)}. Do: {escape(f.remedy)}</p>"
        for f in findings
    )


def _words(name: str) -> str:
    return name.replace("_", " ")
