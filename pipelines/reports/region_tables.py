"""What an area hands up to its region: columns that add up, and how many sellers have how many packages.

Comes in: a Week. Goes out: tables/region/*.parquet, of each published week up to the day, the same bytes each time; and
the terms under which they may be added to those of other areas, for the manifest. No participant's code, no name, no
note and no evidence leaves the area by them.
"""

from collections.abc import Iterator
from typing import Any

from pipelines.definitions.season import Season
from pipelines.reports.parquet_tables import parquet
from pipelines.reports.week import Week
from pipelines.store import region_sql

FOR_ORGANISATION = True


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """tables/region/troops.parquet, items, orders, sellers and so on: a file a table."""
    for name in region_sql.TABLES:
        yield f"{region_sql.PLACE}/{name}.parquet", parquet(week.figures.handed_up(name, week.as_of))


def expected(_week: Week) -> int:
    """How many files there will be."""
    return len(region_sql.TABLES)


def terms(season: Season) -> dict[str, Any]:
    """What areas must have in common for their sums to mean anything, and the format of what is handed up."""
    frame = season.season
    return {
        "format": region_sql.FORMAT,
        "currency": frame.currency,
        "sign": frame.sign,
        "season": [frame.title, frame.first_day.isoformat(), frame.last_day.isoformat()],
        "week_ends_on": frame.week_ends_on,
        "items": [
            {"code": one.code, "title": one.title, "price": str(one.price), "packages_per_case": one.packages_per_case}
            for one in season.items
        ],
    }
