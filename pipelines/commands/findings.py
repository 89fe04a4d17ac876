"""`musterbook findings`: what is to mend in a file, as a list, as a text to send back, as a marked-up copy."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, known_troop, open_book, say, say_json, week
from pipelines.definitions.errors import Stop
from pipelines.store.book import Book

if TYPE_CHECKING:
    from pipelines.reports.findings_returned import Returned


def register(app: typer.Typer) -> None:
    app.command("findings")(findings)


def findings(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A troop's workbook to look over; nothing is taken in.")
    ] = None,
    troop: Annotated[str, typer.Option(metavar="TROOP", help="What came in of this troop, in place of a file.")] = "",
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="Of this week only: its number or ending day.")
    ] = "",
    marked_up: Annotated[
        Path | None,
        typer.Option("--marked-up", metavar="OUT.xlsx", help="Write a copy with a note on each cell to mend."),
    ] = None,
    text: Annotated[bool, typer.Option("--text", help="Print a text to send back.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Tell what is to mend in a workbook, and what may be a slip: of FILE, or of what is held."""
    opened = open_book(book)
    if file is not None and (troop or of_week):
        raise Stop("Name a file, or a troop and week, not both.")
    day = week(opened.season(), of_week) if of_week else None
    told = [_looked_over(opened, file)] if file else _landed(opened, troop, day, with_sheets=marked_up is not None)
    if marked_up is not None:
        _write(told, marked_up)
    if as_json:
        say_json([_plain(one) for one in told])
    else:
        for one in told:
            say(one.text() if text else _list(one))
        if not told:
            say("Nothing is held.")
    if any(not found.is_note for one in told for found in one.findings):
        raise typer.Exit(HELD)


def _looked_over(book: Book, file: Path) -> "Returned":
    """A file of this machine, judged as it would be if it came in."""
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.reports.findings_returned import of_preview  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.workflow.preview import preview  # noqa: PLC0415

    if not file.is_file():
        raise Stop(f"There is no file {file}.")
    with looking_back.figures(book, COORDINATOR) as figures, book.holding() as snapshot:
        people = figures.facts("troops")
        known = sorted({row["troop"] for row in [*people, *figures.facts("roster")]})
        found = preview(book.season(), known, file, file.name, snapshot)
    if found.what != "submission" and not found.findings:
        raise Stop(f"{file.name} is no troop's workbook. What is to mend in a table `musterbook ingest` tells.")
    leader = next((row["leader"] or "" for row in people if row["troop"] == found.troop), "")
    return of_preview(file.name, found, leader)


def _landed(book: Book, troop: str, day: date | None, *, with_sheets: bool) -> "list[Returned]":
    """What is held and was not sent again since, newest first; of a troop also what raises a question."""
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.reports import findings_returned  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner

    with looking_back.figures(book, COORDINATOR) as figures:
        known_troop(troop, {row["troop"] for row in figures.facts("troops")}, "findings")
        wanted = [
            (row["file_no"], row["unit"])
            for row in figures.files.held()
            if _fits(row, troop, day) and not row["is_replaced"]
        ]
        if not troop and day is None:
            wanted += [(row["file_no"], "") for row in figures.files.unread()]
        told = [(one, number) for number, unit in wanted if (one := findings_returned.of_landed(figures, number, unit))]
        if troop:
            newest: dict[date, int] = {}  # the newest file that counts of each of its weeks
            for row in figures.facts("versions", troop):
                if row["is_current"] and _fits(row, troop, day):
                    newest[row["week_ending"]] = max(newest.get(row["week_ending"], 0), row["file_no"])
            landed = [(findings_returned.of_landed(figures, number), number) for number in newest.values()]
            told += [(one, number) for one, number in landed if one and one.questions]
        if not with_sheets or len(told) != 1:
            return [one for one, _number in told]
        digest = (figures.files.one(told[0][1]) or {})["sha256"]
    return [findings_returned.with_sheets(told[0][0], book, digest)]


def _fits(row: dict[str, Any], troop: str, day: date | None) -> bool:
    return (not troop or row["troop"] == troop) and (day is None or row["week_ending"] == day)


def _write(told: "list[Returned]", out: Path) -> None:
    if len(told) != 1:
        which = "; ".join(
            f"--troop {one.troop} --week {one.week_ending} ({one.file_name})" for one in told if one.troop
        )
        raise Stop(f"A marked-up copy is of one file, and here are {len(told)}. {which}".strip())
    if out.suffix.lower() != ".xlsx":
        raise Stop(f"{out}: the copy is an .xlsx workbook; give it a name that ends so.")
    if out.exists():
        raise Stop(f"{out} is there already. Give the copy another name.")
    out.write_bytes(told[0].copy())


def _list(one: "Returned") -> str:
    from pipelines.messages.finding_lines import count_said  # noqa: PLC0415 - the terminal answers sooner

    parts = [f"troop {one.troop}" if one.troop else "", f"week to {one.week_ending}" if one.week_ending else ""]
    whose = ", ".join(part for part in parts if part)
    said = [f"{one.name}{f' ({whose})' if whose else ''}: {count_said(one.lines)}"]
    said += [f"    {'note' if line.is_note else 'mend'}  {line.told()}" for line in one.lines]
    said += [
        f"    ask   {f'{question.where}: ' if question.where else ''}{question.asked}" for question in one.questions
    ]
    return "\n".join(said)


def _plain(one: "Returned") -> dict[str, Any]:
    names = ("name", "troop", "week_ending", "findings", "questions")
    return {name: getattr(one, name) for name in names} | {"lines": one.lines, "text": one.text()}
