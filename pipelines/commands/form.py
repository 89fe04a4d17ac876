"""`musterbook form`: workbooks for troops to fill in."""

from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, Json, open_book, progress, say, say_json, week
from pipelines.definitions.errors import Stop


def register(app: typer.Typer) -> None:
    app.command("form")(form)


def form(
    of_week: Annotated[str, typer.Option("--week", metavar="W", help="A week number of the season, or a date in it.")],
    troops: Annotated[list[str] | None, typer.Argument(metavar="[TROOP...]", help="Some troops; else all.")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where to, in place of out/forms/<week-ending>/.")
    ] = None,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Make workbooks for troops to fill in: prefilled, with drop-downs and checks."""
    from pipelines.reports.form import form as make_form  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import week_of  # noqa: PLC0415
    from pipelines.reports.week import file_name  # noqa: PLC0415

    opened = open_book(book)
    season = opened.season()
    ends = season.week_ending(season.week_number(week(season, of_week)))
    folder = out or opened.out / "forms" / ends.isoformat()
    made = []
    with progress() as tell, week_of(opened, ends - timedelta(weeks=1)) as before:
        unknown = [troop for troop in troops or [] if troop not in before.troops]
        if unknown:
            raise Stop(f"There is no troop {', '.join(unknown)} in this book. No form was made.")
        wanted = troops or list(before.troops)
        folder.mkdir(parents=True, exist_ok=True)
        for number, troop in enumerate(wanted, 1):
            path = folder / f"{file_name(troop)} week {ends.isoformat()}.xlsx"
            path.write_bytes(make_form(before, troop, ends))
            made.append(path)
            tell("Making forms", number, len(wanted))
    if as_json:
        say_json(made)
    else:
        say(f"{len(made):,} forms of the week ending {ends.isoformat()} in {folder}.")
