"""How long a week takes to close, as ratios against a baseline of the same run: python tests/benchmarks/closing.py

Passes and fails nothing. Each measured run is a whole process of its own, the interpreter's start included.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import demo_warehouse

READ_ALL = """
import sys
from pathlib import Path
import pandas
for path in sorted(Path(sys.argv[1]).rglob("*.xlsx")):
    pandas.read_excel(path, sheet_name=None, engine="calamine")
"""
FIRST_BOOK = """
import sys
from pathlib import Path
from pipelines.workflow import looking_back, take_in
from pipelines.store.book import Book, new_book
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import table_text
book_dir, season, *inbox = map(Path, sys.argv[1:])
book = Book(book_dir) if book_dir.exists() else new_book(book_dir, season.read_text(encoding="utf-8"))
take_in.ingest(book, inbox, "benchmark")
with looking_back.figures(book, COORDINATOR) as figures:
    (book_dir / "standing.csv").write_text(table_text(figures, "standing", figures.days()[-1]), encoding="utf-8")
"""
ROUNDS = 3


def timed(program: str, *arguments: Path) -> float:
    """Seconds that a Python program takes as a process."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", program, *map(str, arguments)], check=True)
    return time.perf_counter() - start


def best(*rounds: float) -> float:
    """The shortest: what the machine can do when nothing else is at it."""
    return min(rounds)


def main() -> None:
    """Makes the seasons, runs the programs, prints seconds and ratios."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        season = place / "season"
        demo_warehouse.make(season, troops=40, weeks=10, until_week=10, troubles=False)
        inbox = season / "inbox"
        parts = sorted(inbox.iterdir(), key=lambda part: (part.name != "feeds", len(part.name), part.name))
        workbooks = len(list(inbox.rglob("*.xlsx")))
        loop = best(*(timed(READ_ALL, inbox) for _ in range(ROUNDS)))
        whole = best(*(timed(FIRST_BOOK, place / f"book-{k}", season / "season.toml", *parts) for k in range(ROUNDS)))
        print(f"{workbooks} workbooks read by a plain loop: {loop:.2f} s")
        print(f"the same from an empty book to standing.csv: {whole:.2f} s, {whole / loop:.2f} times the loop")
        weeks = []
        for k in range(ROUNDS):
            timed(FIRST_BOOK, place / f"week-{k}", season / "season.toml", *parts[:-1])
            weeks.append(timed(FIRST_BOOK, place / f"week-{k}", season / "season.toml", parts[-1]))
        print(f"one more week into a full book: {best(*weeks):.2f} s, {best(*weeks) / loop:.2f} times the loop")

        bulk = place / "bulk"
        demo_warehouse.make(bulk, troops=1000, weeks=12, until_week=12, troubles=False, formats="bulk-parquet")
        seconds = best(
            *(timed(FIRST_BOOK, place / f"bulk-{k}", bulk / "season.toml", bulk / "inbox") for k in range(2))
        )
        told = f"{seconds:.2f} s, {seconds / loop:.2f} times the loop"
        print(f"1,000 troops, 12 weeks, from Parquet to published figures: {told}")
        start = time.perf_counter()
        command = [sys.executable, "-m", "pipelines", "demo", str(place / "demo"), "--no-serve"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        print(f"the demo from nothing: {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
