"""A file that came by mistake, such as a photo, stays kept and is asked about no more.

Comes in: a book and the file's name or number. Goes out: a row of landed.dismissals, and figures published with it.
Raises Stop where no such file waits: of a file that holds rows, what is held counts, and cannot be dismissed.
"""

from collections.abc import Callable

from pipelines.definitions.errors import Stop
from pipelines.landing import landed_rows
from pipelines.store import engine
from pipelines.store.book import Book, now
from pipelines.workflow import publishing


def dismiss(book: Book, which: str | int, who: str, *, on_wait: Callable[[str], None] = lambda _said: None) -> int:
    """Dismisses every file of this name, or the one of this number, that nobody could read; returns how many."""
    column = "file_no" if isinstance(which, int) else "name"
    with book.writing(on_wait) as con:
        waiting = con.execute(
            f"select file_no from landed.files f where {column} = ? and {landed_rows.IS_WAITING} "
            "and file_no not in (select file_no from landed.dismissals) order by file_no",
            [which],
        ).fetchall()
        if not waiting:
            raise Stop(f"No file {which} waits unread. `musterbook findings` lists those that do.")
        with engine.transaction(con):
            last = con.execute("select coalesce(max(entry_no), 0) from landed.dismissals").fetchall()[0][0]
            rows = [(last + place, file_no, now(), who) for place, (file_no,) in enumerate(waiting, 1)]
            engine.insert(con, "landed.dismissals", rows)
        publishing.publish(book, con, book.season())
    return len(waiting)
