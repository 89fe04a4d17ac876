"""Whom to call first: how exceptions are ranked, and the text that goes with a call."""

from datetime import date
from decimal import Decimal

from pipelines.follow_up.first_calls import Row, by_troop, first_calls, weight_of

DAY = date(2027, 3, 21)


def row(troop: str, about: str, weight: str, severity: str = "ask", **other: object) -> Row:
    """An exception as follow_up.exceptions lists it."""
    told = {"rule": about, "subject": "", "state": "open", "at_stake": Decimal("9.00"), "next_step": "Call.",
            "what": f"{about} of {troop}.", "ask": f"{about}?"}  # fmt: skip
    return {"troop": troop, "about": about, "weight": Decimal(weight), "severity": severity, **told, **other}


def test_a_troop_weighs_the_heaviest_of_each_kind() -> None:
    """Two about the same money count once; two kinds add up."""
    assert weight_of([row("1", "cash", "100"), row("1", "cash", "60"), row("1", "stock", "30")]) == Decimal("130")


def test_a_troops_exceptions_stand_together() -> None:
    rows = [row("2", "cash", "90"), row("1", "cash", "50"), row("1", "stock", "60"), row("3", "cash", "10")]
    assert [(troop, [one["weight"] for one in found]) for troop, found in by_troop(rows).items()] == [
        ("1", [60, 50]), ("2", [90]), ("3", [10]),
    ]  # fmt: skip


def test_equal_weights_stand_in_the_order_of_codes() -> None:
    assert list(by_troop([row("2", "cash", "10"), row("1", "cash", "10")])) == ["1", "2"]


def test_five_calls_and_none_for_what_is_only_to_watch() -> None:
    rows = [row(str(k), "cash", str(100 - k)) for k in range(8)]
    rows += [row("8", "people", "500", "watch"), row("9", "cash", "500", state="promised")]
    calls = first_calls(rows, [], "Spring sale", DAY)
    assert [call.troop for call in calls] == ["0", "1", "2", "3", "4"]


def test_a_call_has_reason_amount_and_whom_to_reach() -> None:
    people = [{"troop": "1", "leader": "Edda", "phone": "555-0104", "email": "edda@example.org"}]
    rows = [row("1", "people", "300", at_stake=None), row("1", "cash", "200")]
    (call,) = first_calls(rows, people, "Spring sale", DAY)
    assert (call.leader, call.phone, call.email) == ("Edda", "555-0104", "edda@example.org")
    assert (call.reason, call.amount, call.weight) == ("people of 1.", Decimal("9.00"), Decimal("500"))
    assert [one["about"] for one in call.rows] == ["people", "cash"]


def test_the_text_says_facts_and_asks() -> None:
    """One question a rule, at most four; what is only to watch is left out; no blame."""
    people = [{"troop": "1", "leader": "Edda", "phone": None, "email": None}]
    rows = [row("1", "cash", "200"), row("1", "families", "150"), row("1", "families", "140", subject="1-02"),
            row("1", "stock", "130", "watch")]  # fmt: skip
    (call,) = first_calls(rows, people, "Spring sale", DAY)
    assert call.text == (
        "Hello Edda,\n"
        "this is about Spring sale, troop 1, with the figures of the week to 21 March. I would like to go through 2 "
        "things with you:\n\n"
        "- cash of 1. cash?\n"
        "- families of 1. It is not the only one: there is 1 more. families?\n\n"
        "A figure may be late or mistyped, on our side too; an amount that is open is no proof that anything is wrong. "
        "Thank you for everything you do for the troop."
    )
