"""What a table that may come in is made of: kinds of values, columns, tables, and how headers are matched.

Comes in: nothing. Goes out: Column and Table with the words they are declared with, `fold`.
"""

import unicodedata
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

Kind = Literal[
    "text",  # as it is, spaces at the ends cut
    "troop",  # a troop's code, leading zeros kept
    "other_troop",  # a troop's code, or "outside"
    "participant",  # a code of the roster, or "troop"
    "participants",  # several codes, separated by space, comma or semicolon; behind a colon the minutes worked
    "item",  # a code of the season
    "stocked_item",  # a code of the season that troops hold
    "packages",  # a whole number from 0, empty = 0
    "packages_back",  # a whole number, negative = brought back, empty = 0
    "count",  # a whole number from 0, empty = not counted
    "money",  # from 0, two decimals
    "money_noted",  # negative only beside a note
    "money_signed",  # may be negative
    "rate",  # four decimals, may be negative
    "date",
    "week_ending",
    "time",
    "yes_no",
    "choice",
    "numbers",  # whole numbers from 1, separated by space, comma or semicolon
]

SQL_TYPES: dict[Kind, str] = {
    "text": "VARCHAR",
    "troop": "VARCHAR",
    "other_troop": "VARCHAR",
    "participant": "VARCHAR",
    "participants": "VARCHAR[]",
    "item": "VARCHAR",
    "stocked_item": "VARCHAR",
    "packages": "INTEGER",
    "packages_back": "INTEGER",
    "count": "INTEGER",
    "money": "DECIMAL(12,2)",
    "money_noted": "DECIMAL(12,2)",
    "money_signed": "DECIMAL(12,2)",
    "rate": "DECIMAL(9,4)",
    "date": "DATE",
    "week_ending": "DATE",
    "time": "TIME",
    "yes_no": "BOOLEAN",
    "choice": "VARCHAR",
    "numbers": "INTEGER[]",
}

LONGEST_HEADER = 500  # characters that are looked at: no column is called so long


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, kind, and whether its header (`required`) or its every cell (`filled`) must be there.

    A row of a bulk table with nothing but troop and week says "nothing" and fills nothing else.
    """

    name: str
    kind: Kind
    about: str
    required: bool = False
    filled: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Table:
    """One table that may come in. `key`: one row for each; (): each row its own. `unit`: held or accepted at once."""

    name: str
    is_feed: bool
    a_row_is: str
    key: tuple[str, ...]
    unit: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def title(self) -> str:
        """As a sheet or a heading shows it."""
        return self.name.replace("_", " ").capitalize()

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @cached_property
    def folded(self) -> dict[str, str]:
        """The columns' names by their folded form."""
        return {fold(name): name for name in self.names}

    @cached_property
    def folded_own(self) -> frozenset[str]:
        """The folded names of the columns that tell this table from others: not the troop, the week or a note."""
        return frozenset(fold(name) for name in self.names if name not in ("troop", "week_ending", "note"))

    @cached_property
    def folded_required(self) -> frozenset[str]:
        """The folded names of the columns whose headers must be there."""
        return frozenset(fold(column.name) for column in self.columns if column.required)


def fold(header: object) -> str:
    """A header without case, spaces, `_`, `-` and punctuation: `On hand` and `on_hand` are one."""
    return _folded(str(header)[:LONGEST_HEADER])


@lru_cache(maxsize=10_000)
def _folded(header: str) -> str:
    text = unicodedata.normalize("NFKC", header).casefold()
    return "".join(mark for mark in text if mark.isalnum())


def must(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column whose header must be there and whose every cell must be filled."""
    return Column(name, kind, about, required=True, filled=True, choices=choices)


def may(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column that may be left out or left empty."""
    return Column(name, kind, about, choices=choices)


def head(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column whose header must be there; its cells may be empty."""
    return Column(name, kind, about, required=True, choices=choices)


TROOP_WEEK = (
    must("troop", "troop", "the troop's code"),
    must("week_ending", "week_ending", "the day the week ends on"),
)


def submission(name: str, a_row_is: str, key: tuple[str, ...], *columns: Column) -> Table:
    """A sheet of a troop's submission; in bulk, with the troop and the week before its columns."""
    full_key = ("troop", "week_ending", *key) if key else ()
    return Table(name, False, a_row_is, full_key, ("troop", "week_ending"), (*TROOP_WEEK, *columns))


def feed(name: str, a_row_is: str, key: tuple[str, ...], unit: tuple[str, ...], *columns: Column) -> Table:
    """A table that the organisation hands the area."""
    return Table(name, True, a_row_is, key, unit, columns)
