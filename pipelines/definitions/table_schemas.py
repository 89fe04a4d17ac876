"""The contract as an open standard: a Table Schema v1 for every table, and a Data Package v1 that names them all.

Comes in: the contract and, where there is a book, its season. Goes out: descriptors as plain dicts, the same each time.
A schema asks for the plain way to write a value: what it takes, intake takes, save for RULES and CELLS, which say what
the standard has no words for. (Intake understands more: 12.0, $12.00, 1,234.50, a troop's code without its zeros.)
Source: Frictionless Standards, Table Schema and Data Package, version 1.

So a schema allows no groupChar (1,50 would pass for 150) and only bare numbers, and has a primary key where each part
of the key is filled. fieldsMatch is a word of version 2; version 1 passes over it.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from pipelines.definitions.columns import Column, Kind, Table
from pipelines.definitions.contract import (
    ANY_DAY,
    LONGEST,
    MOST_MINUTES,
    MOST_MONEY,
    MOST_PACKAGES,
    MOST_RATE,
    NO,
    OF_PERSONS,
    TABLES,
    WIDE_SHEETS,
    YES,
)
from pipelines.definitions.season import Season

Descriptor = dict[str, Any]
# A code, and how long its participant worked; no code is one that a spreadsheet would run (contract.FORMULA_STARTS).
_CODE = rf"[^\s,;=+\-@][^\s,;]{{0,{LONGEST['participant'] - 1}}}(:[0-9]+)?"
SOME_TEXT = r"\s*\S[\s\S]*"  # blanks alone say nothing
PATTERNS: dict[Kind, str] = {
    "participant": r"[^\s=+\-@].*",
    "participants": rf"[\s,;]*({_CODE}([\s,;]+{_CODE})*[\s,;]*)?",
    "numbers": r"[\s,;]*([1-9][0-9]?|100)([\s,;]+([1-9][0-9]?|100))*[\s,;]*",
}
CLOCK = "([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?"

CELLS: dict[Kind, str] = {
    "money": "at most two decimals",
    "money_noted": "at most two decimals",
    "money_signed": "at most two decimals",
    "rate": "at most four decimals",
    "troop": "a troop of `troops` or `roster`, save in these two",
    "other_troop": "a troop of `troops` or `roster`, or `outside`",
    "participant": "no word for a total, for everybody or for nobody",
    "participants": "no word for a total, for everybody or for nobody; minutes from 1 to "
    f"{MOST_MINUTES:,}, and where they are told each participant once",
}
"""Of a kind of value, what a schema cannot say."""

RULES: dict[str, str] = {
    "nothing": "A column marked filled is left empty where a row says no more than troop and week: there was nothing.",
    "noted": "An amount below 0 needs a note beside it, save a fee, a returned cheque and a float.",
    "bank row": "A fee and a returned cheque are below 0; a participant stands beside a returned cheque alone.",
    "own row": "In `families` and `stalls` money stands on rows with an empty item, packages on rows with one.",
    "one row each": "In `families` and `stalls` a key stands once, an empty item, start or place being a value too.",
    "week": "A row of a submission is dated not after its week's end, a move within its week.",
    "itself": "A move names another troop.",
    "mode": "An online order has a state that belongs to its mode.",
    "state": "`state_on` is not before `placed_on`.",
    "person": "In `roster`, `pages`, `promised`, `awards` and `awards_before` a participant is a person, not `troop`.",
    "one troop": "A participant is in one troop at a time.",
    "header": "A column marked needed has its header there, also where its cells may be empty.",
}
"""Rules of more than one cell, which a schema cannot say. Each has a test that the schema passes and intake refuses."""


def table_schema(table: Table, season: Season | None = None) -> Descriptor:
    """The Table Schema of one table; with a season its item codes, week ends and days are named."""
    schema: Descriptor = {
        # A word of version 2, which version 1 passes over: columns may be left out, and stand in any order.
        "fieldsMatch": "partial",
        "fields": [_field(table, column, season) for column in table.columns],
        "missingValues": [""],
    }
    if has_primary_key(table):
        schema["primaryKey"] = list(table.key)
    return schema


def has_primary_key(table: Table) -> bool:
    """Whether a row's key has a value in each of its columns: a primary key has no empty part."""
    return bool(table.key) and all(table.column(name).filled for name in table.key)


def row_is(table: Table) -> str:
    """What a row of a table is; a cover's labels, one to a row in a workbook, are columns here."""
    return "the cover of one troop's week" if table.name == "cover" else table.a_row_is


def data_package(season: Season | None = None) -> Descriptor:
    """A Data Package whose resources are the tables, each a CSV file beside it, their schemas in schemas/."""
    return {
        "profile": "tabular-data-package",
        "name": "musterbook-contract",
        "title": f"What may come in: {season.season.title}" if season else "What may come in",
        "description": "Troops' submissions in bulk and the organisation's feeds, as Musterbook takes them in.",
        "resources": [_resource(table) for table in TABLES.values()],
    }


