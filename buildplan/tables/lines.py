"""Which line of a TOML text a key stands on."""

import re
from collections.abc import Iterator

KEY_PART = re.compile(r"""\s*("(?:\\.|[^"\\])*"|'[^']*'|[A-Za-z0-9_-]+)\s*""")
STRING = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'')
Path = tuple[str | int, ...]


def lines_of(text: str) -> dict[Path, int]:
    """Line number (from 1) of every table header and key in a valid TOML text.

    Items of arrays of tables carry their position: ("part", 1, "feature", 0, "name"). Keys of
    inline tables and items of plain lists are not listed: ask ``line_of`` for the nearest.
    """
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    for number, line in _statements(text):
        header = re.match(r"\s*(\[\[?)", line)
        if header:
            keys, _ = _dotted(line[header.end() :])
            path = _through(keys[:-1], counts)
            if header[1] == "[[":
                counts[(*path, keys[-1])] = counts.get((*path, keys[-1]), -1) + 1
                here = (*path, keys[-1], counts[(*path, keys[-1])])
            else:
                here = _through(keys, counts)
            found.setdefault(here, number)
            continue
        keys, rest = _dotted(line)
        if keys and rest.startswith("="):
            found.setdefault((*here, *keys), number)
    return found


def line_of(found: dict[Path, int], path: Path) -> int | None:
    """Line of a path, else of the first thing inside it, else of its nearest listed ancestor."""
    for size in range(len(path), 0, -1):
        start = path[:size]
        if start in found:
            return found[start]
        inside = [number for other, number in found.items() if other[:size] == start]
        if inside:
            return min(inside)
    return None


def _through(keys: list[str], counts: dict[Path, int]) -> Path:
    """A header's path, with the current position of every array of tables on its way."""
    path: Path = ()
    for key in keys:
        path = (*path, key)
        if path in counts:
            path = (*path, counts[path])
    return path


def _dotted(text: str) -> tuple[list[str], str]:
    """The keys of a dotted key at the start of a text, and what follows it."""
    keys: list[str] = []
    rest = text
    while hit := KEY_PART.match(rest):
        raw = hit[1]
        keys.append(_unquoted(raw))
        rest = rest[hit.end() :]
        if not rest.startswith("."):
            break
        rest = rest[1:]
    return keys, rest


def _unquoted(raw: str) -> str:
    if raw.startswith('"'):
        import tomllib

        return str(tomllib.loads(f"key = {raw}")["key"])
    return raw.strip("'")


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Lines on which a statement starts: none inside a list, a text block or a comment."""
    depth, block = 0, ""
    for number, line in enumerate(text.split("\n"), start=1):
        if not block and depth == 0 and line.strip() and not line.lstrip().startswith("#"):
            yield number, line
        depth, block = _after(line, depth, block)


def _after(line: str, depth: int, block: str) -> tuple[int, str]:
    """Open brackets and open text block ("" for none) after a line."""
    at = 0
    while at < len(line):
        if block:
            end = _block_end(line, at, block)
            if end < 0:
                return depth, block
            at, block = end, ""
            continue
        if line.startswith(('"""', "'''"), at):
            block = line[at : at + 3]
            at += 3
            continue
        hit = STRING.match(line, at)
        if hit:
            at = hit.end()
            continue
        if line[at] == "#":
            break
        depth += (line[at] in "[{") - (line[at] in "]}")
        at += 1
    return depth, block


def _block_end(line: str, start: int, block: str) -> int:
    """Position behind the marks that close a text block, or -1; up to two more marks belong in."""
    at = start
    while at < len(line):
        if block == '"""' and line[at] == "\\":
            at += 2
            continue
        if line.startswith(block, at):
            at += 3
            while at < len(line) and line[at] == block[0]:
                at += 1
            return at
        at += 1
    return -1
