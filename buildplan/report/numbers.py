"""How numbers are written for people: fixed decimals, true minus, unit after a fixed space."""

import re
from decimal import ROUND_HALF_UP, Decimal

FIXED_SPACE = "\u00a0"
THIN_SPACE = "\u202f"
MINUS = "\u2212"


def rounded(value: float, digits: int) -> Decimal:
    """Round half up in the shortest decimal form of the number (78.5 gives 79)."""
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


def num(value: float, digits: int = 1, unit: str = "") -> str:
    """A number with fixed decimals, a narrow space between thousands, a true minus, its unit."""
    text = f"{abs(rounded(value, digits)):,}".replace(",", THIN_SPACE)
    sign = MINUS if value < 0 and any(c in "123456789" for c in text) else ""
    return sign + text + (FIXED_SPACE + unit if unit else "")


def hours(time_h: float) -> str:
    """Whole minutes below 90 minutes, then hours with one decimal."""
    return num(time_h * 60, 0, "min") if time_h < 1.5 else num(time_h, 1, "h")


def grams(mass_g: float) -> str:
    """Whole grams, one decimal below ten."""
    return num(mass_g, 1 if mass_g < 9.95 else 0, "g")


def money(amount: float, currency: str) -> str:
    """A sum with its currency in front."""
    return f"{currency}{FIXED_SPACE}{num(amount, 2)}"


def size(size_mm: tuple[float, float, float]) -> str:
    """Three lengths: whole millimetres when large, decimals when small."""
    digits = 0 if max(size_mm) >= 100 else 1 if max(size_mm) >= 5 else 3
    return " × ".join(num(x, digits) for x in size_mm) + f"{FIXED_SPACE}mm"


def plain(text: str) -> str:
    """The same text with ordinary spaces, for terminals and logs."""
    return text.replace(FIXED_SPACE, " ").replace(THIN_SPACE, " ")


def count(number: int, one: str, many: str = "") -> str:
    """A count with its noun: 1 part, 2 parts."""
    return f"{number} {one if number == 1 else many or one + 's'}"


_UNITS = (
    r"h|min|s|g|kg|mm|cm|m|mm²|cm²|mm³|cm³|ml|l|V|A|K|N|W|Wh|kWh|°C|%|"
    r"days|day|layers|parts|times in|of \d"
)
_BREAKS = re.compile(
    rf"(?<=\d) (?=(?:{_UNITS})(?![\w]))|(?<=[A-Z]{{3}}) (?=[\d{MINUS}])|(?<=time in) (?=\d)"
    r"|(?<=times in) (?=\d)|(?<=\d in) (?=\d)"
)


def bind_units(page: str) -> str:
    """Put a fixed space between every number and its unit in the text of an HTML page."""
    head, style_end, body = page.rpartition("</style>")
    bound = re.sub(r">[^<]+<", lambda text: _BREAKS.sub(FIXED_SPACE, text[0]), body)
    return head + style_end + bound
