"""Every screen in a real browser: wide and on a phone, light and dark.

MUSTERBOOK_PICTURES=DIR keeps a picture of every screen.
"""

import os
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from browsing import Look, go

from dashboard.parts.screen_list import screens_of

pytestmark = pytest.mark.browser
TITLES = {Path(one.file).stem: one.title for one in screens_of("coordinator")}
FIRST = "this_week"  # its address is the dashboard's own
PICTURES = os.environ.get("MUSTERBOOK_PICTURES", "")  # a folder: keeps a picture of every screen
Begin = Callable[..., Look]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["wide", "phone"])
def test_every_screen_reads_well(look: Begin, size: str, scheme: str) -> None:
    """No complaint of the browser, nothing asked of anybody else, nothing to scroll sideways."""
    seen = look(size, scheme)
    for screen, title in TITLES.items():
        seen.open("" if screen == FIRST else screen, "?troop=0448" if screen == "troop" else "")
        assert seen.page.get_by_role("heading", name=title, exact=True).count()
        assert seen.sideways() <= 0, f"{screen} is wider than the window"
        if PICTURES:
            seen.page.wait_for_timeout(1500)
            tall = seen.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
            was = seen.page.viewport_size
            seen.page.set_viewport_size({"width": was["width"], "height": min(tall + 60, 6000)})  # type: ignore[index]
            seen.page.wait_for_timeout(700)
            seen.page.screenshot(path=f"{PICTURES}/{screen}-{size}-{scheme}.png")
            seen.page.set_viewport_size(was)  # type: ignore[arg-type]
    assert seen.complaints == []
    assert seen.strangers == []


def test_from_the_first_call_to_the_troop_and_back(look: Begin) -> None:
    seen = look()
    seen.open()
    link = seen.page.get_by_role("link", name=re.compile(r"^Troop \d")).first
    code = link.inner_text().split()[1]
    link.click()
    seen.page.wait_for_url(f"**/troop?*troop={code}*")
    seen.page.wait_for_selector(f"h4:has-text('Troop {code}')")
    seen.page.go_back()
    seen.page.wait_for_selector("h4:has-text('submissions in')")


def test_a_row_of_the_table_opens_its_troop(look: Begin) -> None:
    seen = look()
    seen.open("who_owes")
    table = seen.page.get_by_test_id("stDataFrame").first
    table.locator("canvas").first.wait_for()
    seen.page.wait_for_timeout(500)
    table.scroll_into_view_if_needed()
    box = table.bounding_box()
    assert box
    seen.page.mouse.click(box["x"] + 28, box["y"] + 35 * 6 + 17)  # the button in the sixth row
    seen.page.wait_for_url(re.compile(r"/troop\?.*troop=\d{4}"))
    seen.page.wait_for_selector("h4:has-text('has sent'), h4:has-text('has not sent')")


def test_a_cell_of_the_grid_tells_what_came_in(look: Begin) -> None:
    """By mouse, and on to the cell beside it by keyboard."""
    seen = look()
    seen.open("submissions")
    grid = seen.page.locator(".st-key-grid")
    grid.locator("canvas").first.wait_for()
    grid.scroll_into_view_if_needed()
    seen.page.wait_for_timeout(500)
    box = grid.bounding_box()
    assert box
    told = seen.page.get_by_text(re.compile(r"^Troop \d{4}, week to Sun 21 Mar$"))
    for _try in range(10):  # a grid that is drawn is not yet one that listens
        seen.page.mouse.click(box["x"] + 150, box["y"] + 35 * 6 + 17)
        seen.page.wait_for_timeout(1500)
        if told.is_visible():
            break
    told.wait_for()
    seen.page.keyboard.press("ArrowRight")
    seen.page.get_by_text(re.compile(r"^Troop \d{4}, week to Sun 14 Mar$")).wait_for()


def test_a_figure_explains_itself(look: Begin) -> None:
    seen = look()
    seen.open("troop", "?troop=0448&week=5")
    seen.page.get_by_text("Figures as of Sunday 14 March 2027").wait_for()
    seen.page.locator(".st-key-made_standing_owed").get_by_role("button").click()
    made = seen.page.get_by_test_id("stPopoverBody")
    made.get_by_text("less Proceeds").wait_for()
    assert "Charged" in made.inner_text()


def test_the_week_chosen_stays_on_the_way(look: Begin) -> None:
    seen = look()
    seen.open("", "?week=4")
    seen.page.get_by_text("Figures as of Sunday 7 March 2027").wait_for()
    go(seen.page, "Week", "Who owes")
    seen.page.wait_for_selector("h4:has-text('Troops owe')")
    seen.page.get_by_text("Figures as of Sunday 7 March 2027").wait_for()
    seen.page.wait_for_url("**/who_owes?week=4")


