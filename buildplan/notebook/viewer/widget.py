"""The widget: a scene's bytes on their way to the browser, and the few things a reader changes."""

from base64 import b64encode
from html import escape
from importlib.resources import files
from typing import Any

import anywidget
import traitlets

from buildplan.notebook.viewer.model import Scene
from buildplan.notebook.viewer.pack import pack_scene
from buildplan.notebook.viewer.still import draw_still
from buildplan.report.style import TOKENS

WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
KEPT_STYLE = (
    ".jp-OutputArea-child:has(.bp-view)+.jp-OutputArea-child:has(.bp-kept),"
    ".jp-OutputArea-child:not(:has(.bp-view)):has(+.jp-OutputArea-child .bp-kept){display:none}"
    ".bp-kept img{max-width:100%;height:auto}"
)
BUNDLE = files("buildplan.notebook.viewer") / "bundle"


def style_sheet() -> str:
    """The view's CSS with the colours of every page and figure, for both themes of the notebook."""
    light, dark = (
        ";".join(f"--{name}:{pair[place]}" for name, pair in TOKENS.items()) for place in (0, 1)
    )
    own = (BUNDLE / "view.css").read_text("utf-8")
    return f".bp-view{{{light}}}[data-jp-theme-light=false] .bp-view{{{dark}}}\n{own}"


class View(anywidget.AnyWidget):
    """A 3-D view in a cell; a picture where no kernel runs.

    Set any of these from Python too: the picture follows.

    Attributes:
        chosen: Index of the finding or step that is shown, -1 for none.
        apart_frac: How far the bodies are moved apart, 0..1.
        pose: Index along the travel.
        colour_by: Index of the values that colour the bodies, -1 for their own colours.
        hidden: Indices of the bodies that are not shown.
        section: {} or {"axis": 0..2, "at_mm": place, "far": which side stays}.
        flat: Whether it is drawn without perspective, so that lengths compare at any depth.
        white: Whether the ground is white, else it is the page's.
        still: PNG that a browser without WebGL shows.
        target_mm: The point that the picture turns about; ``eye_mm`` where it is seen from. Both
            are told by the browser.
    """

    _esm = (BUNDLE / "view.js").read_text("utf-8")
    _css = style_sheet()

    header = traitlets.Dict().tag(sync=True)
    data = traitlets.Bytes(b"").tag(sync=True)
    chosen = traitlets.Int(-1).tag(sync=True)
    apart_frac = traitlets.Float(0.0).tag(sync=True)
    pose = traitlets.Int(0).tag(sync=True)
    colour_by = traitlets.Int(-1).tag(sync=True)
    hidden = traitlets.List(traitlets.Int()).tag(sync=True)
    section = traitlets.Dict().tag(sync=True)
    flat = traitlets.Bool(False).tag(sync=True)
    white = traitlets.Bool(False).tag(sync=True)
    still = traitlets.Bytes(b"").tag(sync=True)
    target_mm = traitlets.List(traitlets.Float()).tag(sync=True)
    eye_mm = traitlets.List(traitlets.Float()).tag(sync=True)

    def __init__(self, scene: Scene, **state: Any) -> None:
        header, data = pack_scene(scene)
        self.scene = scene
        super().__init__(header=dict(header), data=data, **state)

    def picture(self) -> bytes:
        """PNG of the scene from the usual side: its colours, distances and pose as they are now."""
        hidden = self.hidden if len(self.hidden) < len(self.scene.items) else ()
        return draw_still(
            self.scene,
            colour_by=self.colour_by,
            apart_frac=self.apart_frac,
            pose=self.pose,
            hidden=hidden,
        )

    def text(self) -> str:
        """The scene in words: its title and every line of its list."""
        said = [
            f"{index} {spot.kind}, {spot.where}: {spot.what}"
            for index, spot in enumerate(self.scene.spots, 1)
        ]
        return "\n".join([f"3-D view: {self.scene.title}", *said])

    def _ipython_display_(self) -> None:
        from IPython.display import display

        bundle, about = self._repr_mimebundle_()
        display(bundle, raw=True, metadata=about)  # type: ignore[no-untyped-call]
        kept = {"text/html": self._kept(bundle["image/png"]), "text/plain": "its picture"}
        display(kept, raw=True)  # type: ignore[no-untyped-call]

    def _kept(self, png: str) -> str:
        # A notebook that finds a view's model gone says so and shows no other form of that output:
        # the picture is an output of its own, out of the way while the view lives.
        return (
            f'<div class="bp-kept"><style>{KEPT_STYLE}</style>'
            f'<img width="760" alt="{escape(self.scene.title)}" src="data:image/png;base64,{png}">'
            "<p>A picture of the last run; run the cell to turn the part.</p></div>"
        )

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        # The picture stays in a saved notebook and is shown where the model is gone.
        self.still = self.picture()
        found = super()._repr_mimebundle_(**kwargs)
        bundle, about = found if isinstance(found, tuple) else (found, {})
        bundle = dict(bundle or {}) | {
            "image/png": b64encode(self.still).decode(),
            "text/plain": self.text(),
        }
        return bundle, dict(about) | {
            "image/png": {"width": 760, "height": 500, "alt": self.scene.title}
        }
