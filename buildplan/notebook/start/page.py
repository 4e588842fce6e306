"""Whether the page in the browser answers: a control's way to the kernel and back, and WebGL."""

from importlib.resources import files
from typing import Any

import anywidget
import traitlets

from buildplan.notebook.answers.answer import Answer, answer_css, sign
from buildplan.notebook.cells import replace_in_cell

HERE = files("buildplan.notebook.start")

UNSEEN = Answer(
    heading="The page has not answered",
    html=(
        "<p>Here a table should say whether controls and 3-D pictures work. Where this text stays "
        "in a running JupyterLab, its widgets are missing: install jupyterlab, ipywidgets and "
        "anywidget into one environment, start JupyterLab from there and load the page anew.</p>"
    ),
    severity="caution",
)


class PageCheck(anywidget.AnyWidget):
    """Asks from the page, answers from the kernel.

    Attributes:
        signs: Signs that the page draws, by severity.
        told: What the page found: ``round_trip_ms`` and ``webgl``, its version or empty; nothing
            until it has answered.
    """

    _esm = (HERE / "page.js").read_text("utf-8")
    _css = answer_css()

    signs = traitlets.Dict().tag(sync=True)
    told = traitlets.Dict().tag(sync=True)

    def __init__(self) -> None:
        super().__init__(signs={kind: str(sign(kind, 16)) for kind in ("ok", "caution", "stop")})
        self.on_msg(self._answer)

    def _answer(self, _widget: Any, content: dict[str, Any], _buffers: Any) -> None:
        self.send({"own": content.get("own"), "times": content.get("times")})

    def _repr_mimebundle_(self, **asked: Any) -> Any:
        found = super()._repr_mimebundle_(**asked)
        bundle, about = found if isinstance(found, tuple) else (found, {})
        return dict(bundle or {}) | UNSEEN._repr_mimebundle_(), about


def check_page() -> PageCheck:
    """A small table that fills itself where the page in the browser and the kernel talk."""
    check = PageCheck()
    replace_in_cell(check)
    return check
