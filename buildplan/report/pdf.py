"""Pages as PDF, for paper and mail; needs the optional extra ``pdf``. The same page, same bytes."""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from hashlib import sha256
from typing import TYPE_CHECKING

from buildplan.errors import BuildplanError
from buildplan.report import style
from buildplan.report.platform_picture import FILLS

if TYPE_CHECKING:
    from weasyprint.urls import URLFetcher

HOW_TO_INSTALL = (
    "--pdf: the PDF maker is not installed; install it with pip install 'buildplan[pdf]' "
    "(on Debian also apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0)"
)
FIXED_TIME_S = "1577836800"
"""2020-01-01 in seconds since 1970, as the agreed variable of reproducible builds has it."""

PAPER_CSS = (
    '@page{{@bottom-left{{content:"{foot}";font:9pt "Source Sans 3",sans-serif;color:#565E66}}'
    '@bottom-right{{content:"page " counter(page) " of " counter(pages);'
    'font:9pt "Source Sans 3",sans-serif;color:#565E66}}}}'
)

NO_GRIDS_CSS = """
.keys, .verdict, .large, .multiples, .platforms, .plots { display: block !important }
.keys > div, .multiples > figure { display: inline-block; width: 23.5%; vertical-align: top }
.platforms > figure { display: inline-block; width: 31%; vertical-align: top }
.verdict > .hero { width: 60%; margin-top: 12px }
.large > .pinned { width: 70% }
table.cycles { min-width: 0 !important; font-size: 10.5px }
th { font-size: 10.5px; line-height: 13px }
"""
"""The PDF maker fails on grids that break across pages."""


def require_pdf() -> None:
    """Whether PDF files can be made here.

    Raises:
        BuildplanError: The extra or one of its system libraries is missing.
    """
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as error:
        raise BuildplanError(HOW_TO_INSTALL) from error


def page_pdf(page: str, *, foot: str = "", made_on: date | None = None) -> bytes:
    """A self-contained page as PDF; nothing but what is inside the page is read.

    Args:
        page: HTML text.
        foot: Runs at the bottom of every page, with the page's number; empty: neither.
        made_on: Written into the file as the day it was made, instead of the clock.

    Raises:
        BuildplanError: The extra or one of its system libraries is missing.
    """
    require_pdf()
    from weasyprint import CSS, HTML

    paper = for_pdf(page)
    if made_on is not None:
        stamp = f'<meta name="dcterms.created" content="{made_on.isoformat()}">'
        paper = paper.replace("<title>", f"{stamp}<title>", 1)
    paper_css = PAPER_CSS.format(foot=css_text(foot)) + NO_GRIDS_CSS
    sheets = [CSS(string=paper_css)] if foot else []
    with _fixed_clock():
        made = HTML(string=paper, url_fetcher=_only_inside(), media_type="print").write_pdf(
            stylesheets=sheets, pdf_identifier=sha256(paper.encode()).hexdigest()[:32].encode()
        )
    return bytes(made)


@contextmanager
def _fixed_clock() -> Iterator[None]:
    """The embedded fonts carry the time of writing; it is fixed while a file is made."""
    before = os.environ.get("SOURCE_DATE_EPOCH")
    os.environ["SOURCE_DATE_EPOCH"] = FIXED_TIME_S
    try:
        yield
    finally:
        if before is None:
            del os.environ["SOURCE_DATE_EPOCH"]
        else:
            os.environ["SOURCE_DATE_EPOCH"] = before


def for_pdf(page: str) -> str:
    """The page in its light colours, written out: PDF makers do not resolve them in drawings."""
    page = re.sub(r"@media screen and \(prefers-color-scheme:dark\)\{[^{}]*\{[^{}]*\}\}", "", page)
    page = re.sub(r":root\[data-theme=dark\]\{[^{}]*\}", "", page)
    page = re.sub(r"var\(--fill(\d)\)", lambda found: FILLS[int(found[1])], page)
    return style.for_paper(page)


def css_text(text: str) -> str:
    """A text inside quotes of a style sheet: every unusual character is written as its number."""
    return "".join(
        c if c.isalnum() or c in " ,.-" else f"\\{ord(c):06x} " for c in text if ord(c) >= 0x20
    )


def _only_inside() -> "URLFetcher":
    """A fetcher that refuses every address but data inside the page."""
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=["data"], allow_redirects=False)
