"""Every heading and every rule's name, as a volunteer would read it aloud.

The bar, measured here: at most 9 words and 45 letters, no word of more than 13 letters, no word that only programs
use, no two figures of one table under one name. What a reader stumbles over is looked for by reading, not by this.
"""

import re
from collections import Counter

import pytest

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS

MOST_WORDS, MOST_LETTERS, LONGEST_WORD = 9, 45, 13
OF_PROGRAMS = {
    "api", "boolean", "column", "contract", "csv", "database", "field", "id", "json", "key", "null", "parquet", "purge",
    "row", "schema", "sql", "table", "toml", "unit",  "warehouse",
}  # fmt: skip
LABELS = sorted(
    {one.label for measures in RELATIONS.values() for one in measures.values()}
    | {one.label for one in rules().values()}
)
SAME_FIGURE = {"Registered"}  # the path begins with it


def stumbles(label: str) -> list[str]:
    """What is in the way of whoever reads it."""
    words = re.findall(r"[A-Za-z]+", label.replace("'s", ""))
    found = [word for word in words if len(word) > LONGEST_WORD or word.casefold() in OF_PROGRAMS or "_" in word]
    found += ["too long"] * (len(words) > MOST_WORDS or len(label) > MOST_LETTERS)
    return found + ["no capital"] * (label[0] != label[0].upper()) + ["snake"] * ("_" in label)


@pytest.mark.parametrize("label", LABELS)
def test_it_can_be_read_aloud(label: str) -> None:
    assert stumbles(label) == []


@pytest.mark.parametrize("label", ["past_due", "Sum of the row", "Sum of " + "very " * 9, "Incomprehensibilities"])
def test_the_bar_is_there(label: str) -> None:
    assert stumbles(label)


@pytest.mark.parametrize("relation", RELATIONS)
def test_one_name_is_one_figure(relation: str) -> None:
    named = Counter(one.label for one in RELATIONS[relation].values())
    assert {label for label, times in named.items() if times > 1} <= SAME_FIGURE
