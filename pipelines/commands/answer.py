"""`musterbook answer`: what only a person can say about a held file."""

from typing import Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, open_book, progress, say_aside
from pipelines.commands.intake import say_outcome
from pipelines.store.book import operator


def register(app: typer.Typer) -> None:
    app.command("answer")(answer)


def answer(
    file_no: Annotated[int, typer.Argument(metavar="FILE_NO", help="The file's number, as `ingest` says it.")],
    word: Annotated[str, typer.Argument(metavar="WORD", help="once, twice, adds, replaces or counts.")],
    book: BookDir = HERE,
) -> None:
    """Answer what is asked about a held file: once or twice, adds or replaces, which of two workbooks counts."""
    from pipelines.workflow import take_in  # noqa: PLC0415 - the terminal answers sooner

    with progress() as tell:
        outcomes = take_in.answer(open_book(book), file_no, word, operator(), progress=tell, on_wait=say_aside)
    for outcome in outcomes:
        say_outcome(outcome)
    if any(outcome.status != "taken in" for outcome in outcomes):
        raise typer.Exit(HELD)
