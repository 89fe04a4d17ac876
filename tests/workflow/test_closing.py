"""Closing, opening again, confirming, debts handed over: by hand and over random seasons.

MUSTERBOOK_CLOSINGS: how many random seasons are closed (1 unless said).
"""

import csv
import io
import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from season_files import write_csvs
from seasons import Made, make
from trial import FEEDS, W1, W2, W3, Trial

from pipelines.definitions.errors import Stop
from pipelines.figures.figures import Evident, Figures, Relation
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up import agreements, decisions
from pipelines.follow_up.decisions import Entry, Key
from pipelines.reports.debts import debts_text
from pipelines.reports.rollup import week_of
from pipelines.reports.settlement import settlement
from pipelines.reports.statement import statement
from pipelines.workflow import closing

FIGURES: tuple[Relation, ...] = (
    "standing", "items", "families", "dues", "participants", "steps", "bank", "progress", "against_the_world",
    "closing_points",
)  # fmt: skip
LEDGER: tuple[Evident, ...] = ("entries", "postings", "statement_lines", "counts")
SEASONS = int(os.environ.get("MUSTERBOOK_CLOSINGS", "1"))
TROOPS = FEEDS | {
    "troops": "troop level divisor\n0417 younger 2\n0031 older 1\n1282 older 1",
    "supply": "document troop item date packages kind\nD-1 0417 GLA 2027-02-06 24 opening",
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 10",
    "families": "troop week_ending participant item packages cash card note\n"
    "0417 2027-02-14 0417-01 GLA 14 - - -\n0417 2027-02-14 0417-01 - - 40.00 - -",
}
LATE = {
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 8\n0031 2027-02-14 GLA 0",
    "adjustments": "reference troop participant date amount reason\nA1 0417 - 2027-02-13 5.00 x\n"
    "A2 0031 - 2027-02-13 3.00 x",
}


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    trial = Trial(tmp_path_factory.mktemp("closing"))
    trial.send(**TROOPS)
    assert trial.book
    return trial


@pytest.fixture
def trial(published: Trial, tmp_path: Path) -> Trial:
    return published.copied_to(tmp_path / "copy")


@contextmanager
def figures(trial: Trial) -> Iterator[Figures]:
    with trial.book.reading() as con:
        yield Figures(con, COORDINATOR)


def line(trial: Trial, troop: str, day: date = W1) -> dict[str, object]:
    with figures(trial) as shown:
        return shown.rows("closing", day, troop)[0]


def points(trial: Trial, troop: str) -> dict[str, str]:
    with figures(trial) as shown:
        return {row["point"]: row["what"] for row in shown.rows("closing_points", W1, troop)}


def test_what_is_open_is_said_with_whose_it_is(trial: Trial) -> None:
    assert points(trial, "0417") == {
        "last week": "The last week, to 21 March, is not in.",
        "surplus": "10 packages are on hand: to be given back, moved or bought.",
        "cash": "$40.00 of cash is in no deposit yet.",
        "collection": "The last collection has not cleared.",
        "families": "Families owe $44.00: to be collected, or handed over with what the book has.",
    }
    assert points(trial, "0031") == {"last week": "The last week, to 21 March, is not in."}


def test_packages_that_differ_are_open_until_their_reason_is_written_down(trial: Trial) -> None:
    trial.send(stock="troop week_ending item on_hand\n0417 2027-02-14 GLA 8")
    assert points(trial, "0417")["counts"].startswith("2 packages of GLA differ")
    decisions.write(trial.book, "me", W1, [Entry(Key("packages_missing", "0417", "GLA"), "settle", "fell in a puddle")])
    assert "counts" not in points(trial, "0417")


