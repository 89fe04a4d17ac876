"""Every heading and every rule's name, as a volunteer would read it aloud.

The bar, measured here: at most 9 words and 45 letters, no word of more than 13 letters, no word that only programs
use, no two figures of one table under one name. What a reader stumbles over is looked for by reading, not by this.
"""

import re
from collections import Counter

import pytest

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS
from pipelines.definitions.season_form import sections

MOST_WORDS, MOST_LETTERS, LONGEST_WORD = 9, 45, 13
OF_PROGRAMS = {
    "api", "boolean", "column", "contract", "csv", "database", "field", "id", "json", "key", "null", "parquet", "purge",
    "row", "schema", "sql", "table", "toml", "unit",  "warehouse",
}  # fmt: skip
LABELS = sorted(
    {one.label for measures in RELATIONS.values() for one in measures.values()}
    | {one.label for one in rules().values()}
)
SECTIONS = sections()
HEADINGS = sorted({one.title for one in SECTIONS}
                  | {column.label for one in SECTIONS for table in one.tables for column in table.columns})  # fmt: skip
QUESTIONS = sorted({one.label for section in SECTIONS for one in section.asked}
                   | {table.label for one in SECTIONS for table in one.tables})  # fmt: skip
TERSE = {"Code", "Name", "Price", "Items", "Stalls", "Awards", "Proceeds", "Ordering"}  # one word that says what it is
MOST_OF_A_QUESTION = 17
SAME_FIGURE = {"Registered"}  # the path begins with it


def stumbles(label: str) -> list[str]:
    """What is in the way of whoever reads it."""
    words = re.findall(r"[A-Za-z]+", label.replace("'s", ""))
    found = [word for word in words if len(word) > LONGEST_WORD or word.casefold() in OF_PROGRAMS or "_" in word]
    found += ["too long"] * (len(words) > MOST_WORDS or len(label) > MOST_LETTERS)
    return found + ["no capital"] * (label[0] != label[0].upper()) + ["snake"] * ("_" in label)


@pytest.mark.parametrize("label", [*LABELS, *HEADINGS])
def test_it_can_be_read_aloud(label: str) -> None:
    assert stumbles(label) == []


@pytest.mark.parametrize("label", ["past_due", "Sum of the row", "Sum of " + "very " * 9, "Incomprehensibilities"])
def test_the_bar_is_there(label: str) -> None:
    assert stumbles(label)


@pytest.mark.parametrize("label", QUESTIONS)
def test_a_question_of_the_season_can_be_answered(label: str) -> None:
    """It says what it asks for: in more words than a heading has, and none that only programs use."""
    assert len(label.split()) <= MOST_OF_A_QUESTION
    assert set(stumbles(label)) <= {"too long"}


@pytest.mark.parametrize("label", [*HEADINGS, *QUESTIONS])
def test_one_word_is_a_heading_only_where_it_says_all(label: str) -> None:
    assert " " in label or label in TERSE


@pytest.mark.parametrize("relation", RELATIONS)
def test_one_name_is_one_figure(relation: str) -> None:
    named = Counter(one.label for one in RELATIONS[relation].values())
    assert {label for label, times in named.items() if times > 1} <= SAME_FIGURE
