"""One look for every page, figure and table: colours, severity signs, embedded fonts.

Data colours are those of Okabe and Ito, "Color universal design" (2008); colour never carries a
meaning alone. Contrast follows WCAG 2.2, 1.4.3.
"""

import re
from base64 import b64encode
from functools import cache
from importlib.resources import files

from buildplan.findings import Severity

TOKENS: dict[str, tuple[str, str]] = {  # each name with its light and its dark value
    "paper": ("#FDFCFA", "#15181B"),
    "tint": ("#F4F2EC", "#1E2327"),
    "pick": ("#E6F0F4", "#1D2C36"),
    "rule": ("#E4E2DC", "#343A40"),
    "line": ("#A9ADB0", "#6B737B"),
    "ink": ("#1D2125", "#ECEAE4"),
    "muted": ("#565E66", "#A8AFB6"),
    "blue": ("#0072B2", "#56B4E9"),
    "vermilion": ("#D55E00", "#EE7733"),
    "green": ("#009E73", "#2DB98F"),
    "orange": ("#E69F00", "#E69F00"),
}
TEXT_COLOURS = ("ink", "muted", "blue")

_SIGNS: dict[str, str] = {
    "stop": (
        '<path d="M5 .8h6L15.2 5v6L11 15.2H5L.8 11V5z" fill="var(--vermilion)"/>'
        '<path d="M4.2 8h7.6" stroke="#fff" stroke-width="2.4"/>'
    ),
    "caution": (
        '<path d="M8 1.4 15.2 14.4H.8z" fill="var(--orange)" stroke="var(--ink)" '
        'stroke-width="1.1" stroke-linejoin="round"/>'
        '<path d="M8 6v4.2M8 11.6v1.4" stroke="#1D2125" stroke-width="1.7"/>'
    ),
    "note": (
        '<circle cx="8" cy="8" r="6.2" fill="none" stroke="var(--blue)" stroke-width="2"/>'
        '<circle cx="8" cy="8" r="1.7" fill="var(--blue)"/>'
    ),
    "ok": (
        '<path d="M2.2 8.6 6.4 12.6 13.8 3.8" fill="none" stroke="var(--green)" '
        'stroke-width="2.4" stroke-linecap="round" stroke-linejoin="round"/>'
    ),
}


def css_variables() -> str:
    """Custom properties for the light and the dark theme; print is always light."""
    light = ";".join(f"--{name}:{pair[0]}" for name, pair in TOKENS.items())
    dark = ";".join(f"--{name}:{pair[1]}" for name, pair in TOKENS.items())
    return (
        f":root{{color-scheme:light;{light}}}\n"
        "@media screen and (prefers-color-scheme:dark){"
        f":root:not([data-theme=light]){{color-scheme:dark;{dark}}}}}\n"
        f":root[data-theme=dark]{{color-scheme:dark;{dark}}}\n"
        f"@media print{{:root,:root[data-theme=dark]{{color-scheme:light;{light}}}}}\n"
    )


@cache
def font_faces() -> str:
    """The two embedded typefaces as CSS (SIL Open Font License, texts beside the files)."""
    faces = []
    for family, file in (
        ("Source Sans 3", "source_sans_3.woff2"),
        ("Source Serif 4", "source_serif_4.woff2"),
    ):
        data = b64encode((files("buildplan.report") / "fonts" / file).read_bytes()).decode()
        faces.append(
            f'@font-face{{font-family:"{family}";font-weight:200 900;font-display:swap;'
            f'src:url(data:font/woff2;base64,{data}) format("woff2")}}'
        )
    return "\n".join(faces)


def sign(severity: Severity | None, size_px: int = 16) -> str:
    """Severity sign as inline SVG: shapes differ, so it survives grey print; None is a tick."""
    return (
        f'<svg class="mark" width="{size_px}" height="{size_px}" viewBox="0 0 16 16" '
        f'aria-hidden="true">{_SIGNS[severity or "ok"]}</svg>'
    )


def contrast_frac(colour: str, ground: str) -> float:
    """Contrast ratio of two #rrggbb colours, 1..21.

    (L1 + 0.05) / (L2 + 0.05) with relative luminance L.
    Source: WCAG 2.2, definitions "contrast ratio" and "relative luminance".
    """

    def luminance(code: str) -> float:
        channels = [int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dark = sorted((luminance(colour), luminance(ground)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def for_paper(page: str) -> str:
    """The page with every colour written out in its light value, for makers of PDF files."""
    return re.sub(r"var\(--(\w+)\)", lambda m: TOKENS[m[1]][0] if m[1] in TOKENS else m[0], page)
