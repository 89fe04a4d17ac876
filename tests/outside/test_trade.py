"""Facts of the trade: common practice, no source.

An order that a participant delivers pays for packages and adds none; a posted or donated one adds both. Posted orders
have at least 4 packages. A caregiver has 5 days to answer an order.
"""

from datetime import date

from trial import SEASON, Trial

from pipelines.definitions.online_and_awards import Online
from pipelines.definitions.season import read_season
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


def test_few_packages_and_late_answers_are_told(trial: Trial) -> None:
    """Three packages in a posted order; an answer on its fifth day, and on its sixth."""
    trial.send(online_orders=ORDERS)
    with looking_back.figures(trial.book, COORDINATOR, DAY) as figures:
        rows = figures.rows("exceptions", DAY)
    rules = {"posted_under_minimum": "FEW", "order_waiting": "WAIT", "order_lapsed": "LATE"}
    assert {row["rule"]: row["subject"] for row in rows if row["rule"] in rules} == rules
    assert len([row for row in rows if row["rule"] in rules]) == len(rules)
