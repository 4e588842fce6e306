"""Names and sentences made short and harmless for a page with fixed rows."""

from buildplan.report.sections import words

_HIDDEN = dict.fromkeys(
    (
        *range(0x20),
        *range(0x7F, 0xA0),
        *(0x061C, 0x200E, 0x200F, 0x2028, 0x2029, 0xFEFF),
        *range(0x202A, 0x202F),
        *range(0x2066, 0x206A),
    )
)
"""Control characters and marks that turn the direction of the text after them."""


def tidy(name: str, most_chars: int = 200) -> str:
    """A name as a person writes it, without control characters, and not longer than its place."""
    return shorten(words(name).translate(_HIDDEN).strip(), most_chars)


def bare(text: str) -> str:
    """A sentence without control characters."""
    return text.translate(_HIDDEN)


def shorten(text: str, most_chars: int) -> str:
    """A text cut at a word, with an ellipsis, where it is too long."""
    if len(text) <= most_chars:
        return text
    cut = text[: most_chars - 1]
    word, space, _ = cut.rpartition(" ")
    return f"{word if space and len(word) > most_chars // 2 else cut}…"
