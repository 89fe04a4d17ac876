"""How long a person waits for readable figures, in Chromium: on loading a screen, and after a click.

    python tests/benchmarks/screens.py [BOOK] [--times N]

Comes in: a book (the demo's, unless one is named). Goes out: median and largest wait of each screen, in milliseconds,
with the load of the machine beside them. No pass, no fail: the aims are 1,200 ms on load and 400 ms after a click.
"""

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from browsing import ARGUMENTS, CHROMIUM, SENTENCE
from running_server import Running, running

from dashboard.parts.screen_list import screens_of
from demo_warehouse import make
from pipelines.store.book import Book, new_book
from pipelines.workflow import take_in

TITLES = {Path(one.file).stem: one.title for one in screens_of("coordinator")}
GROUP_OF = {one.title: one.group for one in screens_of("coordinator")}
READABLE = """
title => new Promise(done => {
    const look = () => {
        const head = document.querySelector("h2"), said = document.querySelector("h4");
        const stale = said && said.closest("[data-stale=true]");
        if (head && head.innerText === title && said && !stale) done(performance.now());
        else requestAnimationFrame(look);
    };
    look();
})
"""


def demo(folder: Path) -> Path:
    """The demo's book, made anew."""
    make(folder)
    book = new_book(folder / "book", (folder / "season.toml").read_text(encoding="utf-8"))
    take_in.ingest(book, [folder / "inbox"], "benchmark")
    return book.folder


def loads(page: Page, served: Running, times: int) -> dict[str, list[float]]:
    """Milliseconds from the start of a navigation to readable figures, for each screen."""
    found: dict[str, list[float]] = {}
    for name, title in TITLES.items():
        path = "" if name == next(iter(TITLES)) else name
        for _ in range(times):
            page.goto(f"{served.address}/{path}{'?troop=0448' if name == 'troop' else ''}", wait_until="commit")
            found.setdefault(title, []).append(page.evaluate(READABLE, title))
    return found


def clicks(page: Page, served: Running, times: int) -> dict[str, list[float]]:
    """Milliseconds from a click in the navigation to readable figures, for each screen."""
    page.goto(served.address)
    page.wait_for_selector(SENTENCE)
    found: dict[str, list[float]] = {}
    for round_no in range(times + 1):
        for title in [*list(TITLES.values())[1:], next(iter(TITLES.values()))]:
            page.get_by_role("button", name=GROUP_OF[title], exact=True).click()
            link = page.get_by_role("menuitem", name=title, exact=True)
            link.wait_for()
            begun = link.evaluate("one => { const at = performance.now(); one.click(); return at; }")
            wait = page.evaluate(READABLE, title) - begun
            page.wait_for_function("!document.querySelector('[data-testid=stStatusWidget]')")
            if round_no:  # the first round loads what the browser keeps afterwards
                found.setdefault(title, []).append(wait)
    return found


def tell(what: str, found: dict[str, list[float]]) -> None:
    """A line for each screen, and one for all."""
    print(f"{what:<24}{'median':>8}{'largest':>9}   ms")
    for title, waits in found.items():
        print(f"  {title:<22}{statistics.median(waits):>8,.0f}{max(waits):>9,.0f}")
    whole = [wait for waits in found.values() for wait in waits]
    print(f"  {'all':<22}{statistics.median(whole):>8,.0f}{max(whole):>9,.0f}")


def look_at(served: Running, times: int) -> None:
    """Signs in, goes through the screens, and tells the waits."""
    with sync_playwright() as drive:
        browser = drive.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(served.entrance)
        page.get_by_role("button", name="Come in").click()
        page.wait_for_selector(SENTENCE)
        tell("on load", loads(page, served, times))
        tell("after a click", clicks(page, served, times))
        browser.close()


def main() -> None:
    asked = argparse.ArgumentParser(description="Waits for readable figures, in Chromium.")
    asked.add_argument("book", nargs="?", type=Path)
    asked.add_argument("--times", type=int, default=7)
    given = asked.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        running(Book(given.book).folder if given.book else demo(Path(folder))) as served,
    ):
        look_at(served, given.times)
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")


if __name__ == "__main__":
    main()
