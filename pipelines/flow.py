"""The whole path in order, one function a stage: files → landed → accepted → facts → measures → published.

Comes in: a book and paths. Goes out: what became of each file; a new snapshot.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

from pipelines import landed, warehouse
from pipelines.book import Book, now
from pipelines.contract import OWN_PAGE, SUBMISSION_TABLES, TABLES, Table
from pipelines.errors import BrokenSeason
from pipelines.intake.checks import Staged, judge_raw
from pipelines.intake.judge import Known
from pipelines.intake.parcels import Parcel, unpack
from pipelines.intake.readers import Reader
from pipelines.intake.tables import Raw, Workbooks, is_submission, nearest, recognised, take_table
from pipelines.landed import Arrival, Placed
from pipelines.measures import Figures, Viewer
from pipelines.records import Finding, Reading
from pipelines.season import Season, read_season
from pipelines.warehouse import Connection

Progress = Callable[[str, int, int], None]  # what is being done, how far, of how many
FIRST = ("troops", "roster")  # feeds that say which troops there are


@dataclass
class Outcome:
    """What became of one file: taken in, partly held, held, already taken in, or not read."""

    name: str
    file_no: int = 0
    what: str = ""
    status: str = ""
    rows: int = 0
    rows_held: int = 0
    packages_held: int = 0
    dollars_held: str = "0.00"
    findings: list[Finding] = field(default_factory=list)


@dataclass
class _Opened:
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


def silent(_what: str, _done: int, _of: int) -> None:
    """Progress that is told to nobody."""


def ingest(book: Book, paths: Iterable[Path], sender: str, *, progress: Progress = silent,
           on_wait: Callable[[str], None] = lambda _said: None) -> list[Outcome]:  # fmt: skip
    """Takes in files, folders and zips; publishes when anything changed. One Outcome a file, in the order landed."""
    parcels = list(unpack(paths))
    with book.writing(on_wait) as con:
        at = _time(con)
        season, season_changed = _land_season(book, con, at, sender)
        opened, outcomes = _land(book, con, parcels, progress)
        _read(opened, progress)
        opened.sort(key=lambda one: (one.what != "feed", one.name))
        first = landed.last_landed(con)[0] + 1
        for number, one in enumerate(opened, first):
            one.file_no = number
        with warehouse.transaction(con):
            landed.land_files(con, [Arrival(o.file_no, o.sha256, o.name, o.size, at, sender, o.what) for o in opened])
            _judge(con, season, opened, at, progress)
        if season_changed or any(one.what == "feed" for one in opened):
            _judge_held_again(book, con, season, at, {one.file_no for one in opened})
        outcomes += _outcomes(con, [one.file_no for one in opened])
        if opened or season_changed or not _is_published(book, con, season):
            publish(book, con, season, progress)
    return outcomes


def refresh(book: Book, sender: str, on_wait: Callable[[str], None] = lambda _said: None) -> None:
    """Publishes again where the season changed, or a writer stopped between taking in and publishing."""
    with book.writing(on_wait) as con:
        at = _time(con)
        season, changed = _land_season(book, con, at, sender)
        if changed:
            _judge_held_again(book, con, season, at, set())
        if changed or not _is_published(book, con, season):
            publish(book, con, season)


def _time(con: Connection) -> datetime:
    """Now, but never before what has already landed: a clock set back must not reorder the past."""
    last = landed.last_landed(con)[1]
    return max(now(), last + timedelta(microseconds=1)) if last else now()


def _land_season(book: Book, con: Connection, at: datetime, sender: str) -> tuple[Season, bool]:
    """The season as it stands, landed where it changed; refuses a change that accepted rows speak against."""
    season = book.season()
    payload = book.season_file.read_bytes()
    digest, _path = book.land(payload)
    done = con.execute("select sha256 from landed.files where what = 'season' order by file_no desc limit 1").fetchall()
    if done and done[0][0] == digest:
        return season, False
    gone = landed.items_named(con) - set(season.codes)
    if gone:
        raise BrokenSeason(f"season.toml: items: {', '.join(sorted(gone))} cannot go: rows already taken in name it.")
    file_no = landed.last_landed(con)[0] + 1
    known = con.execute("select 1 from landed.files where sha256 = ?", [digest]).fetchall()
    name = "season.toml" if not known else f"season.toml, again as in {digest[:12]}"
    mark = digest if not known else f"{digest}@{file_no}"
    landed.land_files(con, [Arrival(file_no, mark, name, len(payload), at, sender, "season")])
    return season, True


def _land(book: Book, con: Connection, parcels: Sequence[Parcel], progress: Progress) -> tuple[list[_Opened], list[Outcome]]:
    known = landed.known_hashes(con)
    opened: list[_Opened] = []
    outcomes: list[Outcome] = []
    for number, parcel in enumerate(parcels, 1):
        progress("Keeping files", number, len(parcels))
        payload, finding = parcel.payload, parcel.finding
        if payload is None and finding is None and parcel.path is not None:
            try:
                payload = parcel.path.read_bytes()
            except OSError as fault:
                finding = Finding("", "", fault.strerror or "an unreadable file", "a file that can be read",
                                  "Check that the file is still there and may be read.")  # fmt: skip
        if payload is None:
            outcomes.append(Outcome(parcel.name, status="not read", findings=[finding] if finding else []))
            continue
        digest, path = book.land(payload)
        if digest in known:
            outcomes.append(Outcome(parcel.name, status="already taken in"))
            continue
        known.add(digest)
        opened.append(_Opened(parcel.name, digest, len(payload), path))
    return opened, outcomes


def _read(opened: Sequence[_Opened], progress: Progress) -> None:
    """Reads every file's cells and tells which table each sheet is."""
    if not opened:
        return
    with Reader() as reader:
        for number, (one, reading) in enumerate(zip(opened, reader.read_all((o.path, o.name) for o in opened), strict=True), 1):
            progress("Reading", number, len(opened))
            one.reading = reading
            _recognise(one, number)


