"""`musterbook trace`: how a figure is made, down to the cells."""

from collections.abc import Iterator
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, open_book, say, say_json, week
from pipelines.definitions.errors import Stop

AREA = "area"  # in place of a troop's code: the whole area
SHOWN = 12  # cells of one term that a terminal is shown
DEEP = 3  # terms of terms that it is shown


def register(app: typer.Typer) -> None:
    app.command("trace")(trace)


def trace(
    troop: Annotated[str, typer.Argument(metavar="TROOP", help="The troop's code, or `area` for all troops.")],
    measure: Annotated[
        str, typer.Argument(metavar="MEASURE", help="A column of standing.csv, items.csv or families.csv, and others.")
    ],
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
    ] = "",
    item: Annotated[str, typer.Option("--item", metavar="CODE", help="Of one item: a column of items.csv.")] = "",
    participant: Annotated[
        str, typer.Option("--participant", metavar="CODE", help="Of one family: a column of families.csv.")
    ] = "",
    due: Annotated[str, typer.Option("--due", metavar="DAY", help="Of one due date, such as 2027-03-12.")] = "",
    every: Annotated[bool, typer.Option("--all", help="Every cell, however many.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show how a figure is made: its definition, its terms, and the cells behind each of them."""
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    if sum(map(bool, (item, participant, due))) > 1:
        raise Stop("Name an item, a participant or a due date, not several.")
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        if item and item not in shown.season.codes:
            raise Stop(f"There is no item {item}. There are: {', '.join(shown.season.codes)}.")
        if troop == AREA and troop not in shown.standing:
            traced = _of_area(shown.figures, as_of, measure, item, whole=every or as_json)
        else:
            traced = _of_troop(shown.figures, as_of, troop, measure, (item, participant, due))
        files = {file["file_no"]: file for file in shown.figures.files.landed()}
    if as_json:
        behind = sorted({cell.file_no for _term, cell in _leaves(traced)} & files.keys())
        landed = [
            {"file_no": no, "name": files[no]["name"], "path": opened.landed_path(files[no]["sha256"])} for no in behind
        ]
        say_json({"troop": troop, "as_of": as_of, "measure": measure, "traced": traced, "landed": landed})
        return
    named = " ".join(part for part in (troop, item, participant, due) if part)
    say(f"{traced.label} of {named}, as of {as_of}: {_shown(traced)}")
    say(traced.meaning)
    for line in _lines(traced, 1, None if every else SHOWN):
        say(line)
    if troop == AREA and not every:
        say("Each troop's figure has cells of its own: `musterbook trace TROOP MEASURE`, or --all.")


def _of_area(figures: Any, as_of: Any, measure: str, item: str, *, whole: bool) -> Any:
    """A figure of the whole area, or of an item in all troops."""
    from pipelines.tracing.area import AreaTracer  # noqa: PLC0415 - the terminal answers sooner

    return AreaTracer(figures, as_of, whole=whole).of("item_totals" if item else "area", measure, item)


def _of_troop(figures: Any, as_of: Any, troop: str, measure: str, parts: tuple[str, str, str]) -> Any:
    """A figure of a troop, or of one of its items, families or due dates."""
    from pipelines.tracing.explain import Tracer, measures_of  # noqa: PLC0415 - the terminal answers sooner

    item, participant, due = parts
    tracer = Tracer(figures, troop, as_of)
    if item:
        return tracer.of("outlook" if measure in measures_of("outlook") else "items", measure, item)
    if participant:
        told = (*figures.facts("roster", troop), *figures.rows("families", as_of, troop))
        if participant not in {row["participant"] for row in told}:
            raise Stop(f"There is no participant {participant} in troop {troop} as of {as_of}.")
        return tracer.of("families", measure, participant)
    if due:
        known = [str(row["due_on"]) for row in figures.rows("dues", as_of, troop)]
        if due not in known:
            raise Stop(f"There is no due date {due}. There are: {', '.join(known)}.")
        return tracer.of("dues", measure, due)
    if measure in measures_of("outlook"):
        return tracer.of("outlook", measure)
    is_step = measure in measures_of("steps") and measure not in measures_of("standing")
    return tracer.of("steps" if is_step else "standing", measure)


def _leaves(traced: Any) -> Iterator[tuple[Any, Any]]:
    from pipelines.tracing.explain import leaves  # noqa: PLC0415 - the terminal answers sooner

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
    joins = {
        "median": "", "quotient": " divided by", "product": " times", "least": " or, if less,",
        "greatest": " or, if more,",
    }  # fmt: skip
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
