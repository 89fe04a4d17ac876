"""A leader on a phone: signs in, fills the week in, loses nothing, sends it; and no page shuts anybody out."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import PHONE, TROOP, Enter, settle
from playwright.sync_api import Browser, Page, expect
from running_server import Running

from dashboard.parts.screen_list import screens_of
from pipelines.accounts.accounts import Access

expect.set_options(timeout=30_000)


def type_into(page: Page, label: str, value: str) -> None:
    """Types into the first field of a label and leaves it, as a thumb does."""
    one = page.get_by_label(label, exact=True)
    one.fill(value)
    one.press("Tab")
    settle(page)


def test_signing_in_and_out(access: Access, browser: Browser, served: Running) -> None:
    access.add("typed", "leader", [TROOP], by="tests")
    code = access.renew("typed", by="tests")
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{served.address}/our_families")
    page.get_by_label("Name").fill("typed")
    page.get_by_label("Code").fill("not-the-code")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_contain_text("do not fit together")
    page.get_by_label("Code").fill(code)
    page.get_by_role("button", name="Sign in").click()
    settle(page)
    assert page.url.startswith(f"{served.address}/our_families")
    page.goto(f"{served.address}/sign-out")
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.goto(f"{served.address}/our_families")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    context.close()


def test_a_page_that_stands_open_goes_to_the_door_when_its_account_is_withdrawn(
    access: Access, enter: Enter, served: Running
) -> None:
    access.add("going", "leader", [TROOP], by="tests")
    page = enter("going").new_page()
    page.goto(f"{served.address}/our_families")
    settle(page)
    access.withdraw("going", by="tests")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=15_000)


def test_a_week_is_filled_in_kept_looked_over_sent_and_sent_again(enter: Enter, served: Running) -> None:
    page = enter("leader").new_page()
    page.goto(f"{served.address}/send_week")
    settle(page)
    type_into(page, "On hand, counted, GLA", "33")
    expect(page.get_by_text("Everything that you typed is kept")).to_be_visible()
    page.context.close()  # the phone is closed

    page = enter("leader").new_page()  # and another one opened
    page.goto(f"{served.address}/send_week")
    settle(page)
    assert page.get_by_label("On hand, counted, GLA").input_value() == "33"
    page.get_by_role("radio", name="Families", exact=True).check()
    type_into(page, "Cash and cheques", "12.345")
    page.get_by_role("button", name="Look it over", exact=True).first.click()
    expect(page.get_by_text("Something must be mended")).to_be_visible()
    expect(page.get_by_text("at most two decimals")).to_be_visible()
    assert page.evaluate("document.scrollingElement.scrollWidth - innerWidth") <= 0
    type_into(page, "Cash and cheques", "12.50")
    page.get_by_role("button", name="Look it over", exact=True).first.click()
    expect(page.get_by_text("What you report")).to_be_visible()
    table = page.get_by_role("table").first
    expect(table.get_by_role("row").filter(has_text="cash and cheques")).to_contain_text("$12.50")
    assert "\\" not in page.locator("body").inner_text()  # no sign that only the page's own markup is made of
    page.get_by_role("button", name="Send this week").click()
    expect(page.get_by_text("counts from now on")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("figures follow")).to_have_count(0, timeout=60_000)
    settle(page)
    expect(page.get_by_text("counts from now on")).to_be_visible()  # the thanks outlast the figures' making

    page.reload()
    settle(page)
    expect(page.get_by_text("not sent yet")).to_be_visible()  # the next week is offered now
    page.get_by_role("combobox", name="Which week").click()
    page.get_by_role("option").filter(has_text="28 Mar").click()
    settle(page)
    expect(page.get_by_text("is sent. Anything wrong?")).to_be_visible(timeout=60_000)  # its figures follow
    type_into(page, "On hand, counted, GLA", "30")
    page.get_by_role("button", name="Look it over", exact=True).first.click()
    expect(page.get_by_text("takes the place of what was sent before")).to_be_visible()
    row = page.get_by_role("row").filter(has_text="GLA: on hand")
    expect(row).to_contain_text("33")
    expect(row).to_contain_text("30")
    assert page.get_by_text("Throw the draft away").count() == 0 or not page.get_by_text("Throw the draft").is_visible()
    page.get_by_text("Begin this week again").click()
    page.get_by_role("button", name="Throw the draft away").click()
    expect(page.get_by_text("is sent. Anything wrong?")).to_be_visible()
    expect(page.get_by_label("On hand, counted, GLA", exact=True)).to_have_value("33")


OF_THE_NAVIGATION = ("list", "listitem")  # headings of groups stand within the framework's own list of screens
PART_OF_A_DATE = 'role="spinbutton"'  # the framework's field of a day: its calendar's button does the same and is large


def serious(page: Page) -> list[str]:
    """What an accessibility run finds serious or critical on a page."""
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = Axe().run(page, options={"runOnly": rules, "resultTypes": ["violations"]})
    return [
        f"{one['id']}: {one['help']}: {node['html'][:160]}"
        for one in found.response["violations"]
        if one["impact"] in {"serious", "critical"} and one["id"] not in OF_THE_NAVIGATION
        for node in one["nodes"]
        if not (one["id"] == "target-size" and PART_OF_A_DATE in node["html"])
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_door_shuts_nobody_out(browser: Browser, served: Running, scheme: str) -> None:
    context = browser.new_context(viewport=PHONE, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    for path in ("sign-in", "sign-in/link?link=x"):
        page.goto(f"{served.address}/{path}")
        assert serious(page) == []
        assert page.evaluate("document.scrollingElement.scrollWidth - innerWidth") <= 0
    page.goto(f"{served.address}/sign-in")
    page.get_by_label("Name").fill("x")
    page.get_by_label("Code").fill("x")
    page.get_by_role("button", name="Sign in").click()
    assert serious(page) == []
    context.close()


@pytest.mark.parametrize(
    ("name", "role", "scheme"),
    [
        ("boss", "coordinator", "light"),
        ("leader", "leader", "light"),
        ("leader", "leader", "dark"),
        ("visitor", "viewer", "light"),
    ],
)
def test_no_screen_shuts_anybody_out(enter: Enter, served: Running, name: str, role: str, scheme: str) -> None:
    page = enter(name, color_scheme=scheme).new_page()
    found = {}
    for screen in screens_of(role):
        page.goto(f"{served.address}/{Path(screen.file).stem}")
        settle(page)
        for _look in range(3):  # what is still fading in has not its contrast yet
            if not (problems := serious(page)):
                break
            page.wait_for_timeout(1000)
        else:
            found[screen.title] = problems
    assert found == {}
