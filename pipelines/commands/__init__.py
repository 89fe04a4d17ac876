"""The commands, one module a group; each has `register(app)` and is found by its being here.

Comes in: what was typed. Goes out: what was done, said on the terminal or as JSON. A command decides nothing.
"""

import json
import sys
from collections.abc import Container, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Annotated, Any

import typer

from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.store.book import Book

HELD = 1  # exit status: done, but something was held or found
NOT_DONE = 2  # exit status: not done

BookDir = Annotated[
    Path,
    typer.Option("--book", envvar="MUSTERBOOK_BOOK", help="The book's folder.", show_default="the folder you stand in"),
]
Json = Annotated[bool, typer.Option("--json", help="Print for machines.")]
HERE = Path()
A_YEAR = timedelta(days=366)  # how long after the season figures may still be asked for


def open_book(folder: Path) -> Book:
    """The book in a folder, once what an earlier command began is finished; raises NotABook or BrokenSeason."""
    book = Book(folder)
    book.season()
    if book.was_broken_off() or (book.has_snapshot() and not book.is_published_by_this_program()):
        from pipelines.upkeep import unfinished  # noqa: PLC0415 - seldom

        unfinished.finish(book, say_aside)
    return book


def say(text: str = "") -> None:
    """A line for the person at the terminal."""
    print(text)


def say_aside(text: str) -> None:
    """A line beside the output proper: waiting, progress, warnings."""
    print(text, file=sys.stderr, flush=True)


def say_json(value: Any) -> None:
    """One JSON document; money as text with two decimals, days as ISO 8601."""
    print(json.dumps(value, default=_plain, ensure_ascii=False, indent=2))


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, set | frozenset):
        return sorted(value)
    if hasattr(value, "__slots__") or hasattr(value, "__dict__"):
        names = getattr(value, "__slots__", None) or vars(value)
        return {name: getattr(value, name) for name in names}
    return str(value)


def known_troop(stated: str, known: Container[str], command: str) -> None:
    """Raises Stop where a troop is named that the book does not know."""
    if stated and stated not in known:
        raise Stop(f"There is no troop {stated} in this book. Without a troop, `{command}` lists them all.")


def amount_of(stated: str) -> Decimal:
    """The amount that `--amount` states."""
    try:
        amount = Decimal(stated.replace(",", "").lstrip("$€£"))
    except InvalidOperation:
        raise Stop(f"--amount {stated}: type an amount such as 120.50.") from None
    if not amount.is_finite() or amount != round(amount, 2):
        raise Stop(f"--amount {stated}: type an amount with at most two decimals.")
    return amount


def week(season: Season, stated: str) -> date:
    """The day that `--week` names: a week number of the season, or the week's ending date."""
    if stated.isdecimal() and len(stated) <= 3:
        number = int(stated)
        if not 1 <= number <= len(season.week_endings) + 9:
            raise Stop(f"--week {stated}: the season has weeks 1 to {len(season.week_endings)}.")
        return season.week_ending(number)
    try:
        day = date.fromisoformat(stated)
    except ValueError:
        raise Stop(f"--week {stated}: type a week number such as 6, or a date such as 2027-03-21.") from None
    if (
        not season.first_dated <= day <= season.last_dated + A_YEAR
    ):  # a slip in the year would compute hundreds of weeks
        own = season.season
        raise Stop(f"--week {stated} is far from the season, which runs from {own.first_day} to {own.last_day}.")
    return day


def instant(stated: str, option: str = "--known-on") -> datetime:
    """The time that an option names, in UTC without a zone; a time without a zone is this machine's own."""
    try:
        stated_at = datetime.fromisoformat(stated)
        if len(stated) <= 10:
            stated_at = stated_at.replace(hour=23, minute=59, second=59, microsecond=999_999)
        return stated_at.astimezone(UTC).replace(tzinfo=None)
    except (ValueError, OverflowError):
        raise Stop(f"{option} {stated}: type a time such as 2027-03-21T20:00 (ISO 8601).") from None


@contextmanager
def progress() -> Iterator[Any]:
    """A progress bar on a terminal, nothing in a pipe; yields a function (what, done, of)."""
    if not sys.stderr.isatty():
        yield lambda _what, _done, _of: None
        return
    from rich.console import Console  # noqa: PLC0415 - a pipe does without it
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn  # noqa: PLC0415

    bar = Progress(TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
                   console=Console(stderr=True), transient=True)  # fmt: skip
    tasks: dict[str, Any] = {}

    def tell(what: str, done: int, of: int) -> None:
        if what not in tasks:
            tasks[what] = bar.add_task(what, total=of)
        bar.update(tasks[what], completed=done, total=of)

    with bar:
        yield tell
