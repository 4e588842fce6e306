"""The demo build, the sprout house: where it lies, and laying it out in a folder of the user's own.

In a checkout it lies in ``parts/sprout_house`` with the guided notebooks in ``notebooks``; in the
wheel both travel inside this package.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from buildplan.errors import InputError

BUILD_FILE = "build.toml"
_DEMO_ENDINGS = (".toml", ".csv", ".stl", ".3mf", ".obj")
_NOTEBOOK_ENDINGS = (".ipynb",)


def _roots() -> tuple[Traversable, ...]:
    """Where ``parts`` and ``notebooks`` may lie: in the wheel, in the checkout."""
    return files(__name__), Path(__file__).parents[2]


def _find(*names: str) -> Traversable | None:
    for root in _roots():
        place = root.joinpath(*names)
        if place.is_dir():
            return place
    return None


def _demo_place() -> Traversable:
    place = _find("parts", "sprout_house")
    if place is None:
        looked = " and ".join(f"{root}/parts/sprout_house" for root in _roots())
        raise InputError(
            f"the demo build is missing: looked in {looked}, found neither; install buildplan anew"
        )
    return place


def demo_folder() -> Path:
    """The folder that holds the demo's build file, meshes and print log.

    Raises:
        InputError: The demo is missing, or packed in an archive; then use ``lay_out``.
    """
    place = _demo_place()
    if not isinstance(place, Path):
        raise InputError(f"the demo build is packed in {place}; lay it out in a folder first")
    return place


def guided_notebooks() -> tuple[Traversable, ...]:
    """The guided notebooks as installed, in order of name; none where they are not."""
    place = _find("notebooks")
    found = () if place is None else tuple(place.iterdir())
    mine = [file for file in found if file.is_file() and file.name.endswith(_NOTEBOOK_ENDINGS)]
    return tuple(sorted(mine, key=lambda file: file.name))


def lay_out(folder: Path | str) -> Path:
    """Copy the demo build into a new folder, all of it or nothing, and give the folder.

    The copy holds build.toml, the meshes, the print log and, in ``notebooks``, the guided notebooks
    where they are installed. It is made beside its place and moved there when complete.

    Raises:
        InputError: The folder holds something already, or cannot be written.
    """
    target = Path(folder).expanduser().absolute()
    _refuse_occupied(target)
    copies = list(_files_to_copy())
    into_empty = target.is_dir()  # perhaps somebody stands in it: fill it, do not replace it
    try:
        home = target if into_empty else target.parent
        home.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(dir=home, prefix=f".{target.name}."))
    except OSError as error:
        raise _cannot_write(target, error) from error
    try:
        for source, name in copies:
            copy = draft / name
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(source.read_bytes())
        if into_empty:
            _move_all(draft, target)
        else:
            draft.chmod(0o755)
            os.rename(draft, target)  # noqa: PTH104 (Path.replace says it overwrites; this must not)
    except OSError as error:
        raise _cannot_write(target, error) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return target


def _move_all(draft: Path, target: Path) -> None:
    """Move everything into an empty folder, the build file last; take it back on a failure."""
    entries = sorted(draft.iterdir(), key=lambda path: (path.name == BUILD_FILE, path.name))
    try:
        for entry in entries:
            entry.rename(target / entry.name)
    except OSError:
        for entry in entries:
            if not entry.exists():
                (target / entry.name).rename(entry)
        raise


def _files_to_copy() -> Iterator[tuple[Traversable, str]]:
    """Every file of the demo with its name in the laid-out folder, in order of name."""
    demo = _demo_place()
    for source in sorted(demo.iterdir(), key=lambda file: file.name):
        if source.is_file() and source.name.endswith(_DEMO_ENDINGS):
            yield source, source.name
    for source in guided_notebooks():
        yield source, f"notebooks/{source.name}"


def _refuse_occupied(target: Path) -> None:
    if target.is_dir():
        held = sum(1 for _ in target.iterdir())
        if held:
            raise InputError(
                f"{target} is not empty: it holds {held} {'entry' if held == 1 else 'entries'}, "
                "0 allowed; name a new folder for the demo"
            )
    elif target.exists() or target.is_symlink():
        raise InputError(f"{target} is a file; name a new folder for the demo")


def _cannot_write(target: Path, error: OSError) -> InputError:
    return InputError(
        f"the demo cannot be laid out in {target}: {error.strerror or error}; "
        "name a folder that may be written"
    )
