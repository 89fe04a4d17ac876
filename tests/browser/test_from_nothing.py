"""From an empty folder to a closed first week and a leader who has signed in: on the screen alone.

What else the first page offers: a book that lies there is opened, a copy is brought back.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from browsing import PHONE, go, settle
from playwright.sync_api import Browser, Page, expect
from trial import FEEDS, rows_of

from pipelines.store.book import Book
from pipelines.upkeep import copies

pytestmark = pytest.mark.browser
SECONDS = 60_000
SUPPLY = """
    document  troop  item  date        packages  kind
    OP-1      0417   GLA   2027-02-06  48        opening"""
FAMILIES = """
    troop  week_ending  participant  item  packages  cash
    0417   2027-02-14   0417-01      GLA   10        -
    0417   2027-02-14   0417-01      -     -         60.00"""
STOCK = """
    troop  week_ending  item  received  damaged  on_hand
    0417   2027-02-14   GLA   48        0        38"""


@contextmanager
def first_page(folder: Path) -> Iterator[str]:
    """`musterbook` with nothing after it, in a folder that is no book: the address that it prints."""
    folder.mkdir(exist_ok=True)
    process = subprocess.Popen(
        [sys.executable, "-m", "pipelines"], stdout=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1", "MUSTERBOOK_BOOK": str(folder)},
    )  # fmt: skip
    assert process.stdout
    try:
        yield next(found[0] for line in process.stdout if (found := re.search(r"http://\S+/first\?\S+", line)))
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(60)
        process.stdout.close()


def csv_file(name: str, text: str) -> dict[str, object]:
    rows = rows_of(text)
    told = [",".join(rows[0]), *(",".join(row.values()) for row in rows)]
    return {"name": f"{name}.csv", "mimeType": "text/csv", "buffer": "\n".join(told).encode()}


def make_a_book(page: Page) -> None:
    form = page.locator("form", has=page.get_by_role("heading", name="Make a book here"))
    for label, value in (
        ("Name of the sale", "Marsh spring sale"), ("Name of the area", "Marsh area"),
        ("First day of the season", "2027-02-08"), ("Last day", "2027-04-18"),
    ):  # fmt: skip
        form.get_by_label(label).fill(value)
    form.get_by_role("button", name="Make the book").click()


def comes_in(browser: Browser, origin: str, code: str) -> None:
    """The leader, on her phone."""
    leader = browser.new_context(viewport=PHONE)
    leader.set_default_timeout(SECONDS)
    hers = leader.new_page()
    hers.goto(origin)
    hers.get_by_label("Name").fill("leader-0417")
    hers.get_by_label("Code").fill(code)
    hers.get_by_role("button", name="Sign in", exact=True).click()
    settle(hers)
    assert "/sign-in" not in hers.url
    leader.close()


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """The first page of an empty folder."""
    with first_page(tmp_path / "here") as address:
        yield address, tmp_path / "here"


def test_a_book_is_made_set_up_filled_and_a_leader_comes_in(begun: tuple[str, Path], browser: Browser) -> None:
    address, folder = begun
    origin = address.partition("/first")[0]
    assert httpx.get(f"{origin}/first").status_code == 404, "without what the terminal told there is nothing"
    key = address.partition("key=")[2]
    refused = httpx.post(f"{origin}/first", data={"key": key, "what": "demo"}, headers={"origin": "http://other.test"})
    assert refused.status_code == 403
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.set_default_timeout(SECONDS)
    page = context.new_page()
    page.goto(address)
    make_a_book(page)
    page.get_by_role("button", name="Come in").click()
    page.get_by_role("link", name="Set the season up").click()
    settle(page)
    expect(page.locator("h4")).to_contain_text("Still to come in: the list of troops", timeout=SECONDS)
    page.get_by_label("Days that a collection needs to clear").fill("a few")
    page.get_by_role("button", name="Look at what it changes").click()
    page.get_by_text("type a number").wait_for()
    page.get_by_label("Days that a collection needs to clear").fill("6")
    page.get_by_role("button", name="Look at what it changes").click()
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("The rules are kept").wait_for()
    text = (folder / "season.toml").read_text(encoding="utf-8")
    assert "settle_days = 6 " in text
    assert "# days that a collection needs to clear" in text

    go(page, "In and out", "Submissions")
    tables = {**FEEDS, "supply": SUPPLY, "families": FAMILIES, "stock": STOCK}
    page.locator("input[type=file]").first.set_input_files([csv_file(*one) for one in tables.items()])  # type: ignore[list-item]
    page.get_by_role("button", name="Take in").click()
    page.get_by_text("What became of your files").wait_for()
    go(page, "Week", "This week")
    expect(page.locator("h4")).to_contain_text("1 of 3 submissions in", timeout=SECONDS)

    go(page, "People", "Who may sign in")
    page.get_by_label("Name to sign in with").fill("leader-0417")
    page.get_by_label("Their troops, if they lead any").click()
    page.get_by_role("option", name="0417").click()
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Issue a code").click()
    page.get_by_text("with this code. It is shown this once").wait_for()
    code = page.get_by_test_id("stCode").first.inner_text().strip()
    context.close()
    comes_in(browser, origin, code)


def bring_back(page: Page, copy: Path) -> None:
    form = page.locator("form", has=page.get_by_role("heading", name="Bring a copy back"))
    form.get_by_label("The copy's file on this machine").fill(str(copy))
    form.get_by_role("button", name="Bring it back").click()


def comes_to_its_book(page: Page) -> None:
    page.get_by_role("button", name="Come in").click()
    expect(page.locator("h4")).to_contain_text("submissions in", timeout=SECONDS)


def test_a_book_that_lies_there_is_opened(tmp_path: Path, known_book: Path, browser: Browser) -> None:
    shutil.copytree(known_book, tmp_path / "here" / "mine")
    with first_page(tmp_path / "here") as address:
        page = browser.new_page()
        page.goto(address)
        page.get_by_role("button", name="Open mine").click()
        comes_to_its_book(page)
        page.close()


def test_a_copy_is_brought_back_on_a_phone(tmp_path: Path, known_book: Path, browser: Browser) -> None:
    """A file that is not there is said on the page, which asks again."""
    copies.backup(Book(known_book), tmp_path / "kept.tar")
    with first_page(tmp_path / "here") as address:
        page = browser.new_page(viewport=PHONE)
        page.set_default_timeout(SECONDS)
        page.goto(address)
        assert page.evaluate("document.scrollingElement.scrollWidth - innerWidth") <= 0
        bring_back(page, tmp_path / "lost.tar")
        expect(page.get_by_role("alert")).to_contain_text("There is no file", timeout=SECONDS)
        bring_back(page, tmp_path / "kept.tar")
        comes_to_its_book(page)
        page.close()
    assert (tmp_path / "here" / "season.toml").read_bytes() == (known_book / "season.toml").read_bytes()
