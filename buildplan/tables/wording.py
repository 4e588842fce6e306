"""How faults in tables and build files are worded: values, allowed choices, near names."""

import difflib
from collections.abc import Iterable

LONGEST_VALUE = 60
LONGEST_NAME = 100


def normal_key(text: str) -> str:
    """A key as it is compared: no case, blanks and hyphens as underscores."""
    return "_".join(text.casefold().replace("-", " ").replace("_", " ").split())


def show(value: object) -> str:
    """A value from a file, short enough for one line: text in quotes, lists and tables counted."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        line = " ".join(value.split())
        return f'"{line if len(line) <= LONGEST_VALUE else line[: LONGEST_VALUE - 3] + "..."}"'
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "a table"
    text = str(value)
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def near_name(found: str, allowed: Iterable[str]) -> str:
    """The allowed name closest to the one found, or an empty text."""
    names = {normal_key(name): name for name in allowed}
    wanted = normal_key(found)
    hits = difflib.get_close_matches(wanted, names, n=1, cutoff=0.6)
    if not hits and len(wanted) >= 3:
        hits = sorted((name for name in names if wanted in name or name in wanted), key=len)[:1]
    return names[hits[0]] if hits else ""


def not_known(what: str, found: object, allowed: Iterable[str]) -> str:
    """One sentence or two: what is not known, what is allowed, and the near name.

    >>> not_known("feedstock", "PTEG", ["PLA", "PETG"])
    'feedstock "PTEG" is not known. Allowed: PLA, PETG. Did you mean PETG?'
    """
    choices = tuple(allowed)
    near = near_name(found, choices) if isinstance(found, str) else ""
    listed = ", ".join(choices) if choices else "none is defined"
    hint = f" Did you mean {near}?" if near else ""
    return f"{what} {show(found)} is not known. Allowed: {listed}.{hint}"


def span(low: float, high: float) -> str:
    """An allowed range in words."""
    return f"{low:,.10g} to {high:,.10g}"


def name_fault(name: str) -> str:
    """What is wrong with a name: empty, too long, characters that do not print; or nothing."""
    if not name.strip():
        return "is empty. Write a short name"
    if len(name) > LONGEST_NAME:
        return f"has {len(name)} characters. Allowed: up to {LONGEST_NAME}"
    if not name.isprintable():
        return f"{ascii(name)[:LONGEST_VALUE]} holds characters that do not print. Use one line"
    return ""
