"""`musterbook rollup`: every paper of a week."""

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, instant, open_book, progress, say, say_json, week

SHOWN = 10  # names of held files that a terminal is shown


def register(app: typer.Typer) -> None:
    app.command("rollup")(rollup)


def rollup(
    of_week: Annotated[
        str,
        typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest reported."),
    ] = "",
    known_on: Annotated[
        str, typer.Option("--known-on", metavar="TIME", help="As it was known then, such as 2027-03-21T20:00.")
    ] = "",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where to, in place of out/<week-ending>/ of the book.")
    ] = None,
    families: Annotated[bool, typer.Option(help="Statements with their page of families.")] = True,
    for_organisation: Annotated[
        bool, typer.Option("--for-organisation", help="What the organisation gets: no families, no codes, no notes.")
    ] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Make the weekly roll-up: tables, workbook, statements, letters and a manifest, whole or not at all.

    Exit status 1: made, but files that landed are held, wholly or in part, and their rows are in no figure of it.
    """
    from pipelines.reports.rollup import latest_day, roll_up  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with progress() as tell:
        made = roll_up(
            opened, as_of, instant(known_on) if known_on else None, out, with_families=families,
            for_organisation=for_organisation, progress=tell,
        )  # fmt: skip
    if as_json:
        say_json({
            "folder": made.folder, "as_of": made.as_of, "known_on": made.known_on,
            "files": dict(sorted(made.files.items())), "held": list(made.held),
        })  # fmt: skip
    else:
        say(f"{len(made.files) + 1:,} files in {made.folder}.")
        for name in made.held[:SHOWN]:
            say(f"    held  {name}: not, or not wholly, in these figures")
        if len(made.held) > SHOWN:
            say(f"    and {len(made.held) - SHOWN:,} more held; --json lists them all")
    if made.held:
        raise typer.Exit(HELD)
