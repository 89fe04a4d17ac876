"""`musterbook standing`: how the troops stand, on the terminal."""

import sys
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, known_troop, open_book, say, say_json, week
from pipelines.definitions.measures import Place, columns, label, measure

GROUPS: dict[Place, str] = {  # of one troop, the figures of these places under these titles
    "packages": "packages", "places": "where every dollar is", "money": "with the organisation",
    "people": "taking part",
}  # fmt: skip


def register(app: typer.Typer) -> None:
    app.command("standing")(standing)


def standing(
    troop: Annotated[str, typer.Argument(metavar="[TROOP]", help="One troop; without it, all of them.")] = "",
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
    ] = "",
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show the standing of every troop, or of one."""
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        rows = list(shown.standing.values())
        known_troop(troop, shown.standing, "standing")
        if as_json:
            from pipelines.reports.csv_tables import COLUMNS  # noqa: PLC0415

            listed = [{c: row["as_of" if c == "week_ending" else c] for c in COLUMNS["standing"]} for row in rows]
            say_json(next(r for r in listed if r["troop"] == troop) if troop else listed)
            return
        say(f"{shown.season.season.title}, week {shown.week_no}, as of {as_of:%A} {as_of.isoformat()}")
        if troop:
            _say_troop(shown, shown.standing[troop])
        else:
            _say_all(shown, rows)


def _say_all(shown: Any, rows: list[dict[str, Any]]) -> None:
    names = columns("standing", "all troops")
    _say_table(
        [label("standing", name) for name in names], [[_text(shown, row, name) for name in names] for row in rows]
    )


def _say_troop(shown: Any, row: dict[str, Any]) -> None:
    for place, title in GROUPS.items():
        say()
        names = [name for name in columns("standing", place) if name != "next_due_is_estimate"]  # "about" says it
        lines = [[label("standing", name), _text(shown, row, name)] for name in names]
        _say_table([f"Troop {row['troop']}: {title}", ""], lines)


def _text(shown: Any, row: dict[str, Any], name: str) -> str:
    value = row[name]
    if name in ("on_hand", "missing") and not row["submitted"]:
        return f"{value:,} (not counted)" if name == "on_hand" else "not counted"
    if value is None:
        return ""
    writers = {
        "money": shown.money,
        "rate": lambda rate: f"{shown.sign}{rate}",
        "share": lambda share: f"{share:.1%}",
        "average": lambda average: f"{average:.1f}",
        "yes or no": lambda is_so: "yes" if is_so else "no",
        "packages": lambda number: f"{number:,}",
    }
    text = str(writers.get(measure("standing", name).unit, str)(value))
    return f"about {text}" if name == "next_due" and row["next_due_is_estimate"] else text


def _say_table(headers: list[str], lines: list[list[str]]) -> None:
    """A table on a terminal, with as many of its columns as fit; columns two spaces apart in a pipe."""
    if sys.stdout.isatty():
        _say_rich(headers, lines)
        return
    widths = [max(map(len, column)) for column in zip(headers, *lines, strict=True)]
    for first, *rest in [headers, *lines]:
        cells = [cell.rjust(width) for cell, width in zip(rest, widths[1:], strict=True)]
        say("  ".join([first.ljust(widths[0]), *cells]).rstrip())


def _say_rich(headers: list[str], lines: list[list[str]]) -> None:
    from rich.box import SIMPLE  # noqa: PLC0415 - a pipe does without it
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    console, table, used = Console(), Table(box=SIMPLE), 2
    for place, (header, *cells) in enumerate(zip(headers, *lines, strict=True)):
        width = max(len(part) for part in [*header.split(), *cells])
        used += width + 3
        if used > console.width and place > 1:
            break
        table.add_column(Text(header), justify="right" if place else "left", min_width=width)
    for line in lines:
        table.add_row(*(Text(cell) for cell in line[: len(table.columns)]))
    console.print(table)
    if len(table.columns) < len(headers):
        left = ", ".join(header.lower() for header in headers[len(table.columns) :])
        say(f"A wider terminal also shows: {left}.")
