"""Slow stock and about to run out: the smallest counts that trip them, in an area of their own.

What other troops sold counts too. Troop 0417 sold 60 packages of GLA in three of six weeks, 0031 sold 30. Nothing is
known of a season before.
"""

from collections.abc import Callable

import pytest
from trial import FEEDS, W1, W2, W3, Trial

from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back

SOLD = "\n".join(
    f"{troop} {week} {troop}-01 GLA {packages} - - -"
    for week in (W1, W2, W3) for troop, packages in (("0417", 20), ("0031", 10))
)  # fmt: skip
HEADERS = {
    "supply": "document troop item date packages kind\n"
    "D1 0417 GLA 2027-02-08 600 opening\nD2 0031 GLA 2027-02-08 600 opening\n",
    "families": f"troop week_ending participant item packages cash card note\n{SOLD}\n",
    "stock": "troop week_ending item received damaged on_hand\n",
}
ORDER = (
    "order troop participant placed_on mode state state_on item packages goods_amount shipping_amount\n"
    "O-1 0417 0417-02 2027-02-10 by_hand taken_on 2027-02-11 GLA {} {}.00 -"
)


def found(trial: Trial, on_hand: int, needed: int = 0) -> tuple[dict, dict[str, dict]]:
    """The outlook of 0417 and GLA, and what the two rules say of it, with so many counted at the third week's end."""
    counts = "".join(
        f"0417 {week} GLA - - {left}\n0031 {week} GLA - - 500\n" for week, left in ((W1, 400), (W2, 300), (W3, on_hand))
    )
    orders = {"online_orders": ORDER.format(needed, needed * 6)} if needed else {}
    trial.send(**FEEDS, **(HEADERS | {"stock": HEADERS["stock"] + counts}), **orders)
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        ahead = next(row for row in figures.rows("outlook", W3, "0417") if row["item"] == "GLA")
        rules = {row["rule"]: row for row in figures.rows("exceptions", W3, "0417") if row["subject"] == "GLA"}
    return ahead, rules


@pytest.fixture
def middle(new_trial: Callable[..., Trial]) -> tuple[int, int]:
    """The middle of the coming week's range and the 90 % of the rest of the season, where enough is on hand."""
    ahead, rules = found(new_trial(), 100)
    assert ahead["low"] < ahead["mean"] < ahead["high"]
    assert not {"slow_stock", "running_out"} & rules.keys()
    return int(ahead["next_middle"]), int(ahead["high"])


def test_about_to_run_out(middle: tuple[int, int], new_trial: Callable[..., Trial]) -> None:
    """Four packages fewer than the middle of the coming week trip it, three fewer do not."""
    coming, _high = middle
    assert coming >= 5
    ahead, rules = found(new_trial(), coming - 4)
    assert ahead["word"] == "may lack"
    said = rules["running_out"]
    assert (said["severity"], said["packages"], said["at_stake"]) == ("ask", 4, 24)
    assert said["what"] == (
        f"{coming - 4} packages of Gladiolus bulbs are on hand; about {coming} will probably go out in the coming "
        "week. 4 packages may be lacking."
    )
    assert "running_out" not in found(new_trial(), coming - 3)[1]


def test_orders_that_are_paid_come_first(middle: tuple[int, int], new_trial: Callable[..., Trial]) -> None:
    """What orders still need is a floor; where it cannot be filled, to act now."""
    coming, _high = middle
    rules = found(new_trial(), coming, needed=coming + 4)[1]
    assert (rules["running_out"]["severity"], rules["running_out"]["packages"]) == ("act now", 4)
    assert "running_out" not in found(new_trial(), coming, needed=coming)[1]


def test_slow_stock(middle: tuple[int, int], new_trial: Callable[..., Trial]) -> None:
    """Two cases of twelve beyond the 90 % trip it, one package fewer does not."""
    _coming, high = middle
    ahead, rules = found(new_trial(), high + 24)
    assert ahead["word"] == "much will be left"
    assert (rules["slow_stock"]["severity"], rules["slow_stock"]["packages"]) == ("watch", 24)
    assert f"in 8 of 10 such cases between {ahead['low']:.0f} and {high}" in rules["slow_stock"]["what"]
    assert "slow_stock" not in found(new_trial(), high + 23)[1]
