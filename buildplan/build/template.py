"""A commented build file to start from, with a small example part beside it."""

from importlib import resources
from pathlib import Path

from buildplan.build.faults import name_faults
from buildplan.errors import BuildFileError

EXAMPLE_MESH = "parts/example_box.stl"
EXAMPLE_SIZE_MM = (60, 40, 25)


def write_template(folder: Path | str, name: str) -> Path:
    """Write build.toml and an example mesh into a folder and give the build file's path.

    Args:
        folder: Made where it is missing; nothing in it is overwritten.
        name: Name of the device.

    Raises:
        BuildFileError: The name cannot be one, a file is there already, or the folder cannot be
            written.
    """
    from buildplan.files import write_whole

    for fault in name_faults(name, ()):
        raise BuildFileError(f"the device's {fault.text}")
    place = Path(folder)
    build_file, mesh = place / "build.toml", place / EXAMPLE_MESH
    for file in (build_file, mesh):
        if file.exists() or file.is_symlink():
            raise BuildFileError(f"{file} is there already. Choose another folder or move it away")
    template = resources.files("buildplan.build").joinpath("template.toml")
    text = template.read_text(encoding="utf-8").replace("@name@", _toml_text(name))
    try:
        write_whole(mesh, _box_stl(*EXAMPLE_SIZE_MM))
        return write_whole(build_file, text)
    except OSError as error:
        reason = error.strerror or error
        raise BuildFileError(f"{place} cannot be written: {reason}. Choose a folder") from None


def _toml_text(text: str) -> str:
    """A text as it stands between quotes in TOML."""
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _box_stl(width: int, depth: int, height: int) -> str:
    """A closed box of 12 facets as an ASCII STL text, its low corner at the origin."""
    corners = [(x, y, z) for x in (0, width) for y in (0, depth) for z in (0, height)]
    squares = {
        (-1, 0, 0): (0, 1, 3, 2),
        (1, 0, 0): (4, 6, 7, 5),
        (0, -1, 0): (0, 4, 5, 1),
        (0, 1, 0): (2, 3, 7, 6),
        (0, 0, -1): (0, 2, 6, 4),
        (0, 0, 1): (1, 5, 7, 3),
    }
    lines = ["solid example_box"]
    for normal, (a, b, c, d) in squares.items():
        for facet in ((a, b, c), (a, c, d)):
            lines.append(f"facet normal {normal[0]} {normal[1]} {normal[2]}")
            lines.append("outer loop")
            lines.extend("vertex {} {} {}".format(*corners[i]) for i in facet)
            lines.extend(("endloop", "endfacet"))
    return "\n".join([*lines, "endsolid example_box", ""])
