"""What an answer says where the build file says nothing: which tables to add, with an example."""

from functools import cache
from importlib.resources import files

from buildplan.notebook.answers.answer import Answer


def no_mechanism() -> Answer:
    """Where nothing is said of a lid."""
    return not_said("The build file says nothing about a lid and its drive", "mechanism")


def not_said(heading: str, *tables: str) -> Answer:
    """The answer where tables are missing: an example of each, as ``buildplan new`` writes it.

    Args:
        heading: What the build file does not say.
        tables: Names of its tables at the first level: "mechanism", "power", "heat".
    """
    from markupsafe import escape

    text = "\n\n".join(block for name in tables for block in _blocks(name))
    html = (
        "<p>To ask it, write this into the build file with your own numbers, then run the cell "
        f"again. Lengths are in mm, in the device's coordinates.</p><pre>{escape(text)}</pre>"
    )
    return Answer(heading=heading, html=html, severity="note")


@cache
def _blocks(name: str) -> tuple[str, ...]:
    """The blocks of the template whose table is so named, without the marks of a comment."""
    template = (files("buildplan.build") / "template.toml").read_text("utf-8")
    found = []
    for block in template.split("\n\n"):
        lines = [line.removeprefix("#").removeprefix(" ") for line in block.splitlines()]
        while lines and not lines[0].startswith("["):
            lines.pop(0)
        if lines and lines[0].strip("[").split("]")[0].split(".")[0] == name:
            found.append("\n".join(lines))
    return tuple(found)