def test_a_closed_troop_stays_as_it_was_until_it_is_opened_again(trial: Trial) -> None:
    book = trial.book
    with pytest.raises(Stop, match="not ready: 0417"):
        closing.close(book, "coordinator", W1, ("0417",))
    first = closing.close(book, "coordinator", W1, ("0417",), anyway=True)
    with figures(trial) as shown:
        before, other = (closing.digest(shown, troop, W1) for troop in ("0417", "0031"))
    trial.send(**LATE)
    with figures(trial) as shown:
        assert closing.digest(shown, "0417", W1) == before
        assert closing.digest(shown, "0031", W1) != other
    late = closing.after_close(book)
    assert list(late) == ["0417"]
    assert late["0417"].is_as_closed
    assert {(one.table_name, one.why) for one in late["0417"].changes} == {
        ("stock", "Sent again"),
        ("adjustments", "Sent"),
    }
    moved = {one.measure: (one.then, one.now) for one in late["0417"].moved}
    assert moved["on_hand"] == (10, 8)
    assert moved["credits"] == (Decimal("0.00"), Decimal("5.00"))
    assert moved["owed"][1] - moved["owed"][0] == Decimal("-5.00")
    again = closing.close(book, "coordinator", W1, ("0417",), anyway=True)
    assert (first.troops, again.troops, again.before) == (("0417",), (), ("0417",))
    assert line(trial, "0417")["closed_known_on"] == first.known_on
    with pytest.raises(Stop, match="say the reason"):
        closing.reopen(book, "coordinator", ("0417",), " ")
    closing.reopen(book, "coordinator", ("0417",), "a late count")
    assert line(trial, "0417")["credits"] == Decimal("5.00")
    with pytest.raises(Stop, match="None of these"):
        closing.reopen(book, "coordinator", (), "again")


def test_two_people_confirm(trial: Trial) -> None:
    book = trial.book
    with pytest.raises(Stop, match="0417: not closed yet"):
        closing.confirm(book, "lee", "leader", ("0417",))
    closing.close(book, "coordinator", W1, ("0417",), anyway=True)
    closing.confirm(book, "lee", "leader", ("0417",))
    assert line(trial, "0417")["state"] == "closed"
    with pytest.raises(Stop, match="Two people"):
        closing.confirm(book, "lee", "coordinator", ("0417",))
    closing.confirm(book, "coordinator", "coordinator")
    assert line(trial, "0417")["state"] == "final"
    closing.reopen(book, "coordinator", ("0417",), "a late count")
    closing.close(book, "coordinator", W1, ("0417",), anyway=True)
    assert line(trial, "0417")["state"] == "closed", "what was confirmed was the close before"


def test_a_debt_lowers_what_is_settled_once_it_is_accepted(trial: Trial) -> None:
    book = trial.book
    owed = line(trial, "0417")["owed"]
    with pytest.raises(Stop, match=r"0417-01 owes 44.00"):
        agreements.hand_over(book, "me", "0417", "0417-01", Decimal("44.01"), "asked on Friday", W1)
    with pytest.raises(Stop, match="say what was agreed"):
        agreements.hand_over(book, "me", "0417", "0417-01", Decimal("44.00"), "", W1)
    agreements.hand_over(book, "me", "0417", "0417-01", Decimal("44.00"), "asked on Friday", W1)
    with pytest.raises(Stop, match="already"):
        agreements.hand_over(book, "me", "0417", "0417-01", Decimal("1.00"), "twice", W1)
    assert line(trial, "0417")["to_settle"] == owed
    agreements.answer_debt(book, "me", "accept", "0417", "0417-01", W1)
    row = line(trial, "0417")
    assert (row["owed"], row["with_organisation"], row["to_settle"]) == (owed, Decimal("44.00"), owed - Decimal(44))
    agreements.answer_debt(book, "me", "came_in", "0417", "0417-01", W1, Decimal("10.00"))
    with figures(trial) as shown:
        debt = shown.rows("debts", W1)[0]
    assert (debt["state"], debt["came_in"], debt["counts"]) == ("with the organisation", Decimal(10), Decimal(44))
    assert len(closing.unfinished(book)) == 2
    agreements.answer_debt(book, "me", "take_back", "0417", "0417-01", W1)
    assert line(trial, "0417")["to_settle"] == owed


