"""A held file is answered by its button, and a photo that stays held is dismissed by its own, in a real browser."""

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from browsing import PHONE, SENTENCE, Look
from playwright.sync_api import Browser, Locator, expect
from running_server import Running, running
from trial import Trial

from pipelines.store.book import Book

pytestmark = pytest.mark.browser
PICTURES = os.environ.get("MUSTERBOOK_PICTURES", "")
TWICE = "item troop week_ending on_hand\nGLA 0031 2027-02-14 7\nGLA 0031 2027-02-14 7"


@pytest.fixture(scope="module")
def served(known_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A book of its own in which a row stands twice and a photo waits."""
    trial = Trial(tmp_path_factory.mktemp("answers"))
    shutil.copytree(known_book, trial.book.folder, dirs_exist_ok=True)
    trial.send(stock=TWICE)
    photo = trial.folder / "stall.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0 a picture")
    trial.take_in(photo)
    with running(trial.book.folder) as one:
        yield one


def found(book: Path, query: str) -> list[tuple[object, ...]]:
    """What the book says."""
    with Book(book).reading() as con:
        rows: list[tuple[object, ...]] = con.execute(query).fetchall()
        return rows


def tap(seen: Look, button: Locator, shown: Locator) -> None:
    """Taps a button until what it leads to is there: a tap is lost where the page is drawn anew under it."""
    for _ in range(3):
        seen.settle()
        if button.is_visible():
            button.click()
        with suppress(AssertionError):
            expect(shown).to_be_visible(timeout=20_000)
            return
    expect(shown).to_be_visible()


def test_a_file_is_answered_and_a_photo_is_dismissed(browser: Browser, served: Running) -> None:
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    seen = Look(context.new_page(), served.address)
    seen.page.on("pageerror", lambda fault: seen.complaints.append(str(fault)))
    seen.page.goto(served.entrance)
    seen.page.get_by_role("button", name="Come in").click()
    seen.page.wait_for_selector(SENTENCE)
    seen.open("submissions")
    page = seen.page
    page.get_by_text(re.compile(r"stock\.csv: troop 0031")).click()
    answers = [page.get_by_role("button", name=re.compile(start)) for start in ("One and the same", "It happened")]
    for one in answers:
        expect(one).to_be_visible(timeout=60_000)
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/answers-1.png", full_page=True)
    assert seen.sideways() <= 0
    tap(seen, answers[0], page.get_by_text("taken in, 1 row"))
    seen.settle()
    assert found(served.book, "select on_hand from accepted.stock where troop = '0031'") == [(7,)]
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/answers-2.png", full_page=True)
    page.get_by_text("stall.jpg: not recognised").click()
    tap(seen, page.get_by_role("button", name="Ask no more about it"), page.get_by_text("Nothing is held."))
    seen.settle()
    if PICTURES:
        page.screenshot(path=f"{PICTURES}/answers-3.png", full_page=True)
    assert found(served.book, "select count(*) from landed.dismissals") == [(1,)]
    (digest,) = found(served.book, "select sha256 from landed.files where name like '%stall.jpg'")[0]
    assert Book(served.book).landed_path(str(digest)).is_file()
    assert seen.complaints == []
    context.close()
