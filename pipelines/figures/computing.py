"""Every relation computed, with the statistics that SQL cannot say plainly.

Comes in: a warehouse with what has landed, the season, days. Goes out: the same warehouse with every relation computed.
"""

from collections.abc import Sequence
from datetime import date, datetime

from pipelines.definitions.season import Season
from pipelines.figures.bank_matching import bank_pairs
from pipelines.figures.comparison import comparisons
from pipelines.figures.opening import opening
from pipelines.figures.outlook_tables import outlooks
from pipelines.figures.stall_credit import shared
from pipelines.figures.stock_plan_table import plan_cells, planned
from pipelines.store import relations, touched
from pipelines.store.engine import Connection
from pipelines.store.relations import Statistic

STATISTICS = {
    "measures.comparisons": Statistic(("measures.compared",), "comparisons", comparisons),
    "measures.outlook": Statistic(
        ("measures.outlook_sizes", "measures.weekly_sales", "measures.takings", "accepted.last_season", "season.items",
         "season.plan"),
        "outlook",
        outlooks,
        by_day=True,
    ),
    "facts.stall_credit": Statistic(("facts.stall_work", "facts.stalls", "season.rules"), "stall_credit", shared),
    "measures.bank": Statistic(("measures.bank_entries",), "bank_pairs", bank_pairs),
    "measures.plan": Statistic(("measures.plan_terms",), "plan", planned),
    "measures.opening": Statistic(
        ("measures.opening_terms", "accepted.last_season", "season.plan"), "opening", opening
    ),
    "measures.plan_cells": Statistic(("measures.plan_terms",), "plan_cells", plan_cells),
}  # fmt: skip


def compute(
    con: Connection,
    season: Season,
    days: Sequence[date],
    known_on: datetime | None = None,
    only: frozenset[str] | None = None,
) -> None:
    """Makes every derived relation, or `only` some and what they rest on: see relations.compute."""
    relations.compute(con, season, days, known_on, only, statistics=STATISTICS)


def compute_touched(con: Connection, apart: str, troops: Sequence[str]) -> None:
    """Makes a computed warehouse anew for some troops: see touched.compute."""
    touched.compute(con, apart, troops, STATISTICS)
