"""One file on its way: its bytes landed, its cells read, its tables recognised, judged and stored.

Comes in: parcels, a writer's connection, the season and the mappings (Rules).
Goes out: rows of the landed tables. Called by flow alone.

What is foreign is told by what landed: files.what stays `foreign`, and the file waits as long as it has no unit. When a
file of which something is held is read by a changed mapping, rows that landed are left out, told where they would be
read otherwise now, and a row that would join a unit already closed is held by itself.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from itertools import accumulate
from pathlib import Path
from queue import Empty, SimpleQueue

import pyarrow as pa

from pipelines.definitions.columns import Table
from pipelines.definitions.contract import MAY_STAND_TWICE, OWN_PAGE, WIDE_SHEETS
from pipelines.definitions.limits import BULK, MOST_FINDINGS_OF_A_WEEK, TROOP, Limits
from pipelines.definitions.records import Finding, Reading, Sheet
from pipelines.definitions.season import Season
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.intake.elsewhere.headers import Head
from pipelines.intake.elsewhere.mapping import Mappings
from pipelines.intake.elsewhere.read_through import Given, take_mapped
from pipelines.intake.elsewhere.rows_apart import part_read, unread
from pipelines.intake.files import file_kinds
from pipelines.intake.files.extent import over_limit
from pipelines.intake.files.parcels import Parcel
from pipelines.intake.files.readers import Reader, finding_of
from pipelines.intake.judging.checks import Staged, judge_raw
from pipelines.intake.judging.codes import Codes, Roster
from pipelines.intake.judging.joined_sheets import joined
from pipelines.intake.judging.judge import Known, shown
from pipelines.intake.judging.tables import (
    Headed,
    Raw,
    any_filled,
    body_of,
    is_empty,
    is_submission,
    nearest,
    recognised,
    take_table,
    told_above,
)
from pipelines.intake.judging.workbooks import Workbooks
from pipelines.landing import alike, landed_rows, which_workbook
from pipelines.landing.alike import Said
from pipelines.landing.kept_answers import Answers
from pipelines.landing.landed_rows import Placed
from pipelines.store.book import Book
from pipelines.store.engine import Connection

Progress = Callable[[str, int, int], None]  # what is being done, how far, of how many
WORKBOOKS = (".xlsx", ".xlsm", ".ods", ".xls")
MANY = 30  # files for which a second reader is worth its start
STATEMENT = Finding(
    "", "", "a bank's statement", "the lines of it that are the sale's",
    "Nothing of it was kept. Look at its lines and choose them on the screen Bank, or with `musterbook bank`.",
)  # fmt: skip
MOST_LACKING = 2  # headers of a table that a sheet may lack and still look like it
FIRST = ("troops", "roster")  # feeds that say which troops there are


@dataclass(frozen=True, slots=True)
class Rules:
    """What files are judged by: the season, the mappings of files from elsewhere, what was answered about a file."""

    season: Season
    mappings: Mappings
    participants: Roster = field(default_factory=dict)  # of a roster that has not landed here
    answers: Answers = field(default_factory=dict)


@dataclass
class Opened:
    """A file on its way: its bytes landed, its sheets read."""

    name: str
    sha256: str
    size: int
    path: Path
    file_no: int = 0
    reading: Reading = field(default_factory=Reading)
    tables: list[Raw] = field(default_factory=list)
    findings: list[Placed] = field(default_factory=list)
    what: str = "unknown"
    is_stopped: bool = False  # what was found of it as a whole holds every row
    saved_at: datetime | None = None  # the file's own time of last change


@dataclass(frozen=True, slots=True)
class Refused:
    """A parcel that does not land: its bytes are there already, or cannot be read."""

    name: str
    status: str
    findings: list[Finding]
    sha256: str = ""


def land(
    book: Book, con: Connection, parcels: Sequence[Parcel], progress: Progress, *, lands_again: bool = False
) -> tuple[list[Opened], list[Refused]]:
    """Keeps the bytes of each parcel; those that are new are opened, the rest are told with the reason.

    `lands_again`: a workbook that something newer took the place of is a new word where it is sent again.
    """
    known = landed_rows.known_hashes(con)
    if lands_again:
        known -= landed_rows.superseded_hashes(con)
    opened: list[Opened] = []
    refused: list[Refused] = []
    for number, parcel in enumerate(parcels, 1):
        progress("Keeping files", number, len(parcels))
        payload, finding = parcel.payload, parcel.finding
        if payload is None and finding is None and parcel.path is not None:
            try:
                payload = parcel.path.read_bytes()
            except OSError as fault:
                finding = Finding(
                    "",
                    "",
                    fault.strerror or "an unreadable file",
                    "a file that can be read",
                    "Check that the file is still there and may be read.",
                )
        if payload is not None and file_kinds.is_statement(payload[: file_kinds.HEAD_BYTES]):
            payload, finding = None, STATEMENT
        if payload is None:
            refused.append(Refused(parcel.name, "not read", [finding] if finding else []))
            continue
        digest, path = book.land(payload)
        if digest in known:
            refused.append(Refused(parcel.name, "already taken in", [], digest))
            continue
        known.add(digest)
        at = which_workbook.saved_at(parcel.saved_at)
        opened.append(Opened(parcel.name, digest, len(payload), path, saved_at=at))
    return opened, refused


def read(opened: Sequence[Opened], progress: Progress, limits: Limits = BULK) -> None:
    """Reads every file's cells and tells which table each sheet is; a file over one of the limits is told of."""
    if not opened:
        return
    workers = 2 if len(opened) >= MANY else 1
    shares = _shared_out(opened, workers)
    arrived: SimpleQueue[tuple[int, Opened]] = SimpleQueue()

    def take(share: int) -> None:
        mine = [(number, one) for number, one in enumerate(opened, 1) if shares[number - 1] == share]
        with Reader(limits) as reader:
            for (number, one), reading in zip(
                mine, reader.read_all([(one.path, one.name) for _, one in mine]), strict=True
            ):
                one.reading = reading
                arrived.put((number, one))

    with ThreadPoolExecutor(workers) as threads:
        taking = [threads.submit(take, share) for share in range(workers)]
        pa.array([0])  # what Arrow loads for its first array (0.2 s) it may load while the readers work
        for done in range(1, len(opened) + 1):
            while True:
                try:
                    number, one = arrived.get(timeout=1)
                    break
                except Empty:
                    for future in taking:
                        if future.done():
                            future.result()  # what stopped a reader stops us
            _recognise(one, number)
            progress("Reading", done, len(opened))


