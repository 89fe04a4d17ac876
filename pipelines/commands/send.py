"""`musterbook send`: a roll-up's letters, sent where the book names a mail server."""

import sys
from typing import Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_json, week
from pipelines.definitions.errors import Stop


def register(app: typer.Typer) -> None:
    app.command("send")(send)


def send(
    troops: Annotated[list[str] | None, typer.Argument(metavar="[TROOP...]", help="Some troops; else all.")] = None,
    of_week: Annotated[
        str,
        typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest reported."),
    ] = "",
    is_agreed: Annotated[bool, typer.Option("--yes", help="Send without asking.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Send the letters of a roll-up through the mail server that the book's mail.toml names.

    A letter that went before does not go again. Exit status 1: done, but some letters have no address.
    """
    from pipelines.reports import mail  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day  # noqa: PLC0415

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    mail.mail_server(opened)
    letters = mail.letters_of(opened, as_of, troops or ())
    waiting = mail.unsent(opened, letters)
    without = [letter.troop for letter in letters if not letter.to]
    if not is_agreed and waiting:
        if not sys.stdin.isatty():
            raise Stop(f"{len(waiting)} letters would be sent. Say --yes to send them.")
        for letter in waiting:
            say(f"  {letter.troop}  {letter.to}")
        typer.confirm(f"Send {len(waiting)} letters?", abort=True)
    with progress() as tell:
        count = mail.send(opened, as_of, waiting, tell) if waiting else 0
    if as_json:
        say_json({"sent": [letter.troop for letter in waiting], "without_address": without})
    else:
        again = len(letters) - len(waiting) - len(without)
        say(f"{count} letters sent{f', {again} had gone before' if again else ''}.")
        if without:
            say(f"Without an address in the troops feed: {', '.join(without)}.")
    if without:
        raise typer.Exit(HELD)
