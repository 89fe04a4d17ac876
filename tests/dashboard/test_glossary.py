"""The glossary: every column is explained, and the terms that a figure is said to add up from do add up to it."""

from decimal import Decimal
from typing import Any

import pytest

from pipelines.definitions.measures import RELATIONS, Measure, measure
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import COLUMNS
from pipelines.store.book import Book

WITH_TERMS = [
    (relation, name)
    for relation, own in RELATIONS.items()
    if relation not in ("item_totals", "steps")
    for name, one in own.items()
    if one.terms
]


def test_every_column_of_the_tables_is_explained() -> None:
    for relation in ("standing", "items", "families"):
        for column in COLUMNS[relation]:  # type: ignore[index]
            told = measure(relation, column)
            assert told.label
            assert told.meaning.endswith(".")


def test_a_share_says_what_it_divides_by() -> None:
    ratios = [one for own in RELATIONS.values() for one in own.values() if one.unit == "share"]
    assert ratios
    assert all(one.divides_by for one in ratios)


def added(told: Measure, row: dict[str, Any]) -> Any:
    """What the terms give: a sum, or a ratio whose last term stands below the line."""
    parts = [-row[term[1:]] if term.startswith("-") else row[term] for term in told.terms]
    if not told.divides_by:
        return sum(parts)
    *above, below = (float(part) for part in parts)
    return sum(above) / below if below > 0 else None


@pytest.mark.parametrize(("relation", "name"), WITH_TERMS)
def test_the_terms_add_up(demo_book: Book, relation: str, name: str) -> None:
    """Of every troop, item, family or the area in the demo's sixth week; weeks of supply are rates and left out."""
    told = measure(relation, name)
    with demo_book.reading() as con:
        figures = Figures(con, COORDINATOR)
        rows = figures.rows(relation, figures.days()[5])  # type: ignore[arg-type]
    checked = 0
    for row in rows:
        if any(row.get(term.removeprefix("-")) is None for term in told.terms) or row[name] is None:
            continue
        expected = added(told, row)
        if isinstance(row[name], Decimal | int):
            assert row[name] == expected
        else:
            assert row[name] == pytest.approx(expected)
        checked += 1
    assert checked or name == "weeks_of_supply"