def files(season: Season | None = None) -> Iterator[tuple[str, Descriptor]]:
    """Every file of the published contract but its page: its path and what it holds."""
    yield "datapackage.json", data_package(season)
    for table in TABLES.values():
        yield f"schemas/{table.name}.json", table_schema(table, season)


def _resource(table: Table) -> Descriptor:
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "title": table.title,
        "description": f"A row is {row_is(table)}.",
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": f"schemas/{table.name}.json",
    }


def _field(table: Table, column: Column, season: Season | None) -> Descriptor:
    kind, constraints = _type_of(column, season)
    # A row of a submission that says "nothing" leaves all but troop and week empty.
    if column.filled and (table.is_feed or column.name in ("troop", "week_ending")):
        constraints = {"required": True, **constraints}
    field = {
        "name": column.name,
        "title": column.name.replace("_", " ").capitalize(),
        "description": column.about,
        **kind,
    }
    return field | ({"constraints": constraints} if constraints else {})


def _type_of(column: Column, season: Season | None) -> tuple[Descriptor, Descriptor]:  # noqa: PLR0911 - one a kind
    """The type of a column's values, and what holds them in bounds."""
    match column.kind:
        case "packages" | "count":
            return {"type": "integer"}, {"minimum": 0, "maximum": MOST_PACKAGES}
        case "packages_back":
            return {"type": "integer"}, {"minimum": -MOST_PACKAGES, "maximum": MOST_PACKAGES}
        case "money":
            return _number(), {"minimum": 0, "maximum": MOST_MONEY}
        case "money_noted" | "money_signed":
            return _number(), {"minimum": -MOST_MONEY, "maximum": MOST_MONEY}
        case "rate":
            return _number(), {"minimum": -MOST_RATE, "maximum": MOST_RATE}
        case "date":
            return {"type": "date", "format": "default"}, _days(column, season)
        case "week_ending":
            weeks = [day.isoformat() for day in week_ends(season)] if season else []
            return {"type": "date", "format": "default"}, {"enum": weeks} if weeks else {}
        case "time":
            return {"type": "string"}, {"pattern": CLOCK}
        case "yes_no":
            return {"type": "boolean", "trueValues": _spelt(YES), "falseValues": _spelt(NO)}, {}
        case "choice":
            return {"type": "string"}, {"enum": list(column.choices)}
        case "item" | "stocked_item":
            codes = (
                [code for code, item in season.codes.items() if item.stocked or column.kind == "item"] if season else []
            )
            return {"type": "string"}, {"enum": codes} if codes else {}
        case _:
            longest = LONGEST.get(column.kind)
            pattern = SOME_TEXT if column.kind == "text" and column.filled else PATTERNS.get(column.kind)
            return {"type": "string"}, ({"maxLength": longest} if longest else {}) | (
                {"pattern": pattern} if pattern else {}
            )


def _number() -> Descriptor:
    """A bare number: with a groupChar `1,50` would pass for 150, which intake does not take for anything."""
    return {"type": "number", "decimalChar": ".", "bareNumber": True}


def _days(column: Column, season: Season | None) -> Descriptor:
    if season is None or column.name in ANY_DAY:
        return {}
    return {"minimum": season.first_dated.isoformat(), "maximum": season.last_dated.isoformat()}


def week_ends(season: Season) -> list[date]:
    """Every day on which a week may end that is reported for this season."""
    span = (season.last_dated - season.first_dated).days + 1
    days = (season.first_dated + timedelta(days=k) for k in range(span))
    return [day for day in days if season.is_week_ending(day)]


def _spelt(words: tuple[str, ...]) -> list[str]:
    """Words in small letters, with a capital and in capitals."""
    return list(dict.fromkeys(form for word in words for form in (word, word.capitalize(), word.upper())))


def rules_of(table: Table) -> list[str]:
    """The names of the RULES that concern a table."""
    kinds = {column.kind for column in table.columns}
    concerned = {
        "nothing": not table.is_feed,
        "noted": "money_noted" in kinds,
        "bank row": table.name == "banked",
        "own row": table.name in WIDE_SHEETS,
        "one row each": table.name in WIDE_SHEETS,
        "week": not table.is_feed and any(column.name == "date" for column in table.columns),
        "itself": table.name == "moves",
        "mode": table.name == "online_orders",
        "state": table.name == "online_orders",
        "person": table.name in OF_PERSONS,
        "one troop": table.name == "roster",
        "header": any(column.required and not column.filled for column in table.columns),
    }
    return [name for name in RULES if concerned[name]]
