"""The contract as a page to read, in Markdown, made from what files are judged by.

Comes in: the contract and, where there is a book, its season. Goes out: the page's text, the same each time.
"""

from pipelines.definitions.columns import Column, Kind, Table
from pipelines.definitions.feeds import FEEDS
from pipelines.definitions.season import Season
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.definitions.table_schemas import CELLS, RULES, has_primary_key, row_is, rules_of, table_schema

FORMS: dict[Kind, str] = {
    "text": "text",
    "troop": "a troop's code, leading zeros kept",
    "other_troop": "a troop's code, or `outside`",
    "participant": "a participant's code, or `troop`",
    "participants": "codes, separated by space, comma or semicolon; minutes worked may stand behind a colon",
    "item": "an item's code",
    "stocked_item": "the code of an item that troops hold",
    "packages": "a whole number; empty = 0",
    "packages_back": "a whole number, negative = brought back; empty = 0",
    "count": "a whole number; empty = not known",
    "money": "an amount such as 1234.50",
    "money_noted": "an amount such as 1234.50, negative beside a note",
    "money_signed": "an amount such as 1234.50, may be negative",
    "rate": "a rate such as 0.05, may be negative",
    "date": "a day such as 2027-02-14",
    "week_ending": "the day a week ends on, such as 2027-02-14",
    "time": "a time such as 09:30",
    "yes_no": "yes or no",
    "choice": "one of",
    "numbers": "whole numbers from 1, separated by space, comma or semicolon",
}
INTRODUCTION = """# What may come in

Each table below may be sent as CSV (UTF-8, commas), as a sheet of a workbook or as Parquet, under any file name: its
headers tell which table it is. Case, spaces, `_` and `-` in a header do not count; columns may stand in any order.
`datapackage.json` and `schemas/` say the same for programs, as Table Schema v1 (Frictionless Standards). What a schema
takes is taken in, save for what stands under "beyond the schema". Intake understands more than the schemas ask for:
`12.0`, `$12.00`, `1,234.50`, a troop's code without its zeros, headers in other letters.

**needed**: the header must be there. **filled**: so must a value, in each row."""


def contract_page(season: Season | None = None) -> str:
    """The page."""
    parts = [INTRODUCTION]
    if season:
        codes = ", ".join(f"`{code}` ({item.title})" for code, item in season.codes.items())
        parts.append(
            f"For {season.season.title}: weeks end on a {season.season.week_ends_on.capitalize()}, days lie from "
            f"{season.first_dated} to {season.last_dated}, items are {codes}."
        )
    for title, tables in (("Submissions in bulk", SUBMISSION_TABLES), ("Feeds", FEEDS)):
        parts.append(f"## {title}")
        parts += [_section(table, season) for table in tables]
    return "\n\n".join(parts) + "\n"


def _section(table: Table, season: Season | None) -> str:
    key = f"one row for each {_named(table.key)}" if table.key else "each row its own"
    lines = [f"### `{table.name}`", "", f"A row is {row_is(table)}; {key}.", ""]
    lines += ["| column | must be | a value is | what it is |", "| --- | --- | --- | --- |"]
    fields = {field["name"]: field.get("constraints", {}) for field in table_schema(table, season)["fields"]}
    for column in table.columns:
        must = "filled" if column.filled else "needed" if column.required else ""
        lines.append(f"| `{column.name}` | {must} | {_form(column, fields[column.name])} | {column.about} |")
    beyond = _beyond(table)
    return "\n".join([*lines, *(["", "Beyond the schema:", "", *(f"- {rule}" for rule in beyond)] if beyond else [])])


def _form(column: Column, bounds: dict[str, object]) -> str:
    form = FORMS[column.kind]
    if column.kind == "choice":
        return f"{form} {', '.join(f'`{choice}`' for choice in column.choices)}"
    least, most = bounds.get("minimum"), bounds.get("maximum")
    if isinstance(least, int) and isinstance(most, int):
        return f"{form}; {least:,} to {most:,}"
    if longest := bounds.get("maxLength"):
        return f"{form}; at most {longest:,} characters"
    return form


def _beyond(table: Table) -> list[str]:
    """What a schema cannot say of this table's cells and rows."""
    cells: dict[str, list[str]] = {}
    for column in table.columns:
        if column.kind in CELLS:
            cells.setdefault(CELLS[column.kind], []).append(column.name)
    said = [f"{_named(tuple(names))}: {limit}." for limit, names in cells.items()]
    if table.key and has_primary_key(table):
        said.append("A row that stands there twice, word for word, is taken for one.")
    return said + [RULES[name] for name in rules_of(table)]


def _named(names: tuple[str, ...]) -> str:
    return ", ".join(f"`{name}`" for name in names)
