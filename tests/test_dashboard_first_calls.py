"""Whom to call first."""

from datetime import date
from decimal import Decimal
from typing import Any

from dashboard.first_calls import first_calls

QUIET = {
    "troop": "0001", "submitted": True, "past_due": "0", "past_due_0_7": "0", "past_due_8_14": "0",
    "past_due_15_30": "0", "past_due_over_30": "0", "cover": "10", "next_due_on": date(2027, 3, 26), "not_banked": "0",
    "missing": 0, "on_hand_value": "100",
}  # fmt: skip


def troop(code: str, **other: Any) -> dict[str, Any]:
    row = QUIET | {"troop": code} | other
    return {
        name: Decimal(value) if isinstance(value, str) and name != "troop" else value for name, value in row.items()
    }


def test_the_most_at_stake_comes_first_then_who_has_not_sent() -> None:
    rows = [
        troop("0001"),
        troop("0002", submitted=False, on_hand_value="900"),
        troop("0003", past_due="50", past_due_8_14="50"),
        troop("0004", cover="-80"),
        troop("0005", past_due="60", past_due_over_30="60", cover="-70"),
        troop("0006", submitted=False, on_hand_value="1000"),
    ]
    assert [(call.troop, call.at_stake) for call in first_calls(rows, "USD")] == [
        ("0004", 80), ("0005", 70), ("0003", 50), ("0006", 1000), ("0002", 900),
    ]  # fmt: skip


def test_one_call_settles_everything() -> None:
    row = troop("0005", past_due="60", past_due_15_30="60", cover="-70", not_banked="25", missing=1, submitted=False)
    (call,) = first_calls([row], "USD")
    assert call.reasons == (
        "$60.00 past due, for 15 to 30 days",
        "the collection of Fri 26 Mar may not be covered: $70.00 short",
        "this week is not sent",
        "$25.00 in cash not banked",
        "1 package not accounted for",
    )
    assert call.next_step == "Ask when the cash will be banked, and when the rest can be paid."


def test_nobody_is_called_without_need() -> None:
    assert first_calls([troop("0001"), troop("0002", missing=3), troop("0003", not_banked="400")], "USD") == []


def test_at_most_five() -> None:
    assert len(first_calls([troop(f"{n:04}", past_due="1", past_due_0_7="1") for n in range(9)], "USD")) == 5
