"""The commands of `musterbook`, gathered from pipelines/commands; the one place where a Stop is caught and said.

Comes in: what was typed. Goes out: an exit status: 0 done; 1 done, but something is held or was found; 2 not done,
with a sentence why, whatever stopped it. MUSTERBOOK_TRACEBACK=1 shows where in the program that was, to who mends it.
"""

import codecs
import importlib
import io
import os
import pkgutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from pipelines import commands
from pipelines.commands import NOT_DONE, say, say_aside, serve
from pipelines.definitions.errors import Stop
from pipelines.store.engine import Fault, first_line

INTERRUPTED = 130  # what a command gives back that Ctrl-C ended
PLAINER = {"\u2212": "-", "\u2013": "-", "\u2190": "<-", "\u2192": "->"}  # for a terminal that cannot show them

app = typer.Typer(
    name="musterbook",
    invoke_without_command=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for module in sorted(one.name for one in pkgutil.iter_modules(commands.__path__)):
    importlib.import_module(f"pipelines.commands.{module}").register(app)


def _tell_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - the terminal answers sooner

        try:
            say(f"musterbook {version('musterbook')}")
        except PackageNotFoundError:
            say("musterbook, not installed: run from its own files")
        raise typer.Exit


@app.callback()
def musterbook(
    context: typer.Context,
    _version: Annotated[
        bool, typer.Option("--version", help="Say which version this is.", is_eager=True, callback=_tell_version)
    ] = False,
) -> None:
    """Closes the week of a youth organisation's product sale. With nothing after it, the dashboard opens."""
    if context.invoked_subcommand is None:
        serve.show(Path(os.environ.get("MUSTERBOOK_BOOK", "")), next_free=True)


def _plainer(fault: UnicodeError) -> tuple[str, int]:
    """A terminal that cannot show a letter shows a question mark; a minus stays a minus."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return "".join(PLAINER.get(mark, "?") for mark in fault.object[fault.start : fault.end]), fault.end


codecs.register_error("plainer", _plainer)


def main() -> None:
    """Runs one command and ends with its exit status; whatever stops it becomes a plain sentence."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plainer")
    os.umask(0o077)  # books, papers and copies hold names and what families owe: they are for their owner
    sys.exit(_status())


def _status() -> int:
    try:
        status = app(standalone_mode=False)
    except SystemExit:  # whoever read our output has read enough
        return 0
    except typer.Abort:
        say_aside("Stopped; nothing more was done.")
        return NOT_DONE
    except Exception as fault:
        if show := getattr(fault, "show", None):  # what was typed makes no sense
            show()
            return NOT_DONE
        if os.environ.get("MUSTERBOOK_TRACEBACK") and not isinstance(fault, Stop):
            raise
        say_aside(_sentence(fault))
        return NOT_DONE
    if status == INTERRUPTED:
        say_aside("Stopped. What was already taken in stays; nothing is half done.")
        return NOT_DONE
    return status if isinstance(status, int) else 0


def _sentence(fault: Exception) -> str:
    """What stopped a command, for the person at the terminal."""
    if isinstance(fault, Stop):
        return str(fault)
    if isinstance(fault, OSError):
        return f"Not done: {fault.strerror or fault}{f' ({fault.filename})' if fault.filename else ''}."
    if isinstance(fault, MemoryError):
        return "Not done: this machine has not enough memory free. Close other programs and try again."
    if isinstance(fault, Fault) and "No space left" in str(fault):
        return "Not done: no space is left on the disk. Make room and try again; what was taken in before stays."
    if isinstance(fault, Fault):
        return f"Not done: {first_line(fault)} `musterbook verify` says whether a file of the book is damaged."
    return (
        f"Not done, and not foreseen: {type(fault).__name__}: {first_line(fault)} What was taken in before stays. "
        "Please tell whoever looks after this program; with MUSTERBOOK_TRACEBACK=1 it says where."
    )
