"""A command as it is typed, without a program of its own: what it says, and how it ends.

Comes in: words. Goes out: an exit status and both outputs. Starting Python would take longer than most commands;
tests/commands and tests/landing/test_kills.py start programs of their own.
"""

import contextlib
import io
import sys
from dataclasses import dataclass
from unittest import mock

from pipelines.cli import main


@dataclass(frozen=True)
class Done:
    """What a command came to."""

    returncode: int
    stdout: str
    stderr: str


def typed(*words: str) -> Done:
    """Runs `musterbook` with some words."""
    out, aside = io.StringIO(), io.StringIO()
    status: object = 0
    with (
        mock.patch.object(sys, "argv", ["musterbook", *words]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(aside),
    ):
        try:
            main()
        except SystemExit as end:
            status = end.code or 0
    assert isinstance(status, int)
    return Done(status, out.getvalue(), aside.getvalue())
