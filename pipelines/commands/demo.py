"""`musterbook demo`: the invented area's book, its latest week closed, the dashboard opened."""

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import progress, say, say_aside
from pipelines.store.book import operator

if TYPE_CHECKING:
    from pipelines.store.book import Book

LED = "0448"  # the troop whose leader the demo lets in besides the coordinator


def register(app: typer.Typer) -> None:
    app.command("demo")(demo)


def demo(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[DIR]", help="A new or empty folder; a temporary one unless given.")
    ] = None,
    serve: Annotated[bool, typer.Option(help="Open the dashboard when the book is ready.")] = True,
    region: Annotated[bool, typer.Option("--region", help="A region of 3 councils and 12 small areas.")] = False,
    port: Annotated[int, typer.Option(help="The dashboard's port; the next free one where it is taken.")] = 8501,
) -> None:
    """Make the demo book (an invented area, mid-season), close its latest week and open the dashboard."""
    if region:
        from pipelines.region.demo import make_region  # noqa: PLC0415

        place = folder or Path(tempfile.mkdtemp(prefix="musterbook-region-")) / "region"
        with progress() as tell:
            areas = make_region(place, tell)
        say(f"The books of {areas} areas and their roll-ups lie in {place}.")
        say(f"Add them up: musterbook region rollup {place} --out {place}-rollup")
        say(f"Look at it:  musterbook region serve {place}-rollup")
        return
    place = folder or Path(tempfile.mkdtemp(prefix="musterbook-demo-")) / "book"
    book = invent(place)
    if not serve:
        say(f"Look at it: musterbook standing --book {place}")
        say(f"Open it:    musterbook serve --book {place}")
        return
    from dashboard.web.server import serve as open_dashboard  # noqa: PLC0415
    from pipelines.accounts.accounts import Access  # noqa: PLC0415

    leader = f"leader-{LED}"
    if (access := Access(book.folder)).person(leader) is None:
        access.add(leader, "leader", [LED], by="the demo")
    open_dashboard(book, port=port, links=[leader])


def invent(place: Path) -> "Book":
    """The invented area's book in a new folder, taken in up to its latest week."""
    from demo_warehouse import make  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.store.book import Book, made_aside, new_book  # noqa: PLC0415
    from pipelines.workflow import take_in  # noqa: PLC0415

    outcomes: list[take_in.Outcome] = []
    with made_aside(place) as making, progress() as tell:
        with tempfile.TemporaryDirectory() as made:
            make(Path(made), progress=lambda done, of, what: tell(f"Inventing {what}", done, of))
            book = new_book(making, (Path(made) / "season.toml").read_text(encoding="utf-8"))
            shutil.move(Path(made) / "inbox", making)
        parts = sorted((making / "inbox").iterdir())
        for batch in (parts[:-1], parts[-1:]):  # the season so far, then its latest week
            outcomes += take_in.ingest(book, batch, operator(), progress=tell, on_wait=say_aside)
    held = sum(outcome.status in ("held", "partly held") for outcome in outcomes)
    say(f"The demo book lies in {place}: {len(outcomes):,} files came in, {held} of them with something to mend.")
    return Book(place)
