"""The commands of `musterbook`, gathered from pipelines/commands; the one place where a Stop is caught and said.

Comes in: what was typed. Goes out: an exit status: 0 done; 1 done, but something was held or found; 2 not done.
"""

import importlib
import pkgutil
import sys

import typer

from pipelines import commands
from pipelines.commands import NOT_DONE, say_aside
from pipelines.definitions.errors import Stop

app = typer.Typer(
    name="musterbook",
    help="Closes the week of a youth organisation's product sale.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for module in sorted(one.name for one in pkgutil.iter_modules(commands.__path__)):
    importlib.import_module(f"pipelines.commands.{module}").register(app)


def main() -> None:
    """Runs one command; a Stop becomes a plain sentence and exit status 2, never a traceback."""
    try:
        app()
    except Stop as stop:
        say_aside(str(stop))
        sys.exit(NOT_DONE)
    except KeyboardInterrupt:
        say_aside("Stopped. What was already taken in stays; nothing is half done.")
        sys.exit(NOT_DONE)
    except BrokenPipeError:
        sys.exit(0)
    except OSError as fault:
        say_aside(f"Not done: {fault.strerror or fault}{f' ({fault.filename})' if fault.filename else ''}.")
        sys.exit(NOT_DONE)
