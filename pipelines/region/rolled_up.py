"""A region's roll-up as it lies in its folder, read and never written: who sees a part is handed that part alone.

Comes in: a folder that `musterbook region rollup` made. Goes out: RolledUp, whose files are as its manifest says; and
the part of it that somebody sees, in which no row of another council or area is left.

A part is the levels that lead to it, outermost first: () for all, (("council", "north"),) for a council. A row is found
by the names it carries, so a roll-up in which two parts carry the same names is not shown.
"""

import hashlib
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any

import pyarrow.parquet as pq

from pipelines.definitions.errors import Stop
from pipelines.region.adding import Row
from pipelines.region.sources import Levels
from pipelines.reports.whole_folder import MARK

TABLES = ("region", "items", "orders", "exceptions", "compared")
ALL = "all"
TRIES = 5  # while one roll-up is read, another may take its place
MAKE = "Make it with `musterbook region rollup SOURCE… --out DIR`."
Placed = tuple[Levels, Row]


@dataclass(frozen=True, slots=True)
class RolledUp:
    """A roll-up, or a part of one: its parts (the outermost first), and each table's rows with the part they are of."""

    title: str
    week: int
    as_of: date
    currency: str
    parts: tuple[Levels, ...]
    tables: dict[str, tuple[Placed, ...]]
    left_out: tuple[Row, ...]

    def seen_by(self, part: Levels) -> "RolledUp":
        """What somebody sees who was given a part; nothing where it is not in this roll-up.

        What was left out names others, so that only who sees all is told. Where all other areas lie in one council, or
        are one, a comparison with "the others" would be their figure: then it is not shown either.
        """
        if part == ():
            return self
        tables = {
            name: tuple((of, row) for of, row in rows if _is_within(of, part)) for name, rows in self.tables.items()
        }
        if self._others_are_one(part):
            tables["compared"] = ()
        return replace(
            self, parts=tuple(one for one in self.parts if _is_within(one, part)), tables=tables, left_out=()
        )

    def part(self, typed: str) -> Levels | None:
        """A part of this roll-up as it is typed; None: there is none such."""
        return next((one for one in self.parts if stated(one) == typed), None)

    def placed(self, table: str, part: Levels) -> list[Placed]:
        """A table's rows of a part and of the levels in it, each with the part it is of."""
        return [(of, row) for of, row in self.tables[table] if _is_within(of, part)]

    def rows(self, table: str, part: Levels, *, within: bool = False) -> list[Row]:
        """A table's rows of a part; `within`: those of the levels in it too."""
        return [row for of, row in self.placed(table, part) if within or of == part]

    def inner(self, part: Levels) -> list[list[Levels]]:
        """The parts within a part, level by level, the next one first."""
        within = [one for one in self.parts if _is_within(one, part) and one != part]
        depths = sorted({len(one) for one in within})
        return [[one for one in within if len(one) == depth] for depth in depths]

    def areas(self, part: Levels) -> list[Levels]:
        """The areas in a part: those that nothing lies within."""
        above = {one[:depth] for one in self.parts for depth in range(len(one))}
        return [one for one in self.parts if one not in above and _is_within(one, part)]

    def _others_are_one(self, part: Levels) -> bool:
        """Whether all areas out of a part are one other part, so that what the others have together is its own."""
        others = [one for one in self.areas(()) if not _is_within(one, part)]
        return any(
            one != part[: len(one)] and all(_is_within(other, one) for other in others) for one in self.parts if others
        )


def _is_within(one: Levels, part: Levels) -> bool:
    return one[: len(part)] == part


def stated(part: Levels) -> str:
    """A part as it is typed, and stands in an address: all, council=north, council=north/area=hillside."""
    return "/".join(f"{name}={value}" for name, value in part) or ALL


def read(folder: Path) -> RolledUp:
    """The roll-up in a folder; raises Stop where it is none of a region, or a file is not as the manifest says."""
    for tried in range(TRIES):
        before = mark_of(folder)
        try:
            return _read(folder)
        except Stop:
            if mark_of(folder) == before or tried == TRIES - 1:
                raise
    raise AssertionError


def mark_of(folder: Path) -> tuple[int, int, int] | None:
    """What is another one once a roll-up was made anew."""
    try:
        told = (folder / MARK).stat()
    except OSError:
        return None
    return told.st_ino, told.st_mtime_ns, told.st_size


def _read(folder: Path) -> RolledUp:
    told = _manifest(folder)
    content = dict(_files(folder, told["files"]))
    try:
        parts = sorted(
            {levels[:depth] for one in told["areas"] for levels in [tuple(one["levels"].items())]
             for depth in range(len(levels) + 1)},
            key=lambda one: (len(one), one),
        )  # fmt: skip
        tables = {name: _placed(content.get(f"tables/{name}.parquet"), parts) for name in TABLES}
        if len({of for of, _row in tables["region"]}) != len(parts):
            raise Stop(f"{folder}: two parts of this region carry the same names and cannot be told apart.")
        return RolledUp(
            str(told["season"]), int(told["week"]), date.fromisoformat(told["as_of"]), str(told["currency"]),
            tuple(parts), tables, tuple({"folder": str(one["folder"]), "reason": str(one["reason"])}
                                        for one in told["left_out"]),
        )  # fmt: skip
    except (KeyError, ValueError, TypeError, AttributeError) as fault:
        raise Stop(f"{folder}: this program cannot read that roll-up. Make it again with this program.") from fault


def _manifest(folder: Path) -> dict[str, Any]:
    try:
        told = json.loads((folder / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise Stop(f"{folder} is no region's roll-up. {MAKE}") from None
    if not isinstance(told, dict) or not isinstance(told.get("areas"), list) or not isinstance(told.get("files"), dict):
        raise Stop(f"{folder} is no region's roll-up. {MAKE}")
    if "currency" not in told:
        raise Stop(f"{folder} was made by an older program: make the region's roll-up again with this one.")
    return told


def _files(folder: Path, digests: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    """Each file of the manifest with its bytes, which are as it says."""
    for name, digest in digests.items():
        path = PurePosixPath(name)
        if path.is_absolute() or ".." in path.parts:
            raise Stop(f"{folder} is no region's roll-up: its manifest names files elsewhere.")
        try:
            content = (folder / path).read_bytes()
        except OSError as fault:
            raise Stop(f"{folder}: {name} is missing or cannot be read. Make the region's roll-up again.") from fault
        if hashlib.sha256(content).hexdigest() != digest:
            raise Stop(f"{folder}: {name} is not as the manifest says. Make the region's roll-up again.")
        yield name, content


def _placed(content: bytes | None, parts: list[Levels]) -> tuple[Placed, ...]:
    """A table's rows, each with the part whose names it carries."""
    if content is None:  # a table without rows is not written
        return ()
    names = {name for one in parts for name, _value in one}
    of_names = {frozenset((name, value) for name, value in one if value): one for one in parts}
    return tuple(
        (of_names[frozenset((name, row[name]) for name in names if row[name])], row)
        for row in pq.read_table(io.BytesIO(content)).to_pylist()
    )
