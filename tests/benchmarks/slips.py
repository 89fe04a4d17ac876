"""How often ordinary weeks are asked about: python tests/benchmarks/slips.py [SEEDS] [TROOPS]

Comes in: invented seasons of ten weeks in which all goes well, and the demo with its troubles. Goes out: for each rule
that asks about likely slips how many of the weeks sent it names. Passes and fails nothing.

Measured: 1 in 3,600 weeks of invented seasons in which all goes well (a family that paid ahead ten times what it owed),
none in the demo, whose one count in cases is named.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path

import demo_warehouse
from pipelines.store import engine
from pipelines.store.book import new_book
from pipelines.workflow import take_in
from pipelines.workflow.slip_questions import slips


def asked(season: str, inbox: Path, book_folder: Path) -> tuple[int, Counter[str], list[str]]:
    """How many weeks were sent, how many exceptions each rule ever lists, and what they say."""
    book = new_book(book_folder, season)
    take_in.ingest(book, [inbox], "benchmark")
    with book.holding() as snapshot:
        con = engine.connect(snapshot, read_only=True)
        weeks = con.execute("select count(*) from facts.submitted").fetchall()[0][0]
        found: Counter[str] = Counter()
        said = []
        for name in slips():
            query = "select troop, subject, any_value(what) as what from follow_up.found where rule = ? group by all"
            rows = engine.rows(con, query, [name])
            found[name] = len(rows)
            said += [f"  {name}, troop {row['troop']}: {row['what']}" for row in rows]
        con.close()
    return weeks, found, said


def main(seeds: int, troops: int) -> None:
    """Makes the seasons and prints what was asked."""
    total, counts = 0, Counter[str]()
    for seed in range(1, seeds + 1):
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            demo_warehouse.make(place, troops=troops, until_week=10, seed=seed, troubles=False, formats="bulk-parquet")
            weeks, found, said = asked(
                (place / "season.toml").read_text(encoding="utf-8"), place / "inbox", place / "b"
            )
        total += weeks
        counts += found
        print(f"seed {seed}: {weeks:,} weeks sent, {found.total()} asked about", *said, sep="\n")
    print(f"in which all goes well: {total:,} weeks, {counts.total()} asked about: {dict(counts)}")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        demo_warehouse.make(place, formats="bulk-parquet")
        weeks, found, said = asked((place / "season.toml").read_text(encoding="utf-8"), place / "inbox", place / "b")
    print(f"the demo: {weeks:,} weeks, {found.total()} asked about", *said, sep="\n")


if __name__ == "__main__":
    main(*(int(one) for one in [*sys.argv[1:], *("6", "60")[len(sys.argv) - 1 :]]))
