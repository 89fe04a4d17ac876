"""Every declared measure of standing, items and families as text, beside what the oracle says of it.

Comes in: a computed warehouse, an oracle, days. Goes out: values by relation, day, row and measure; where they differ.
"""

from collections.abc import Iterable
from datetime import date
from typing import Any

from oracle import Oracle
from trial import TABLES

from pipelines.definitions.measures import RELATIONS
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import shown

RELATIONS_TOLD = frozenset(f"measures.{name}" for name in TABLES)
PART_OF = {"standing": "troop", "items": "item", "families": "participant"}
Told = dict[tuple[str, date, str, str], dict[str, str]]


def expected(oracle: Oracle, days: Iterable[date]) -> Told:
    """What the oracle says."""
    return {
        (name, day, line["troop"], line[PART_OF[name]]): line
        for name in TABLES for day in days for line in oracle.everything(name, day)
    }  # fmt: skip


def measured(con: Any, days: Iterable[date]) -> Told:
    """What was computed."""
    figures = Figures(con, COORDINATOR)
    made = {name: [one for one, told in RELATIONS[name].items() if told.made] for name in TABLES}
    return {
        (name, day, row["troop"], row[PART_OF[name]]): {one: shown(row[one]) for one in made[name]}
        for name in TABLES for day in days for row in figures.rows(name, day)  # type: ignore[arg-type]
    }  # fmt: skip


def differences(got: Told, told: Told) -> list[str]:
    """Every measure of every row that the oracle says otherwise, or does not say."""
    found = [f"{key}: a row in one alone" for key in sorted(got.keys() ^ told.keys(), key=str)]
    for key in got.keys() & told.keys():
        line = told[key]
        found += [f"{key} {one}: {value}, the oracle {line.get(one)}" for one, value in got[key].items()
                  if line.get(one) != value]  # fmt: skip
    return sorted(found)
