"""What the screens ask for beyond the standing: the area's sums, the participants' path, versions, what is held."""

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from scipy.stats import binomtest
from trial import W1, W2, Trial

from pipelines.figures.figures import Fact, Figures, Relation
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store.book import Book

FIRST_WEEK = {
    "supply": """
        document  troop  item  date        packages  kind
        S1        0417   GLA   2027-02-09  60        opening
        S2        0031   GLA   2027-02-09  24        opening""",
    "stock": """
        troop  week_ending  item  on_hand
        0417   2027-02-14   GLA   36
        0031   2027-02-14   GLA   24""",
    "families": """
        troop  week_ending  participant  item  packages  cash
        0417   2027-02-14   0417-01      GLA   20        0
        0417   2027-02-14   0417-02      GLA   4         0
        0417   2027-02-14   0417-01      -     0         30.00""",
    "goals": """
        troop  week_ending  participant  goal
        0417   2027-02-14   0417-01      20
        0417   2027-02-14   0417-02      15""",
    "pages": """
        troop  participant  on          page_open  people_told
        0417   0417-01      2027-02-10  yes        5
        0417   0417-02      2027-02-10  no         0""",
    "last_season": """
        troop  week_no  participants  packages
        0417   1        2             20
        0417   2        2             50
        0031   2        1             9""",
}


def asked(one: Trial) -> Callable[..., Any]:
    """Rows of a relation as of a day, or of a fact, of what is published now, for a viewer."""

    def ask(what: Relation | Fact, day: date | None = W1, viewer: Viewer = COORDINATOR) -> list[dict[str, Any]]:
        with one.book.reading() as con:
            figures = Figures(con, viewer)
            return figures.rows(what, day) if day else figures.facts(what)  # type: ignore[arg-type]

    return ask


@pytest.fixture(scope="module")
def week_one(tmp_path_factory: pytest.TempPathFactory, known_book: Path) -> Trial:
    """The small book after its first week came in; nothing more is sent."""
    one = Trial(tmp_path_factory.mktemp("week one"))
    shutil.copytree(known_book, one.book.folder, dirs_exist_ok=True)
    assert all(outcome.status == "taken in" for outcome in one.send(**FIRST_WEEK))
    return one


@pytest.fixture
def known(week_one: Trial) -> Callable[..., Any]:
    return asked(week_one)


@pytest.fixture
def more(trial: Trial) -> tuple[Trial, Callable[..., Any]]:
    """The same book, to which more is sent."""
    trial.send(**FIRST_WEEK)
    return trial, asked(trial)


def test_how_far_each_participant_has_come(known: Callable[..., Any]) -> None:
    names = ("participant", "has_contact", "goal", "is_page_open", "people_told", "packages", "has_sold", "is_goal_met")
    assert [tuple(row[name] for name in names) for row in known("participants")] == [
        ("0031-01", False, 0, False, 0, 0, False, False),
        ("0417-01", True, 20, True, 5, 20, True, True),
        ("0417-02", True, 15, False, 0, 4, True, False),
    ]


def test_the_path_and_the_spread_of_a_troop(known: Callable[..., Any]) -> None:
    (row,) = [row for row in known("steps") if row["troop"] == "0417"]
    path = ("registered", "contact", "goal", "page", "told", "first_sale", "goal_met")
    assert [row[f"step_{step}"] for step in path] == [2, 2, 2, 1, 1, 1, 1]
    assert (row["goal"], row["median_per_active"], row["top_tenth_packages"]) == (35, 12, 20)


def test_the_area_is_the_sum_and_its_share_the_ratio_of_sums(known: Callable[..., Any]) -> None:
    (row,) = known("area")
    assert (row["troops"], row["troops_submitted"], row["packages_sold"]) == (3, 2, 24)
    assert (row["registered"], row["registered_taking_part"]) == (3, 2)
    assert row["share"] == pytest.approx(2 / 3)
    assert row["goal_share"] == pytest.approx(24 / 35)
    assert row["sell_through"] == pytest.approx(24 / 84)
    assert str(row["families_owe"]) == "114.00"


def test_the_areas_interval_is_wilsons(demo_book: Book) -> None:
    """As SciPy gives it, for every week of the demo."""
    with demo_book.reading() as con:
        weeks = Figures(con, COORDINATOR).rows("area")
    for row in weeks:
        found = binomtest(row["registered_taking_part"], row["registered"]).proportion_ci(0.95, "wilson")
        assert (row["share_low"], row["share_high"]) == pytest.approx((found.low, found.high))


