"""`musterbook dismiss`: a file that nobody can read as a table, such as a photo, needs no answer."""

from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, open_book, say, say_aside
from pipelines.store.book import operator


def register(app: typer.Typer) -> None:
    app.command("dismiss")(dismiss)


def dismiss(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The file's name, as `musterbook findings` lists it.")],
    book: BookDir = HERE,
) -> None:
    """Ask no more about a file that could not be read; it stays kept."""
    from pipelines.workflow import dismissing  # noqa: PLC0415 - the terminal answers sooner

    count = dismissing.dismiss(open_book(book), name, operator(), on_wait=say_aside)
    say(f"{name}: kept, and asked about no more{f' ({count} files)' if count > 1 else ''}.")
