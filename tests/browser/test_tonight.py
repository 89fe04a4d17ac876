"""Tonight on a phone: each thing is done in at most three taps, and nothing is wider than the screen."""

import re
import shutil
from collections.abc import Iterator

import pytest
from browsing import Enter, settle
from playwright.sync_api import Page, expect
from running_server import Running, running

from pipelines.store.book import Book

expect.set_options(timeout=30_000)
TROOP = "0305"  # an order of it waits in the demo, and somebody is one step away


@pytest.fixture(scope="module")
def served(demo_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A dashboard of its own: once anybody has sent the next week, the orders that wait here have lapsed."""
    folder = tmp_path_factory.mktemp("tonight") / "book"
    shutil.copytree(demo_book.folder, folder)
    with running(folder) as one:
        yield one


def opened(enter: Enter, served: Running) -> Page:
    page = enter("evening").new_page()
    page.goto(f"{served.address}/tonight")
    settle(page)
    return page


def test_each_thing_is_at_most_three_taps_away(access: object, enter: Enter, served: Running) -> None:
    access.add("evening", "leader", [TROOP], by="tests")  # type: ignore[attr-defined]
    page = opened(enter, served)
    expect(page.get_by_role("heading", name=re.compile(r"order.* to answer"))).to_be_visible()
    assert page.evaluate("document.scrollingElement.scrollWidth - innerWidth") <= 0

    page.get_by_text("A text for the caregiver").first.click()  # 1: the text to send on
    expect(page.get_by_text(re.compile("Hello, ")).first).to_be_visible()

    with page.expect_download() as fetched:
        page.get_by_role("link", name="Packing list to print").click()  # 1: the packing list
    assert fetched.value.suggested_filename.startswith(f"Packing list of troop {TROOP}")

    page.get_by_role("link", name=re.compile("Mark it for")).first.click()  # 1: to the participant's own steps
    settle(page)
    box = page.get_by_role("group", name=re.compile("steps done so far")).first.get_by_role("checkbox").last
    was = box.is_checked()
    box.set_checked(not was)  # 2: ticked
    expect(page.get_by_text("Everything that you typed is kept")).to_be_visible()
    box.set_checked(was)
    settle(page)
