"""`musterbook serve`: the dashboard of a book."""

from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, open_book, say, say_aside
from pipelines.store.book import operator


def register(app: typer.Typer) -> None:
    app.command("serve")(serve)


def serve(
    book: BookDir = HERE,
    port: Annotated[int, typer.Option(help="The port to listen on.", min=0, max=65535)] = 8501,
    host: Annotated[str, typer.Option(help="The address to listen on; this machine only unless given.")] = (
        "127.0.0.1"
    ),
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help="A proxy on this machine says who asks, and whether by TLS.")
    ] = False,
    name: Annotated[
        list[str] | None, typer.Option(help="A name by which browsers ask for it; behind a proxy any, unless given.")
    ] = None,
) -> None:
    """Open the dashboard of a book, until Ctrl-C."""
    from dashboard.web.server import serve as open_dashboard  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.workflow import take_in  # noqa: PLC0415

    opened = open_book(book)
    if not take_in.refresh(opened, operator()) and not opened.has_snapshot():
        say_aside("Somebody is writing in this book for the first time; the figures come when that is done.")
    open_dashboard(
        opened, host=host, port=port, next_free=False, behind_proxy=behind_proxy, said=_said, names=name or ()
    )


def _said(text: str) -> None:
    say(text)
