"""Pictures and drawings inside a page: nothing is fetched from anywhere."""

import re
from base64 import b64encode
from typing import TYPE_CHECKING, Any

from buildplan.report.picture import Picture
from buildplan.report.platform_picture import FILLS, PlatformPicture
from buildplan.report.style import TOKENS

if TYPE_CHECKING:
    from markupsafe import Markup

FILLS_DARK = ("#1F4258", "#54401F", "#1E4A3D", "#4A4522", "#45324A", "#3A3D41")
"""Tints of ``platform_picture.FILLS`` for the dark theme, light words on them."""

_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_IDS = re.compile(r'(\bid="|url\(#|href="#)')


def data_address(picture: Picture) -> str:
    """A picture as the address of an image."""
    return f"data:image/{picture.kind};base64,{b64encode(picture.data).decode()}"


def bar(value: float, scale: float, width_px: int) -> "Markup":
    """A bar on a common scale."""
    from markupsafe import Markup

    length = max(1.0, value / max(scale, 1e-9) * width_px)
    return Markup(
        f'<svg class="bar" width="{width_px}" height="10" viewBox="0 0 {width_px} 10" '
        f'aria-hidden="true"><rect width="{length:.1f}" height="10" fill="var(--blue)"/></svg>'
    )


def fill_variables() -> str:
    """Custom properties of the platforms' tints for both themes; print is always light."""
    light, dark = (
        ";".join(f"--fill{i}:{colour}" for i, colour in enumerate(tints))
        for tints in (FILLS, FILLS_DARK)
    )
    return (
        f":root{{{light}}}\n@media screen and (prefers-color-scheme:dark){{"
        f":root:not([data-theme=light]){{{dark}}}}}\n:root[data-theme=dark]{{{dark}}}\n"
        f"@media print{{:root,:root[data-theme=dark]{{{light}}}}}\n"
    )


def drawing(picture: PlatformPicture, mark: str) -> Any:
    """An SVG drawing inside a page, its colours those of the page's theme, scaled to its column.

    Args:
        picture: Of kind "svg".
        mark: Put before every id, so that two drawings on one page do not mix them up.
    """
    from markupsafe import Markup, escape

    text = picture.data.decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    text = re.sub(r"<style.*?</style>", "", text, flags=re.S)  # it would hold for the whole page
    text = _NUMBER.sub(lambda number: _short(float(number[0])), text)
    text = _IDS.sub(rf"\g<1>{mark}-", text)
    names = {pair[0].lower(): name for name, pair in TOKENS.items()}
    names |= {colour.lower(): f"fill{i}" for i, colour in enumerate(FILLS)} | {"#ffffff": "paper"}
    text = re.sub(
        r"#[0-9a-f]{6}\b", lambda c: f"var(--{names[c[0]]})" if c[0] in names else c[0], text
    )
    head, rest = text.split(">", 1)
    head = re.sub(r' (?:width|height|version|xmlns(?::xlink)?)="[^"]*"', "", head)
    return Markup(
        f'{head} role="img" aria-label="{escape(picture.alt)}" stroke-linejoin="round">'
        f"{rest.strip()}"
    )


def _short(value: float) -> str:
    """A coordinate or a scale of a drawing: digits that show."""
    return f"{value:.2f}" if abs(value) >= 1.0 else f"{value:.5f}".rstrip("0").rstrip(".")
