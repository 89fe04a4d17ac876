"""Amounts are rounded half away from zero, and stay exact until then; through the whole tool.

Sources: the table of class RoundingMode in the Java SE 8 and 17 documentation (HALF_UP there; HALF_EVEN beside it);
IEEE 754-2019 section 4.3 names the two directions (from memory).
"""

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

import duckdb
import polars
import pyarrow as pa
import pytest
from trial import W1, Lines, Trial

from pipelines.figures.figures import Relation

JAVA = {"5.5": (6, 6), "2.5": (3, 2), "1.6": (2, 2), "1.1": (1, 1), "-1.1": (-1, -1), "-1.6": (-2, -2),
        "-2.5": (-3, -2), "-5.5": (-6, -6)}  # input: HALF_UP, HALF_EVEN  # fmt: skip
SEASON = """
[season]
title = "A season of cents"
area = "Test area"
first_day = 2027-02-08
last_day = 2027-03-21

[[items]]
code = "GLA"
title = "Gladiolus bulbs"
price = "1.00"

[[proceeds.tiers]]
from_average = 0
rate = "0"
"""


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """Ten packages for each troop, or ten taken back; its rate makes the proceeds the published input, in cents."""
    one = Trial(tmp_path_factory.mktemp("rounding"), SEASON)
    troops, supply = ["troop level extra_rate"], ["document troop item date packages kind"]
    for number, cents in enumerate(JAVA):
        rate = abs(Decimal(cents)) / 1000
        troops.append(f"T{number} older {rate}")
        supply.append(f"D{number} T{number} GLA {W1} 10 {'returned' if cents.startswith('-') else 'depot'}")
    one.send(troops="\n".join(troops), supply="\n".join(supply))
    return one


@pytest.mark.parametrize(("number", "cents"), [*enumerate(JAVA)])
def test_amounts_are_rounded_half_away_from_zero(trial: Trial, number: int, cents: str) -> None:
    lines: Lines = trial.table("standing", W1)
    assert Decimal(lines[f"T{number}", str(W1)]["proceeds"]) * 100 == JAVA[cents][0]


@pytest.mark.parametrize("cents", JAVA)
def test_the_published_table_is_that_of_decimal(cents: str) -> None:
    """Both columns, so that a wrong copy of the table would show."""
    found = [Decimal(cents).quantize(Decimal(1), mode) for mode in (ROUND_HALF_UP, ROUND_HALF_EVEN)]
    assert found == [*JAVA[cents]]


def test_the_trap_that_sql_must_step_round() -> None:
    """In DuckDB a quotient or mean of decimals is no decimal any more; polars rounds a text's half to even."""
    kinds = "typeof(avg(x)), typeof(sum(x) / 3), typeof(sum(x)), typeof(sum(x) * 3)"
    [found] = duckdb.sql(f"select {kinds} from (select 0.10::decimal(12, 2) as x)").fetchall()  # noqa: S608
    assert [kind.split("(")[0] for kind in found] == ["DOUBLE", "DOUBLE", "DECIMAL", "DECIMAL"]
    assert duckdb.sql("select '4.505'::decimal(12, 2)::varchar").fetchall() == [("4.51",)]
    assert str(polars.Series(["4.505"]).cast(polars.Decimal(12, 2))[0]) == "4.50"


NOT_MONEY = {
    "standing": "sell_through paid_through share share_low share_high average_per_registered average_per_active",
    "items": "sell_through weeks_of_supply",
    "families": "",
}


@pytest.mark.parametrize("name", NOT_MONEY)
def test_no_amount_is_a_float(trial: Trial, name: Relation) -> None:
    """Of the columns of a roll-up's tables only shares and averages are floats."""
    with trial.asked(name, days=[W1]) as figures:
        schema = figures.frame(name, W1).schema
    columns = columns_of(name)
    floats = {field.name for field in schema if field.name in columns and pa.types.is_floating(field.type)}
    assert floats == set(NOT_MONEY[name].split())


def columns_of(name: Relation) -> tuple[str, ...]:
    from pipelines.reports.csv_tables import COLUMNS

    return COLUMNS[name]
