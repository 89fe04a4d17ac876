"""How long the exceptions take, over the demo and over 1,000 troops and 12 weeks: python tests/benchmarks/exceptions.py

Passes and fails nothing. Timed are the comparisons, every rule and their gathering, on figures that are made already.

Measured (2 cores with other work on them): comparisons, all rules and their gathering 0.48 s over the demo, 2.46 s over
1,000 troops and 12 weeks.
"""

import tempfile
import time
from pathlib import Path

import demo_warehouse
from pipelines.figures.comparison import comparisons
from pipelines.figures.computing import compute
from pipelines.store import engine, landed_tables, relations
from pipelines.store.book import new_book
from pipelines.workflow import publishing, take_in

ROUNDS = 3
OWN = ("compared", "comparisons", "books", "unaccounted", "still_needed", "outlook", "family_lines", "waiting_orders")


def is_timed(name: str) -> bool:
    """Whether a relation is there for the exceptions."""
    return name.startswith(("exceptions.", "follow_up.")) or name.removeprefix("measures.") in OWN


def seconds(book_folder: Path, inbox: Path, season: str) -> tuple[dict[str, float], float]:
    """The shortest time of each relation, and the least processor time of a round; the book is made first."""
    book = new_book(book_folder, season)
    take_in.ingest(book, [inbox], "benchmark")
    best: dict[str, float] = {}
    work = []
    with book.holding() as snapshot:
        con = landed_tables.look_back(snapshot)
        days = publishing.published_days(con, book.season(), book.season().season.first_day)
        compute(con, book.season(), days)
        for _ in range(ROUNDS):
            spent = 0.0
            for name, select in relations.ordered_relations():
                start, used = time.perf_counter(), time.process_time()
                if name == "measures.comparisons":
                    frame = con.sql("from measures.compared").to_arrow_table()
                    engine.load(con, "comparisons", comparisons(frame))
                if is_timed(name) and name != "follow_up.exceptions":  # a view: made at every reading
                    con.execute(f"create or replace table {name} as {select}")
                    best[name] = min(best.get(name, 1e9), time.perf_counter() - start)
                    spent += time.process_time() - used
            work.append(spent)
        con.close()
    return best, min(work)


def main() -> None:
    """Makes both areas and prints what their exceptions take."""
    for told, sizes in (("the demo", {}), ("1,000 troops, 12 weeks", {"troops": 1000, "weeks": 12, "until_week": 12})):
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            demo_warehouse.make(place, formats="bulk-parquet", **sizes)
            found, work = seconds(place / "book", place / "inbox", (place / "season.toml").read_text(encoding="utf-8"))
        slowest = sorted(found, key=lambda name: -found[name])[:4]
        named = ", ".join(f"{name} {found[name]:.2f}" for name in slowest)
        total = f"{sum(found.values()):.2f} s ({work:.2f} s of processor time, all threads)"
        print(f"{told}: {total} for {len(found)} relations; the longest: {named}")


if __name__ == "__main__":
    main()
