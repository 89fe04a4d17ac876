"""Taking in: files → landed → judged → accepted or held, and then published.

Comes in: a book and paths. Goes out: an Outcome for each file; a new snapshot where anything changed.
"""

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from pipelines.definitions.asked import WHICH, answers_to
from pipelines.definitions.errors import BrokenSeason, Busy, Stop
from pipelines.definitions.records import Finding
from pipelines.definitions.season import Season
from pipelines.intake.files.parcels import unpack
from pipelines.landing import arrivals, kept_answers, kept_drafts, kept_mappings, landed_rows, which_workbook
from pipelines.landing.arrivals import Progress, Rules
from pipelines.landing.landed_rows import Arrival
from pipelines.store import engine
from pipelines.store.book import Book, now, write_whole
from pipelines.store.engine import Connection
from pipelines.workflow.publishing import is_published, publish, silent

LARGE_ARRIVAL = 100_000  # rows that come at once, from which tables are large


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
    sha256: str = ""
    findings: list[Finding] = field(default_factory=list)


class Astray(Stop):
    """A file speaks of a troop that its sender has no part in; nothing of its batch was taken in."""


def ingest(
    book: Book,
    paths: Iterable[Path],
    sender: str | Mapping[str, str],
    *,
    only: Mapping[str, frozenset[str]] | None = None,
    publishes: bool = True,
    progress: Progress = silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> list[Outcome]:
    """Takes in files, folders and zips; publishes when anything changed. One Outcome a file, in the order landed.

    Without `publishes` that is left to a `refresh` soon after, which also follows where the process dies before it.
    `sender`: who sent them, or of each file by its SHA-256. `only`: by SHA-256 too, the troops that a file may speak
    of; raises Astray where one speaks of another, or of none, and then nothing of all these files is taken in. What is
    sent so, by those whose word it is, counts also where it had come in before and something else counts by now.
    """
    parcels = list(unpack(paths))
    with book.writing(on_wait) as con, _uncollected():
        stated = kept_mappings.stated(book)
        rules = Rules(book.season(), kept_mappings.holding(stated), answers=kept_answers.landed(book, con))
        opened, refused = arrivals.land(book, con, parcels, progress, lands_again=only is not None)
        arrivals.read(opened, progress)
        arrivals.translate(opened, rules)
        rows = sum(len(raw) for one in opened for raw in one.tables)
        engine.suit(con, is_large=rows > LARGE_ARRIVAL or engine.is_large(con))
        opened.sort(key=lambda one: (one.what != "feed", one.name))
        told_by_file = which_workbook.put_in_order(opened)
        with engine.transaction(con):
            at = _time(con)
            by = sender if isinstance(sender, str) else "dashboard"
            rules_changed = _land_rules(book, con, rules.season, stated, at, by)
            for number, one in enumerate(opened, landed_rows.last_landed(con)[0] + 1):
                one.file_no = number
            names = {o.sha256: sender if isinstance(sender, str) else sender[o.sha256] for o in opened}
            listed = [Arrival(o.file_no, o.sha256, o.name, o.size, at, names[o.sha256], o.what) for o in opened]
            landed_rows.land_files(con, listed)
            for one in told_by_file:
                kept_answers.land(book, con, (one.sha256, one.name), "counts", at, "the time it was saved")
                rules.answers[one.sha256] = ("counts",)
            take_in(book, con, rules, opened, at, rules_changed=rules_changed, progress=progress)
            if only is not None:
                _refuse_astray(con, opened, only)
        outcomes = [Outcome(o.name, status=o.status, sha256=o.sha256, findings=o.findings) for o in refused]
        outcomes += _outcomes(con, [one.file_no for one in opened])
        if publishes and (opened or rules_changed or not is_published(book, con, rules.season)):
            publish(book, con, rules.season, progress)
    return outcomes


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without the search for cycles: millions of cells come and go, none of them in one (a twentieth of the time)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _refuse_astray(con: Connection, opened: Sequence[arrivals.Opened], only: Mapping[str, frozenset[str]]) -> None:
    """Stops, before anything is certain, where a file speaks of a troop that it may not speak of."""
    for one in opened:
        query = "select distinct troop from landed.units where file_no = ?"
        troops = {row[0] for row in con.execute(query, [one.file_no]).fetchall()}
        if one.what != "submission" or not troops or not troops <= only[one.sha256]:
            raise Astray("This is not a workbook of a troop of yours.")


def take_in(
    book: Book,
    con: Connection,
    rules: Rules,
    opened: Sequence[arrivals.Opened],
    at: datetime,
    *,
    rules_changed: bool,
    progress: Progress = silent,
) -> None:
    """Judges files that were read and stores their rows; what is held is judged again where rules or feeds changed."""
    arrivals.judge(con, rules, opened, at, progress)
    if rules_changed or any(one.what == "feed" for one in opened):
        # Fresh submissions were judged after every feed; a fresh feed may wait for one that came behind it.
        _judge_held_again(book, con, rules, at, {one.file_no for one in opened if one.what != "feed"})


def refresh(book: Book, sender: str, *, wait: float = 0, on_wait: Callable[[str], None] = lambda _said: None) -> bool:
    """Publishes again where season.toml or a mapping changed, or a writer was stopped between taking in and publishing.

    False where somebody else is writing, still after `wait` seconds: what is published holds until they are done.
    """
    if book.purge_mark.exists():
        return True
    try:
        with book.writing(on_wait, wait) as con:
            stated = kept_mappings.stated(book)
            rules = Rules(book.season(), kept_mappings.holding(stated), answers=kept_answers.landed(book, con))
            with engine.transaction(con):
                at = _time(con)
                changed = _land_rules(book, con, rules.season, stated, at, sender)
                if changed:
                    _judge_held_again(book, con, rules, at, set())
            if changed or not is_published(book, con, rules.season):
                publish(book, con, rules.season)
    except Busy:
        return False
    return True


def keep_mapping(
    book: Book,
    name: str,
    text: str,
    sender: str,
    *,
    draft_of: str = "",
    progress: Progress = silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> list[Outcome]:
    """Keeps a mapping under its name and tries again what is held; one Outcome a file that was held until now.

    `draft_of`: the SHA-256 of the file whose draft it was, which goes. Raises BrokenMapping where the mapping cannot be
    used; then, and where anything else goes wrong, nothing has changed.
    """
    return _change_mapping(book, name, text.encode(), sender, progress, on_wait, draft_of)


def take_mapping_back(
    book: Book,
    name: str,
    sender: str,
    *,
    progress: Progress = silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> list[Outcome]:
    """Uses a mapping for no more files; what it had taken in stays. One Outcome a file that was held until now."""
    return _change_mapping(book, name, None, sender, progress, on_wait)


def _change_mapping(
    book: Book, name: str, payload: bytes | None, sender: str, progress: Progress, on_wait: Callable[[str], None],
    draft_of: str = "",
) -> list[Outcome]:  # fmt: skip
    path = book.mappings / name
    with book.writing(on_wait) as con, _uncollected():
        before = path.read_bytes() if path.is_file() else None
        book.mappings.mkdir(exist_ok=True)
        try:
            _put_back(path, payload)
            stated = kept_mappings.stated(book)
            rules = Rules(book.season(), kept_mappings.holding(stated), answers=kept_answers.landed(book, con))
            with engine.transaction(con):
                at = _time(con)
                changed = _land_rules(book, con, rules.season, stated, at, sender)
                held = [row["file_no"] for row in landed_rows.held_files(con)]
                _judge_held_again(book, con, rules, at, set())
        except BaseException:
            _put_back(path, before)
            raise
        if draft_of:
            kept_drafts.drop(book, draft_of)
        outcomes = _outcomes(con, held)
        if changed or not is_published(book, con, rules.season):
            publish(book, con, rules.season, progress)
    return outcomes


def answer(
    book: Book,
    file_no: int,
    word: str,
    sender: str,
    *,
    publishes: bool = True,
    progress: Progress = silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> list[Outcome]:
    """Keeps an answer to what is asked about a held file, and tries again what is held; raises Stop for any other.

    The workbook that is said to count lands once more, as if it were sent again: it is the newest word then.
    """
    with book.writing(on_wait) as con, _uncollected():
        files = engine.rows(con, "select * from landed.files where file_no = ?", [file_no])
        open_now = _outcomes(con, [file_no]) if files else []
        if word not in (asked := answers_to(open_now[0].findings if open_now else ())):
            may_be = " or ".join(asked) or "nothing"
            raise Stop(f"File {file_no} does not wait for the answer “{word}”: it waits for {may_be}.")
        file = files[0]
        with engine.transaction(con):
            at = _time(con)
            kept_answers.land(book, con, (file["sha256"], file["name"]), word, at, sender)
            stated = kept_mappings.stated(book)
            rules = Rules(book.season(), kept_mappings.holding(stated), answers=kept_answers.landed(book, con))
            again = []
            if word in WHICH.answers:
                file |= {"file_no": landed_rows.last_landed(con)[0] + 1, "landed_at": at, "sender": sender}
                landed_rows.land_files(con, [Arrival(**file)])
                again = [arrivals.Opened(file["name"], file["sha256"], 0, book.landed_path(file["sha256"]))]
                arrivals.read(again, progress)
                again[0].file_no = file["file_no"]
            take_in(book, con, rules, again, at, rules_changed=True, progress=progress)
        outcomes = _outcomes(con, [file["file_no"]])
        if publishes:
            publish(book, con, rules.season, progress)
    return outcomes


def _put_back(path: Path, before: bytes | None) -> None:
    if before is None:
        path.unlink(missing_ok=True)
    else:
        write_whole(path, before)


def _time(con: Connection) -> datetime:
    """Now, but never before what has already landed: a clock set back must not reorder the past."""
    last = landed_rows.last_landed(con)[1]
    return max(now(), last + timedelta(microseconds=1)) if last else now()


def _land_rules(
    book: Book, con: Connection, season: Season, stated: dict[str, bytes], at: datetime, sender: str
) -> bool:
    """Lands season.toml and the mappings where they changed; whether any did."""
    season_changed = _land_season(book, con, season, at, sender)
    return kept_mappings.land(book, con, stated, at, sender) or season_changed


def _land_season(book: Book, con: Connection, season: Season, at: datetime, sender: str) -> bool:
    """Lands season.toml where it changed; refuses a change that accepted rows speak against."""
    payload = book.season_file.read_bytes()
    digest, _path = book.land(payload)
    done = con.execute("select sha256 from landed.files where what = 'season' order by file_no desc limit 1").fetchall()
    if done and done[0][0] == digest:
        return False
    held_against(con, season)
    file_no = landed_rows.last_landed(con)[0] + 1
    landed_rows.land_files(con, [Arrival(file_no, digest, "season.toml", len(payload), at, sender, "season")])
    return True


def held_against(con: Connection, season: Season) -> None:
    """Refuses a season that rows already taken in speak against."""
    faults = []
    if gone := landed_rows.items_named(con, "item", "stocked_item") - set(season.codes):
        faults.append(f"items: {', '.join(sorted(gone))} cannot go: rows already taken in name it.")
    unstocked = {code for code, item in season.codes.items() if not item.stocked}
    if held := landed_rows.items_named(con, "stocked_item") & unstocked:
        faults.append(f"items: {', '.join(sorted(held))} must stay stocked: rows already taken in say troops hold it.")
    if any(not season.is_week_ending(day) for day in landed_rows.weeks_named(con)):
        faults.append("season.week_ends_on: weeks already taken in end on another day.")
    if faults:
        raise BrokenSeason("\n".join(f"season.toml: {fault}" for fault in faults))


def _judge_held_again(book: Book, con: Connection, rules: Rules, at: datetime, settled: set[int]) -> None:
    """Judges again what is held, now that a feed, a mapping or the season changed, until that frees nothing more."""
    while again := [row for row in landed_rows.held_files(con) if row["file_no"] not in settled]:
        before = landed_rows.held_units(con)
        opened = [arrivals.Opened(r["name"], r["sha256"], 0, book.landed_path(r["sha256"])) for r in again]
        arrivals.read(opened, silent)
        for one, row in zip(opened, again, strict=True):
            one.file_no = row["file_no"]
        arrivals.translate(opened, rules)
        # A file of which rows were taken in by a mapping that is gone: its other rows stay held as they were.
        taken = landed_rows.partly_taken(con)
        opened = [one for one in opened if one.what != "foreign" or one.file_no not in taken]
        landed_rows.forget_verdict(con, [one.file_no for one in opened], at)
        arrivals.judge(con, rules, opened, at, silent)
        settled = set()
        if landed_rows.held_units(con) >= before:
            return


def _outcomes(con: Connection, file_nos: Sequence[int]) -> list[Outcome]:
    """What became of each file, in the order landed."""
    if not file_nos:
        return []
    values = [list(file_nos)]
    findings: dict[int, list[Finding]] = {}
    for row in engine.rows(
        con,
        "select file_no, sheet, cell, found, expected, how, is_note from landed.findings "
        "where list_contains(?::integer[], file_no) and ended_at is null",
        values,
    ):
        findings.setdefault(row.pop("file_no"), []).append(Finding(**row))
    outcomes = []
    for row in engine.rows(
        con,
        "select f.name, f.file_no, f.what, f.sha256, coalesce(sum(rows_read), 0)::integer as rows, "
        "coalesce(sum(rows_read) filter (accepted_at is null), 0)::integer as rows_held, "
        "coalesce(sum(packages) filter (accepted_at is null), 0)::bigint as packages_held, "
        "coalesce(sum(dollars) filter (accepted_at is null), 0)::varchar as dollars_held, "
        f"case when {landed_rows.IS_WAITING} or bool_and(accepted_at is null) then 'held' "
        "when bool_or(accepted_at is null) then 'partly held' else 'taken in' end as status "
        "from landed.files f left join landed.units u using (file_no) where list_contains(?::integer[], f.file_no) "
        "group by f.name, f.file_no, f.what, f.sha256 order by f.file_no",
        values,
    ):
        outcomes.append(Outcome(**row, findings=findings.get(row["file_no"], [])))
    return outcomes
