"""Areas that hand up to a region, as a roll-up would: only what a region reads is computed.

Comes in: a folder, a seed. Goes out: an area with its tables and manifest, and its own figures.
"""

import hashlib
import json
import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from trial import Trial

import demo_warehouse
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.region.proving import prove
from pipelines.reports import region_tables, rollup
from pipelines.reports.week import Week
from pipelines.store import landed_tables, region_sql

KILLED = "killed"
ALSO = ("measures.area", "measures.item_totals", "measures.participants")


def taken_in(folder: Path, seed: int, troops: int = 4, weeks: int = 2) -> Trial:
    """A book of a small invented area with all that came in; nothing is published."""
    demo_warehouse.make(
        folder / "files",
        troops=troops,
        weeks=max(weeks, 10),
        until_week=weeks,
        seed=seed,
        troubles=False,
        formats="bulk-parquet",
    )
    trial = Trial(folder, (folder / "files" / "season.toml").read_text(encoding="utf-8"))
    trial.take_in(folder / "files" / "inbox")
    return trial


@contextmanager
def week_of(trial: Trial, as_of: date) -> Iterator[Week]:
    """The area's week, of which just what a region reads is computed."""
    season = trial._book.season()
    memory = landed_tables.look_back(trial._book.warehouse_file)
    try:
        days = [day for day in season.week_endings if day <= as_of]
        compute(memory, season, days, only=region_sql.rests_on() | {*ALSO})
        yield Week(Figures(memory, COORDINATOR), season, as_of)
    finally:
        memory.close()


def hand_up(week: Week, folder: Path) -> None:
    """Writes what a region reads of an area's roll-up."""
    files = {}
    for path, content in region_tables.papers(week):
        files[path] = hashlib.sha256(content).hexdigest()
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    write_manifest(folder, rollup._manifest(week, files, []))


def write_manifest(folder: Path, manifest: dict) -> None:
    (folder / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")


def manifest_of(folder: Path) -> dict:
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def prove_killed_once(folder: str, out: str) -> dict:
    """The work of a process that is killed at its first area."""
    mark = Path(out) / KILLED
    if not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return prove(folder, out)