def _shared_out(opened: Sequence[Opened], workers: int) -> list[int]:
    """Which reader takes which file: one takes all tables, since each that does must load what reads them."""
    is_workbook = [one.name.lower().endswith(WORKBOOKS) for one in opened]
    every = workers if all(is_workbook) else workers + 3
    nth = accumulate(is_workbook)
    return [int(workers > 1 and is_one and n % every != 0) for is_one, n in zip(is_workbook, nth, strict=True)]


def _recognise(one: Opened, number: int) -> None:
    """Tells what a file is: a submission, feeds or bulk tables, foreign or unknown; `number` stands in for its own."""
    one.file_no = number
    one.findings = [Placed(number, "", "", finding) for finding in one.reading.findings]
    one.tables = []
    sheets = one.reading.sheets
    if not sheets:
        return
    if is_submission(sheets):
        if over := over_limit(sheets, TROOP):  # whichever way it came
            one.reading = Reading(findings=[*one.reading.findings, finding_of(over)])
            one.findings.append(Placed(number, "", "", finding_of(over)))
            return
        one.what = "submission"
        return
    passed = [sheet for sheet in sheets if not _by_contract(one, sheet)]
    if one.tables:
        _pass_over(one, passed, "the headers of a table that is known")
    _name(one)


def _by_contract(one: Opened, sheet: Sheet) -> bool:
    """Takes a sheet whose headers are the contract's."""
    head = recognised(sheet, one.name)
    if head and _is_mostly_other(sheet, head):
        return False
    if head:
        raw, findings = take_table(one.file_no, sheet, head)
        _take(one, raw, [*told_above(sheet, head.header_row), *findings])
    return head is not None


