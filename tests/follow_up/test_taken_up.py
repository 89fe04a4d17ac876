"""Moves that both leaders agreed to, and what came differently on the day of delivery: followed up, never posted."""

from collections.abc import Callable
from datetime import date

import pytest
from trial import FEEDS, W1, W2, W3, Trial

from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up import decisions
from pipelines.follow_up.decisions import Entry
from pipelines.follow_up.taken_up import agreed, came, move_key
from pipelines.workflow import looking_back

MOVE = {"giver": "0031", "receiver": "0417", "item": "GLA", "packages": 12}
STOCK = "troop week_ending item received damaged on_hand\n"
SUPPLY = """document troop item date packages kind
    D1 0031 GLA 2027-02-08 60 opening
    D2 0417 GLA 2027-02-08 24 opening"""
MOVES = "troop week_ending date item packages direction other_troop\n"


def week(trial: Trial, day: date, **tables: str) -> None:
    trial.send(stock=STOCK + f"0417 {day} GLA - - 20\n0031 {day} GLA - - 60", **tables)


@pytest.fixture
def known(new_trial: Callable[..., Trial]) -> Trial:
    trial = new_trial()
    trial.send(**FEEDS, supply=SUPPLY)
    week(trial, W1)
    assert trial.book.has_snapshot()
    return trial


def found(trial: Trial, rule: str, day: date) -> list[tuple[str, str, str, str, str]]:
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        rows = [row for row in figures.rows("exceptions", day) if row["rule"] == rule]
        return [(row["troop"], row["state"], row["severity"], str(row["at_stake"]), row["what"]) for row in rows]


def have(trial: Trial, day: date) -> dict[str, int]:
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        rows = figures.rows("plan_terms", day)
        return {row["troop"]: row["have"] for row in rows if row["item"] == "GLA" and row["troop"] != "1282"}


def test_a_move_agreed_stands_with_both_until_both_have_reported_it(known: Trial) -> None:
    """Written down once however often it is pressed; the giver's report alone leaves it open; both close it."""
    assert decisions.write(known.book, "coordinator", W1, agreed([MOVE])) == 2
    assert decisions.write(known.book, "coordinator", W1, agreed([MOVE])) == 0
    rows = found(known, "move_agreed", W1)
    assert [row[:4] for row in rows] == [("0031", "open", "watch", "72.00"), ("0417", "open", "watch", "72.00")]
    assert rows[0][4] == (
        "Troop 0031 gives troop 0417 12 packages of Gladiolus bulbs, as agreed with the figures of 14 February. "
        "Neither has reported it yet."
    )
    week(known, W2)
    assert len(found(known, "move_agreed", W2)) == 2
    week(known, W3, moves=f"{MOVES}0031 {W3} 2027-02-24 GLA 12 out 0417")
    rows = found(known, "move_agreed", W3)
    assert [row[:3] for row in rows] == [("0031", "open", "ask"), ("0417", "open", "ask")]
    assert rows[0][4].endswith("Troop 0031 has reported it, troop 0417 not yet.")
    known.send(moves=f"{MOVES}0417 {W3} 2027-02-24 GLA 12 in 0031")
    assert found(known, "move_agreed", W3) == []
    assert len(found(known, "move_agreed", W2)) == 2


def test_the_next_plan_counts_on_it_until_it_is_reported_or_settled(known: Trial) -> None:
    """The plan of the day itself stays; figures change by what is reported alone."""
    decisions.write(known.book, "coordinator", W1, agreed([MOVE]))
    week(known, W2)
    assert (have(known, W1), have(known, W2)) == ({"0031": 60, "0417": 20}, {"0031": 48, "0417": 32})
    with looking_back.figures(known.book, COORDINATOR) as figures:
        assert {row["troop"]: row["on_hand"] for row in figures.rows("items", W2)
                if row["item"] == "GLA" and row["troop"] != "1282"} == {
            "0031": 60, "0417": 20,
        }  # fmt: skip
    settled = Entry(move_key("0417", "0031", "0417", "GLA"), "settle", "it did not take place")
    assert decisions.write(known.book, "coordinator", W2, [settled]) == 1
    assert have(known, W2) == {"0031": 60, "0417": 20}


def test_a_settled_one_does_not_open_again_by_itself(known: Trial) -> None:
    decisions.write(known.book, "coordinator", W1, agreed([MOVE]))
    both = [Entry(move_key(troop, "0031", "0417", "GLA"), "settle", "called off") for troop in ("0031", "0417")]
    decisions.write(known.book, "coordinator", W1, both)
    week(known, W2)
    assert {row[1] for row in found(known, "move_agreed", W2)} == {"settled"}


def test_what_came_differently_is_a_question_until_the_feed_says_the_same(known: Trial) -> None:
    assert decisions.write(known.book, "coordinator", W1, [came("0417", "GLA", 20), came("0031", "GLA", 60)]) == 2
    [(troop, state, severity, at_stake, what)] = found(known, "delivery_differs", W1)
    assert (troop, state, severity, at_stake) == ("0417", "open", "ask", "24.00")
    assert what == "24 packages of Gladiolus bulbs were to come, 20 came."
    known.send(supply=SUPPLY.replace(" 24 opening", " 20 opening"))
    assert found(known, "delivery_differs", W1) == []
    assert decisions.write(known.book, "coordinator", W1, [came("0417", "GLA", 0, "the box was lost")]) == 1
    assert found(known, "delivery_differs", W1)[0][4] == (
        "20 packages of Gladiolus bulbs were to come, none came: the box was lost"
    )
