"""What the guard round the readers costs: python tests/benchmarks/guard.py

Passes and fails nothing. The same files are read by the guarded worker and by the same readers called directly, each
in a whole process of its own, the interpreter's start and all libraries included; processor time is that of the process
and of the worker it started. Ratios are of the best of several rounds taken in turn.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import demo_warehouse

FIND = """
import sys
from pathlib import Path
files = [(path, path.name) for path in sorted(Path(sys.argv[1]).rglob("*")) if path.is_file()]
from pipelines.intake.files.readers import Reader, reading_of
"""
GUARDED = f"""{FIND}
with Reader() as reader:
    found = list(reader.read_all(files))
"""
DIRECT = f"""{FIND}
from pipelines.intake.files.wire import Answer
from pipelines.intake.files.worker import read_file
found = []
for path, name in files:
    one = read_file(str(path), name)
    found.append(reading_of(Answer(one.sheets, one.told, one.has_names, False), one.table))
"""
CHECK = """
assert found and not any(f for one in found for f in one.findings if not f.is_note), "these files are good ones"
"""
ROUNDS = 5


def spent(program: str, inbox: Path) -> tuple[float, float]:
    """Seconds by the clock and of processor time that a Python program takes, with all that it starts."""
    before, start = os.times(), time.perf_counter()
    subprocess.run([sys.executable, "-c", program + CHECK, str(inbox)], check=True)
    taken, after = time.perf_counter() - start, os.times()
    worked = after.children_user + after.children_system - before.children_user - before.children_system
    return taken, worked


def compare(what: str, inbox: Path) -> None:
    """Prints the best of both ways and their ratio."""
    rounds = [(spent(DIRECT, inbox), spent(GUARDED, inbox)) for _ in range(ROUNDS)]
    for k, kind in enumerate(("by the clock", "of processor time")):
        direct, guarded = (min(both[way][k] for both in rounds) for way in (0, 1))
        print(f"{what}, {kind}: directly {direct:.2f} s, guarded {guarded:.2f} s, {guarded / direct:.2f} times")


def main() -> None:
    """Makes the seasons and compares."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        demo_warehouse.make(place / "demo")
        count = sum(path.is_file() for path in (place / "demo" / "inbox").rglob("*"))
        compare(f"the demo's {count} files", place / "demo" / "inbox")
        sizes = {"troops": 1000, "weeks": 12, "until_week": 12}
        for formats in ("bulk-csv", "bulk-parquet"):
            demo_warehouse.make(place / formats, troubles=False, formats=formats, **sizes)
            compare(f"1,000 troops, 12 weeks, {formats}", place / formats / "inbox")


if __name__ == "__main__":
    main()
