"""Errors of a build as plain sentences in a cell; errors of a program keep their traceback."""

from typing import Any

from buildplan.errors import BuildplanError
from buildplan.notebook.answers.answer import Answer, sentences


def say_errors_plainly() -> None:
    """From now on a cell that fails on its input shows what is wrong and what to do, no traceback.

    The cell still counts as failed, so that a run of all cells stops there. Outside of IPython
    nothing changes.
    """
    from IPython.core.getipython import get_ipython

    shell: Any = get_ipython()
    if shell is not None:
        shell.set_custom_exc((BuildplanError,), _show)


def error_answer(error: BaseException) -> Answer:
    """What is wrong, in the words of the error."""
    first, *rest = str(error).strip().splitlines() or ["Something in the input is wrong"]
    html = sentences([line.strip() for line in rest if line.strip()])
    return Answer(heading=first.rstrip("."), html=html, severity="stop")


def _show(
    _shell: Any,
    _kind: type[BaseException],
    error: BaseException,
    _traceback: Any,
    tb_offset: int | None = None,  # named by IPython
) -> list[str]:
    """Called by IPython instead of its traceback."""
    from IPython.display import display

    display(error_answer(error))  # type: ignore[no-untyped-call]  # carries no types
    return [str(error)]
