"""A file from elsewhere on Submissions, in a real browser: said, kept, begun anew, confirmed, taken back."""

import contextlib
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import SENTENCE, Look, Sizes, settle
from exports import DEPOT
from made_files import written
from playwright.sync_api import Browser, Page, TimeoutError, expect
from running_server import Running, running
from trial import Trial

from pipelines.workflow import foreign_files

pytestmark = pytest.mark.browser
ROW_PIXELS = 35  # of a table that is drawn
PICTURES = os.environ.get("MUSTERBOOK_PICTURES", "")


@pytest.fixture(scope="module")
def one(known_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A book in which the depot's export waits."""
    trial = Trial(tmp_path_factory.mktemp("elsewhere"))
    shutil.copytree(known_book, trial.book.folder, dirs_exist_ok=True)
    path = trial.folder / DEPOT.name
    path.write_bytes(DEPOT.payload)
    trial.take_in(path)
    return trial


@pytest.fixture(scope="module")
def server(one: Trial) -> Iterator[Running]:
    with running(one.book.folder) as it:
        yield it


@pytest.fixture(scope="module")
def known(browser: Browser, server: Running) -> str:
    context = browser.new_context()
    page = context.new_page()
    page.goto(server.entrance)
    page.get_by_role("button", name="Come in").click()
    page.wait_for_selector(SENTENCE)
    state = context.storage_state()
    context.close()
    return state  # type: ignore[return-value]


def opened(browser: Browser, server: Running, known: str, size: str) -> Look:
    width, height = Sizes[size]
    context = browser.new_context(viewport={"width": width, "height": height}, storage_state=known)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    seen = Look(context.new_page(), server.address)
    seen.page.on("pageerror", lambda fault: seen.complaints.append(str(fault)))
    seen.open("submissions")
    return seen


def choose(page: Page, label: str, option: str) -> None:
    """One click opens a field, one chooses."""
    wanted = page.get_by_role("option", name=option, exact=True)
    for _try in range(10):  # a page that is drawn anew closes what was just opened
        settle(page)
        page.get_by_role("combobox", name=label).click()
        with contextlib.suppress(TimeoutError):
            wanted.click(timeout=5000)
            break
    settle(page)


def test_what_is_said_is_kept_and_confirmed(browser: Browser, server: Running, known: str, one: Trial) -> None:
    """Words by two clicks each; a page opened anew knows them; confirmed, nothing waits; taken back, in words."""
    seen = opened(browser, server, known, "wide")
    choose(seen.page, "BACK means", "returned")
    seen.page.reload()
    seen.settle()
    expect(seen.page.get_by_role("combobox", name="BACK means")).to_have_count(0, timeout=60_000)
    assert foreign_files.drafted(
        one.book, foreign_files.chosen(one.book, DEPOT.name), foreign_files.hints(one.book)
    ).is_kept  # type: ignore[union-attr]
    choose(seen.page, "OUT means", "depot")
    if PICTURES:
        seen.page.screenshot(path=f"{PICTURES}/mapping-wide.png", full_page=True)
        phone = opened(browser, server, known, "phone")
        phone.page.screenshot(path=f"{PICTURES}/mapping-phone.png", full_page=True)
        assert phone.sideways() <= 0
    choose(seen.page, "START means", "opening")
    expect(seen.page.get_by_text("none would be held")).to_be_visible(timeout=60_000)
    seen.page.get_by_role("button", name="Confirm", exact=True).click()
    expect(seen.page.get_by_text("taken in, 4 rows")).to_be_visible(timeout=60_000)
    seen.page.get_by_text("In use for files from elsewhere").click()
    seen.page.get_by_role("button", name="Take back").click()
    expect(seen.page.get_by_text("stays and counts")).to_be_visible(timeout=60_000)
    assert foreign_files.in_use(one.book) == {}
    assert seen.complaints == []


TWO = [
    ["Unit", "Week ended", "Seller", "GLA", "HRB", "Cash"],
    ["0417", "2027-02-14", "0417-01", 5, 2, 20.5],
    ["0417", "2027-02-14", "0417-02", 3, None, None],
    [],
    ["Unit", "Week ended", "Product", "Stock count"],
    ["0417", "2027-02-14", "GLA", 40],
    ["0417", "2027-02-14", "HRB", 7],
]


def tick(page: Page, *rows: int) -> None:
    """Ticks rows of the sheet, from 1 on: each has its box at the left of a table that is drawn."""
    sheet = page.get_by_test_id("stDataFrame").filter(has=page.get_by_label("The sheet's rows")).first
    for row in rows:
        settle(page)
        sheet.scroll_into_view_if_needed()
        sheet.click(position={"x": 18, "y": ROW_PIXELS * row + ROW_PIXELS / 2})
    settle(page)


def test_the_rows_of_one_of_two_tables_are_pointed_at(
    browser: Browser, server: Running, known: str, one: Trial
) -> None:
    """Its header and its last row are ticked; the file is read so from then on, on every device."""
    path = one.folder / "leader.xlsx"
    path.write_bytes(written({"S": TWO}))
    one.take_in(path)
    seen = opened(browser, server, known, "wide")
    if seen.page.get_by_role("combobox", name="File", exact=True).count():
        choose(seen.page, "File", "leader.xlsx")
    seen.page.get_by_text("Its sheet holds more than one table").click()
    tick(seen.page, 1, 3)
    file = foreign_files.chosen(one.book, "leader.xlsx")
    for _try in range(120):
        draft = foreign_files.drafted(one.book, file, foreign_files.hints(one.book))
        if draft and draft.is_kept:
            break
        time.sleep(0.5)
    assert draft
    assert (draft.is_kept, draft.head.row, draft.stated["until"]) == (True, 0, "blank")
    assert seen.complaints == []
