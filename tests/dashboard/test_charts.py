"""Charts: money as numbers, every dollar in its place, nothing to draw is no fault."""

import json
from datetime import date
from decimal import Decimal
from typing import Any

import polars as pl
import pytest

from dashboard.parts import chart_words, charts, words

PLACED = {
    "on_hand_value": "100.00", "damaged_value": "0.00", "missing_value": "-12.00", "families_owe": "485.25",
    "stall_short": "3.00", "not_banked": "20.00", "in_bank": "40.00", "remitted": "50.00", "paid_online": "60.00",
    "settled_otherwise": "7.00",
    "gifts": "0.00",
    "float_out": "0.00",
    "bank_fees": "0.00",
}  # fmt: skip
TROOP = {name: Decimal(value) for name, value in PLACED.items()} | {
    "available_value": Decimal("693.25"),
    "remote_value": Decimal("60.00"),
}


def values(chart: Any) -> list[dict[str, Any]]:
    """All rows that a chart draws; not the one that only brings the theme's ink."""
    rows = [row for rows in json.loads(chart.to_json())["datasets"].values() for row in rows]
    return [row for row in rows if set(row) != {"ink"}]


def test_money_is_drawn_as_it_is_and_not_a_hundredfold() -> None:
    """A decimal that reaches a chart is drawn as 48,525 in place of 485.25."""
    drawn = {row["place"]: row for row in values(charts.dollars(TROOP, "USD"))}
    assert drawn["Families owe"]["dollars"] == 485.25
    assert drawn["Families owe"]["told"] == "$485.25"
    assert drawn["Packages not accounted for"]["dollars"] == -12.0
    assert "Damaged" not in drawn
    assert drawn["Packages not accounted for"]["told"] == "◆ -$12.00"


def test_every_weeks_dollars_have_their_places() -> None:
    """A bar a week that adds up to the packages' value; what is to look into stands out beside it."""
    weeks = [TROOP | {"week_no": 1}, TROOP | {"week_no": 2, "missing_value": Decimal(0), "stall_short": Decimal(0)}]
    rows = values(charts.dollars_by_week(weeks, "USD"))
    bars = [row for row in rows if "place" in row]
    assert sum(Decimal(str(row["dollars"])) for row in bars if row["week"] == 1) == charts.total(TROOP)
    assert {row["place"] for row in bars if row["kind"] == charts.LOOK} == {
        "Packages not accounted for",
        "Stalls short",
    }
    assert {row["week"]: row["told"] for row in rows if "place" not in row} == {1: "◆ -$12.00 and $3.00", 2: ""}
    assert chart_words.dollars_by_week(weeks[:1], "USD") == (
        "Packages' value so far by week, and of it what is to look into: "
        "week 1 $753.25 (packages not accounted for -$12.00, stalls short $3.00)."
    )


def test_every_dollar_has_its_place() -> None:
    assert charts.places(TROOP)["amount"].sum() == charts.total(TROOP) == Decimal("753.25")
    assert charts.places(TROOP)["share"].sum() == pytest.approx(1)


def test_no_column_of_a_chart_is_a_decimal(demo_rows: dict[str, Any]) -> None:
    made = [
        charts.dollars(demo_rows["area"], "USD"),
        charts.dollars_by_week(demo_rows["weeks"], "USD"),
        charts.past_due(demo_rows["standing"], "USD"),
        charts.sell_through(demo_rows["items"], ["GLA"]),
        charts.shares(demo_rows["standing"], demo_rows["area"]["share"]),
        charts.path(demo_rows["area"]),
        charts.pace(demo_rows["pace"], date(2027, 3, 21)),
        charts.weekly(demo_rows["standing"][:1]),
    ]
    for chart in made:
        layers = [chart, *getattr(chart, "layer", [])]
        frames = [layer.data for layer in layers if isinstance(getattr(layer, "data", None), pl.DataFrame)]
        assert not any(isinstance(kind, pl.Decimal) for frame in frames for kind in frame.dtypes)
        assert values(chart)


def test_nothing_to_draw_is_no_fault() -> None:
    nothing = {name: Decimal(0) for name in TROOP}
    steps = {f"step_{step}": 0 for step in charts.STEPS}
    assert charts.places(nothing)["share"].is_null().all()
    for chart in (
        charts.dollars(nothing, "USD"), charts.dollars_by_week([], "USD"),
        charts.past_due([], "USD"), charts.shares([], None), charts.path(steps),
        charts.pace([], date(2027, 3, 21)), charts.weekly([]),
    ):  # fmt: skip
        assert json.loads(chart.to_json())
    assert chart_words.dollars(nothing, "USD") == "Of $0.00 in packages: nothing yet."


def test_the_words_say_what_the_chart_shows() -> None:
    assert chart_words.dollars(TROOP, "USD").startswith(
        "Of $753.25 in packages: Packages on hand $100.00, Packages not acc"
    )
    sold = ((1, 30, True), (2, 1075, True), (3, 1075, False))
    rows = [{"week_no": week, "packages_sold": packages, "submitted": sent} for week, packages, sent in sold]
    assert chart_words.weekly(rows) == "Packages sold in each week: week 1 30, week 2 1,045, week 3 not sent."


@pytest.fixture
def demo_rows(demo_book: Any) -> dict[str, Any]:
    """What the demo's sixth week gives to draw."""
    from pipelines.figures.figures import Figures
    from pipelines.figures.viewer import COORDINATOR

    day = date(2027, 3, 21)
    with demo_book.reading() as con:
        figures = Figures(con, COORDINATOR)
        return {
            "area": figures.rows("area", day)[0],
            "weeks": figures.rows("area"),
            "standing": figures.rows("standing", day),
            "items": pl.DataFrame(pl.from_arrow(figures.frame("items", day))),
            "pace": figures.pace(),
        }


def test_of_many_troops_a_chart_draws_so_many_and_says_which() -> None:
    """The lowest shares; the most on hand: of each in full, and all where they are not too many."""
    many = charts.MOST_TROOPS + 5
    standing = [
        {"troop": f"{place:04}", "share": 1 - place / 100, "share_low": 0.0, "share_high": 1.0,
         "registered_taking_part": 1, "registered": 2}
        for place in range(many)
    ]  # fmt: skip
    lowest = [f"{place:04}" for place in range(many - 1, 4, -1)]
    assert [row["troop"] for row in values(charts.shares(standing, 0.5)) if "troop" in row] == lowest
    assert "0005" in chart_words.shares(standing, {"registered_taking_part": 1, "registered": 2, "share": 0.5})
    assert "0004" not in chart_words.shares(standing, {"registered_taking_part": 1, "registered": 2, "share": 0.5})
    items = pl.DataFrame(
        [{"troop": f"{place:04}", "item": item, "sell_through": 0.5, "available": 10, "sold_from_stock": 5,
          "on_hand_or_expected": place}
         for place in range(many) for item in ("GLA", "HRB")]
    )  # fmt: skip
    drawn = [(row["troop"], row["item"]) for row in values(charts.sell_through(items, ["GLA", "HRB"]))]
    assert sorted(drawn) == [(troop, item) for troop in sorted(lowest) for item in ("GLA", "HRB")]
    assert words.drawn(many, charts.MOST_TROOPS, "the lowest shares") == (
        f" Drawn are the 60 troops with the lowest shares; all {many} are in the table below."
    )
    assert words.drawn(60, charts.MOST_TROOPS, "the lowest shares") == ""
