"""The picker of notebook 00: a build file or a mesh of the folder, or any path that is typed."""

import os
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

from buildplan.build import Build, load_build
from buildplan.build.keep import BUILD_FILE
from buildplan.demo.working import DROP
from buildplan.errors import BuildplanError, InputError
from buildplan.notebook.answers.answer import table
from buildplan.notebook.answers.memory import VARIABLE, open_build
from buildplan.notebook.answers.plain_errors import say_errors_plainly
from buildplan.notebook.cells import replace_in_cell
from buildplan.notebook.chosen import RECORD, base_folder, keep_chosen
from buildplan.notebook.controls import html_widget, panel_css, plain_words, say, style_widget
from buildplan.notebook.start.folders import Found, build_for_mesh, find_files
from buildplan.part import read_part
from buildplan.report import numbers, style

NONE = ""
"""Value of the line that chooses nothing."""


class Chooser:
    """A list of what lies in a folder, a field for any other path, and what was chosen.

    Args:
        base: The folder.
    """

    def __init__(self, base: Path) -> None:
        import ipywidgets

        self.base = base
        self._silent = False
        self.drop = base / DROP
        self.drop.mkdir(exist_ok=True)
        self.list = ipywidgets.Dropdown(**_common("in the folder", "build files and meshes"))
        self.path = ipywidgets.Text(
            continuous_update=False,
            placeholder="path of a build file, of its folder, or of a mesh; then Enter",
            **_common("or a path", "any place on this computer"),
        )
        self.again = ipywidgets.Button(description="Look into the folder again")
        self.again.add_class("plain")
        self._title, self._where, self._said, self._out = (html_widget() for _ in range(4))
        lines = [ipywidgets.HBox([one]) for one in (self.list, self.path)]
        for line in lines:
            line.add_class("bp-row")
        below = ipywidgets.HBox([self.again])
        below.add_class("bp-line")
        self._parts = [self._title, self._where, *lines, self._said, below, self._out]
        self.box = ipywidgets.VBox(
            [style_widget(), *self._parts], layout=ipywidgets.Layout(width="100%")
        )
        self.box.add_class("bp-panel")
        self.list.observe(lambda change: self._picked(change["new"]), "value")
        self.path.observe(lambda change: self._picked(change["new"]), "value")
        self.again.on_click(lambda _: self.look_again())
        self.look_again()
        self._show_first()
        replace_in_cell(self)

    def close(self) -> None:
        """Take the picker out of the page; the choice is kept."""
        for widget in (*self._parts, self.list, self.path, self.again, self.box):
            widget.close()

    def look_again(self) -> None:
        """List what lies in the folder now."""
        found = find_files(self.base)
        self._silent = True
        before = self.list.value
        self.list.options = [
            ("choose here …" if found else "nothing found", NONE),
            *((f"{one.kind}: {one.words}", str(one.path)) for one in found),
        ]
        self.list.value = before if before in {str(one.path) for one in found} else NONE
        self._silent = False
        self._where.value = _where_words(self.base, found)

    def choose(self, place: str | Path) -> Build:
        """Take a build file, its folder or a mesh, write it down, and show what is in it.

        Raises:
            InputError: It is none of these or is wrong, or another choice goes before this one.
            OSError: The folder cannot be written.
        """
        if os.environ.get(VARIABLE):
            raise InputError(
                f"the environment variable {VARIABLE} names the build of all notebooks: "
                f"{os.environ[VARIABLE]}; start JupyterLab without it to choose here"
            )
        file = Path(place).expanduser()
        file = (file if file.is_absolute() else self.base / file).resolve()
        if file.is_dir():
            file = file / BUILD_FILE
        is_mesh = file.suffix.lower() != ".toml"
        if is_mesh:
            read_part(file, health="quick")
            file = build_for_mesh(self.base, file)
        build = load_build(file)
        keep_chosen(self.base, file)
        self._show(
            build, f"saved to {RECORD}, {datetime.now():%H:%M:%S}; run the cells below again"
        )
        return build

    def _picked(self, place: str) -> None:
        if self._silent or not place.strip():
            return
        try:
            self.choose(place.strip())
            self._said.value = ""
        except (BuildplanError, OSError) as error:
            self._said.value = say(plain_words(error), "stop")
            return
        self.look_again()

    def _show_first(self) -> None:
        try:
            self._show(open_build(), "in use now")
        except BuildplanError as error:
            self._said.value = say(plain_words(error), "stop")

    def _show(self, build: Build, how: str) -> None:
        self._title.value = (
            f'<div class="title">Which build?<span class="right">{style.sign(None, 14)}'
            f"{escape(how)}</span></div>"
        )
        self._out.value = f'<div class="answer">{_about(build)}</div>'
        place = str(build.path.absolute())
        self._silent = True
        if place in [value for _, value in self.list.options]:
            self.list.value = place
        self._silent = False

    def _repr_mimebundle_(self, **asked: Any) -> dict[str, Any]:
        """The widget, and the choice as plain HTML for a page without a kernel."""
        bundle: dict[str, Any] = dict(self.box._repr_mimebundle_(**asked))
        still = "".join(one.value for one in (self._title, self._where, self._said, self._out))
        bundle["text/html"] = f'<style>{panel_css()}</style><div class="bp-panel">{still}</div>'
        return bundle


def choose_build(folder: str | Path = "") -> Chooser:
    """A picker of the build that all notebooks of a folder are about.

    Files are looked for in the folder of the notebooks, or in the one above where its build file
    lies. A mesh gets a build file of its own, in a folder of its name. The choice is kept in
    chosen_build.txt.

    Args:
        folder: Where to look instead.
    """
    say_errors_plainly()
    return Chooser(Path(folder).expanduser().absolute() if str(folder) else base_folder())


def _common(label: str, about: str) -> dict[str, Any]:
    import ipywidgets

    return {
        "description": f"{label}<span>{about}</span>",
        "description_allow_html": True,
        "layout": ipywidgets.Layout(width="auto", flex="1 1 auto"),
        "style": {"description_width": "216px"},
    }


def _where_words(base: Path, found: tuple[Found, ...]) -> str:
    builds = numbers.count(sum(one.kind == "build file" for one in found), "build file")
    meshes = numbers.count(sum(one.kind == "mesh" for one in found), "mesh", "meshes")
    return (
        f'<p class="say">{builds} and {meshes} in {escape(str(base))}. Put meshes of your own into '
        f"its folder <b>{DROP}</b>: drag them onto the file list at the left, or copy them there. "
        "A mesh that is chosen gets a build file of its own.</p>"
    )


def _about(build: Build) -> str:
    """What a build file holds: its parts with their meshes, and where it is."""
    rows = []
    for request in build.parts:
        there = request.path.is_file()
        size = numbers.num(request.path.stat().st_size / 1e6, 1) if there else ""
        rows.append(
            {
                "part": request.name.replace("_", " "),
                "count": str(request.quantity),
                "mesh": request.path.name if there else f"{request.path.name} is missing",
                "size": size,
                "feedstock": request.feedstock.name,
            }
        )
    columns = (
        ("part", "part", ""),
        ("count", "count", ""),
        ("mesh", "mesh", ""),
        ("size", "size", "MB"),
        ("feedstock", "feedstock", ""),
    )
    lines = (f"<b>{escape(build.name)}</b>", escape(str(build.path.absolute())))
    return f"<p>{', '.join(lines)}</p>{table(columns, rows, right=('count', 'size'))}"
