"""Another engine, given the same SQL and the same landed rows, comes to the same figures.

The files of facts and measures are put into Spark's words by a general translator of SQL (sqlglot) and a few rewrites
of tests/support/second_engine.py (unions by name, the macros, ordered lists, exact quantiles, times of day); none of
the 109 relations is left out, 73 have rows in the first season. So a fault of DuckDB itself, or words that only mean
what is meant there, would be seen. What it cannot see: a wrong rule that is said alike to both, and the statistics that
are worked out in Python, which are the same functions fed from Spark's tables. Needs pyspark and Java (`pip install
'musterbook[spark]'`). One season took 94 s of 2 cores with 4 at work on them. MUSTERBOOK_SEASONS: how many random
seasons are tried (1 unless set).
"""

import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pyarrow.parquet as pq
import pytest
import season_files
import seasons
import second_engine
from trial import Trial

from pipelines.figures.computing import compute
from pipelines.store import landed_tables
from pipelines.store.engine import Connection

SEEDS = range(7, 7 + int(os.environ.get("MUSTERBOOK_SEASONS", "1")))
NAMES = [name for name, _select in second_engine.in_order()]
KINDS = {"BIGINT": "INTEGER", "SMALLINT": "INTEGER", "TIME_NS": "TIME"}

needs_spark = pytest.mark.skipif(
    importlib.util.find_spec("pyspark") is None or shutil.which("java") is None,
    reason="Spark is not here: pip install 'musterbook[spark]', and Java 17 or newer",
)


def hand_over(con: Connection, folder: Path) -> None:
    """Writes what Spark is given: what landed, the season's rules, the days; nothing that was computed."""
    folder.mkdir(parents=True)
    for (name,) in con.execute(
        "select table_schema || '.' || table_name from information_schema.tables "
        "where table_catalog = current_database() and table_schema in ('landed', 'season', 'chosen')"
    ).fetchall():
        pq.write_table(con.sql(f"from {name}").to_arrow_table(), folder / f"{name}.parquet")


def shape(con: Connection, query: str) -> list[tuple[str, str]]:
    """Columns and their kinds: how many digits a number has room for is each engine's own."""
    told = con.sql(query)
    kinds = ("DECIMAL" if kind.startswith("DECIMAL") else KINDS.get(kind, kind) for kind in map(str, told.types))
    return list(zip(told.columns, kinds, strict=True))


@needs_spark
@pytest.mark.parametrize("seed", SEEDS)
def test_spark_comes_to_the_same_figures(seed: int, tmp_path: Path, new_trial: Callable[..., Trial]) -> None:
    """Every relation of accepted, facts and measures: the same columns, the same rows, to the last digit."""
    made = seasons.make(seed, troops=4, weeks=4)
    trial = new_trial(made.text)
    season_files.write_csvs(tmp_path / "in", made.tables)
    trial.take_in(tmp_path / "in")
    con = landed_tables.look_back(trial._book.warehouse_file)
    try:
        compute(con, trial._book.season(), made.days(4), only=frozenset(NAMES))
        hand_over(con, tmp_path / "given")
        asked = [sys.executable, second_engine.__file__, str(tmp_path)]
        here = os.environ | {"SPARK_LOCAL_IP": "127.0.0.1"}  # the machine's own name need not lead anywhere
        done = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=500, env=here)
        assert done.returncode == 0, done.stderr[-3000:]
        differs = []
        for name in NAMES:
            ours, theirs = f"from {name}", f"from '{tmp_path / 'made' / name}.parquet'"
            apart = [len(con.sql(f"{one} except all {two}")) for one, two in ((ours, theirs), (theirs, ours))]
            if shape(con, ours) != shape(con, theirs) or any(apart):
                differs.append((name, *apart))
        assert differs == []
        filled = sum(len(con.sql(f"from {name}")) > 0 for name in NAMES)
        assert filled >= len(NAMES) * 0.6
    finally:
        con.close()
