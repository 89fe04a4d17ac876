"""`musterbook carry`: the next season's book, begun with what this one knows."""

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, open_book, say, say_aside
from pipelines.store.book import operator

EVERYBODY = "all"


def register(app: typer.Typer) -> None:
    app.command("carry")(carry)


def carry(
    to: Annotated[Path, typer.Argument(metavar="NEXT", help="A new or empty folder.")],
    people: Annotated[
        str, typer.Option(metavar="NAMES", help="Who may sign in there too: names with commas between, or `all`.")
    ] = "",
    book: BookDir = HERE,
) -> None:
    """Make the next season's book: its days moved on, mappings, last season by week and item, places, awards earned.

    No participant's money or note comes along. Nobody may sign in there unless --people names them.
    """
    from pipelines.workflow import carrying  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    known = [one.name for one in carrying.may_sign_in(opened)]
    chosen = known if people == EVERYBODY else [name.strip() for name in people.split(",") if name.strip()]
    done = carrying.carry(opened, to, operator(), chosen, on_wait=say_aside)
    frame = done.season.season
    say(f"{to}: {frame.title}, {frame.first_day} to {frame.last_day}. Look through its season.toml before it begins.")
    for name, rows in done.rows.items():
        say(f"    {name}: {rows:,} rows")
    for name, code in done.codes.items():
        say(f"    {name} signs in with {code}, which is shown this once")
    if left := [name for name in known if name not in done.codes]:
        say(f"Nobody may sign in there but who was named. Not taken along: {', '.join(left)}.")
