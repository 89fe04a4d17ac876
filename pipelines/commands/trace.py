"""`musterbook trace`: how a figure is made, down to the cells."""

from collections.abc import Iterator
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, open_book, say, say_json, week
from pipelines.errors import Stop

SHOWN = 12  # cells of one term that a terminal is shown
DEEP = 3  # terms of terms that it is shown


def register(app: typer.Typer) -> None:
    app.command("trace")(trace)


def trace(
    troop: Annotated[str, typer.Argument(metavar="TROOP", help="The troop's code.")],
    measure: Annotated[
        str, typer.Argument(metavar="MEASURE", help="A column of standing.csv, items.csv or families.csv.")
    ],
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
    ] = "",
    item: Annotated[str, typer.Option("--item", metavar="CODE", help="Of one item: a column of items.csv.")] = "",
    participant: Annotated[
        str, typer.Option("--participant", metavar="CODE", help="Of one family: a column of families.csv.")
    ] = "",
    every: Annotated[bool, typer.Option("--all", help="Every cell, however many.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show how a figure is made: its definition, its terms, and the cells behind each of them."""
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.tracing import Tracer  # noqa: PLC0415

    opened = open_book(book)
    if item and participant:
        raise Stop("Name an item or a participant, not both.")
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        traced = Tracer(shown.figures, troop, as_of).of(
            "items" if item else "families" if participant else "standing", measure, item or participant
        )
        files = {file["file_no"]: file for file in shown.figures.files()}
    if as_json:
        behind = sorted({cell.file_no for _term, cell in _leaves(traced)} & files.keys())
        landed = [
            {"file_no": no, "name": files[no]["name"], "path": opened.landed_path(files[no]["sha256"])} for no in behind
        ]
        say_json({"troop": troop, "as_of": as_of, "measure": measure, "traced": traced, "landed": landed})
        return
    say(f"{traced.label} of {' '.join(p for p in (troop, item, participant) if p)}, as of {as_of}: {_shown(traced)}")
    say(traced.meaning)
    for line in _lines(traced, 1, None if every else SHOWN):
        say(line)


def _leaves(traced: Any) -> Iterator[tuple[Any, Any]]:
    from pipelines.tracing import leaves  # noqa: PLC0415 - the terminal answers sooner

    return leaves(traced)


def _shown(traced: Any) -> str:
    """A value as the terminal shows it."""
    value = traced.value
    if value is None:
        return "no value"
    if traced.unit == "yes or no":
        return "yes" if value else "no"
    if traced.unit == "money":
        return f"{value:,.2f}"
    return f"{value:.6f}" if isinstance(value, float) else str(value)


def _lines(traced: Any, depth: int, most: int | None) -> Iterator[str]:
    """The terms of a figure, each with its own terms and cells below it."""
    indent = "    " * (depth - 1)
    if traced.note:
        yield f"{indent}  {traced.note}"
    joins = {"quotient": " divided by", "product": " times", "least": " or, if less,", "greatest": " or, if more,"}
    for place, (sign, term) in enumerate(traced.terms):
        joined = joins.get(traced.how, " less" if sign < 0 else "") if place or sign < 0 else ""
        yield f"{indent} {joined} {term.label}: {_shown(term)}"
        if most is None or depth < DEEP or not term.terms:
            yield from _lines(term, depth + 1, most)
        else:
            yield f"{indent}      from {', '.join(under.label for _sign, under in term.terms)}; --all shows them"
    for cell in traced.cells[:most]:
        yield f"{indent}  {_said(cell)}"
    if most is not None and len(traced.cells) > most:
        yield f"{indent}  and {len(traced.cells) - most:,} more cells; --all shows them"


def _said(cell: Any) -> str:
    """A cell: where it stands, what it says, at which price."""
    where = " ".join(part for part in (cell.file, cell.sheet, cell.cell) if part)
    price = "" if abs(cell.factor) == 1 else f" at {abs(cell.factor)}"
    return f"{where}: {'less ' if cell.factor < 0 else ''}{cell.value}{price}{f'  ({cell.note})' if cell.note else ''}"
