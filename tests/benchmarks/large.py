"""What one large book takes: python tests/benchmarks/large.py [TROOPS...]

Passes and fails nothing. Each size is a process of its own: 12 weeks of an invented area, from Parquet tables to
published figures, then one troop's table of the last week corrected and published again. Beside it a bare group-by of
the same landed rows by the same engine. Where others use the machine, processor time says more than the clock.

Measured (2 cores, nothing else at work; seconds of processor time unless said):

| troops | taken in and published | one table corrected |
| --- | --- | --- |
| 1,000 | 50 s, 34 by the clock, 1.1 GB | 7.8 s (12 before the outlook was made anew of the days that differ alone) |
| 10,000 | 522 s, 316 by the clock, 4.3 GB with the making of the files, 1.4 GB on disk | 58 s, 56 by the clock |

Of the 56 s: slots given twice 14 (the demo's few places are given to all troops), the outlook's record 4.5. The goal of
90 s, 4 GB and 10 s for a corrected workbook at 10,000 troops is missed.
"""

import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

import polars as pl

import demo_warehouse
from pipelines.store.book import Book, new_book
from pipelines.workflow import take_in

SIZES = (300, 1000, 3000)
WEEKS = 12


def bare(book: Book) -> float:
    """Seconds of a group-by of the landed rows of families."""
    with book.reading() as con:
        start = time.perf_counter()
        con.execute(
            "select troop, item, sum(packages), sum(cash), sum(card) from landed.families group by all"
        ).fetchall()
        return time.perf_counter() - start


def corrected(inbox: Path, folder: Path) -> Path:
    """One troop's counts of the last week once more, one of them a package higher."""
    path = next(inbox.glob("bulk-2/stock.parquet"))
    rows = pl.read_parquet(path)
    last = rows.filter(pl.col("week_ending") == pl.col("week_ending").max())
    one = last.filter(pl.col("troop") == last["troop"][0]).with_columns(on_hand=pl.col("on_hand") + 1)
    folder.mkdir()
    one.write_parquet(folder / "stock.parquet")
    return folder


def of_size(troops: int) -> None:
    """Makes, takes in, corrects; prints."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        demo_warehouse.make(
            place / "made", troops=troops, weeks=WEEKS, until_week=WEEKS, troubles=False, formats="bulk-parquet"
        )
        inbox = place / "made" / "inbox"
        book = new_book(place / "book", (place / "made" / "season.toml").read_text(encoding="utf-8"))
        told = []
        for paths in ([inbox], [corrected(inbox, place / "corrected")]):
            start, used = time.perf_counter(), time.process_time()
            take_in.ingest(book, paths, "benchmark")
            told.append(f"{time.perf_counter() - start:.1f} s ({time.process_time() - used:.1f} s of processor time)")
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        size = book.current_snapshot().stat().st_size / 1e6
        print(
            f"{troops:,} troops: taken in and published {told[0]}, one week corrected {told[1]}, "
            f"{most:.1f} GB at most, {size:,.0f} MB published; a bare group-by {bare(book):.2f} s",
            flush=True,
        )


def main() -> None:
    """Each size apart, so that one's memory is not the next one's."""
    for troops in [int(one) for one in sys.argv[1:]] or SIZES:
        process = multiprocessing.get_context("spawn").Process(target=of_size, args=(troops,))
        process.start()
        process.join()


if __name__ == "__main__":
    main()
