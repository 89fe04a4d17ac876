"""`musterbook serve` as a program of its own, for tests and benchmarks.

Comes in: a book's folder. Goes out: the process, its address, and the link that lets the coordinator in.
"""

import collections
import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx


@dataclass
class Running:
    """A dashboard that listens."""

    process: "subprocess.Popen[str]"
    address: str
    entrance: str
    book: Path
    reading_away: threading.Thread


def start(book: Path, *more: str) -> Running:
    """Starts a server on a free port and waits until it answers."""
    process = subprocess.Popen(
        [sys.executable, "-m", "pipelines", "serve", "--book", str(book), "--port", "0", *more],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1", "PYTHONWARNINGS": "default"},
    )
    said = ""
    assert process.stdout
    for line in process.stdout:
        said += line
        if "Ctrl-C" in line:
            break
    # What the server prints is read away: a pipe that is full would hold it up.
    reading_away = threading.Thread(target=collections.deque, args=(process.stdout, 0), daemon=True)
    reading_away.start()
    found, link = re.search(r"http://127\.0\.0\.1:\d+", said), re.search(r"http://\S+/sign-in/link\S+", said)
    running = Running(process, found[0] if found else "", link[0] if link else "", book, reading_away)
    if not found or not link:
        stop(running)
        raise AssertionError(f"The dashboard did not start: {said}")
    for _tried in range(200):
        with contextlib.suppress(httpx.TransportError):
            if httpx.get(f"{running.address}/health").status_code == 200:
                break
    return running


def stop(running: Running) -> int:
    """Ends a server as a service manager would; its exit status."""
    process = running.process
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
    try:
        return process.wait(60)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
        running.reading_away.join(10)
        if process.stdout:
            process.stdout.close()


@contextlib.contextmanager
def running(book: Path, *more: str) -> Iterator[Running]:
    """A server of a book, ended at the end."""
    one = start(book, *more)
    try:
        yield one
    finally:
        stop(one)


@contextlib.contextmanager
def running_copy(book: Path, folder: Path) -> Iterator[Running]:
    """A server of a copy of a book, which whoever looks may write in."""
    shutil.copytree(book, folder)
    with running(folder) as one:
        yield one
