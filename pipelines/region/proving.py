"""What an area handed up, held against figures computed anew from all that landed in its book.

Comes in: an area's roll-up that lies in its book. Goes out: which of its tables a new computation gives byte for byte.

The area is the unit of work, never the troop: what a troop gave another is credited on the giver's word, so troops that
are kept apart come to other sums. One area needs one process and little memory, and which machine computes it is no
matter: an engine that distributes (engines.py) only hands out areas and tries again where a worker dies. A result is
written aside and renamed, so that a second try changes nothing.
"""

import hashlib
import json
import os
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.region.sources import Area, read
from pipelines.reports.parquet_tables import parquet
from pipelines.store import landed_tables, region_sql
from pipelines.store.book import SEASON, Book, write_whole
from pipelines.workflow.publishing import season_known

MEMORY = "400MB"  # of the engine in one task; what is more is spilled beside the book


@dataclass(frozen=True, slots=True)
class Proved:
    """One area. `differs`: tables that a new computation gives otherwise; `reason`: why nothing was computed."""

    folder: str
    digests: dict[str, str]
    differs: tuple[str, ...] = ()
    reason: str = ""
    seconds: float = 0.0

    @property
    def is_sound(self) -> bool:
        return not self.differs and not self.reason


def prove(folder: str, out: str = "") -> dict[str, Any]:
    """Computes one area anew: a Proved as plain values, for it travels between processes; kept in `out` where named."""
    start, work = time.perf_counter(), time.process_time()
    area = read(Path(folder))
    if not isinstance(area, Area):
        proved = Proved(folder, {}, reason=area.reason)
    elif (book := _book_of(area)) is None:
        proved = Proved(folder, {}, reason="its book does not lie around it: there is nothing to compute anew from")
    elif not book.is_published_by_this_program():
        proved = Proved(folder, {}, reason="its book is published by another program: `musterbook verify` opens it")
    else:
        proved = _computed(area, book)
    told = asdict(proved) | {"seconds": time.perf_counter() - start, "processor": time.process_time() - work}
    if out:
        name = hashlib.sha256(folder.encode()).hexdigest()[:16]
        write_whole(Path(out) / f"{name}.json", json.dumps(told, indent=2) + "\n")
    return told


def _book_of(area: Area) -> Book | None:
    """The book in whose out/ a roll-up lies."""
    folder = area.folder.parent.parent
    return Book(folder) if (folder / SEASON).is_file() and Book(folder).has_snapshot() else None


def _computed(area: Area, book: Book) -> Proved:
    os.environ.setdefault("MUSTERBOOK_MEMORY", MEMORY)
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            known_on = datetime.fromisoformat(area.known_on.removesuffix("Z")) if area.known_on else None
            season = season_known(book, memory, known_on)
            ends = (season.week_ending(number) for number in range(1, season.week_number(area.as_of) + 1))
            days: Sequence[date] = [*(end for end in ends if end < area.as_of), area.as_of]
            compute(memory, season, days, known_on, region_sql.rests_on())
            figures = Figures(memory, COORDINATOR)
            digests = {
                name: hashlib.sha256(parquet(figures.handed_up(name, area.as_of))).hexdigest()
                for name in region_sql.TABLES
            }
        finally:
            memory.close()
    differs = tuple(name for name, digest in digests.items() if digest != area.terms["files"][name])
    return Proved(str(area.folder), digests, differs)