def _recognise(one: _Opened, number: int) -> None:
    """Finds out what a file is: a submission, feeds or bulk tables, or unknown; `number` stands in until it has its own."""
    one.file_no = number
    one.findings = [Placed(number, "", "", finding) for finding in one.reading.findings]
    sheets = one.reading.sheets
    if not sheets:
        return
    if is_submission(sheets):
        one.what = "submission"
        return
    headed = [(sheet, recognised(sheet)) for sheet in sheets]
    for sheet, head in headed:
        if head:
            raw, findings = take_table(number, sheet, head)
            one.tables.append(raw)
            one.findings += [Placed(number, raw.table.name, "", finding) for finding in findings]
    if one.tables:
        one.what = "feed" if all(raw.table.is_feed for raw in one.tables) else "bulk"
        return
    near = nearest(sheets[0])
    lacking = f"It comes nearest to {near[0].name}, but lacks {', '.join(near[1])}." if near else ""
    one.findings.append(
        Placed(number, "", "", Finding(sheets[0].name, "A1", "headers that are not known", "the headers of a table of the contract",
                                       f"{lacking} Give its columns the contract's headers.".strip()))  # fmt: skip
    )


def _judge(con: Connection, season: Season, opened: Sequence[_Opened], at: datetime, progress: Progress) -> None:
    """Judges and lands all tables: feeds that name troops first, then the other feeds, then submissions."""
    tables: list[tuple[_Opened, Raw]] = []
    for one in opened:
        one.findings = [Placed(one.file_no, p.table_name, p.unit, p.finding) for p in one.findings]
        for raw in one.tables:
            raw.file_nos = one.file_no
            tables.append((one, raw))
    tables.sort(key=lambda pair: (_place(pair[1].table), pair[0].file_no))
    found: list[Placed] = [placed for one in opened for placed in one.findings]
    for number, (_one, raw) in enumerate(tables, 1):
        progress("Checking tables", number, len(tables))
        known = Known(season, landed.known_troops(con), defines_troops=raw.table.name in FIRST)
        found += _land_table(con, raw, judge_raw(raw, known), at)
    workbooks = [one for one in opened if one.what == "submission"]
    if workbooks:
        progress("Checking workbooks", 0, 1)
        found += _land_workbooks(con, season, workbooks, at)
        progress("Checking workbooks", 1, 1)
    landed.write_findings(con, found, at)


def _place(table: Table) -> int:
    return FIRST.index(table.name) if table.name in FIRST else len(FIRST)


def _land_table(con: Connection, raw: Raw, staged: Staged, at: datetime) -> list[Placed]:
    """Lands one feed or bulk table, unit by unit."""
    landed.stage(con, raw.table, staged.rows)
    units = staged.rows.column("unit")
    file_no = raw.file_no(0)
    placed = [Placed(file_no, raw.table.name, units[row].as_py(), finding) for row, finding in staged.findings]
    placed += [Placed(file_no, raw.table.name, unit, _twice(raw, row)) for row, unit in landed.twice_with_different_values(con, raw.table)]
    if raw.table.name == "roster":
        placed += [Placed(file_no, "roster", unit, _both(raw, row, other)) for row, unit, other in landed.in_two_troops(con)]
    bad = {(file_no, p.unit) for p in placed if not p.finding.is_note}
    landed.store(con, raw.table, at, bad_units=bad)
    return placed