def _is_mostly_other(sheet: Sheet, head: Headed) -> bool:
    """Whether more filled columns would be left over than are read: a roster's codes are no table of troops."""
    named = [place for place, header in head.extras.items() if header]
    if len(named) < len(head.places):
        return False
    cells, _row_nos = body_of(sheet, head.header_row + 1)
    return sum(any(any_filled([cells[at]], len(cells[at]))) for at in named if at < len(cells)) >= len(head.places)


def _take(one: Opened, raw: Raw, findings: Sequence[Finding]) -> None:
    one.tables.append(raw)
    one.findings += [Placed(one.file_no, raw.table.name, "", finding) for finding in findings]


def _name(one: Opened) -> None:
    """Says what a file is by the tables found in it; one without any is foreign, and told so."""
    if one.tables:
        one.what = "feed" if all(raw.table.is_feed for raw in one.tables) else "bulk"
        if not any(len(raw) for raw in one.tables):
            how = "Send it with its rows; where nothing happened, nothing needs to be sent."
            empty = Finding(one.reading.sheets[0].name, "", "no rows below the header", "rows", how)
            one.findings.append(Placed(one.file_no, one.tables[0].table.name, "", empty))
        return
    one.what = "foreign"
    sheet = one.reading.sheets[0]
    near = nearest(sheet)
    lacking = f"It comes nearest to {near[0].name}, but lacks {', '.join(near[1])}. " if near and near[1] else ""
    how = f"{lacking}Say how its columns are read: on Submissions, or by `musterbook map`."
    expected = "headers that are known"
    one.findings.append(
        Placed(one.file_no, "", "", Finding(sheet.name, "A1", "headers that are not known", expected, how))
    )


def translate(opened: Sequence[Opened], rules: Rules) -> None:
    """Reads the sheets for whose headers a mapping was confirmed through it; every other stays as it is."""
    if not rules.mappings:
        return
    for one in opened:
        if one.what == "submission" or not one.reading.sheets:
            continue
        found = [(sheet, rules.mappings.for_sheet(sheet, one.sha256)) for sheet in one.reading.sheets]
        if not any(parts for _sheet, parts in found):
            continue
        one.findings = [Placed(one.file_no, "", "", finding) for finding in one.reading.findings]
        one.tables, one.is_stopped = [], False
        for sheet, parts in found:
            for head, names in parts:
                for name in names:
                    given = Given(name, rules.mappings.named[name], rules.season, one.file_no, one.name)
                    raw, told = take_mapped(given, sheet, head)
                    _take(one, raw, told)
                    one.is_stopped |= any(not finding.is_note for finding in told)
            lost = [*unread(sheet, _read_of(sheet, parts, rules))]
            one.findings += [Placed(one.file_no, "", "", finding) for finding in lost]
            one.is_stopped |= bool(lost)
            if not parts and not _by_contract(one, sheet):
                _pass_over(one, [sheet], "those of a mapping")
        _name(one)


def _read_of(sheet: Sheet, parts: Sequence[tuple[Head, list[str]]], rules: Rules) -> list[tuple[Head, Sheet]]:
    """Of a sheet that mappings read in parts, each header with the part below it; [] where it is read as one."""
    named = rules.mappings.named
    untils = [(head, named[name].until) for head, names in parts for name in names]
    return [(head, part_read(sheet, head, until)[0]) for head, until in untils if until]