def test_a_file_is_dropped_and_told(look: Begin, tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("troop,week_ending,item,on_hand\n0448,2027-03-21,NOPE,3\n", encoding="utf-8")
    seen = look()
    seen.open("submissions")
    seen.page.locator("input[type=file]").set_input_files(path)
    seen.page.get_by_text("stock.csv").wait_for()
    seen.page.get_by_role("button", name="Take in").click()
    seen.page.get_by_text("What became of your files").wait_for()
    seen.page.get_by_text("stock.csv: held").wait_for()
    assert seen.complaints == []


@pytest.mark.parametrize(("size", "scheme"), [("wide", "light"), ("phone", "dark")])
def test_where_every_dollar_was_over_the_weeks(look: Begin, size: str, scheme: str) -> None:
    """The picture of the weeks has its words, for the area and for a troop, and fits the window."""
    seen = look(size, scheme)
    for screen, query in (("", ""), ("troop", "?troop=0448")):
        seen.open(screen, query)
        seen.page.get_by_text("Over the weeks", exact=True).click()
        seen.page.locator('[aria-label^="Packages\' value so far by week"]').first.wait_for()
        seen.settle()
        assert seen.sideways() <= 0
    assert seen.complaints == []


def test_a_figure_of_the_area_leads_to_a_troops_cells(look: Begin) -> None:
    seen = look()
    seen.open("who_owes")
    seen.page.locator(".st-key-made_area_past_due").get_by_role("button").click()
    made = seen.page.get_by_test_id("stPopoverBody")
    made.get_by_text("Show the troops behind it").click()
    made.get_by_role("combobox", name="The cells of a troop").click()
    seen.page.keyboard.type("0448")
    seen.page.keyboard.press("Enter")
    made.get_by_text(re.compile("cells count in it")).wait_for()
    made.get_by_role("link", name=re.compile("collections|supply")).first.wait_for()
    assert seen.complaints == []


@pytest.mark.parametrize("size", ["wide", "phone"])
def test_a_troops_account_and_what_is_to_settle(look: Begin, size: str) -> None:
    seen = look(size)
    seen.open("troop", "?troop=0448")
    for part, told in (("Account", re.compile(r"\d charged, less")), ("To settle", "agree with ours")):
        seen.page.get_by_text(part, exact=True).click()
        seen.page.get_by_text(told).wait_for()
        seen.settle()
        assert seen.sideways() <= 0
    assert seen.complaints == []


def test_the_screens_look_back_and_say_what_changed(look: Begin, tmp_path: Path) -> None:
    """After one more file came in: the state before it, by its time in the address, and the change with its file."""
    path = tmp_path / "remittances.csv"
    lines = "reference,troop,date,amount,state,state_on,reason\nR-LATE,0448,2027-03-18,10.00,cleared,2027-03-19,\n"
    path.write_text(lines, encoding="utf-8")
    seen = look()
    seen.open("submissions")
    seen.page.locator("input[type=file]").set_input_files(path)
    seen.page.get_by_text("remittances.csv").wait_for()
    seen.page.get_by_role("button", name="Take in").click()
    seen.page.get_by_text("remittances.csv: taken in").wait_for()
    seen.open("troop", "?troop=0448")
    now = owed(seen)
    seen.page.get_by_text("What changed", exact=True).click()
    choose_first(seen, "What changed since")
    seen.page.get_by_text(re.compile(r"[Pp]ayment cleared, \$10\.00 more")).wait_for()
    seen.page.get_by_test_id("stPopover").first.click()
    choose_first(seen, "Known on", 1)
    seen.page.get_by_text("You are looking back").first.wait_for()
    seen.page.wait_for_url("**known=*")
    seen.settle()
    assert owed(seen) == now + 10
    assert seen.complaints == []


def owed(seen: Look) -> Decimal:
    """The amount on the card of what is owed."""
    card = seen.page.get_by_test_id("stMetric").filter(has_text="Owed").inner_text()
    return Decimal(re.sub(r"[^\d.]", "", card))


def choose_first(seen: Look, name: str, place: int = 0) -> None:
    """Chooses an option of a list; one that was only just drawn is opened again."""
    box = seen.page.get_by_role("combobox", name=name)
    box.click()
    seen.page.wait_for_timeout(600)
    if not seen.page.get_by_role("option").count():
        box.click()
    seen.page.get_by_role("option").nth(place).click()
