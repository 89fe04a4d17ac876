"""`musterbook rebuild`: the warehouse made anew, for the day that its file is lost or damaged."""

from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, progress, say, say_aside
from pipelines.store.book import Book


def register(app: typer.Typer) -> None:
    app.command("rebuild")(rebuild)


def rebuild(
    from_snapshot: Annotated[
        bool, typer.Option("--from-snapshot", help="From the published rows, where landed files are lost.")
    ] = False,
    book: BookDir = HERE,
) -> None:
    """Make the warehouse and the figures anew from all that has landed; `verify` proves them."""
    from pipelines.upkeep import rebuilding  # noqa: PLC0415 - the terminal answers sooner

    opened = Book(book)
    opened.season()
    with progress() as tell:
        done = rebuilding.rebuild(opened, from_snapshot=from_snapshot, progress=tell, on_wait=say_aside)
    where = "what is published" if from_snapshot else f"{done.files:,} landed files"
    say(f"The warehouse is made anew from {where}, with {done.follow_ups:,} entries of the follow-up.")
    if done.kept:
        say(f"The one of before is kept in {done.kept}.")