def test_a_debt_is_handed_over_with_what_the_book_has(trial: Trial) -> None:
    """Weeks, rows, payments, what was asked and promised; what was charged and paid adds up to what is owed."""
    trial.send(
        stock="troop week_ending item on_hand\n0417 2027-02-21 GLA 8",
        families="troop week_ending participant item packages cash note\n0417 2027-02-21 0417-09 GLA 2 - -\n"
        "0417 2027-02-21 0417-09 - - 5.00 -",
    )
    code = "0417-09"
    promise = Entry(Key("unregistered_seller", "0417", code), "promise", "on the phone", W3, Decimal("7.00"))
    decisions.write(trial.book, "me", W2, [promise])
    agreements.hand_over(trial.book, "ann", "0417", code, Decimal("7.00"), "asked twice", W2)
    with week_of(trial.book, W2) as week:
        told = list(csv.DictReader(io.StringIO(debts_text(week, "0417"))))
        assert debts_text(week, "0031").count("\n") == 1
    account = [row for row in told if row["file"]]
    assert [(row["day"], row["what"], row["packages"], row["amount"]) for row in account] == [
        ("2027-02-21", "Taken by a family", "2", "12.00"),
        ("2027-02-21", "Cash and cheques from a family", "", "-5.00"),
    ]
    assert {row["file"].rpartition("/")[2] for row in account} == {"families.csv"}
    assert [(row["what"], row["amount"], row["by"], row["words"]) for row in told if row["by"] in ("me", "ann")] == [
        ("Promised", "7.00", "me", "on the phone by 2027-02-28"),
        ("Handed over", "7.00", "ann", "asked twice"),
    ]


def test_a_debt_that_an_adjustment_credits_is_not_counted_twice(trial: Trial) -> None:
    agreements.hand_over(trial.book, "me", "0417", "0417-01", Decimal("44.00"), "asked", W1)
    agreements.answer_debt(trial.book, "me", "accept", "0417", "0417-01", W1)
    trial.send(
        adjustments="reference troop participant date amount reason\nA1 0417 0417-01 2027-02-18 30.00 x",
        stock="troop week_ending item on_hand\n0417 2027-02-21 GLA 10",
    )
    row = line(trial, "0417", W2)
    assert (row["credits"], row["with_organisation"]) == (Decimal("30.00"), Decimal("14.00"))


def test_what_a_family_pays_after_its_debt_was_handed_over_hides_no_other_family(trial: Trial) -> None:
    """One owes 44.00 and hands it over, the other 12.00; then the first is credited, or pays, all of it."""
    agreements.hand_over(trial.book, "me", "0417", "0417-01", Decimal("44.00"), "asked", W1)
    trial.send(
        families="troop week_ending participant item packages cash\n0417 2027-02-21 0417-02 GLA 2 -",
        stock="troop week_ending item on_hand\n0417 2027-02-21 GLA 8",
        adjustments="reference troop participant date amount reason\nA1 0417 0417-01 2027-02-18 30.00 x",
    )
    with figures(trial) as shown:
        said = {row["point"]: row for row in shown.rows("closing_points", W2, "0417")}
    assert (said["families"]["amount"], said["handed over"]["amount"]) == (Decimal("12.00"), Decimal("44.00"))
    trial.send(
        families="troop week_ending participant item packages cash note\n0417 2027-02-28 0417-01 - - 14.00 -",
        stock="troop week_ending item on_hand\n0417 2027-02-28 GLA 8",
    )
    with figures(trial) as shown:
        assert [row["amount"] for row in shown.rows("closing_points", W3, "0417") if row["point"] == "families"] == [12]


def all_told(shown: Figures, troop: str, day: date) -> bytes:
    """Every figure, the ledger and the list of a troop and day, as bytes."""
    told: dict[str, object] = {name: shown.rows(name, day, troop) for name in FIGURES}
    told |= {name: shown.evidence(name, troop, day).to_pylist() for name in LEDGER}
    (row,) = shown.rows("closing", day, troop)
    told["closing"] = [row[name] for name in ("owed", "to_settle", "pays", "settle_by", "is_ready")]
    return json.dumps(told, default=str, sort_keys=True).encode()


