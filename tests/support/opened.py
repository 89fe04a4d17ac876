"""What the README has people type; and a program that opens a dashboard: where it is, and its end.

Comes in: the process, which leads its own group. Goes out: lines as typed; an address, an exit status.
"""

import os
import re
import signal
import subprocess
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
README = (PROJECT / "README.md").read_text(encoding="utf-8")
TYPED = re.findall(r"^    (\S.*)$", README, re.MULTILINE)


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