def test_pace_is_by_the_same_weeks_number_of_troops_that_sold_in_both(
    known: Callable[..., Any], week_one: Trial
) -> None:
    (row,) = known("area")
    assert (row["matched_now"], row["matched_then"], row["matched_troops"]) == (24, 20, 1)
    assert row["pace"] == pytest.approx(1.2)
    with week_one.book.reading() as con:
        weeks = Figures(con, COORDINATOR).pace()
    assert [(week["week_no"], week["packages_sold"], week["last_season"]) for week in weeks][:2] == [
        (1, 24, 20), (2, None, 59),
    ]  # fmt: skip


def test_an_item_of_the_area(known: Callable[..., Any]) -> None:
    row = {one["item"]: one for one in known("item_totals")}["GLA"]
    assert (row["available"], row["sold_from_stock"], row["on_hand_or_expected"], row["missing"]) == (84, 24, 60, 0)
    assert (row["sold_a_week"], row["weeks_of_supply"]) == (24, 2.5)


def test_a_week_sent_again_supersedes_the_first(more: tuple[Trial, Callable[..., Any]]) -> None:
    trial, known = more
    trial.send(
        stock="""
        troop  week_ending  item  on_hand
        0417   2027-02-14   GLA   35"""
    )
    told = [(row["troop"], row["times_sent"], row["submitted"]) for row in known("submissions")]
    assert told == [("0031", 1, True), ("0417", 2, True), ("1282", 0, False)]
    status = [row["status"] for row in known("versions", None) if row["troop"] == "0417" and row["has_stock"]]
    assert status == ["counts", "superseded"]


def test_what_is_held_is_told_with_its_findings(more: tuple[Trial, Callable[..., Any]]) -> None:
    trial, known = more
    trial.send(
        stock="""
        troop  week_ending  item  on_hand
        1282   2027-02-14   XYZ   3"""
    )
    (row,) = [row for row in known("submissions") if row["troop"] == "1282"]
    assert (row["submitted"], row["files_held"]) == (False, 1)
    with trial.book.reading() as con:
        figures = Figures(con, COORDINATOR)
        (held,) = figures.files.held()
        assert (held["troop"], held["week_ending"], held["rows_held"]) == ("1282", W1, 1)
        assert not held["is_replaced"]
        (finding,) = figures.files.findings(held["file_no"], held["unit"])
        assert (finding["found"], finding["cell"]) == ("XYZ", "C2")
        assert Figures(con, Viewer("leader", frozenset({"0417"}))).files.findings(held["file_no"], held["unit"]) == []


def test_what_a_later_file_took_the_place_of_waits_for_nobody(more: tuple[Trial, Callable[..., Any]]) -> None:
    trial, known = more
    for item in ("XYZ", "GLA"):
        trial.send(
            stock=f"""
            troop  week_ending  item    on_hand
            1282   2027-02-14   {item}  3"""
        )
    (row,) = [row for row in known("submissions") if row["troop"] == "1282"]
    assert (row["submitted"], row["files_held"]) == (True, 0)
    with trial.book.reading() as con:
        (held,) = Figures(con, COORDINATOR).files.held()
        assert held["is_replaced"]


def test_every_figure_of_a_troop_has_its_files(known: Callable[..., Any]) -> None:
    rows = [row for row in known("sources", None) if row["troop"] == "0417"]
    assert {row["table_name"]: row["rows_used"] for row in rows} == {
        "families": 3, "goals": 2, "last_season": 2, "pages": 2, "roster": 2, "stock": 1, "supply": 1, "troops": 1,
    }  # fmt: skip


def test_who_may_see_one_troop_sees_no_sums_over_others(known: Callable[..., Any]) -> None:
    leader = Viewer("leader", frozenset({"0417"}))
    assert known("area", W1, leader) == []
    assert known("item_totals", W1, leader) == []
    for what in ("standing", "items", "families", "participants", "steps", "last_season", "submissions"):
        assert {row["troop"] for row in known(what, W1, leader)} == {"0417"}
    for what in ("versions", "sources", "troops"):
        assert {row["troop"] for row in known(what, None, leader)} == {"0417"}


def test_the_second_week_has_no_rows_of_the_first(more: tuple[Trial, Callable[..., Any]]) -> None:
    trial, known = more
    trial.send(
        stock="""
        troop  week_ending  item  on_hand
        0417   2027-02-21   GLA   36"""
    )
    assert [row["submitted"] for row in known("submissions", W2)] == [False, True, False]
    assert known("area", W2)[0]["last_season"] == 59
