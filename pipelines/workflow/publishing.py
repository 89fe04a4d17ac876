"""Publishing: what has landed → a new snapshot in which every measure is computed.

Comes in: a book with its writer's connection. Goes out: the snapshot's path; which weeks are published.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime, timedelta
from pathlib import Path

from pipelines.definitions.errors import Damaged
from pipelines.definitions.season import Season, read_season
from pipelines.figures.computing import compute, compute_touched
from pipelines.follow_up import decisions
from pipelines.landing.arrivals import Progress
from pipelines.store import engine, frozen, journal, landed_tables, relations, touched
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection


def silent(_what: str, _done: int, _of: int) -> None:
    """Progress that is told to nobody."""


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
    return read_season(book.landed_path(done[0][0]).read_text(encoding="utf-8-sig"))


def published_days(con: Connection, season: Season, today: date, known_on: datetime = datetime.max) -> list[date]:
    """The ends of the weeks that are published: up to the last one reported by the known-on time, or over by today."""
    done = con.execute(
        "select max(week_ending) from landed.units where table_name = 'stock' and accepted_at <= ?", [known_on]
    ).fetchall()
    last = max(season.first_week_ending, done[0][0] or season.first_week_ending)
    days, day = [], season.first_week_ending
    while day <= last or (day <= today and day <= season.last_dated):
        days.append(day)
        day += timedelta(weeks=1)
    return days


def _mark(con: Connection) -> tuple[object, ...]:
    done = con.execute(
        "select (select coalesce(max(file_no), 0) from landed.files), "
        "(select count(*) from landed.units where accepted_at is not null), "
        "(select max(accepted_at) from landed.units), "
        "(select coalesce(max(entry_no), 0) from landed.follow_ups), "
        "(select coalesce(max(entry_no), 0) from landed.agreements), "
        "(select coalesce(max(entry_no), 0) from landed.dismissals)"
    ).fetchall()
    return tuple(done[0])


def is_published(book: Book, con: Connection, season: Season) -> bool:
    """Whether the current snapshot holds all that was taken in and written down, as this program computes it."""
    if not book.is_published_by_this_program():
        return False
    with suppress(Damaged, engine.Fault), book.reading() as snapshot:
        done = snapshot.execute("select max(as_of) from chosen.days").fetchall()
        days = published_days(con, season, now().date())
        return _mark(snapshot) == _mark(con) and done[0][0] == days[-1]
    return False


def publish(book: Book, con: Connection, season: Season, progress: Progress = silent) -> Path:
    """Copies what has landed into a new snapshot, computes every measure in it, and puts it in place."""
    days = published_days(con, season, now().date())
    journal.write_down(con, book.journal)
    _keep_closed(book, con)

    def make(path: Path) -> None:
        progress("Computing", 0, 1)
        if not _make_touched(book, con, season, days, path):
            is_large = engine.is_large(con)
            with landed_tables.apart(con, path=path if is_large else None) as made:
                compute(made, season, days)
                decisions.note_changes(con, made)
                if is_large:  # a small one is sooner made in memory; of this there would be two, one of them there
                    made.execute("checkpoint")
                else:
                    landed_tables.write_out(made, path)
        progress("Computing", 1, 1)

    return book.publish(make)


def _make_touched(book: Book, con: Connection, season: Season, days: list[date], path: Path) -> bool:
    """Makes the snapshot from the one before, where only a few troops are touched; whether it did."""
    if not book.is_published_by_this_program():
        return False
    home = con.execute("select current_database()").fetchall()[0][0]
    try:
        with book.holding() as current, _attached(con, current, "(read_only)"):
            few = touched.few(con, "shown", days)
            if few is None:
                return False
            shutil.copyfile(current, path)
        with _attached(con, path), landed_tables.apart(con, few.beside) as memory:
            compute(memory, season, days)
            shown = con.cursor()
            shown.execute("use shown")
            with engine.transaction(shown):
                if is_whole := touched.bring_along(shown, home, few):
                    compute_touched(shown, "making", few.troops)
            if is_whole:
                decisions.note_changes(con, shown)
                shown.execute("checkpoint")
            shown.close()
    except engine.Fault:  # the snapshot before is damaged
        is_whole = False
    if not is_whole:
        path.unlink(missing_ok=True)
    return is_whole


@contextmanager
def _attached(con: Connection, snapshot: Path, how: str = "") -> Iterator[None]:
    quoted = str(snapshot).replace("'", "''")
    con.execute(f"attach '{quoted}' as shown {how}")
    try:
        yield
    finally:
        con.execute("detach shown")


def keep_published(book: Book, con: Connection, closed: list[tuple[int, str]]) -> None:
    """Keeps the rows of troops that close now as they are published; `closed`: the close's number, the troop."""
    home = con.execute("select current_database()").fetchall()[0][0]
    with book.holding() as snapshot, _attached(con, snapshot, "(read_only)"):
        own = con.cursor()
        own.execute("use shown")
        frozen.keep(own, home, closed, relations.mark())
        own.close()


def _keep_closed(book: Book, con: Connection) -> None:
    """Keeps the rows of troops that closed and of which none are kept, each as it was known then."""
    home, mark = con.execute("select current_database()").fetchall()[0][0], relations.mark()
    for known_on, closed in list(frozen.to_keep(con, mark)):
        season = season_known(book, con, known_on)
        with landed_tables.apart(con) as memory:
            compute(memory, season, published_days(con, season, known_on.date(), known_on), known_on)
            frozen.keep(memory, home, closed, mark)
