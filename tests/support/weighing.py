"""What a file comes to once it is taken in: its totals, table by table, and what was told of it.

Comes in: a file's reading. Goes out: Weighed. GOOD are files without a fault, of every kind, to be corrupted by the
tests of the readers: workbooks saved by a real spreadsheet program, tables of the worked season as text, as a workbook
and as Parquet.
"""

import csv
import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from made_files import written

from pipelines.definitions.columns import Kind
from pipelines.definitions.contract import TABLES
from pipelines.definitions.records import Finding, Reading
from pipelines.definitions.season import read_season
from pipelines.intake.elsewhere.mapping import Mappings
from pipelines.landing import arrivals, landed_rows
from pipelines.landing.landed_rows import Arrival
from pipelines.store import engine, landed_tables
from pipelines.store.book import now

FIXTURES = Path(__file__).parents[1] / "fixtures"
WORKED = FIXTURES / "worked_season"
CALC = FIXTURES / "calc" / "0417 week 2027-03-07"
ROWS = 40  # of each table: as many as make a file worth damaging
PACKAGES: tuple[Kind, ...] = ("packages", "packages_back", "count")
DOLLARS: tuple[Kind, ...] = ("money", "money_noted", "money_signed")
SUMMED = [(t.name, c.name) for t in TABLES.values() for c in t.columns if c.kind in (*PACKAGES, *DOLLARS)]
TYPED: dict[Kind, Callable[[str], object]] = {
    **dict.fromkeys(PACKAGES, int),
    **dict.fromkeys((*DOLLARS, "rate"), Decimal),
    **dict.fromkeys(("date", "week_ending"), date.fromisoformat),
    "time": time.fromisoformat,
}
ARROW: dict[Kind, pa.DataType] = {
    **dict.fromkeys(PACKAGES, pa.int64()),
    **dict.fromkeys(DOLLARS, pa.decimal128(12, 2)),
    "rate": pa.decimal128(9, 4),
    **dict.fromkeys(("date", "week_ending"), pa.date32()),
    "time": pa.time64("us"),
}
Totals = dict[tuple[str, str], Decimal]


@dataclass
class Weighed:
    """The sums of a file's accepted rows by table and column (of packages or money), and the findings."""

    totals: Totals
    findings: list[Finding]


class Scales:
    """A book in memory that knows the worked season, its troops and its roster, and troop 0417."""

    def __init__(self) -> None:
        season = read_season((WORKED / "season.toml").read_text(encoding="utf-8"))
        self.rules = arrivals.Rules(season, Mappings({}))
        self.con = engine.connect()
        landed_tables.prepare_landed(self.con)
        engine.suit(self.con, is_large=False)
        troops = sorted({row["troop"] for row in worked("troops")} | {"0417"})
        engine.insert(self.con, "landed.troops (troop)", [(code,) for code in troops])

    def weigh(self, reading: Reading, name: str) -> Weighed:
        """What this reading comes to in a book that knows nothing else."""
        one = arrivals.Opened(name, "", 0, Path())
        one.reading = reading
        arrivals._recognise(one, 1)
        with self._in_vain():
            landed_rows.land_files(self.con, [Arrival(1, "", name, 0, now(), "", one.what)])
            arrivals.judge(self.con, self.rules, [one], now(), lambda _what, _done, _of: None)
            return Weighed(self._totals(), [placed[0] for placed in self._findings()])

    @contextmanager
    def _in_vain(self) -> Iterator[None]:
        self.con.execute("begin")
        try:
            yield
        finally:
            self.con.execute("rollback")

    def _totals(self) -> Totals:
        sums = " union all ".join(
            f"select '{table}', '{column}', coalesce(sum(\"{column}\"), 0)::decimal(18, 2) "  # noqa: S608 - our own names
            f"from landed.{table} where file_no = 1"
            for table, column in SUMMED
        )
        return {(table, column): total for table, column, total in self.con.execute(sums).fetchall()}

    def _findings(self) -> list[tuple[Finding]]:
        query = "select sheet, cell, found, expected, how, is_note from landed.findings"
        return [(Finding(**row),) for row in engine.rows(self.con, query)]


def worked(table: str) -> list[dict[str, str]]:
    """The rows of a table of the worked season, as text."""
    found = [WORKED / folder / f"{table}.csv" for folder in ("feeds", "submissions-in-bulk")]
    with next(path for path in found if path.exists()).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def as_csv(table: str) -> bytes:
    held = io.StringIO(newline="")
    rows = worked(table)[:ROWS]
    writer = csv.DictWriter(held, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return held.getvalue().encode()


def typed(table: str) -> dict[str, list[object]]:
    """The same as columns of numbers, days and text; an empty cell is None."""
    rows = worked(table)[:ROWS]
    kinds = {column.name: column.kind for column in TABLES[table].columns}
    return {name: [TYPED.get(kinds[name], str)(row[name]) if row[name] else None for row in rows] for name in rows[0]}


def as_arrow(table: str) -> pa.Table:
    kinds = {column.name: column.kind for column in TABLES[table].columns}
    return pa.table(
        {name: pa.array(cells, ARROW.get(kinds[name], pa.string())) for name, cells in typed(table).items()}
    )


def as_parquet(table: str, packed: str, *, checksums: bool = True) -> bytes:
    held = io.BytesIO()
    pq.write_table(as_arrow(table), held, compression=packed, write_page_checksum=checksums)
    return held.getvalue()


def as_workbook(*tables: str) -> bytes:
    sheets: dict[str, list[list[object]]] = {}
    for table in tables:
        columns = typed(table)
        rows = [[float(c) if isinstance(c, Decimal) else c for c in row] for row in zip(*columns.values(), strict=True)]
        sheets[table] = [list(columns), *rows]
    return written(sheets)


TABLES_OF_TEXT = ("stock", "families", "stalls", "banked", "moves", "goals", "cover", "supply", "online_orders",
                  "remittances", "collections", "adjustments", "organisation_balance")  # fmt: skip
GOOD: dict[str, Callable[[], bytes]] = {
    **{
        f"week.{kind}": lambda kind=kind: CALC.with_name(f"{CALC.name}.{kind}").read_bytes()
        for kind in ("xlsx", "ods", "xls")
    },  # type: ignore[misc]
    "bulk.xlsx": lambda: as_workbook("stock", "families", "banked", "supply", "remittances"),
    **{f"{table}.csv": lambda table=table: as_csv(table) for table in TABLES_OF_TEXT},  # type: ignore[misc]
    "families.parquet": lambda: as_parquet("families", "none"),
    "banked.parquet": lambda: as_parquet("banked", "snappy"),
    "online_orders.parquet": lambda: as_parquet("online_orders", "zstd"),
    "stock.parquet": lambda: as_parquet("stock", "snappy", checksums=False),
}
"""Files without a fault, by a name that tells their kind."""
