"""`musterbook new` and `musterbook ingest`."""

import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_aside, say_json
from pipelines.errors import Stop
from pipelines.records import Finding

if TYPE_CHECKING:
    from pipelines.flow import Outcome

SHOWN = 20  # findings of one file that a terminal is shown at once


def register(app: typer.Typer) -> None:
    app.command("new")(new)
    app.command("ingest")(ingest)


def new(folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")]) -> None:
    """Make an empty book with a commented season.toml."""
    from pipelines.book import new_book  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.starter import starter_season  # noqa: PLC0415

    book = new_book(folder, starter_season())
    say(f"A new book lies in {folder}. Write the season's rules into {book.season_file}, then take files in:")
    say(f"  musterbook ingest --book {folder} FILES")


def ingest(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files, folders and zips.")],
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Take in troops' submissions and the organisation's feeds."""
    from pipelines import flow  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    missing = [path for path in paths if not path.exists()]
    if missing:
        raise Stop(f"There is no {missing[0]}. Nothing was taken in.")
    with progress() as tell:
        outcomes = flow.ingest(opened, paths, getpass.getuser(), progress=tell, on_wait=say_aside)
    if as_json:
        say_json(outcomes)
    else:
        for outcome in outcomes:
            _say_outcome(outcome)
        _say_totals(outcomes)
    if any(
        o.status not in ("taken in", "already taken in") or any(not f.is_note for f in o.findings) for o in outcomes
    ):
        raise typer.Exit(HELD)


def _say_outcome(outcome: "Outcome") -> None:
    name, status, rows = outcome.name, outcome.status, outcome.rows
    held = f", {outcome.rows_held:,} of them held" if outcome.rows_held else ""
    say(f"{name}: {status}{f', {rows:,} rows{held}' if rows else ''}")
    findings: list[Finding] = outcome.findings
    for finding in findings[:SHOWN]:
        place = " ".join(part for part in (finding.sheet, finding.cell) if part)
        mark = "note" if finding.is_note else "mend"
        told = f"found {finding.found}; expected {finding.expected}. {finding.how}"
        say(f"    {mark}  {place + ': ' if place else ''}{told}")
    if len(findings) > SHOWN:
        say(f"    and {len(findings) - SHOWN:,} more; --json lists them all")


def _say_totals(outcomes: "list[Outcome]") -> None:
    counts: dict[str, int] = {}
    for outcome in outcomes:
        counts[outcome.status] = counts.get(outcome.status, 0) + 1
    told = ", ".join(f"{count:,} {status}" for status, count in counts.items()) or "nothing to take in"
    say(f"{len(outcomes):,} files: {told}.")
