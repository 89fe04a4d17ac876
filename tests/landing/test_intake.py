"""What each value may be: every rule with the cell that trips it and the good one below it, all taken in at once.

Each case is one CSV of two rows in two units: row 2 holds the bad cell, row 3 the good one in the same column.
"""

import csv
import hashlib
from dataclasses import dataclass
from pathlib import Path

import pytest
from trial import Trial

from pipelines.landing import kept_answers
from pipelines.store.book import now
from pipelines.workflow.take_in import Outcome

TROOPS = "troop level\n0417 younger\n0031 older\n1282 older\n071 older\n0071 older"
FIRST = {  # a row that is right; the second row differs in its unit
    "supply": "document=D1 troop=0417 item=GLA date=2027-02-10 packages=12 kind=depot",
    "online_orders": "order=W1 troop=0417 participant=0417-01 placed_on=2027-02-10 mode=by_post state=placed "
    "state_on=2027-02-10 item=GLA packages=4 goods_amount=24.00 shipping_amount=8",
    "collections": "troop=0417 on=2027-03-12 amount=120.00 announced_on=2027-03-01",
    "remittances": "reference=R1 troop=0417 date=2027-02-20 amount=50.00 state=pending state_on=2027-02-20 reason=",
    "adjustments": "reference=A1 troop=0417 participant= date=2027-02-20 amount=5.00 reason=agreed authorised_by=area",
    "troops": "troop=0417 level=older extra_rate= divisor=",
    "roster": "troop=0417 participant=0417-01 registered_on=2026-10-01 left_on= contact_on_file=yes",
    "pages": "troop=0417 participant=0417-01 on=2027-02-10 page_open=yes own_picture=still people_told=3",
    "cover": "troop=0417 week_ending=2027-02-14 prepared_by=x bank_balance=10 balance_on=2027-02-13 note=",
    "stock": "troop=0417 week_ending=2027-02-14 item=GLA received=12 damaged=0 on_hand=5",
    "families": "troop=0417 week_ending=2027-02-14 participant=0417-01 item=GLA packages=3 cash= card= note=",
    "stalls": "troop=0417 week_ending=2027-02-14 date=2027-02-13 start=09:30 place=Market item=GLA packages=3 "
    "cash= card= participants= note=",
    "banked": "troop=0417 week_ending=2027-02-14 date=2027-02-13 amount=20.00 slip=S1 note=",
    "moves": "troop=0417 week_ending=2027-02-14 date=2027-02-13 item=GLA packages=3 direction=out other_troop=1282",
    "goals": "troop=0417 week_ending=2027-02-14 participant=0417-01 goal=40",
}
SECOND = {
    "supply": "document=D2", "online_orders": "order=W2", "collections": "announced_on=2027-03-02",
    "remittances": "reference=R2", "adjustments": "reference=A2", "troops": "troop=0031",
    "roster": "participant=0417-02", "pages": "on=2027-02-11"}  # fmt: skip
MONEY = "item= packages= "  # families and stalls: money stands on a row of its own


@dataclass(frozen=True)
class Case:
    """`what` is table.column; `with_` are other cells of both rows; good "*" is the cell as FIRST has it."""

    what: str
    bad: str
    good: str = "*"
    with_: str = ""
    at: str = ""  # the column in which it is told, where it is another one

    @property
    def table(self) -> str:
        return self.what.split(".")[0]

    @property
    def column(self) -> str:
        return self.what.split(".")[1]

    def rows(self) -> list[dict[str, str]]:
        first = cells(FIRST[self.table]) | cells(self.with_)
        second = first | cells(SECOND.get(self.table, "troop=0031"))
        good = {} if self.good == "*" else {self.column: self.good}
        return [first | {self.column: self.bad}, second | good]

    @property
    def cell(self) -> str:
        return "ABCDEFGHIJKL"[list(cells(FIRST[self.table])).index(self.at or self.column)] + "2"


def cells(text: str) -> dict[str, str]:
    return {pair.split("=")[0]: pair.split("=")[1].replace("~", " ") for pair in text.split()}


