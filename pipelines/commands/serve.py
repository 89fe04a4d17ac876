"""`musterbook serve`: the dashboard of a book."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import HERE, BookDir, open_book, say, say_aside
from pipelines.store.book import Book, operator

if TYPE_CHECKING:
    import socket


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
    """Open the dashboard of a book, until Ctrl-C. In a folder without a book it asks first what to begin with."""
    show(book, host=host, port=port, behind_proxy=behind_proxy, names=name or ())


def show(
    book: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 8501,
    behind_proxy: bool = False,
    names: Sequence[str] = (),
    next_free: bool = False,
) -> None:
    """The dashboard of a book; of a folder without one the first page, then that of the book chosen there."""
    from dashboard.web.server import HERE as THIS_MACHINE  # noqa: PLC0415 - the terminal answers sooner
    from dashboard.web.server import bind  # noqa: PLC0415
    from dashboard.web.server import serve as open_dashboard  # noqa: PLC0415
    from pipelines.workflow import take_in  # noqa: PLC0415

    is_here = host in {THIS_MACHINE, "localhost"} and not behind_proxy
    is_asking = is_here and book.is_dir() and not Book(book).season_file.exists()
    listening = bind(THIS_MACHINE, port, next_free=next_free) if is_asking else None
    opened = open_book(_chosen(book, listening) if listening else book)
    if not take_in.refresh(opened, operator()) and not opened.has_snapshot():
        say_aside("Somebody is writing in this book for the first time; the figures come when that is done.")
    open_dashboard(
        opened, host=host, port=port, next_free=next_free, behind_proxy=behind_proxy, said=say, names=names,
        listening=listening,
    )  # fmt: skip


def _chosen(folder: Path, listening: "socket.socket") -> Path:
    """The book that somebody chose, or made, on the first page."""
    from dashboard.web import first_page  # noqa: PLC0415
    from pipelines.commands.demo import invent  # noqa: PLC0415

    return first_page.ask(folder, listening, invent, say).folder