def papers(trial: Trial, troops: tuple[str, ...], day: date) -> list[bytes]:
    """The statement and the settlement of some troops."""
    with week_of(trial.book, day) as week:
        return [make(week, troop) for troop in troops for make in (statement, settlement)]


def late_files(made: Made, closed: tuple[str, ...], folder: Path) -> list[Path]:
    """What comes after the close: other troops' words of moves, the next week, drafts of closed troops' weeks."""
    drafts = {name: [row for row in rows if row["troop"] in closed] for name, rows in made.drafts.items()}
    credit = {"reference": "LATE", "troop": closed[0], "participant": None, "date": made.weeks[0],
              "amount": Decimal("12.34"), "reason": "x", "authorised_by": None}  # fmt: skip
    word = {"troop": sorted(made.troops)[2], "week_ending": made.weeks[0], "date": made.weeks[0], "packages": 7,
            "item": made.rules["items"][0]["code"], "direction": "out", "other_troop": closed[1]}  # fmt: skip
    sheets = made.sheets | {"moves": [*made.sheets["moves"], word]}
    return [write_csvs(folder / "late", sheets), write_csvs(folder / "more", drafts | {"adjustments": [credit]})]


def other_rules(text: str) -> str:
    """The season with every rate of proceeds another."""
    return re.sub(r'^rate = "(.*)"', lambda found: f'rate = "{Decimal(found[1]) + Decimal("0.11")}"', text, flags=re.M)


@pytest.mark.parametrize("seed", range(SEASONS))
def test_closed_figures_never_move_and_differences_add_up(seed: int, tmp_path: Path) -> None:
    """Two troops close; files of theirs and of others, feeds and other rules follow; opened, closed again."""
    made = make(seed, troops=4, weeks=2)
    trial, day, closed = Trial(tmp_path, made.text), made.weeks[0], tuple(sorted(made.troops)[:2])
    early = {name: [row for row in rows if row["week_ending"] == day and (name != "moves" or row["troop"] in closed)]
             for name, rows in made.sheets.items()}  # fmt: skip
    trial.take_in(write_csvs(tmp_path / "early", made.feeds | early))
    book = trial.book
    closing.close(book, "coordinator", day, closed, anyway=True)
    with figures(trial) as shown:
        frozen = {(troop, at): all_told(shown, troop, at) for troop in closed for at in shown.days()}
        before = {row["troop"]: row for row in shown.rows("standing", day)}
        signed = papers(trial, closed, day)
        for row in (row for at in shown.days() for row in shown.rows("closing", at)):
            assert row["charged"] - row["proceeds"] - row["credits"] == row["owed"]
            assert row["owed"] - row["with_organisation"] - row["being_collected"] - row["pays"] == 0
    with book.writing() as con:
        con.execute("drop schema frozen cascade")  # what is kept can be lost, as by a rebuild, and is made anew
    book.season_file.write_text(other_rules(made.text), encoding="utf-8")
    trial.take_in(*late_files(made, closed, tmp_path))
    with figures(trial) as shown:
        assert {key: all_told(shown, *key) for key in frozen} == frozen
        assert [row["proceeds"] for row in shown.rows("standing", day)] != [row["proceeds"] for row in before.values()]
        for at in shown.days():
            owed = sum((row["owed"] for row in shown.rows("standing", at)), Decimal(0))
            assert shown.rows("area", at)[0]["owed"] == owed
    assert papers(trial, closed, day) == signed
    late = closing.after_close(book)
    assert all(one.is_as_closed and one.moved for one in late.values())
    closing.reopen(book, "coordinator", (), "late files")
    with figures(trial) as shown:
        now = {row["troop"]: row for row in shown.rows("standing", day)}
        again = {(troop, at): all_told(shown, troop, at) for troop in closed for at in shown.days()}
    for troop, one in late.items():
        assert before[troop] | {moved.measure: moved.now for moved in one.moved} == now[troop]
    closing.close(book, "coordinator", day, closed, anyway=True)
    with figures(trial) as shown:
        assert {key: all_told(shown, *key) for key in again} == again
