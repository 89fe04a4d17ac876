"""A dashboard that runs and a browser that looks at it. Without the browser these tests fail; none is skipped."""

import collections
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from pipelines.store.book import Book

CHROMIUM = "/usr/bin/chromium"
MUSTERBOOK = "from pipelines.cli import main; main()"
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
OURS = ("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")
SENTENCE = "h4"  # the state of things, first on every screen
Sizes = {"wide": (1440, 900), "phone": (390, 844)}


@dataclass
class Running:
    """A dashboard that listens: its process, its address, and a link that signs in where there is a sign-in."""

    process: "subprocess.Popen[str]"
    address: str
    entrance: str
    reading_away: threading.Thread | None = None


@dataclass
class Look:
    """One browser page, with whatever it complained of and whatever it asked others for."""

    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)

    def open(self, screen: str = "", query: str = "") -> None:
        """Opens a screen by its address and waits until it can be read."""
        self.page.goto(f"{self.address}/{screen}{query}")
        self.settle()

    def settle(self) -> None:
        """Waits until the screen stands and nothing is being worked on."""
        self.page.wait_for_selector(SENTENCE)
        self.page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
        self.page.wait_for_function("!document.querySelector('[data-stale=true]')")

    def sideways(self) -> int:
        """By how many pixels the page is wider than the window."""
        wide: int = self.page.evaluate("document.scrollingElement.scrollWidth - innerWidth")
        return wide


def start(folder: Path) -> Running:
    """Starts `musterbook serve` on a free port."""
    process = subprocess.Popen(
        [sys.executable, "-u", "-c", MUSTERBOOK, "serve", "--book", str(folder), "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = ""
    assert process.stdout
    for line in process.stdout:
        said += line
        if "Ctrl-C" in line:
            break
    found = re.search(r"http://127\.0\.0\.1:\d+", said)
    if not found:
        stop(Running(process, "", ""))
        pytest.fail(f"The dashboard did not start: {said}")
    link = re.search(r"http://\S+/sign-in/link\S+", said)
    # What the server prints is read away: a pipe that is full would hold it up.
    reading_away = threading.Thread(target=collections.deque, args=(process.stdout, 0), daemon=True)
    reading_away.start()
    return Running(process, found[0], link[0] if link else found[0], reading_away)


def stop(running: Running) -> int:
    """Ends a dashboard as a service manager would; its exit status."""
    if running.process.poll() is None:
        running.process.send_signal(signal.SIGTERM)
    status = running.process.wait(30)
    if running.reading_away:
        running.reading_away.join(10)
    if running.process.stdout:
        running.process.stdout.close()
    return status


@pytest.fixture(scope="session")
def served(demo_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo's dashboard, on a copy of the book."""
    folder = tmp_path_factory.mktemp("served") / "book"
    shutil.copytree(demo_book.folder, folder)
    running = start(folder)
    yield running
    stop(running)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield one
        one.close()


@pytest.fixture(scope="session")
def signed_in(browser: Browser, served: Running) -> str:
    """What the browser knows after signing in, as a file's text."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.entrance)
    if served.entrance != served.address:
        page.get_by_role("button", name="Come in").click()
    page.wait_for_selector(SENTENCE)
    state = context.storage_state()
    context.close()
    return state  # type: ignore[return-value]


@pytest.fixture
def look(browser: Browser, served: Running, signed_in: str) -> Iterator[Callable[..., Look]]:
    """Opens a page of a size and a colour scheme, already signed in."""
    made = []

    def begin(size: str = "wide", scheme: str = "light") -> Look:
        width, height = Sizes[size]
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,  # type: ignore[arg-type]
            storage_state=signed_in,
        )
        context.set_default_timeout(30_000)
        one = Look(context.new_page(), served.address)
        one.page.on("console", lambda said: one.complaints.append(said.text) if said.type == "error" else None)
        one.page.on("pageerror", lambda fault: one.complaints.append(str(fault)))
        one.page.on("request", lambda asked: None if asked.url.startswith(OURS) else one.strangers.append(asked.url))
        made.append(context)
        return one

    yield begin
    for context in made:
        context.close()
