"""Tonight on a phone: each thing is done in at most three taps, and nothing is wider than the screen."""

import re
from collections.abc import Callable, Iterator

import pytest
from browsing import Enter, settle
from playwright.sync_api import Locator, Page, expect
from running_server import Running, running_copy

from pipelines.accounts.accounts import Access
from pipelines.store.book import Book

expect.set_options(timeout=30_000)
TROOP = "0305"  # an order of it waits in the demo, somebody is one step away, and it has a stall ahead
UNSENT = "1684"  # its week did not come in
MOST_TAPS = 3


@pytest.fixture(scope="module")
def served(demo_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A dashboard of its own: once anybody has sent the next week, the orders that wait here have lapsed."""
    with running_copy(demo_book.folder, tmp_path_factory.mktemp("tonight") / "book") as one:
        yield one


class Hand:
    """A thumb whose taps are counted, from Tonight on, for each thing to do."""

    def __init__(self, page: Page, served: Running) -> None:
        self.page, self._address, self.taps = page, f"{served.address}/tonight", 0
        self.begin()

    def begin(self) -> None:
        """Tonight, and nothing tapped yet."""
        assert self.taps <= MOST_TAPS
        self.taps = 0
        self.page.goto(self._address)
        settle(self.page)

    def tap(self, what: Locator) -> None:
        what.click()
        self.taps += 1
        settle(self.page)

    def fetch(self, name: str) -> str:
        with self.page.expect_download() as fetched:
            self.page.get_by_role("link", name=name).click()
        self.taps += 1
        return fetched.value.suggested_filename


@pytest.fixture
def hand(access: Access, enter: Enter, served: Running) -> Callable[[str], Hand]:
    """Lets the leader of a troop in, on her phone."""

    def let_in(troop: str) -> Hand:
        access.add(f"evening-{troop}", "leader", [troop], by="tests")
        return Hand(enter(f"evening-{troop}").new_page(), served)

    return let_in


def answer_an_order(one: Hand) -> None:
    expect(one.page.get_by_role("heading", name=re.compile(r"order.* to answer"))).to_be_visible()
    assert one.page.evaluate("document.scrollingElement.scrollWidth - innerWidth") <= 0
    one.tap(one.page.get_by_text("A text for the caregiver").first)
    expect(one.page.get_by_text(re.compile("Hello, ")).first).to_be_visible()


def fetch_the_packing_list(one: Hand) -> None:
    assert one.fetch("Packing list to print") == f"Packing list of troop {TROOP}, week 6.pdf"
    assert one.fetch("as a table") == f"Packing list of troop {TROOP}, week 6.csv"


def see_who_fetches_what(one: Hand) -> None:
    one.tap(one.page.get_by_text(re.compile("^By participant")))
    expect(one.page.get_by_text("How are these figures made?").first).to_be_visible()


def tick_a_step(one: Hand) -> None:
    one.tap(one.page.get_by_role("link", name=re.compile("Mark it for")).first)
    box = one.page.get_by_role("group", name=re.compile("steps done so far")).first.get_by_role("checkbox").last
    was = box.is_checked()
    one.tap(box)
    expect(one.page.get_by_text("Everything that you typed is kept")).to_be_visible()
    box.set_checked(was)
    settle(one.page)


def read_the_dates(one: Hand) -> None:
    expect(one.page.get_by_text(re.compile("^Bank by "))).to_be_visible()
    expect(one.page.get_by_text(re.compile("^Collection on "))).to_be_visible()


def look_at_the_stalls(one: Hand) -> None:
    expect(one.page.get_by_role("heading", name="Your stalls")).to_be_visible()
    one.tap(one.page.get_by_role("main").get_by_role("link", name=re.compile("Our stalls")))
    expect(one.page.get_by_role("heading", name="Our stalls")).to_be_visible()


THINGS = (
    answer_an_order,
    fetch_the_packing_list,
    see_who_fetches_what,
    tick_a_step,
    read_the_dates,
    look_at_the_stalls,
)


def test_each_thing_is_at_most_three_taps_away(hand: Callable[[str], Hand]) -> None:
    one = hand(TROOP)
    for thing in THINGS:
        thing(one)
        one.begin()


def test_the_week_is_begun_in_one_tap(hand: Callable[[str], Hand]) -> None:
    """A troop whose week is not in."""
    one = hand(UNSENT)
    one.tap(one.page.get_by_role("main").get_by_role("link", name=re.compile("Send this week")))
    expect(one.page.get_by_role("heading", name="Send this week")).to_be_visible()
    one.begin()
