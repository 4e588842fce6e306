"""Which cell of a notebook something is shown in, so that running it again replaces the old."""

from typing import Any, Protocol


class Closable(Protocol):
    """Something that can be taken out of the page."""

    def close(self) -> None:
        """Take it out."""


_shown: dict[str, tuple[str, list[Closable]]] = {}
"""What each cell shows, with the run that made it. Widgets of an earlier run of the cell would
stay in the kernel's memory and in the saved notebook for ever."""


def replace_in_cell(made: Closable) -> None:
    """Remember what a cell shows, and close what its last run showed."""
    cell, run = _cell_and_run()
    if not cell:
        return
    last_run, old = _shown.get(cell, ("", []))
    if last_run != run:
        for each in old:
            each.close()
        old = []
    _shown[cell] = (run, [*old, made])


def _cell_and_run() -> tuple[str, str]:
    """Id of the cell that runs now and of the request that runs it; empty where not known."""
    from IPython.core.getipython import get_ipython

    shell: Any = get_ipython()
    parent: Any = getattr(shell, "get_parent", dict)() or {}
    cell = parent.get("metadata", {}).get("cellId", "")
    return str(cell), str(parent.get("header", {}).get("msg_id", ""))
