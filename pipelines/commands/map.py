"""`musterbook map`: files from elsewhere that wait, how they would be read; corrected, confirmed, taken back."""

import re
import shlex
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_aside, say_json
from pipelines.definitions.errors import Stop
from pipelines.store.book import operator

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipelines.definitions.records import Finding
    from pipelines.intake.elsewhere.reading_shown import Look
    from pipelines.store.book import Book
    from pipelines.workflow.foreign_files import Draft, Waiting
    from pipelines.workflow.take_in import Outcome

SHOWN = 10  # findings, held cells and rows that a terminal is shown at once


def register(app: typer.Typer) -> None:
    app.command("map")(map_)


def map_(
    which: Annotated[
        str, typer.Argument(metavar="[FILE]", help="A waiting file, by name or number; all if left out.")
    ] = "",
    table: Annotated[str, typer.Option(metavar="TABLE", help="The table that it is, such as supply.")] = "",
    sheet: Annotated[str | None, typer.Option(metavar="SHEET", help="The sheet that holds it.")] = None,
    header_rows: Annotated[int, typer.Option(min=0, max=2, help="Lines of its header, 1 or 2.")] = 0,
    column: Annotated[
        list[str] | None, typer.Option(metavar="COLUMN=HEADER", help="Which header feeds a column; empty: none.")
    ] = None,
    cell: Annotated[
        list[str] | None, typer.Option(metavar="COLUMN=B2", help="Which cell above the rows feeds a column.")
    ] = None,
    rows: Annotated[
        str, typer.Option(metavar="5-17", help="Its header's row and its last, where a sheet holds several tables.")
    ] = "",
    name: Annotated[
        list[str] | None,
        typer.Option(metavar="COLUMN=file", help="A column that the file's name tells, or the sheet's; with --form."),
    ] = None,
    form: Annotated[
        list[str] | None,
        typer.Option(metavar="COLUMN=FORM", help="The part of a cell that counts: `{} / *`, or `Troop {}`."),
    ] = None,
    constant: Annotated[
        list[str] | None, typer.Option(metavar="COLUMN=VALUE", help="What a column says in every row.")
    ] = None,
    value: Annotated[
        list[str] | None, typer.Option(metavar="WORD=MEANING", help="What a word means; or COLUMN:WORD=MEANING.")
    ] = None,
    item: Annotated[
        list[str] | None, typer.Option(metavar="HEADER=CODE", help="A column that holds one item's packages.")
    ] = None,
    dates: Annotated[
        list[str] | None,
        typer.Option(metavar="ORDER", help="day-first, month-first, year-first or serial; or COLUMN=ORDER."),
    ] = None,
    decimals: Annotated[list[str] | None, typer.Option(metavar="SIGN", help="point or comma; or COLUMN=SIGN.")] = None,
    by_case: Annotated[
        bool | None, typer.Option("--by-case/--by-package", help="Packages are stated in cases.")
    ] = None,
    pass_over: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="Rows that begin with just this are no rows; first, last.")
    ] = None,
    count: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="Rows that begin with this count after all.")
    ] = None,
    leave_out: Annotated[
        list[str] | None, typer.Option(metavar="HEADER", help="A header that is rightly used for nothing; * for all.")
    ] = None,
    confirm: Annotated[bool, typer.Option("--confirm", help="Keep the mapping and try what is held again.")] = False,
    drop: Annotated[bool, typer.Option("--drop", help="Throw away what was corrected so far.")] = False,
    take_back: Annotated[str, typer.Option(metavar="NAME", help="Use this confirmed mapping for no more files.")] = "",
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show how files from elsewhere would be read; correct it, which is kept; confirm it; take it back."""
    from pipelines.workflow import foreign_files, take_in  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.workflow.corrections import Corrections, corrected  # noqa: PLC0415

    opened = open_book(book)
    take_in.refresh(opened, operator())
    corrections = Corrections(
        table, sheet, header_rows, _pairs("column", column), _pairs("cell", cell), _pairs("form", form),
        _pairs("constant", constant), _listed("value", value), _pairs("item", item), tuple(dates or ()),
        tuple(decimals or ()), by_case, tuple(pass_over or ()), _rows(rows), _pairs("name", name),
        tuple(leave_out or ()), tuple(count or ()),
    )  # fmt: skip
    if take_back:
        _take_back(opened, take_back, as_json=as_json)
        return
    if not which:
        if confirm or corrections != Corrections():
            raise Stop("Name the file that this is for: `musterbook map FILE --confirm`.")
        _list(opened, as_json=as_json)
        return
    known = foreign_files.hints(opened)
    file = foreign_files.chosen(opened, which)
    if drop:
        foreign_files.drop(opened, file)
    draft = corrected(opened, file, known, corrections)
    if confirm:
        with progress() as tell:
            outcomes = foreign_files.confirm(opened, draft, operator(), progress=tell, on_wait=say_aside)
        _say_confirmed(draft, outcomes, as_json=as_json)
    else:
        found = draft.forecast()
        if as_json:
            say_json(_for_machines(draft, found))
        else:
            _say_draft(draft, found)
    if not confirm or any(one.status != "taken in" for one in outcomes if one.file_no == draft.file.file_no):
        raise typer.Exit(HELD)


def _pairs(option: str, given: list[str] | None) -> dict[str, str]:
    """`COLUMN=VALUE` options; raises Stop where one has no `=`, or one name stands twice."""
    pairs: dict[str, str] = {}
    for name, said in _listed(option, given):
        if name in pairs:
            raise Stop(f"--{option} {name} is said twice: {pairs[name]} and {said}. Say one of them.")
        pairs[name] = said
    return pairs


def _listed(option: str, given: list[str] | None) -> tuple[tuple[str, str], ...]:
    for one in given or ():
        if "=" not in one:
            raise Stop(f'--{option} {one}: type it with an equals sign, such as --{option} "A=B".')
    return tuple((one.rpartition("=")[0].strip(), one.rpartition("=")[2].strip()) for one in given or ())


def _rows(given: str) -> tuple[int, int] | tuple[()]:
    """`5-17` as two numbers; raises Stop."""
    if not given:
        return ()
    found = re.fullmatch(r"(\d{1,6})\s*[-:\u2013]\s*(\d{1,6})", given.strip())
    if not found:
        raise Stop(f"--rows {given}: type the header's row and the last row, such as --rows 5-17.")
    return int(found[1]), int(found[2])


def _take_back(book: "Book", name: str, *, as_json: bool) -> None:
    from pipelines.workflow import foreign_files  # noqa: PLC0415

    with progress() as tell:
        done = foreign_files.take_back(book, name, operator(), progress=tell, on_wait=say_aside)
    if as_json:
        say_json(done)
        return
    for line in done.said:
        say(line)


def _list(book: "Book", *, as_json: bool) -> None:
    """Every file that waits, with its proposal."""
    from pipelines.workflow import foreign_files  # noqa: PLC0415

    files, known = foreign_files.waiting(book), foreign_files.hints(book)
    waits = [one for one in files if not one.is_read]
    told: list[dict[str, Any]] = []
    for file in waits:
        draft = foreign_files.drafted(book, file, known)
        if as_json:
            told.append(
                _for_machines(draft, draft.forecast()) if draft else {"file": file.name, "file_no": file.file_no}
            )
        elif draft:
            _say_draft(draft, draft.forecast())
        else:
            say(f"{file.file_no}  {file.name}: holds nothing like a table. Send it again as one; or, if it came by")
            say(f'   mistake, ask no more about it: `musterbook dismiss "{file.name}"`.')
    if as_json:
        say_json(told)
    elif not waits:
        say("No file waits for a mapping.")
    if waits:
        raise typer.Exit(HELD)


def _for_machines(draft: "Draft", found: "Look") -> dict[str, Any]:
    return {
        "file": draft.file.name,
        "file_no": draft.file.file_no,
        "sheet": draft.sheet.name,
        "header_row": draft.head.row + 1,
        "name": draft.name,
        "mapping": found.mapping.model_dump(exclude_defaults=True),
        "lines": found.lines,
        "questions": found.questions,
        "rows": found.rows,
        "rows_read": found.rows_read,
        "rows_held": found.rows_held,
        "findings": found.findings,
        "is_draft": draft.is_kept,
        "may_be_confirmed": found.may_be_confirmed,
    }


def _say_draft(draft: "Draft", found: "Look") -> None:
    file: Waiting = draft.file
    where = f", sheet {draft.sheet.name}" if draft.sheet.name else ""
    say(f"{file.file_no}  {file.name}{where}: {found.mapping.of.a_row_is} ({found.mapping.table}), header in row "
        f"{draft.head.row + 1}")  # fmt: skip
    width = max(len(line.column) for line in found.lines)
    for line in found.lines:
        if not line.fed_by and not line.is_needed:
            continue
        shown = "; ".join(
            was if was == now else f"{was} → {now or 'not read'}"
            for was, now in zip(line.samples, line.read, strict=True)
        )
        unread = f"   {line.unread:,} cells not read" if line.unread else ""
        say(f"    {line.column:<{width}}  ← {line.fed_by or 'nothing yet'}{f':  {shown}' if shown else ''}{unread}")
    unused = [label for label in draft.head.labels if label not in found.used]
    if unused:
        listed = ", ".join(unused[:SHOWN]) + (f" and {len(unused) - SHOWN:,} more" if len(unused) > SHOWN else "")
        say(f"    not used: {listed}")
    say(f"    {found.rows_read:,} rows, {found.rows_held:,} of them would be held")
    _say_findings(found.findings)
    for question in found.questions:
        choices = "; ".join(f"{way}{f' = {means}' if means else ''}" for way, means in question.choices.items())
        say(f"    {'ask ' if question.stops else 'note'}  {question.said}{f'  ({choices})' if choices else ''}")
    if draft.is_kept:
        say(f"    Kept as a draft. `musterbook map {file.file_no} --drop` begins anew.")
    say(f"    {_next_step(draft, found)}")


def _next_step(draft: "Draft", found: "Look") -> str:
    """The command that does what was shown."""
    words = ["musterbook", "map", str(draft.file.file_no)]
    if found.may_be_confirmed:
        command = f"`{shlex.join([*words, '--confirm'])}`"
        if not found.rows_held:
            return f"Right so? {command}"
        return f"Those rows would wait until they are mended. To take the rest in: {command}"
    stops = [one for one in found.questions if one.stops]
    if all(one.about == "left_over" for one in stops):
        for label in stops[0].choices:
            words += ["--leave-out", label]
        return f"To leave them out: `{shlex.join([*words, '--confirm'])}`"
    if stops[0].about == "table":
        each = " or ".join(f"--table {name}" for name in stops[0].choices)
        return f"Say which: `{shlex.join(words)} {each}`."
    return "Say what is asked, then add --confirm."


def _say_findings(findings: "Sequence[Finding]") -> None:
    """What was found, what is to mend first."""
    listed = sorted(findings, key=lambda one: one.is_note)
    for finding in listed[:SHOWN]:
        place = " ".join(part for part in (finding.sheet, finding.cell) if part)
        mark = "note" if finding.is_note else "mend"
        told = f"found {finding.found}; expected {finding.expected}. {finding.how}"
        say(f"    {mark}  {place + ': ' if place else ''}{told}")
    if len(listed) > SHOWN:
        say(f"    and {len(listed) - SHOWN:,} more; --json lists them all")


def _say_confirmed(draft: "Draft", outcomes: "list[Outcome]", *, as_json: bool) -> None:
    if as_json:
        say_json(outcomes)
        return
    say(f"mappings/{draft.name} is kept and used by itself for files with these headers. Tried again:")
    waits = [one for one in outcomes if not one.rows and one.file_no != draft.file.file_no]
    for one in outcomes:
        if one in waits:
            continue
        held = f", {one.rows_held:,} of them held" if one.rows_held else ""
        say(f"{one.name}: {one.status}{f', {one.rows:,} rows{held}' if one.rows else ''}")
        _say_findings(one.findings)
    if waits:
        say(f"{len(waits):,} other files still wait or are held: `musterbook map` lists those that wait for a mapping.")