def _twice(raw: Raw, row: int) -> Finding:
    key = raw.table.key[-1] if raw.table.is_feed or raw.table.key[-1] not in ("item",) or raw.table.name == "stock" else raw.table.key[2]
    shown = " ".join(str(raw.found(row, name)) for name in raw.table.key if raw.found(row, name) is not None)
    return Finding(raw.sheet(row), raw.cell(row, key), f"{shown} a second time, with other values", "one row for each",
                   "Keep the row that is right.")  # fmt: skip


def _both(raw: Raw, row: int, other: str) -> Finding:
    code = raw.found(row, "participant")
    return Finding(raw.sheet(row), raw.cell(row, "participant"), f"{code}, who is in troop {other} at the same time",
                   f"one troop for a code that is not {OWN_PAGE}", "Say when the participant left the one troop.")  # fmt: skip


def _land_workbooks(con: Connection, season: Season, workbooks: Sequence[_Opened], at: datetime) -> list[Placed]:
    """Lands troops' workbooks, each accepted or held as a whole."""
    gathered = Workbooks(season)
    placed: list[Placed] = []
    for one in workbooks:
        placed += [Placed(one.file_no, "", "", finding) for finding in gathered.take(one.file_no, one.reading.sheets)]
    known = Known(season, landed.known_troops(con))
    covers = gathered.raws["cover"]
    cover = judge_raw(covers, known)
    troops, weeks = cover.rows.column("troop").to_pylist(), cover.rows.column("week_ending").to_pylist()
    of_file = {covers.file_no(k): (troops[k], weeks[k]) for k in range(len(covers))}
    staged: list[tuple[Table, Raw, Staged]] = [(covers.table, covers, cover)]
    for table in SUBMISSION_TABLES[1:]:
        raw = gathered.raws[table.name]
        nos = [raw.file_no(k) for k in range(len(raw))]
        given: dict[str, list[object]] = {
            "troop": [of_file.get(n, (None, None))[0] for n in nos],
            "week_ending": [of_file.get(n, (None, None))[1] for n in nos],
        }
        staged.append((table, raw, judge_raw(raw, known, given)))
    for table, raw, judged in staged:
        placed += [Placed(raw.file_no(row), table.name, "", finding) for row, finding in judged.findings]
        if table.name in ("stock", "goals"):
            landed.stage(con, table, judged.rows)
            again = landed.twice_with_different_values(con, table)
            placed += [Placed(raw.file_no(row), table.name, "", _twice(raw, row)) for row, _unit in again]
    placed += _without_stock(staged[1][1], workbooks)
    bad = {(p.file_no, "") for p in placed if not p.finding.is_note}
    for table, _raw, judged in staged:
        landed.stage(con, table, judged.rows)
        landed.store(con, table, at, bad_units=bad, files=[one.file_no for one in workbooks])
    landed.name_weeks(con, of_file)
    return placed


def _without_stock(stock: Raw, workbooks: Sequence[_Opened]) -> Iterator[Placed]:
    with_rows = set(stock.file_nos if isinstance(stock.file_nos, list) else [])
    for one in workbooks:
        if one.file_no not in with_rows:
            finding = Finding("Stock", "", "no rows", "a row for each stocked item",
                              "Without a row of stock the week does not count as reported.", is_note=True)  # fmt: skip
            yield Placed(one.file_no, "stock", "", finding)


def _judge_held_again(book: Book, con: Connection, season: Season, at: datetime, fresh: set[int]) -> None:
    """Judges again what was held before, now that a feed or the season changed."""
    again = [row for row in landed.held_files(con) if row["file_no"] not in fresh]
    opened = [_Opened(r["name"], r["sha256"], 0, book.landed_path(r["sha256"])) for r in again]
    if not opened:
        return
    _read(opened, silent)
    for one, row in zip(opened, again, strict=True):
        one.file_no = row["file_no"]
    with warehouse.transaction(con):
        landed.forget_verdict(con, [one.file_no for one in opened], at)
        _judge(con, season, opened, at, silent)


