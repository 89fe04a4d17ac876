"""Opening orders: the worked troop, its proposal, and what is told without a last season; a book's own orders."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pyarrow as pa
import pytest
from trial import FEEDS, W1, Trial

from pipelines.figures.opening import opening

LAST = [
    {"troop": troop, "week_no": week, "participants": people, "packages": packages, "item": None}
    for troop, people, weeks in (("A", 10, (40, 90, 130, 150)), ("B", 5, (20, 30, 45, 50)))
    for week, packages in enumerate(weeks, 1)
]
PLAN = pa.Table.from_pylist([{"lead_weeks": 1, "least_ratio": Decimal("0.20")}])
NOW = {"A": 12, "B": 5, "C": 6}


def judged(orders: dict[str, tuple[int, int]], people: dict[str, int] = NOW, *, last: bool = True) -> dict[str, Any]:
    """Each troop's row, by what it ordered of GLA (cases of 12) and SUN (cases of 10)."""
    rows = [
        {"as_of": W1, "troop": troop, "item": item, "packages_per_case": case, "ordered": ordered,
         "registered": people[troop], "gain": Decimal("0.75"), "unsold": Decimal("6.25"), "weeks": 4}
        for troop, both in orders.items()
        for item, case, ordered in zip(("GLA", "SUN"), (12, 10), both, strict=True)
    ]  # fmt: skip
    before = pa.Table.from_pylist(LAST) if last else pa.Table.from_pylist(LAST).slice(0, 0)
    return {row["troop"]: row for row in opening(pa.Table.from_pylist(rows), before, PLAN).to_pylist()}


@pytest.mark.parametrize(("ordered", "word"), [(36, "thin"), (48, "fits"), (300, "fits"), (312, "above")])
def test_the_worked_troop(ordered: int, word: str) -> None:
    """301 is enough in 9 of 10 such cases, 44 is the middle of what goes out before the first fetch."""
    row = judged({"A": (ordered, 0), "B": (0, 0), "C": (0, 0)})["A"]
    assert (row["word"], row["mean"], row["low"], row["high"], row["first_middle"]) == (word, 170, 62, 301, 44)
    assert row["reason"].startswith(
        f"{ordered} ordered; last season 150 with 10 participants, now 12: about 170, 8 of 10 between 62 and 301."
    )


def test_the_worked_proposal() -> None:
    """Six of ten packages are GLA in cases of twelve, four SUN in cases of ten: four and three cases."""
    assert judged({"A": (60, 40), "B": (0, 0), "C": (0, 0)})["A"]["proposal"] == "4 GLA, 3 SUN"


def test_an_item_unlike_the_others_is_named() -> None:
    """Half as much again, and two cases, away from what its order has in the area's mix."""
    rows = judged({"A": (24, 76), "B": (216, 84), "C": (0, 0)})
    assert rows["A"]["reason"].endswith("Unlike the others: GLA 24, in the area's mix about 60; SUN 76, in the area's "
                                        "mix about 40.")  # fmt: skip
    assert "Unlike" not in rows["B"]["reason"]


@pytest.mark.parametrize(("ordered", "word"), [(450, "fits"), (451, "above")])
def test_without_a_last_season(ordered: int, word: str) -> None:
    """Thirty packages a participant in the area: a troop of ten would order 300; half as much again is far above."""
    rows = judged({"T": (ordered, 0), "U": (1200 - ordered, 0)}, {"T": 10, "U": 30}, last=False)
    assert (rows["T"]["word"], rows["T"]["proposal"]) == (word, "")
    assert "30.0 a participant would be 300" in rows["T"]["reason"]


def test_a_book_knows_its_orders(new_trial: Callable[..., Trial]) -> None:
    """The supply feed's opening rows; of a troop without any the newest that each participant promised."""
    trial = new_trial()
    trial.send(
        **FEEDS,
        supply="document troop item date packages kind\nD1 0417 GLA 2027-02-06 24 opening\n"
        "D2 0417 GLA 2027-02-10 12 depot",
        promised="troop week_ending participant item packages\n0031 2027-02-07 0031-01 GLA 9\n"
        "0031 2027-02-14 0031-01 HRB 4\n0417 2027-02-14 0417-01 GLA 50",
    )
    with trial.asked("opening_terms", "opening", days=[W1]) as figures:
        terms = {(row["troop"], row["item"]): row for row in figures.rows("opening_terms")}
        assert {key: (row["ordered"], row["how"]) for key, row in terms.items() if row["ordered"]} == {
            ("0417", "GLA"): (24, "ordered"), ("0031", "HRB"): (4, "promised"),
        }  # fmt: skip
        assert (terms["0417", "GLA"]["registered"], terms["0417", "GLA"]["gain"]) == (2, Decimal("0.7000"))
        assert [row["troop"] for row in figures.rows("opening")] == ["0031", "0417"]
