"""How long a region of 2,000 areas with 100,000 troops takes to add up: python tests/benchmarks/region.py [AREAS]

Passes and fails nothing. One invented area of 50 troops and 12 weeks is handed up, and its folder linked as often as
asked under names of its own; its codes repeat in each. Beside it, in the same run, a bare group-by of the very same
rows: the files of troops alone, read by the engine and added up by council.
"""

import json
import os
import resource
import shutil
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

import areas

from pipelines.region import adding, papers, sources
from pipelines.store import engine

LAST = date(2027, 5, 2)
COUNCILS = 100


def linked(area: Path, region: Path, count: int) -> None:
    """As many areas as asked, each a folder of links to the same files and a manifest of its own."""
    manifest = json.loads((area / "manifest.json").read_text(encoding="utf-8"))
    for number in range(count):
        place = region / f"council=c{number % COUNCILS:03}" / f"area=a{number:04}"
        (place / "tables").mkdir(parents=True)
        shutil.copytree(area / "tables" / "region", place / "tables" / "region", copy_function=os.link)
        areas.write_manifest(place, manifest | {"area": f"a{number:04}"})


def bare(region: Path) -> float:
    """Seconds of a group-by of the troops' rows."""
    start = time.perf_counter()
    con = engine.connect()
    con.execute(
        "select council, count(*), sum(packages_sold), sum(charged), sum(owed) "
        "from read_parquet(?, hive_partitioning = true) group by all",
        [f"{region}/*/*/tables/region/troops.parquet"],
    ).fetchall()
    con.close()
    return time.perf_counter() - start


def main() -> None:
    """Makes the region once for each size and prints seconds, processor time, memory and the ratio."""
    sizes = [int(one) for one in sys.argv[1:]] or [100, 500, 2000]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        trial = areas.taken_in(place / "one", 1, troops=50, weeks=12)
        with areas.week_of(trial, LAST) as week:
            areas.hand_up(week, place / "handed")
        for count in sizes:
            region = place / f"region-{count}"
            linked(place / "handed", region, count)
            bare_seconds = min(bare(region) for _ in range(2))
            start, used = time.perf_counter(), time.process_time()
            found, left = sources.find([region])
            read = time.perf_counter() - start
            sums = adding.add_up(found)
            added = time.perf_counter() - start
            papers.write(sums, left, place / f"out-{count}")
            took, work = time.perf_counter() - start, time.process_time() - used
            most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{count:,} areas, {sums.totals[0]['troops']:,} troops: {took:.1f} s (checked by {read:.1f}, added by "
                f"{added:.1f}), {work:.1f} s of processor time, {most:,.0f} MB at most; "
                f"{took / bare_seconds:.1f} times a bare group-by ({bare_seconds:.1f} s)"
            )


if __name__ == "__main__":
    main()
