"""`musterbook new` and `musterbook ingest`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_aside, say_json
from pipelines.definitions.errors import Stop
from pipelines.store.book import operator

if TYPE_CHECKING:
    from pipelines.store.book import Book
    from pipelines.workflow.take_in import Outcome

SHOWN = 20  # findings of one file that a terminal is shown at once


def register(app: typer.Typer) -> None:
    app.command("new")(new)
    app.command("ingest")(ingest)


def new(folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")]) -> None:
    """Make an empty book with a commented season.toml."""
    from pipelines.definitions.starter_season import starter_season  # noqa: PLC0415
    from pipelines.store.book import new_book  # noqa: PLC0415 - the terminal answers sooner

    book = new_book(folder, starter_season())
    say(f"A new book lies in {folder}. Write the season's rules into {book.season_file}, then take files in:")
    say(f"  musterbook ingest --book {folder} FILES")


def ingest(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files, folders and zips.")],
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Take in troops' submissions and the organisation's feeds."""
    from pipelines.workflow import take_in  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    missing = [path for path in paths if not path.exists()]
    if missing:
        raise Stop(f"There is no {missing[0]}. Nothing was taken in.")
    with progress() as tell:
        outcomes = take_in.ingest(opened, paths, operator(), progress=tell, on_wait=say_aside)
    if as_json:
        say_json(outcomes)
    else:
        for outcome in outcomes:
            say_outcome(outcome)
        _say_totals(outcomes)
        _say_questions(opened, outcomes)
    if any(
        o.status not in ("taken in", "already taken in") or any(not f.is_note for f in o.findings) for o in outcomes
    ):
        raise typer.Exit(HELD)


def say_outcome(outcome: "Outcome") -> None:
    """What became of one file, and by which words the coordinator can answer what is asked about it."""
    from pipelines.definitions.asked import answers_to  # noqa: PLC0415
    from pipelines.messages.finding_lines import lines  # noqa: PLC0415 - the terminal answers sooner

    name, status, rows = outcome.name, outcome.status, outcome.rows
    held = f", {outcome.rows_held:,} of them held" if outcome.rows_held else ""
    counted = "row" if rows == 1 else "rows"
    say(f"{name}: {status}{f', {rows:,} {counted}{held}' if rows else ''}")
    listed = lines(outcome.findings)
    for line in listed[:SHOWN]:
        say(f"    {'note' if line.is_note else 'mend'}  {line.told()}")
    if len(listed) > SHOWN:
        say(f"    and {len(listed) - SHOWN:,} more; --json lists them all")
    for word, label in answers_to(outcome.findings).items():
        say(f"    answer  `musterbook answer {outcome.file_no} {word}`: {label[0].lower()}{label[1:]}")


def _say_totals(outcomes: "list[Outcome]") -> None:
    counts: dict[str, int] = {}
    for outcome in outcomes:
        counts[outcome.status] = counts.get(outcome.status, 0) + 1
    told = ", ".join(f"{count:,} {status}" for status, count in counts.items()) or "nothing to take in"
    say(f"{len(outcomes):,} {'file' if len(outcomes) == 1 else 'files'}: {told}.")


def _say_questions(book: "Book", outcomes: "list[Outcome]") -> None:
    """How many likely slips in typing the files just taken in raise, and of which troops."""
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.workflow.slip_questions import slips as slip_rules  # noqa: PLC0415

    came = [outcome.file_no for outcome in outcomes if outcome.status in ("taken in", "partly held")]
    if not came or not book.has_snapshot():
        return
    with looking_back.figures(book, COORDINATOR) as figures:
        asked = figures.troops_with_slips(slip_rules(), came, figures.days()[-1])
    if not asked:
        return
    troops = sorted(set(asked))
    slips = "1 likely slip" if len(asked) == 1 else f"{len(asked):,} likely slips"
    whose = f"troop{'' if len(troops) == 1 else 's'} {', '.join(troops[:SHOWN])}{', …' if len(troops) > SHOWN else ''}"
    say(f"{slips} to ask about: {whose}. `musterbook findings --troop {troops[0]}` says what to ask.")
