"""`musterbook send`: a roll-up's letters, sent where the book names a mail server."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_json, week
from pipelines.definitions.errors import Stop

if TYPE_CHECKING:
    from pipelines.reports.mail import Letter


def register(app: typer.Typer) -> None:
    app.command("send")(send)


def send(
    troops: Annotated[list[str] | None, typer.Argument(metavar="[TROOP...]", help="Some troops; else all.")] = None,
    of_week: Annotated[
        str,
        typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest reported."),
    ] = "",
    is_agreed: Annotated[bool, typer.Option("--yes", help="Send without asking.")] = False,
    went: Annotated[bool, typer.Option("--went", help="The letter that was on its way went.")] = False,
    again: Annotated[bool, typer.Option("--again", help="It did not, or may go again.")] = False,
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
    with mail.alone(opened):
        if went or again:
            mail.settle(opened, went=went)
        elif on_its_way := mail.asked(opened):
            raise Stop(on_its_way)
        letters = mail.letters_of(opened, as_of, troops or ())
        waiting = mail.unsent(opened, letters)
        without = [letter.troop for letter in letters if not letter.to]
        if not is_agreed and waiting:
            _ask(waiting)
        with progress() as tell:
            count = mail.send(opened, as_of, waiting, tell) if waiting else 0
    if as_json:
        say_json({"sent": [letter.troop for letter in waiting], "without_address": without})
    else:
        before = len(letters) - len(waiting) - len(without)
        say(f"{count} letters sent{f', {before} had gone before' if before else ''}.")
        if without:
            say(f"Without an address in the troops feed: {', '.join(without)}.")
    if without:
        raise typer.Exit(HELD)


def _ask(waiting: "list[Letter]") -> None:
    if not sys.stdin.isatty():
        raise Stop(f"{len(waiting)} letters would be sent. Say --yes to send them.")
    for letter in waiting:
        say(f"  {letter.troop}  {letter.to}")
    typer.confirm(f"Send {len(waiting)} letters?", abort=True)
