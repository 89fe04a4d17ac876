"""Ten tasks of an evening with the demo, done as a person does them: at most two screens and three clicks each.

The names of groups and screens in the navigation count as clicks too. A screen that moves an answer further away fails.
"""

import re
from collections.abc import Iterator

import pytest
from browsing import settle
from playwright.sync_api import Browser, Locator, Page
from running_server import Running

pytestmark = pytest.mark.browser
MOST_VIEWS, MOST_CLICKS = 2, 3


class Evening:
    """A page whose clicks and screens are counted, from This week on, for each task."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self._address = page, address
        self.clicks, self.views = 0, [""]
        page.goto(address)
        settle(page)

    def click(self, what: Locator) -> None:
        what.first.click()
        self.clicks += 1

    def go(self, group: str, title: str) -> None:
        """Opens a screen by the navigation: two clicks."""
        self.click(self.page.get_by_role("button", name=group, exact=True))
        self.click(self.page.get_by_role("menuitem", name=title, exact=True))
        self.arrive(title)

    def arrive(self, title: str) -> None:
        self.page.get_by_role("heading", name=title, exact=True).wait_for()
        settle(self.page)
        self.views.append(title)

    def read(self, pattern: str) -> None:
        """What is looked for can be read."""
        self.page.get_by_text(re.compile(pattern)).first.wait_for()

    def said(self, name: str) -> str:
        """The h4 of the screen, or a named part of it."""
        return str(self.page.locator(name).first.inner_text())


@pytest.fixture
def evening(browser: Browser, served: Running, signed_in: str) -> Iterator[Evening]:
    context = browser.new_context(viewport={"width": 1440, "height": 900}, storage_state=signed_in)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    one = Evening(context.new_page(), served.address)
    yield one
    context.close()
    assert one.clicks <= MOST_CLICKS
    assert len(one.views) <= MOST_VIEWS


def whom_to_call_and_what_to_say(one: Evening) -> None:
    one.read("^Call first$")
    one.click(one.page.get_by_text("What to say or send"))
    assert "Dear" in one.said("[data-testid=stCode]") or len(one.said("[data-testid=stCode]")) > 80


def who_has_not_sent(one: Evening) -> None:
    one.read(r"^\d+ troops? (?:has|have) not sent this week:$")


def what_is_to_mend(one: Evening) -> None:
    one.go("In and out", "Submissions")
    one.click(one.page.get_by_text(re.compile(r"0854.*rows held")))
    one.read("0854")


def who_owes_and_since_when(one: Evening) -> None:
    one.go("Week", "Who owes")
    assert "past due in" in one.said("h4")
    one.read("came back on")


def which_families_owe(one: Evening) -> None:
    one.go("Week", "Who owes")
    one.read(r"families owe")


def what_is_missing_and_why(one: Evening) -> None:
    one.go("Week", "Stock")
    one.read("^Not accounted for$")
    one.read("^Most often a record is late")


def what_to_settle(one: Evening) -> None:
    one.read("^To settle at the week's end$")
    one.read(r"agree with ours")


def everything_for_one_call(one: Evening) -> None:
    one.click(one.page.get_by_role("link", name=re.compile(r"^Troop \d{4}")))
    one.arrive("A troop")
    one.read("^For one call$")


def a_promise_is_written_down(one: Evening) -> None:
    one.click(one.page.get_by_role("link", name=re.compile(r"^Follow up this")))
    one.arrive("Follow up")
    one.click(one.page.get_by_text("Promised", exact=True).nth(1))
    one.click(one.page.get_by_role("button", name="Write down"))
    one.read(r"promised \$[\d,.]+ for Mon 22 Mar\.$")


def forms_for_the_next_week(one: Evening) -> None:
    one.go("In and out", "Papers")
    with one.page.expect_download() as fetched:
        one.click(one.page.get_by_role("link", name="Forms of week 7"))
    assert fetched.value.suggested_filename == "Forms of week 7.zip"


TASKS = (
    whom_to_call_and_what_to_say, who_has_not_sent, what_is_to_mend, who_owes_and_since_when,
    which_families_owe, what_is_missing_and_why, what_to_settle, everything_for_one_call, a_promise_is_written_down,
    forms_for_the_next_week,
)  # fmt: skip


@pytest.mark.parametrize("task", TASKS, ids=lambda task: task.__name__)
def test_a_task_of_the_evening(task: object, evening: Evening) -> None:
    task(evening)  # type: ignore[operator]
