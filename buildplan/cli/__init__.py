"""The command line: `buildplan plan`, `device`, `choose`, `part`, `split`, `log` and more.

Exit 0 when done, 2 on bad input with one line on the error stream, 3 with --strict when any finding
is a stop. Every output file is written whole or not at all.
"""

import sys
from typing import NoReturn

import typer

from buildplan.cli.app import app
from buildplan.cli.choose import choose
from buildplan.cli.device import device
from buildplan.cli.extras import demo, new, tables, warm_up_command
from buildplan.cli.log import log_app
from buildplan.cli.notebooks import notebooks
from buildplan.cli.parts import part
from buildplan.cli.pieces import coupon, fits, split
from buildplan.cli.plans import compare, plan, turn
from buildplan.cli.study import study
from buildplan.errors import BuildplanError

__all__ = ["app", "main"]

for command in (plan, device, choose, compare, turn, part, split, coupon, fits, demo, new, tables):
    app.command()(command)
app.command()(study)
app.command()(notebooks)
app.command("warm-up")(warm_up_command)
app.add_typer(log_app, name="log")

# the common base of every fault in the words of a command, wherever typer keeps it
USAGE_FAULTS: type[Exception] = typer.BadParameter.__mro__[2]


def main() -> NoReturn:
    """Run the command line; turn what the user can act on into one line and exit code 2."""
    try:
        code = app(standalone_mode=False)
    except BuildplanError as error:
        refuse(str(error))
    except typer.Abort:
        refuse("stopped; nothing half-written is left", code=130)
    except USAGE_FAULTS as error:
        refuse(_one_line(error))
    except OSError as error:
        refuse(f"{error.filename or 'file'}: {error.strerror}")
    except KeyboardInterrupt:
        refuse("stopped; nothing half-written is left", code=130)
    raise SystemExit(code or 0)


def _one_line(error: Exception) -> str:
    message = getattr(error, "format_message", error.__str__)()
    context = getattr(error, "ctx", None)
    hint = f" See {context.command_path} --help." if context is not None else ""
    return f"{message.replace(chr(10), ' ')}{hint}"


def refuse(message: str, code: int = 2) -> NoReturn:
    from buildplan.report.terminal import console, error_block

    to = console(err=True)
    for line in message.splitlines():
        if to.is_terminal:
            to.print(error_block(line))
        else:
            sys.stderr.write(f"error: {line}\n")
    raise SystemExit(code)
