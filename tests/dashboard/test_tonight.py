"""Tonight and Our families: what waits stands first, with its hour; whoever needs help comes first."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from shown_screens import shown, sound, text
from streamlit.testing.v1 import AppTest
from trial import SEASON, W1, Trial

from dashboard.data import snapshots
from pipelines.figures.viewer import COORDINATOR, Viewer

LEADER = Viewer("our", frozenset({"0417"}))
AWARD = """
[stalls]
credit = "equal"

[[awards]]
code = "GROW1"
title = "Grower, first year"
steps = 3
cost = "1.25"
"""
ROWS = {
    "troops": "troop level\n0417 younger\n0031 older",
    "roster": """
        troop  participant  registered_on  contact_on_file
        0417   0417-01      2026-10-01     yes
        0417   0417-02      2026-10-01     yes
        0417   0417-03      2026-10-01     no
        0031   0031-01      2026-10-01     yes""",
    "stock": f"troop week_ending item on_hand\n0417 {W1} GLA 20",
    "supply": "document troop item date packages kind\nD1 0417 GLA 2027-02-09 60 opening",
    "families": f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 34",
    "stalls": f"""
        troop  week_ending  date        place   item  packages  participants
        0417   {W1}   2027-02-13  Market  GLA   6         0417-01,0417-02""",
    "goals": f"troop week_ending participant goal\n0417 {W1} 0417-01 30\n0417 {W1} 0417-02 30\n0417 {W1} troop 90",
    "promised": f"troop week_ending participant item packages\n0417 {W1} 0417-02 GLA 14",
    "awards": f"troop week_ending participant award steps\n0417 {W1} 0417-02 GROW1 1,3",
    "online_orders": """
        order  troop  participant  placed_on   mode     state    state_on    item packages goods_amount otherwise
        LATER  0417   0417-01      2027-02-13  by_hand  waiting  2027-02-13  GLA  6        36.00        given_instead
        FIRST  0417   0417-02      2027-02-11  by_hand  waiting  2027-02-11  GLA  2        12.00        -
        OLD    0417   0417-02      2027-02-08  by_hand  waiting  2027-02-08  GLA  2        12.00        -
        THEIRS 0031   0031-01      2027-02-13  by_hand  waiting  2027-02-13  GLA  2        12.00        -""",
    "pages": """
        troop  participant  on          page_open  own_picture  people_told  waits_for_caregiver
        0417   0417-01      2027-02-12  yes        still        8            no
        0417   0417-02      2027-02-12  no         no           0            yes""",
    "places": "place title\nMALL Hillmall\nSTN Station",
    "slots": """
        slot  place  date        start  end    troop  state  state_on
        S1    MALL   2027-02-13  09:00  11:00  0417   given  2027-02-09
        S2    STN    2027-02-20  09:00  11:00  0417   given  2027-02-09
        S3    MALL   2027-02-20  09:00  11:00  0031   given  2027-02-09""",
}  # fmt: skip


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    one = Trial(tmp_path_factory.mktemp("evening"), SEASON + AWARD)
    assert all(done.status == "taken in" for done in one.send(**ROWS))
    return one


@pytest.fixture
def opened(evening: Trial) -> Iterator[Callable[..., AppTest]]:
    """Opens a screen of the book, for the leader unless somebody else is named."""

    def open_screen(name: str, who: Viewer = LEADER) -> AppTest:
        snapshots.open_book(evening.book, lambda: who)
        return shown(name)

    yield open_screen
    snapshots.open_book(None)


def test_tonight_says_what_waits_in_order_of_its_hour(opened: Callable[..., AppTest]) -> None:
    at = opened("tonight")
    said = text(at)
    assert "2 orders to answer, first by Tuesday 16 February, 18:00 and 14 packages to get ready." in said
    assert said.index("FIRST, 0417-02") < said.index("LATER, 0417-01")
    assert "OLD" not in said
    assert "THEIRS" not in said
    assert "6 packages, $36.00. Without an answer: given away." in said
    assert "2 packages, $12.00. Without an answer: what the buyer chose is not known here." in said
    assert "0417-02: Grower, first year" in said
    assert "step 2 is left" in said
    assert "can still be: steps count wherever they are done, until Sun 21 Mar." in said
    assert "| Gladiolus bulbs (GLA) | 14 | 1 case and 2 loose |" in said
    assert [one.value for one in at.subheader][-1] == "Your stalls"
    assert "Station" in said
    assert "Sat 20 Feb, 09:00 to 11:00" in said
    assert "Hillmall" not in said, "it is over, or another troop's"
    reminders = [one.value for one in at.code]
    assert "by Tuesday 16 February, 18:00" in reminders[0]
    assert "(6 packages, $36.00)" in reminders[1]


def test_nothing_waits(new_trial: Callable[..., Trial]) -> None:
    """An empty evening says so, and when to come back."""
    one = new_trial()
    one.send(troops=ROWS["troops"], roster=ROWS["roster"], stock=ROWS["stock"])
    snapshots.open_book(one.book, lambda: LEADER)
    said = text(shown("tonight"))
    assert "Nothing waits for you tonight." in said
    assert "Come back on Sun 21 Feb" in said
    snapshots.open_book(None)


def test_families_stand_by_who_needs_help_and_not_by_who_sold_most(opened: Callable[..., AppTest]) -> None:
    at = opened("our_families")
    heads = [one.label for one in at.expander]
    people = [head for head in heads if "0417" in head]
    assert [head.replace("\\", "").split("**")[1] for head in people] == ["0417-02", "0417-01", "0417-03"]
    said = text(at)
    assert "Goal: 30 packages; 37 so far; a goal was met." in said
    assert "Page: waits for a caregiver; no own picture yet; 0 people told, 2 orders." in said
    assert "14 promised on paper, 0 taken, 14 to fetch, 3 of stalls." in said
    assert "Sat 13 Feb, Market: 6 packages in equal parts: 0417-01 3, 0417-02 3." in said
    assert "0031-01" not in said


def test_the_coordinator_buys_and_sees_no_participant(opened: Callable[..., AppTest]) -> None:
    at = opened("awards", COORDINATOR)
    said = text(at)
    assert "1 participant is one step away from an award; 0 pieces to buy, $0.00." in said
    assert "0417-02" not in said + "".join(frame.value.to_string() for frame in at.dataframe)


def test_what_a_leader_ticks_is_the_workbooks_rows(
    opened: Callable[..., AppTest], evening: Trial, tmp_path: Path
) -> None:
    """A week begins with what was told last; a tick and a day are a row of the sheet."""
    from dashboard.data import actions
    from pipelines.workflow import drafts

    sound(opened("send_week"))
    draft = actions.draft("0417", evening.book.season().week_ending(2))
    assert draft.sheets["promised"]["0417-02"] == {"participant": "0417-02", "GLA": "14"}
    assert draft.sheets["awards"]["0417-02"] == {"participant": "0417-02", "GROW1": "1 3"}
    for column, now in (("GROW1", "1 2 3"), ("GROW1 handed", "2027-02-20")):
        draft.put(drafts.Typed("awards", "0417-02", column, "", now))
    sheets = drafts.sheets_of(draft, evening.book.season(), "0417", evening.book.season().week_ending(2))
    rows = next(sheet.rows for sheet in sheets if sheet.name == "Awards")
    assert rows == [["participant", "award", "steps", "handed_on"], ["0417-02", "GROW1", "1 2 3", "2027-02-20"]]
