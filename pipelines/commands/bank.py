"""`musterbook bank`: which line of a bank answers which row of the book, what is open; lines out of a statement."""

import re
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipelines.commands import (
    HELD,
    HERE,
    BookDir,
    Json,
    known_troop,
    open_book,
    progress,
    say,
    say_aside,
    say_json,
    week,
)
from pipelines.definitions.errors import Stop
from pipelines.store.book import Book, operator

if TYPE_CHECKING:
    from pipelines.workflow.bank_statements import Line

SETTLED = ("matched", "matched together", "card")
TROUBLE = ("not reported", "not seen")
MATCHING = "matching"
NUMBERS = re.compile(r"[0-9]+(-[0-9]+)?")


def register(app: typer.Typer) -> None:
    app.command("bank")(bank)


def bank(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A bank's statement: OFX, QFX, camt.053, or a CSV of lines.")
    ] = None,
    keep: Annotated[
        str, typer.Option(metavar="WHICH", help="Which of its lines to keep: `matching`, or numbers such as 1,4-7.")
    ] = "",
    troop: Annotated[str, typer.Option(metavar="TROOP", help="One troop; of FILE, whose account it is.")] = "",
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
    ] = "",
    all_lines: Annotated[bool, typer.Option("--all", help="Lines that are matched, too.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show which lines of the bank answer which rows of the book, and what is open on either side.

    Of FILE the lines are shown first; only those that --keep names are taken in, and the file itself is never kept.
    Exit status 1: something has been open on one side for more than a week.
    """
    opened = open_book(book)
    if file is not None:
        _statement(opened, file, troop, keep, as_json=as_json)
        return
    if keep:
        raise Stop("--keep goes with a bank's statement: name the file too.")
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner

    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        known_troop(troop, shown.standing, "bank")
        rows = shown.figures.rows("bank", as_of, troop or None)
        if as_json:
            from pipelines.reports.bank import BANK  # noqa: PLC0415

            say_json([{name: row[name] for name in BANK} for row in rows])
        else:
            _say(shown, rows, all_lines=all_lines)
    if any(row["state"] in TROUBLE for row in rows):
        raise typer.Exit(HELD)


def _say(shown: Any, rows: list[dict[str, Any]], *, all_lines: bool) -> None:
    if not rows:
        say("No lines of a bank have come in.")
        return
    for row in rows:
        if all_lines or row["state"] not in SETTLED:
            side = f"line {row['line']}" if row["line"] else "book"
            told = " · ".join(str(part) for part in (row["kind"], row["answers"] or row["words"]) if part)
            say(f"{row['troop']}  {row['date']}  {shown.money(row['amount']):>12}  {row['state']:<16}  {side}  {told}")
    lines = [row for row in rows if row["line"]]
    answered = sum(row["state"] in SETTLED for row in lines)
    alone = len(rows) - len(lines)
    say(f"{answered:,} of {len(lines):,} lines answer the book; {alone:,} rows of the book have no line.")


def _statement(book: Book, file: Path, troop: str, keep: str, *, as_json: bool) -> None:
    from pipelines.workflow import bank_statements  # noqa: PLC0415 - the terminal answers sooner

    if not file.is_file():
        raise Stop(f"There is no file {file}.")
    lines, notes = bank_statements.lines_of(book, file, file.name, troop=troop)
    chosen = _chosen(lines, keep) if keep else []
    if as_json:
        say_json([{"number": number, **asdict(one)} for number, one in enumerate(lines, 1)])
    else:
        for number, one in enumerate(lines, 1):
            told = "kept already" if one.is_kept else one.answers or "answers nothing in the book"
            say(f"{number:>4}  {one.troop}  {one.date}  {one.amount:>12,.2f}  {told}  · {one.text or one.reference}")
        for note in notes:
            say(f"    note  {note.found}. {note.how}")
    if not keep:
        fits = sum(one.is_the_sales and not one.is_kept for one in lines)
        say_aside(f"Nothing was kept. {fits:,} of {len(lines):,} lines answer the book: --keep matching keeps them.")
        return
    with progress() as tell:
        done = bank_statements.keep(book, chosen, operator(), progress=tell, on_wait=say_aside)
    say_aside(f"{done.rows:,} lines kept; of the rest, and of the file, nothing.")


def _chosen(lines: "list[Line]", keep: str) -> "list[Line]":
    if keep == MATCHING:
        return [one for one in lines if one.is_the_sales]
    return [lines[number - 1] for number in _numbers(keep, len(lines))]


def _numbers(stated: str, most: int) -> Iterable[int]:
    found: set[int] = set()
    for part in stated.replace(" ", "").split(","):
        if not NUMBERS.fullmatch(part):
            raise Stop(f"--keep {stated}: say `matching`, or the numbers of lines such as 1,4-7.")
        first, _, last = part.partition("-")
        found |= set(range(int(first), min(int(last or first), most) + 1))
    if not found or min(found) < 1 or max(found) > most:
        raise Stop(f"--keep {stated}: the lines are numbered 1 to {most}.")
    return sorted(found)