def _pass_over(one: Opened, sheets: Sequence[Sheet], expected: str) -> None:
    """Notes which sheets count for nothing, beside others that do; one that looks like a table of ours is asked."""
    for sheet in sheets:
        near = nearest(sheet) if _is_seen(sheet) else None
        if near and len(near[1]) <= MOST_LACKING and len(near[0].folded_required) > 2 * len(near[1]):
            how = f"It lacks {', '.join(near[1])}. Give it these headers, or take the sheet out: it was not read."
            found = f"a sheet with rows like those of {near[0].title}"
            one.findings.append(Placed(one.file_no, "", "", Finding(sheet.name, "", found, expected, how)))
        elif _is_seen(sheet):
            how = "This sheet was passed over; nothing in it was counted."
            passed = Finding(sheet.name, "", "a sheet of other headers", expected, how, is_note=True)
            one.findings.append(Placed(one.file_no, "", "", passed))


def _is_seen(sheet: Sheet) -> bool:
    return not sheet.is_hidden and any(not is_empty(cell) for row in sheet.rows or [] for cell in row)


def judge(con: Connection, rules: Rules, opened: Sequence[Opened], at: datetime, progress: Progress) -> None:
    """Judges and lands all tables: feeds that name troops first, then the other feeds, then submissions.

    The cells of a table are let go of once it has landed: those of ten thousand troops are gigabytes.
    """
    words = {one.file_no: rules.answers.get(one.sha256, ()) for one in opened}
    tables: list[Raw] = []
    for one in opened:
        one.findings = [Placed(one.file_no, p.table_name, p.unit, p.finding) for p in one.findings]
        of_table: dict[str, list[Raw]] = {}
        for raw in one.tables:
            raw.file_nos = one.file_no
            of_table.setdefault(raw.table.name, []).append(raw)
        tables += [joined(raws) for raws in of_table.values()]
        if one.what != "submission":
            one.tables, one.reading = [], Reading()
    tables.sort(key=lambda raw: (_place(raw.table), raw.file_no(0)))
    found: list[Placed] = [placed for one in opened for placed in one.findings]
    whole = {one.file_no for one in opened if one.is_stopped}
    whole |= {placed.file_no for placed in found if not placed.unit and not placed.finding.is_note}
    many = len(tables)
    for number in range(1, many + 1):
        raw = tables.pop(0)
        progress("Checking tables", number, many)
        known = _known(con, rules, defines_troops=raw.table.name in FIRST)
        found += _land_table(con, raw, judge_raw(raw, known), at, words.__getitem__, whole)
    workbooks = [one for one in opened if one.what == "submission"]
    if workbooks:
        progress("Checking workbooks", 0, 1)
        found += _land_workbooks(con, rules, workbooks, at, words.__getitem__, whole)
        progress("Checking workbooks", 1, 1)
    landed_rows.write_findings(con, found, at)


def _known(con: Connection, rules: Rules, *, defines_troops: bool = False) -> Known:
    """What a table is judged by: the codes of all troops and of the roster, here and elsewhere."""
    participants = {**rules.participants, **landed_rows.known_participants(con)}
    codes = Codes(participants, rules.season.season.participant_pattern)
    return Known(rules.season, landed_rows.known_troops(con), defines_troops, codes)


def _place(table: Table) -> int:
    return FIRST.index(table.name) if table.name in FIRST else len(FIRST)


