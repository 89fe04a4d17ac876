"""What each chart shows, in words, for who cannot see it; pure.

Comes in: the rows that a chart is drawn from. Goes out: one or two sentences.
"""

from collections.abc import Sequence
from datetime import date

from dashboard.parts import words
from dashboard.parts.charts import LOOK, STEPS, Row, lowest, places, total
from pipelines.definitions.measures import label


def dollars(row: Row, currency: str) -> str:
    """Where every dollar is."""
    whole = total(row)
    parts = [
        f"{one['place']} {words.money(one['amount'], currency)}" for one in places(row).to_dicts() if one["amount"]
    ]
    return f"Of {words.money(whole, currency)} in packages: {', '.join(parts) or 'nothing yet'}."


def dollars_by_week(rows: Sequence[Row], currency: str) -> str:
    """Where every dollar was, week by week: the sums, and what is to look into."""
    parts = []
    for row in rows:
        whole = words.money(total(row), currency)
        looked = [
            f"{one['place'].lower()} {words.money(one['amount'], currency)}"
            for one in places(row).to_dicts()
            if one["kind"] == LOOK and one["amount"]
        ]
        parts.append(f"week {row['week_no']} {whole}" + (f" ({', '.join(looked)})" if looked else ""))
    return f"Packages' value so far by week, and of it what is to look into: {'; '.join(parts) or 'nothing yet'}."


def past_due(rows: Sequence[Row], currency: str) -> str:
    """What is past due, by troop, the largest first."""
    owing = sorted((row for row in rows if row["past_due"] > 0), key=lambda row: -row["past_due"])
    parts = [f"troop {row['troop']} {words.money(row['past_due'], currency)}" for row in owing]
    return f"Past due by troop: {', '.join(parts) or 'nothing'}."


def sell_through(totals: Sequence[Row]) -> str:
    """The area's items in words; the troops' are in the table."""
    parts = [
        f"{row['title']} {words.percent(row['sell_through'])}" for row in totals if row["sell_through"] is not None
    ]
    return f"Sell-through of the area by item: {', '.join(parts) or 'nothing supplied yet'}."


def shares(rows: Sequence[Row], area: Row) -> str:
    """Who takes part, by troop, the lowest share first."""
    parts = [f"{row['troop']} {words.of(row['registered_taking_part'], row['registered'])}" for row in lowest(rows)]
    whole = words.of(area["registered_taking_part"], area["registered"], area["share"])
    listed = ", ".join(parts) or "nobody registered"
    return f"Taking part: {whole} in the area. By troop, the lowest share first: {listed}."


def path(row: Row) -> str:
    """How many have come how far."""
    parts = [f"{label('area', f'step_{step}')} {row[f'step_{step}']}" for step in STEPS]
    return f"From registered to goal met: {', '.join(parts)}."


def pace(rows: Sequence[Row], as_of: date) -> str:
    """This season beside the last, week by week."""
    so_far = [
        f"week {row['week_no']} {row['packages_sold']:,}" for row in rows if row["as_of"] and row["as_of"] <= as_of
    ]
    then = [f"week {row['week_no']} {row['last_season']:,}" for row in rows if row["last_season"] is not None]
    return f"Packages sold so far: {', '.join(so_far)}. Last season: {', '.join(then) or 'not known'}."


def weekly(rows: Sequence[Row]) -> str:
    """What was sold in each week."""
    parts, sold = [], 0
    for row in rows:
        added = f"{row['packages_sold'] - sold:,}" if row["submitted"] else "not sent"
        parts.append(f"week {row['week_no']} {added}")
        sold = row["packages_sold"]
    return f"Packages sold in each week: {', '.join(parts)}."