def _outcomes(con: Connection, file_nos: Sequence[int]) -> list[Outcome]:
    outcomes = []
    for file_no in file_nos:
        row = warehouse.rows(
            con,
            "select f.name, f.what, coalesce(sum(rows_read), 0)::integer as rows, count(unit_no) as units, "
            "coalesce(sum(rows_read) filter (accepted_at is null), 0)::integer as rows_held, "
            "count(unit_no) filter (accepted_at is null) as units_held, "
            "coalesce(sum(packages) filter (accepted_at is null), 0)::bigint as packages_held, "
            "coalesce(sum(dollars) filter (accepted_at is null), 0)::varchar as dollars_held "
            "from landed.files f left join landed.units u using (file_no) where f.file_no = ? group by all",
            [file_no],
        )[0]
        findings = [
            Finding(**one)
            for one in warehouse.rows(
                con,
                "select sheet, cell, found, expected, how, is_note from landed.findings "
                "where file_no = ? and ended_at is null",
                [file_no],
            )
        ]
        status = "taken in" if not row["units_held"] else "held" if row["units_held"] == row["units"] else "partly held"
        if row["what"] == "unknown":
            status = "held"
        outcomes.append(
            Outcome(row["name"], file_no, row["what"], status, row["rows"], row["rows_held"], row["packages_held"],
                    row["dollars_held"], findings)  # fmt: skip
        )
    return outcomes


@contextmanager
def figures(book: Book, viewer: Viewer, as_of: date | None = None, known_on: datetime | None = None) -> Iterator[Figures]:
    """The book's figures for a viewer: the published ones, or, for another day or an earlier known-on time (UTC), made anew."""
    with book.reading() as con:
        published = Figures(con, viewer)
        if known_on is None and (as_of is None or as_of in published.days()):
            yield published
            return
        season = season_known(book, con, known_on)
    with book.holding() as snapshot:
        memory = warehouse.look_back(snapshot)
        try:
            warehouse.compute(memory, season, [as_of] if as_of else published_days(memory, season, now().date()), known_on)
            yield Figures(memory, viewer)
        finally:
            memory.close()


def season_known(book: Book, con: Connection, known_on: datetime | None) -> Season:
    """The season as it was landed by a known-on time; the first one where none had been."""
    done = con.execute(
        "select sha256 from landed.files where what = 'season' "
        "order by landed_at > coalesce(?::timestamp, timestamp '9999-12-31'), "
        "case when landed_at > coalesce(?::timestamp, timestamp '9999-12-31') then file_no else -file_no end limit 1",
        [known_on, known_on],
    ).fetchall()
    if not done:
        return book.season()
    return read_season(book.landed_path(done[0][0].split("@")[0]).read_text(encoding="utf-8-sig"))


def published_days(con: Connection, season: Season, today: date) -> list[date]:
    """The ends of the weeks that are published: up to the last one reported, or over by today."""
    done = con.execute("select max(week_ending) from landed.units where table_name = 'stock' and accepted_at is not null").fetchall()
    last = max(season.first_week_ending, done[0][0] or season.first_week_ending)
    days, day = [], season.first_week_ending
    while day <= last or (day <= today and day <= season.last_dated):
        days.append(day)
        day += timedelta(weeks=1)
    return days


def _mark(con: Connection) -> tuple[object, ...]:
    done = con.execute(
        "select (select coalesce(max(file_no), 0) from landed.files), "
        "(select count(*) from landed.units where accepted_at is not null), (select max(accepted_at) from landed.units)"
    ).fetchall()
    return tuple(done[0])


def _is_published(book: Book, con: Connection, season: Season) -> bool:
    """Whether the current snapshot holds all that was taken in."""
    if not book.has_snapshot():
        return False
    with book.reading() as snapshot:
        done = snapshot.execute("select max(as_of) from chosen.days").fetchall()
        days = published_days(con, season, now().date())
        return _mark(snapshot) == _mark(con) and done[0][0] == days[-1]


def publish(book: Book, con: Connection, season: Season, progress: Progress = silent) -> Path:
    """Copies what has landed into a new snapshot, computes every measure in it, and puts it in place."""
    days = published_days(con, season, now().date())

    def make(path: Path) -> None:
        quoted = str(path).replace("'", "''")
        con.execute(f"attach '{quoted}' as snapshot")
        try:
            con.execute("create schema snapshot.landed")
            for name in ("files", "units", "findings", *TABLES):
                con.execute(f"create table snapshot.landed.{name} as from landed.{name}")
        finally:
            con.execute("detach snapshot")
        aside = warehouse.connect(path)
        try:
            progress("Computing", 0, 1)
            warehouse.compute(aside, season, days)
            progress("Computing", 1, 1)
        finally:
            aside.close()

    return book.publish(make)

