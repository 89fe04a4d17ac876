"""What changed, what is to settle, the account line by line, looking back: on the screens, as the ledger has them."""

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from shown_screens import figures, metrics, sound, table, text
from streamlit.testing.v1 import AppTest
from trial import FEEDS, W1, Trial

from dashboard.data import actions, downloads, readings, snapshots
from dashboard.parts import explained, words
from dashboard.parts.screen_list import screens_of
from pipelines.definitions.errors import Stop
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.follow_up.decisions import Entry, Key
from pipelines.follow_up.first_calls import is_open
from pipelines.store.book import Book
from pipelines.tracing.explain import measures_of
from pipelines.workflow import looking_back

Open = Callable[..., AppTest]
FAMILIES = """
    troop  week_ending  participant  item  packages  cash
    0417   2027-02-14   0417-01      GLA   {}        -
    0417   2027-02-14   0417-01      -     -         {}"""
STOCK = """
    troop  week_ending  item  received  damaged  on_hand
    0417   2027-02-14   GLA   0         0        {}"""
SUPPLY = """
    document  troop  item  date        packages  kind
    OP-1      0417   GLA   2027-02-06  48        opening"""


@pytest.fixture(scope="module")
def again(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A week of troop 0417, sent again with 14 packages fewer and 84.00 less handed in."""
    trial = Trial(tmp_path_factory.mktemp("again"))
    trial.send(**FEEDS, supply=SUPPLY)
    trial.send(families=FAMILIES.format(24, "100.00"), stock=STOCK.format(24))
    trial.send(families=FAMILIES.format(10, "16.00"), stock=STOCK.format(36))
    return trial


def choose(at: AppTest, key: str, place: int) -> AppTest:
    """Chooses an option of a list by its place."""
    box = at.selectbox(key=key)
    return sound(box.set_value(box.options[place]).run())


def test_a_troop_tells_what_changed_and_why(again: Trial, screen: Open) -> None:
    """From the newest files on: which file, in place of which, by how much, the rows, and the figures that moved."""
    at = screen(again.book, "troop", troop="0417")
    sound(at.radio(key="troop_part").set_value("What changed").run())
    at = choose(at, "since_0417", 0)
    said = text(at)
    assert "taken by a family, 14 packages fewer and $84.00 less" in said
    assert "cash and cheques from a family, $84.00 less" in said
    assert "sent 3/families.csv, in place of sent 2/families.csv" in said
    assert "| Packages sold | 24 | 10 |" in said
    rows = table(at, "Row", "Where")
    gone = rows[(rows["Row"] == "no longer") & (rows["What"] == "Taken by a family")]
    assert [*gone["Packages"]] == [24]
    assert [*gone["Where"]] == ["row 2"]


def test_this_week_tells_what_changed_in_all_troops(again: Trial, screen: Open) -> None:
    at = screen(again.book, "this_week")
    at.session_state["fold_changed"] = True
    at = choose(sound(at.run()), "since_", 0)
    assert "changes in 1 troop, from 2 files. In all: packages sold 14 down, owed" in text(at)
    assert set(table(at, "What changed, and why")["troop"]) == {"0417"}


def test_nothing_to_compare_with_is_said(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "this_week")
    at.session_state["fold_changed"] = True
    assert "Everything came in at once" in text(sound(at.run()))


@pytest.mark.parametrize("name", ["this_week", "who_owes", "stock", "taking_part", "troop", "follow_up", "submissions"])
def test_every_screen_can_look_back(again: Trial, screen: Open, name: str) -> None:
    """The figures of a screen as they were before the week was sent again; the time stands in the address."""
    at = choose(screen(again.book, name, troop="0417"), "known", 1)
    assert "You are looking back" in text(at)
    assert at.query_params["known"]
    if name == "troop":
        assert metrics(at)["Packages sold"] == "24"
        at = choose(at, "known", 0)
        assert metrics(at)["Packages sold"] == "10"
        assert "known" not in at.query_params


def test_an_address_that_looks_back(again: Trial, screen: Open) -> None:
    snapshots.open_book(again.book, lambda: COORDINATOR)
    newest, before, *_ = readings.now().moments()
    at = screen(again.book, "troop", troop="0417", known=before["at"].isoformat())
    assert metrics(at)["Packages sold"] == "24"
    for wrong in ("yesterday", newest["at"].isoformat(), "2027-01-01T00:00:00"):
        assert metrics(screen(again.book, "troop", troop="0417", known=wrong))["Packages sold"] == "10"


def test_nothing_is_written_down_nor_made_while_looking_back(again: Trial, screen: Open) -> None:
    snapshots.open_book(again.book, lambda: COORDINATOR)
    entry = Entry(Key("no_contact", "0031", "0031-01"), "note", "asked", None, None)
    with readings.run():
        readings.look_back(readings.now().moments()[1]["at"])
        with pytest.raises(Stop, match="looking back"):
            actions.write_down([entry])
    at = choose(screen(again.book, "papers"), "known", 1)
    assert "papers made here are of the newest figures" in text(at)
    assert not at.button


def test_a_leader_does_not_look_back(again: Trial) -> None:
    snapshots.open_book(again.book, lambda: Viewer("our", frozenset({"0417"})))
    with readings.run():
        assert readings.now().moments() == ()
        for look in (lambda: readings.look_back(W1), lambda: readings.now().changes(W1)):  # type: ignore[arg-type]
            with pytest.raises(Stop, match="coordinator"):
                look()
    snapshots.open_book(None)


def test_earlier_states_are_let_go_when_more_comes_in(new_trial: Callable[..., Trial]) -> None:
    """Looking back holds the snapshot it was made from only while that is the newest."""
    trial = new_trial()
    trial.send(**FEEDS)
    trial.send(supply=SUPPLY)
    snapshots.open_book(trial.book, lambda: COORDINATOR)
    with readings.run():
        readings.look_back(readings.now().moments()[1]["at"])
    assert snapshots.SHELF._pasts
    trial.send(stock=STOCK.format(1))
    with readings.run():
        assert not snapshots.SHELF._pasts
    snapshots.open_book(None)


def world(book: Book, day: date = date(2027, 3, 21)) -> list[dict[str, Any]]:
    """What others saw beside ours."""
    return figures(book, "against_the_world", day)


def test_this_week_lists_what_is_to_settle(demo_book: Book, screen: Open) -> None:
    """Every count, balance and figure of the organisation that differs, with its difference and explanation."""
    at = screen(demo_book, "this_week")
    at.session_state["fold_settle"] = True
    at = sound(at.run())
    rows = world(demo_book)
    off = [row for row in rows if row["difference"]]
    assert {row["about"] for row in off} == {"count", "bank", "organisation"}
    shown = table(at, "Likeliest explanation")
    assert len(shown) == len(off)
    assert f"{len(rows) - len(off)} of {len(rows)} agree with ours" in text(at)
    assert all(shown["Likeliest explanation"])
    bank = next(row for row in off if row["about"] == "bank")
    line = shown[(shown["troop"] == bank["troop"]) & (shown["What"] == "Bank balance read")].iloc[0]
    assert (line["Ours"], line["Theirs"]) == (words.money(bank["ours"]), words.money(bank["theirs"]))


def test_a_troop_lists_what_is_to_settle_of_its_own(demo_book: Book, screen: Open) -> None:
    off = [row for row in world(demo_book) if row["difference"]]
    troop = next(row["troop"] for row in off if row["about"] == "count")
    at = screen(demo_book, "troop", troop=troop)
    sound(at.radio(key="troop_part").set_value("To settle").run())
    assert len(table(at, "Likeliest explanation")) == sum(row["troop"] == troop for row in off)


def test_a_troops_account_adds_up_line_by_line(demo_book: Book, screen: Open) -> None:
    """The last balance is what is owed; so is a family's."""
    at = screen(demo_book, "troop", troop="0448")
    sound(at.radio(key="troop_part").set_value("Account").run())
    (row,) = [one for one in figures(demo_book, "standing") if one["troop"] == "0448"]
    lines = table(at, "balance", "credited")
    charged, credited = (sum(one for one in lines[name] if one is not None) for name in ("charged", "credited"))
    assert lines["balance"].iloc[-1] == row["owed"] == charged - credited
    assert f"{words.money(row['owed'])} owed, in {len(lines)} lines" in text(at)
    assert "Past due: " in text(at)
    family = max((one for one in figures(demo_book, "families") if one["troop"] == "0448"), key=lambda one: one["owes"])
    sound(at.selectbox(key="account_0448").set_value(family["participant"]).run())
    assert table(at, "balance", "credited")["balance"].iloc[-1] == family["owes"] > Decimal(0)


def test_a_troops_exceptions_stand_together(demo_book: Book, screen: Open) -> None:
    """Each with its figures, what can be said in one call, and the way to follow up."""
    waiting = [row for row in figures(demo_book, "exceptions") if row["troop"] == "0448" and is_open(row)]
    assert len(waiting) > 1
    said = text(screen(demo_book, "troop", troop="0448"))
    assert f"{len(waiting)} things to follow up" in said
    for row in waiting:
        assert row["what"] in said
        assert row["at_stake"] is None or words.money(row["at_stake"]) in said


@pytest.fixture(autouse=True)
def shut() -> Iterator[None]:
    """No book stays open."""
    yield
    snapshots.open_book(None)


# How is this made?


def test_a_figure_of_the_area_shows_the_troops_and_their_cells(demo_book: Book, screen: Open) -> None:
    """The troops' amounts add up to the area's, a troop's cells to the troop's."""
    at = screen(demo_book, "who_owes")
    (area,) = figures(demo_book, "area")
    sound(at.toggle(key="troops_area_past_due_").set_value(True).run())
    shown = table(at, "Counts in", "Of")
    assert sum(map(amount, shown["Counts as"])) == area["past_due"]
    sound(at.selectbox(key="troop_of_area_past_due_").set_value("0448").run())
    cells = table(at, "Counts in", "File")
    assert len(cells)
    sound(at.toggle(key="troops_area_owed_").set_value(True).run())
    sound(at.selectbox(key="troop_of_area_owed_").set_value("0448").run())
    assert "cells count in it." in text(at)


def amount(told: str) -> Decimal:
    """A money amount as a screen shows it."""
    return Decimal(told.replace("$", "").replace(",", ""))


@pytest.mark.parametrize(
    ("name", "part", "key", "column", "row"),
    [
        ("troop", "Dues", "dues_", "unpaid", 0),
        ("troop", "Families", "families_", "owes", 3),
        ("troop", "Items", "items_", "remote", 1),
        ("troop", "Weeks", "standing_weeks", "owed", 2),
        ("who_owes", "", "standing_", "cover", 5),
        ("taking_part", "", "steps_", "step_goal", 5),
        ("taking_part", "", "standing_", "top_tenth_part", 5),
    ],
)
def test_a_figure_of_a_table_is_explained_to_its_cells(
    demo_book: Book, screen: Open, name: str, part: str, key: str, column: str, row: int
) -> None:
    """A column and a row chosen: the value, its meaning, and the cells it counts."""
    at = screen(demo_book, name, troop="0448")
    if part:
        sound(at.radio(key="troop_part").set_value(part).run())
    sound(at.selectbox(key=f"figure_{key}").set_value(column).run())
    sound(at.selectbox(key=f"of_{key}").set_value(row).run())
    toggle = next(one for one in at.toggle if one.key.endswith(f"_{key}"))
    at = sound(toggle.set_value(True).run())
    assert len(table(at, "Counts in", "Says"))
    if column == "unpaid":
        assert "or, if less, Not credited yet" in text(at)


def test_every_measure_on_every_screen_can_be_traced(
    demo_book: Book, screen: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What screens offer to explain, figure or column, is what can be traced to cells."""
    asked: set[tuple[str, str]] = set()

    def note(relation: str, names: Sequence[str], *_rows: Any) -> None:
        asked.update((relation, name) for name in names)

    monkeypatch.setattr(explained, "columns_made", note)
    monkeypatch.setattr(explained, "explain", lambda relation, name, _row, _key="": asked.add((relation, name)))
    for one in screens_of("coordinator"):
        at = screen(demo_book, Path(one.file).stem, troop="0448")
        for part in at.radio(key="troop_part").options if one.file.endswith("troop.py") else ():
            sound(at.radio(key="troop_part").set_value(part).run())
    assert len(asked) > 80
    for relation, name in asked:
        own = measures_of(relation)  # type: ignore[arg-type]
        assert name in own or (relation == "standing" and name in measures_of("steps")), (relation, name)


@pytest.mark.parametrize("name", ["this_week", "troop"])
def test_where_every_dollar_is_over_the_weeks(demo_book: Book, screen: Open, name: str) -> None:
    """The same switch for the area and a troop; what is not accounted for is said kindly."""
    at = screen(demo_book, name, troop="0448")
    sound(at.radio(key="dollars").set_value("Over the weeks").run())
    assert "to look into" in text(at)
    assert not re.search(r"theft|stolen|stole|loss", text(at), re.IGNORECASE)


def test_the_file_behind_a_cell_can_be_fetched_by_whom_it_concerns(tmp_path: Path) -> None:
    """Byte for byte as it landed; a leader gets her own troop's and no other, and neither gets what is not there."""
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    trial.send(families=FAMILIES.format(3, "18.00"))
    trial.send(stock=STOCK.format(2).replace("0417", "0031"))
    snapshots.open_book(trial.book, lambda: COORDINATOR)
    names = {row["name"]: str(row["file_no"]) for row in _files(trial)}
    ours, theirs = names["sent 2/families.csv"], names["sent 3/stock.csv"]
    leader = Viewer("our", frozenset({"0417"}))

    def fetched(viewer: Viewer, number: str) -> tuple[str, bytes, str] | None:
        return downloads._landed(viewer, "landed", {"file": number})

    for viewer in (COORDINATOR, leader):
        found = fetched(viewer, ours)
        assert found
        assert found[:2] == ("families.csv", (tmp_path / "sent 2/families.csv").read_bytes())
    assert fetched(COORDINATOR, theirs)
    feeds = names["sent 1/troops.csv"]
    for wrong in (theirs, feeds, "0", "99", "x", "-1", "9" * 30, "²", ""):
        assert fetched(leader, wrong) is None
    assert fetched(Viewer("viewer", frozenset(), sees_area=True), ours) is None


def _files(trial: Trial) -> list[dict[str, Any]]:
    with looking_back.figures(trial.book, COORDINATOR) as found:
        return found.files.landed()


def test_the_files_behind_a_figure_are_linked(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "troop", troop="0448")
    sound(at.toggle(key="cells_standing_not_banked_").set_value(True).run())
    assert re.search(r"Fetch a file as it came: \[.*banked.csv\]\(/fetch/landed\?file=\d+\)", text(at))
