"""What landed bytes alone do not say, written beside them: names, order, times and senders, and what people wrote down.

Comes in: the writer's connection, after what it took in is certain. Goes out: landed/journal.jsonl, one line a row,
only ever added to; read again where the warehouse is lost. A warehouse that knows less than it is an older one.
"""

import json
import os
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from pipelines.definitions.errors import Damaged
from pipelines.store import engine
from pipelines.store.engine import Connection

NAME = "journal.jsonl"
TOLD = {"files": "file_no", "follow_ups": "entry_no", "agreements": "entry_no", "dismissals": "entry_no"}
"""The landed tables that cannot be read again from the files themselves, each with the number its rows go up by."""

Row = dict[str, Any]


def read(path: Path) -> dict[str, list[Row]]:
    """The rows of each told table, in the order written; a line that was broken off at the end is no line.

    Raises Damaged where a line is not as it was written.
    """
    found: dict[str, list[Row]] = {name: [] for name in TOLD}
    try:
        for line in path.read_bytes().split(b"\n")[:-1] if path.is_file() else ():
            told = json.loads(line)
            found[told["of"]].append({TOLD[told["of"]]: None} | told["row"])
    except (ValueError, KeyError, TypeError) as fault:
        raise Damaged(f"{path} is damaged. What it said stands in the published figures too.") from fault
    return found


def write_down(con: Connection, path: Path) -> None:
    """Adds what the warehouse has and the journal has not; raises Damaged where the journal knows more."""
    try:
        told = {name: max((row[TOLD[name]] for row in rows), default=0) for name, rows in read(path).items()}
    except Damaged:  # the warehouse knows all of it
        path.unlink()
        told = dict.fromkeys(TOLD, 0)
    lines: list[str] = []
    for name, number in TOLD.items():
        last = con.execute(f"select coalesce(max({number}), 0) from landed.{name}").fetchall()[0][0]
        if told[name] > last:
            raise Damaged(f"The warehouse beside {path.parent} knows less than what has landed. {engine.WAY_OUT}")
        if told[name] < last:
            rows = engine.rows(con, f"from landed.{name} where {number} > ? order by {number}", [told[name]])
            lines += [json.dumps({"of": name, "row": row}, default=_plain, ensure_ascii=False) for row in rows]
    if not lines:
        return
    path.parent.mkdir(exist_ok=True)
    with path.open("ab") as out:
        out.truncate(_whole(path))
        out.write("".join(f"{line}\n" for line in lines).encode())
        out.flush()
        os.fsync(out.fileno())


def put_in(con: Connection, name: str, rows: list[Row]) -> None:
    """Puts rows that were read into a landed table of a new warehouse, by the names of their columns."""
    kinds = dict(
        con.execute(
            "select column_name, data_type from duckdb_columns() where schema_name = 'landed' and table_name = ? "
            "and database_name = current_database()",
            [name],
        ).fetchall()
    )
    for row in rows:
        here = {column: value for column, value in row.items() if column in kinds}
        values = ", ".join(f"?::{kinds[column]}" for column in here)
        con.execute(f"insert into landed.{name} ({', '.join(here)}) values ({values})", list(here.values()))


def _whole(path: Path) -> int:
    """How many bytes the whole lines take: what follows was broken off."""
    return path.read_bytes().rfind(b"\n") + 1


def _plain(value: object) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    assert isinstance(value, Decimal)  # noqa: S101 - told tables hold texts, whole numbers, money and times
    return str(value)
