"""Facts of the trade: common practice, no source.

An order that a participant delivers pays for packages and adds none; a posted or donated one adds both. Posted orders
have at least 4 packages. A caregiver has 5 days to answer an order. A page with a picture of the participant's own is
said to bring twice the orders, one with a film three times: the tool says no such thing, it counts.
"""

from datetime import date

import pytest
from trial import SEASON, Trial

from pipelines.definitions.online_and_awards import Online
from pipelines.definitions.season import read_season
from pipelines.figures.invitations import invitations
from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back

DAY = date(2027, 2, 14)
ORDERS = """
    order  troop  participant  placed_on   mode     state     state_on    item  packages  goods_amount
    HAND   0417   0417-01      2027-02-09  by_hand  done      2027-02-10  GLA   5         30.00
    POST   0031   0031-01      2027-02-09  by_post  sent      2027-02-10  GLA   5         30.00
    GIVE   1282   -            2027-02-09  donated  placed    2027-02-09  GLA   5         30.00
    FEW    0417   0417-02      2027-02-10  by_post  placed    2027-02-10  GLA   3         18.00
    WAIT   0031   0031-01      2027-02-09  by_hand  waiting   2027-02-09  GLA   2         12.00
    LATE   0031   0031-01      2027-02-08  by_hand  waiting   2027-02-08  GLA   2         12.00"""

PAGES = "troop participant on page_open own_picture people_told"


def test_the_usual_rules_are_no_defaults() -> None:
    """A season has no minimum unless it says one; the small season of the tests says what is usual."""
    said = read_season(SEASON).online
    assert (said.ship_minimum, said.answer_within_days) == (4, 5)
    assert Online().ship_minimum == 0


def test_a_hand_delivered_order_pays_and_adds_no_packages(trial: Trial) -> None:
    """Five packages each: taken from stock and paid online; posted; donated."""
    trial.send(
        online_orders=ORDERS,
        families="troop week_ending participant item packages\n0417 2027-02-14 0417-01 GLA 5",
    )
    lines = {troop: line for (troop, _day), line in trial.table("standing", DAY).items()}
    kept = ("sold_from_stock", "remote", "packages_sold", "paid_online")
    assert [lines["0417"][name] for name in kept] == ["5", "3", "8", "48.00"]  # with the few that are posted
    assert [lines["0031"][name] for name in kept] == ["0", "5", "5", "30.00"]
    assert [lines["1282"][name] for name in kept] == ["0", "5", "5", "30.00"]
    family = trial.table("families", DAY)["0417", "0417-01"]
    assert (family["charged"], family["paid_online"], family["owes"]) == ("30.00", "30.00", "0.00")


TIMES = {"no": 1, "still": 2, "film": 3}


@pytest.mark.parametrize("times", [TIMES, dict.fromkeys(TIMES, 1)], ids=["as is said", "where it is not so"])
def test_what_pictures_do_is_counted_and_never_assumed(trial: Trial, times: dict[str, int]) -> None:
    """Six pages of each kind, each sent to ten people: orders for ten told are what the season's own orders come to."""
    roster, pages, orders = ["troop participant registered_on"], [PAGES], [ORDERS.splitlines()[1]]
    for place, (picture, _number) in enumerate((picture, n) for picture in times for n in range(6)):
        who = f"0417-{place:02}"
        roster.append(f"0417 {who} 2026-10-01")
        pages.append(f"0417 {who} 2027-02-08 yes {picture} 10")
        orders += [f"{who}-{one} 0417 {who} 2027-02-09 donated placed 2027-02-09 GIV 1 6.00"
                   for one in range(times[picture])]  # fmt: skip
    trial.send(roster="\n".join(roster), pages="\n".join(pages), online_orders="\n".join(orders))
    with trial.asked("participants", days=[DAY]) as figures:
        found = invitations(figures.rows("participants", DAY))
    assert {name: found[name].for_ten for name in times} == times
    assert {(found[name].pages, found[name].told) for name in times} == {(6, 60)}


def test_few_packages_and_late_answers_are_told(trial: Trial) -> None:
    """Three packages in a posted order; an answer on its fifth day, and on its sixth."""
    trial.send(online_orders=ORDERS)
    with looking_back.figures(trial.book, COORDINATOR, DAY) as figures:
        rows = figures.rows("exceptions", DAY)
    rules = {"posted_under_minimum": "FEW", "order_waiting": "WAIT", "order_lapsed": "LATE"}
    assert {row["rule"]: row["subject"] for row in rows if row["rule"] in rules} == rules
    assert len([row for row in rows if row["rule"] in rules]) == len(rules)