def _land_table(
    con: Connection, raw: Raw, staged: Staged, at: datetime, answered: Said, whole: set[int]
) -> list[Placed]:
    """Lands one feed or bulk table, unit by unit; `whole`: files that are held as they are."""
    landed_rows.stage(con, staged.rows)
    landed_rows.write_places(con, raw.table, raw.places())
    late: list[tuple[int, str]] = []
    otherwise = 0
    if raw.is_mapped:
        otherwise, late = landed_rows.left_as_taken(con, raw.table, raw.file_no(0))
    units = staged.rows.column("unit")
    file_no = raw.file_no(0)
    placed = [Placed(file_no, raw.table.name, units[row].as_py(), finding) for row, finding in staged.findings]
    if raw.table.is_feed and (missing := landed_rows.rows_missing(con, raw.table, file_no)):
        placed.append(Placed(file_no, raw.table.name, "", _missing(raw, missing)))
    if landed_rows.has_doubles(con, raw.table):
        placed += [
            Placed(file_no, raw.table.name, unit, _twice(raw, row))
            for row, unit in landed_rows.twice_with_different_values(con, raw.table)
        ]
        placed += [
            Placed(file_no, raw.table.name, units[row].as_py(), finding)
            for row, finding in alike.take_doubles(con, raw, answered)
        ]
    placed += [
        Placed(file_no, raw.table.name, unit, finding) for unit, finding in alike.ask_for_parts(con, raw, answered)
    ]
    if raw.table.name == "roster":
        placed += [
            Placed(file_no, "roster", unit, _both(raw, row, other))
            for row, unit, other in landed_rows.in_two_troops(con)
        ]
    if otherwise:
        placed.append(Placed(file_no, raw.table.name, "", _taken_otherwise(raw, otherwise)))
    placed += [Placed(file_no, raw.table.name, unit, _late(raw, row)) for row, unit in late]
    bad = {(file_no, p.unit) for p in placed if not p.finding.is_note}
    bad |= {(file_no, unit) for unit in landed_rows.units_with_bad_rows(con)}
    bad |= {(file_no, "")} if file_no in whole else set()
    landed_rows.store(con, raw.table, at, bad_units=bad)
    alike.add_parts(con, raw.table, file_no, answered(file_no))
    return placed


def _twice(raw: Raw, row: int) -> Finding:
    key = (
        raw.table.key[-1]
        if raw.table.is_feed or raw.table.key[-1] not in ("item",) or raw.table.name == "stock"
        else raw.table.key[2]
    )
    told = " ".join(shown(raw.found(row, name)) for name in raw.table.key if raw.found(row, name) is not None)
    return Finding(
        raw.sheet(row),
        raw.cell(row, key),
        f"{told} a second time, with other values",
        "one row for each",
        "Keep the row that is right.",
    )


def _taken_otherwise(raw: Raw, rows: int) -> Finding:
    how = "They stay as they were taken in; to have them read anew, export the file again and send it."
    found = f"{rows:,} rows that an earlier mapping read otherwise"
    return Finding(raw.sheet(0), "", found, "the rows as they were taken in", how, is_note=True)


def _late(raw: Raw, row: int) -> Finding:
    cell = raw.cell(row, raw.table.unit[0])
    how = "What it belongs to was taken in without it: export the file again and send it."
    return Finding(raw.sheet(row), cell, "a row that an earlier mapping read otherwise", "rows read as before", how)


def _missing(raw: Raw, missing: int) -> Finding:
    how = "They were kept and still count; ask the organisation where they should not."
    found = f"{missing:,} rows fewer than earlier files of {raw.table.name}"
    return Finding(raw.sheets if isinstance(raw.sheets, str) else "", "", found, "every row so far", how, is_note=True)


def _both(raw: Raw, row: int, other: str) -> Finding:
    code = raw.found(row, "participant")
    return Finding(
        raw.sheet(row),
        raw.cell(row, "participant"),
        f"{code}, who is in troop {other} at the same time",
        f"one troop for a code that is not {OWN_PAGE}",
        "Say when the participant left the one troop.",
    )


