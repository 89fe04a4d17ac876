"""What is asked about a file before it counts, where only a person can say how it is meant, and the answers there are.

Comes in: nothing. Goes out: each question, told as a finding that holds (its `expected` names the question), and the
words by which the coordinator answers it: `musterbook answer FILE_NO WORD`, or a button on Submissions.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipelines.definitions.records import Finding


@dataclass(frozen=True)
class Asked:
    """One question: what was expected instead, how it is told what to do, and each answer with what it means."""

    expected: str
    how: str
    answers: dict[str, str]


TWICE = Asked(
    "rows that each tell of something else",
    "Is it one and the same, or did it happen twice? Take one row out, or put both into one row; or say which it is.",
    {"once": "One and the same: count it once", "twice": "It happened twice: count both"},
)
PART = Asked(
    "a table that shares rows with the one it replaces",
    "Does this table replace the earlier one, or is it another part of the same week? Send the whole week in one "
    "table, or say which it is.",
    {"adds": "Another part: count both", "replaces": "It replaces the earlier one"},
)
WHICH = Asked(
    "one workbook for each troop and week",
    "Nobody can tell which was saved later. Say which one counts, or send that one again after saving it anew.",
    {"counts": "This workbook counts"},
)
ASKED = (TWICE, PART, WHICH)


def answers_to(findings: Iterable[Finding]) -> dict[str, str]:
    """The answers that the open findings of a file ask for, each with what it means."""
    expected = {finding.expected for finding in findings if not finding.is_note}
    return {word: label for one in ASKED if one.expected in expected for word, label in one.answers.items()}


def said(words: Sequence[str], asked: Asked) -> str:
    """The newest answer to a question among the words said of a file; "" where there is none."""
    return next((word for word in reversed(words) if word in asked.answers), "")
