"""A program that opens a dashboard, as somebody types it: where it is, and its end.

Comes in: the process, which leads its own group. Goes out: an address, an exit status.
"""

import os
import re
import signal
import subprocess


def opened_at(process: subprocess.Popen[str]) -> str:
    """The address that a program prints when its dashboard is open."""
    assert process.stdout
    for line in process.stdout:
        if found := re.search(r"http://127\.0\.0\.1:\d+", line):
            return found[0]
    raise AssertionError("no address was printed")


def ended(process: subprocess.Popen[str]) -> int:
    """Ends a program as Ctrl-C does, with what it started; its exit status."""
    os.killpg(process.pid, signal.SIGINT)
    try:
        return process.wait(20)
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