CASES = [
    # packages: whole numbers, 12, 12.0; empty = 0
    *(Case("supply.packages", bad, good) for bad, good in [
        ("12.5", "12.0"), ("1.000", "1000.0"), ("twelve", "\uff11\uff10\uff10"), ("10²", "100000"),
        ("-1", "0"), ("100001", "12")]),
    Case("families.packages", "2.5", "-3"),
    Case("families.packages", "-100001", "-100000"),
    Case("stalls.packages", "-1", ""),
    Case("stock.damaged", "-2", ""),
    Case("stock.on_hand", "-1", ""),
    Case("stock.on_hand", "4.25", "4.0"),
    Case("moves.packages", "1/2", "7"),
    Case("goals.goal", "-4", "0"),
    Case("online_orders.packages", "four", "4"),
    # money: up to two decimals, a leading currency sign, commas between thousands
    *(Case("remittances.amount", bad, good) for bad, good in [
        ("12.505", "12.50"), ("1.250", "1.25"), ("1.234,50", "1,234.50"), ("12,5", "$12.5"), ("€12", "12"), ("£7", "7"),
        ("about 12", "$1,234,567.89"), ("10000000.01", "10000000"), ("-5", "0"), ("1,23", "$7"), ("5 USD", "$ 12")]),
    Case("collections.amount", "-120.00"),
    Case("online_orders.goods_amount", "-24.00"),
    Case("families.cash", "-5.00", "5.00", MONEY),
    Case("stalls.card", "-5.00", "5.00", MONEY),
    Case("banked.amount", "-5.00"),
    Case("cover.bank_balance", "-5.00"),
    Case("banked.amount", "x", "-5.00", "note=a~fee"),
    Case("families.card", "x", "-5.00", MONEY + "note=a~refund"),
    Case("adjustments.amount", "x", "-5.00"),
    Case("troops.extra_rate", "some", "0.0525"),
    Case("troops.divisor", "-1", "0"),
    # dates
    *(Case("supply.date", bad, good) for bad, good in [
        ("03/04/2027", "2027-03-04"), ("4 March 2027", "2027-02-08"), ("2027-02-30", "2027-03-01"),
        ("2027-05-21", "2027-05-20"), ("2026-12-09", "2026-12-10"), ("46063", "2027-02-09"), ("", "2027-02-10")]),
    Case("stock.week_ending", "2027-02-13"),
    Case("stock.week_ending", "2027-06-06", "2027-03-28"),
    Case("online_orders.state_on", "2027-02-09", "2027-02-10"),
    Case("roster.registered_on", "01/10/2026", "2019-10-01"),
    Case("stalls.date", "2027-02-15", "2027-02-14"),
    Case("banked.date", "2027-02-15", "2027-02-01"),
    Case("moves.date", "2027-02-07", "2027-02-08"),
    Case("moves.date", "2027-02-15", "2027-02-14"),
    Case("stalls.start", "half past", "13:30"),
    # troop: 417 is taken for 0417 where one alone fits (see below)
    Case("supply.troop", "9999"),
    Case("supply.troop", "71", "071"),
    Case("moves.other_troop", "9999", "outside"),
    Case("moves.other_troop", "0417", "1282"),
    # item
    Case("supply.item", "TUL", "hrb"),
    Case("supply.item", "GIV"),
    Case("stock.item", "GIV"),
    Case("moves.item", "GIV"),
    Case("families.item", "TUL", "GIV"),
    Case("online_orders.item", "", "GIV"),
    # words
    *(Case("roster.contact_on_file", bad, good) for bad, good in [("maybe", "Y"), ("2", "1"), ("ja", "false")]),
    Case("supply.kind", "gift", "Exchange"),
    Case("online_orders.mode", "pigeon"),
    Case("online_orders.state", "done", "sent"),  # a state of orders that are delivered by hand
    Case("remittances.state", "paid", "cleared"),
    Case("moves.direction", "to", "in"),
    Case("pages.own_picture", "drawing", "no"),
    # what must be there
    Case("families.participant", ""),
    Case("supply.document", ""),
    Case("roster.participant", "troop", "0417-03"),
    Case("families.participant", "Total", "0417-99"),
    Case("families.cash", "5.00", "0", at="cash"),  # money beside an item's packages
]  # fmt: skip


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Outcome]:
    """Every case as a file of its own, taken in at once: what became of it."""
    folder: Path = tmp_path_factory.mktemp("intake")
    trial = Trial(folder)
    trial.send(troops=TROOPS)
    (folder / "cases").mkdir()
    for number, case in enumerate(CASES):
        rows = case.rows()
        with (folder / f"cases/{number}.csv").open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    with trial.book.writing() as con:  # tables of one week, each of which is to replace the one before
        for path in (folder / "cases").iterdir():
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            kept_answers.land(trial.book, con, (digest, path.name), "replaces", now(), "tests")
    return {one.name: one for one in trial.take_in(folder / "cases")}


@pytest.mark.parametrize(("number", "case"), [*enumerate(CASES)], ids=lambda one: getattr(one, "what", None))
def test_a_bad_value_is_held_at_its_cell_and_the_good_one_counts(
    outcomes: dict[str, Outcome], number: int, case: Case
) -> None:
    """One finding, which names the cell and what stands in it; the other unit is accepted."""
    outcome = outcomes[f"cases/{number}.csv"]
    mends = [finding for finding in outcome.findings if not finding.is_note]
    shown = case.rows()[0][case.at or case.column] or "an empty cell"
    assert [(finding.cell, finding.found) for finding in mends] == [(case.cell, shown)]
    assert all(finding.expected and finding.how for finding in mends)
    assert (outcome.rows, outcome.rows_held, outcome.status) == (2, 1, "partly held")