def _land_workbooks(
    con: Connection, rules: Rules, workbooks: Sequence[Opened], at: datetime, answered: Said, whole: set[int]
) -> list[Placed]:
    """Lands troops' workbooks, each accepted or held as a whole; `whole`: files that are held whatever they hold."""
    gathered = Workbooks(rules.season)
    placed: list[Placed] = []
    for one in workbooks:
        placed += [Placed(one.file_no, "", "", finding) for finding in gathered.take(one.file_no, one.reading.sheets)]
    known = _known(con, rules)
    covers = gathered.raw("cover")
    cover = judge_raw(covers, known)
    troops, weeks = cover.rows.column("troop").to_pylist(), cover.rows.column("week_ending").to_pylist()
    of_file = {covers.file_no(k): (troops[k], weeks[k]) for k in range(len(covers))}
    staged: list[tuple[Table, Raw, Staged]] = [(covers.table, covers, cover)]
    for table in SUBMISSION_TABLES[1:]:
        raw = gathered.raw(table.name)
        nos = [raw.file_no(k) for k in range(len(raw))]
        given: dict[str, list[object]] = {
            "troop": [of_file.get(n, (None, None))[0] for n in nos],
            "week_ending": [of_file.get(n, (None, None))[1] for n in nos],
        }
        staged.append((table, raw, judge_raw(raw, known, given)))
    doubled: set[str] = set()
    for table, raw, judged in staged:
        placed += [Placed(raw.file_no(row), table.name, "", finding) for row, finding in judged.findings]
        if table.name != "cover" and _may_have_doubles(table, judged.rows):
            doubled.add(table.name)
            landed_rows.stage(con, judged.rows)
            again = [] if table.name in WIDE_SHEETS else landed_rows.twice_with_different_values(con, table)
            placed += [Placed(raw.file_no(row), table.name, "", _twice(raw, row)) for row, _unit in again]
            found = alike.take_doubles(con, raw, answered)
            placed += [Placed(raw.file_no(row), table.name, "", finding) for row, finding in found]
    placed += _without_stock(staged[1][1], workbooks)
    placed += which_workbook.ask(con, workbooks, of_file, answered)
    bad = {(p.file_no, "") for p in placed if not p.finding.is_note} | {(file_no, "") for file_no in whole}
    for table, raw, judged in staged:
        landed_rows.write_places(con, table, raw.places())
        landed_rows.stage(con, judged.rows)
        if table.name in doubled:
            alike.take_doubles(con, raw, answered)
        landed_rows.store(con, table, at, bad_units=bad, files=[one.file_no for one in workbooks])
    landed_rows.name_weeks(con, of_file)
    return [one for several in _by_file(placed) for one in _as_many_as_are_kept(several)]


def _by_file(placed: Sequence[Placed]) -> Iterator[list[Placed]]:
    by_file: dict[int, list[Placed]] = {}
    for one in placed:
        by_file.setdefault(one.file_no, []).append(one)
    yield from by_file.values()


def _as_many_as_are_kept(placed: Sequence[Placed]) -> Iterator[Placed]:
    """The first findings of a workbook and its first notes, and how many more of each there are."""
    for is_note, what in ((False, "things to mend"), (True, "things to know")):
        found = [one for one in placed if one.finding.is_note == is_note]
        yield from found[:MOST_FINDINGS_OF_A_WEEK]
        more = len(found) - MOST_FINDINGS_OF_A_WEEK
        if more > 0:
            how = "Mend the first ones and send it again."
            yield Placed(found[0].file_no, "", "", Finding("", "", f"{more:,} more {what}", "the same", how, is_note))


def _may_have_doubles(table: Table, rows: pa.Table) -> bool:
    """Whether a key may stand twice in one workbook: told in Arrow, which costs no staging."""
    names = ["file_no", *(table.key or (table.names if table.name in MAY_STAND_TWICE else ()))]
    if len(names) == 1:
        return False
    return bool(rows.select(names).group_by(names).aggregate([]).num_rows < rows.num_rows)


def _without_stock(stock: Raw, workbooks: Sequence[Opened]) -> Iterator[Placed]:
    with_rows = set(stock.file_nos if isinstance(stock.file_nos, list) else [])
    for one in workbooks:
        if one.file_no not in with_rows:
            finding = Finding(
                "Stock",
                "",
                "no rows",
                "a row for each stocked item",
                "Without a row of stock the week does not count as reported.",
                is_note=True,
            )
            yield Placed(one.file_no, "stock", "", finding)
