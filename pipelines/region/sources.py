"""Which areas' roll-ups there are, and which of them may be added up: each whole, or left out with its reason.

Comes in: folders, also mounted ones; a day. Goes out: Areas and LeftOut.

An area is a folder that holds a roll-up's manifest, or a book, whose roll-ups lie in its out/. Levels are read from
folders that are named so, outermost first: council=north/area=hillside. Of several weeks of one area the newest up to
the day counts; one that is older than most is taken with its date shown. What most areas say of currency, season,
prices and the week's end is the region's; whoever says otherwise is left out, since the sums would mean nothing.

The area is the smallest part. What a troop was given counts for it on the giver's word, so figures that were made of
one troop's rows alone are wrong for whoever took part in a move; folders that cut areas by troop are refused.
"""

import hashlib
import json
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from pipelines.reports.whole_folder import MARK
from pipelines.store import region_sql
from pipelines.store.book import SEASON

Levels = tuple[tuple[str, str], ...]  # (name, value), outermost first: council north, area hillside
AREA = "area"
PURGED = "purged.json"
SMALLER = {"troop", "participant"}  # levels below an area
NO_PART = "a part of an area: what one troop gives another stands in both, so that an area adds up whole, not by troop"
AT_ONCE = 8  # folders that are read at the same time: most of it is waiting
WORDS = {
    "currency": "another currency",
    "season": "another season",
    "week_ends_on": "another day on which weeks end",
    "items": "other items or prices",
}


@dataclass(frozen=True, slots=True)
class Area:
    """One area's roll-up: where it lies, its levels (the last one the area itself), its day and its terms."""

    folder: Path
    levels: Levels
    as_of: date
    known_on: str
    terms: dict[str, Any]
    week: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A folder that is not in the sums, and why."""

    folder: Path
    reason: str


def find(sources: Sequence[Path], until: date | None = None) -> tuple[list[Area], list[LeftOut]]:
    """Every area below some folders, as of a day (the newest there is), in the order of their levels."""
    found: list[Area | LeftOut] = []
    folders = [folder for source in sources for folder in _folders(source.absolute())]
    with ThreadPoolExecutor(AT_ONCE) as threads:
        found += threads.map(read, [one for one in folders if isinstance(one, Path)])
    left = [one for one in [*folders, *found] if isinstance(one, LeftOut)]
    areas = [one for one in found if isinstance(one, Area) and (until is None or one.as_of <= until)]
    areas, twice = _one_of_each(areas)
    areas, otherwise = _alike(areas)
    sound: list[Area] = []
    with ThreadPoolExecutor(AT_ONCE) as threads:
        for one, fault in zip(areas, threads.map(_fault, areas), strict=True):
            if fault:
                left.append(LeftOut(one.folder, fault))
            else:
                sound.append(one)
    sound.sort(key=lambda one: one.levels)
    return sound, sorted([*left, *twice, *otherwise], key=lambda one: str(one.folder))


def _folders(source: Path) -> Iterator[Path | LeftOut]:
    """The folders of roll-ups below a folder; an area's folder without any is told of."""
    if not source.is_dir():
        yield LeftOut(source, "no such folder")
        return
    found = 0
    inner = sorted(one.name for one in os.scandir(source) if one.is_dir())
    if (source / PURGED).is_file():
        yield LeftOut(source, "purged: its season is over")
        return
    if (source / MARK).is_file():
        yield source
        return
    if (source / SEASON).is_file():
        inner = [name for name in inner if name == "out"]
    for name in inner:
        if name.startswith("."):  # one that is being made
            continue
        for one in _folders(source / name):
            found += 1
            yield one
    if not found and (source.name.startswith(f"{AREA}=") or (source / SEASON).is_file()):
        yield LeftOut(source, "no roll-up in it")


def read(folder: Path) -> Area | LeftOut:
    """An area by its manifest."""
    try:
        stated = json.loads((folder / MARK).read_text(encoding="utf-8"))
        terms = stated.get("region")
        if not terms or terms["format"] < region_sql.FORMAT:
            return LeftOut(folder, "an older format: make its roll-up again with this program")
        if terms["format"] > region_sql.FORMAT:
            return LeftOut(folder, "a newer format: install the newer program here")
        levels = tuple(_level(part) for part in folder.parts if "=" in part)
        if any(name in SMALLER for name, _value in levels):
            return LeftOut(folder, NO_PART)
        if not any(name == AREA for name, _value in levels):
            levels = (*levels, (AREA, stated["area"]))
        files = {name: stated["files"].get(f"{region_sql.PLACE}/{name}.parquet") for name in region_sql.TABLES}
        terms = {**terms, "files": files}
        day = date.fromisoformat(stated["as_of"])
        return Area(folder, levels, day, stated["known_on"] or "", terms, int(stated["week"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return LeftOut(folder, "its manifest cannot be read")


def _level(part: str) -> tuple[str, str]:
    name, _equal, value = part.partition("=")
    return name.lower(), value


def _one_of_each(areas: Sequence[Area]) -> tuple[list[Area], list[LeftOut]]:
    """The newest roll-up of each area; a second one of the same day is left out.

    Two that lie side by side are one area's own and the organisation's copy of it.
    """
    newest: dict[Levels, Area] = {}
    twice = []
    for one in sorted(areas, key=lambda one: (one.as_of, one.known_on, str(one.folder))):
        before = newest.get(one.levels)
        if before and before.as_of == one.as_of and before.folder.parent != one.folder.parent:
            twice.append(LeftOut(before.folder, f"the same area twice: {one.folder} counts"))
        newest[one.levels] = one
    return list(newest.values()), twice


def _alike(areas: Sequence[Area]) -> tuple[list[Area], list[LeftOut]]:
    """The areas whose terms are those that most areas have."""
    left: list[LeftOut] = []
    for name, words in WORDS.items():
        said = {one.folder: json.dumps(one.terms.get(name), sort_keys=True) for one in areas}
        counted = Counter(said.values())
        most = max(counted, key=lambda told: (counted[told], told), default="")
        left += [LeftOut(one.folder, f"{words} than most areas have") for one in areas if said[one.folder] != most]
        areas = [one for one in areas if said[one.folder] == most]
    return list(areas), left


def _fault(one: Area) -> str:
    """What is wrong with the files of an area; "" where each is as the manifest says."""
    for name, digest in one.terms["files"].items():
        path = one.folder / region_sql.PLACE / f"{name}.parquet"
        try:
            content = path.read_bytes()
        except FileNotFoundError:
            return f"the table {name} is missing"
        except OSError as fault:
            return f"the table {name} cannot be read: {fault.strerror}"
        if hashlib.sha256(content).hexdigest() != digest:
            return f"the table {name} is not as its manifest says"
    return ""


def of_the_same_columns(areas: Sequence[Area]) -> tuple[list[Area], list[LeftOut]]:
    """The areas whose tables have the columns of most areas; opens every file, so is asked only in doubt."""
    left: list[LeftOut] = []
    for name in region_sql.TABLES:
        has = {one.folder: _columns(one.folder / region_sql.PLACE / f"{name}.parquet") for one in areas}
        most, _often = Counter(has.values()).most_common(1)[0]
        reason = f"the table {name} has other columns than most areas'"
        left += [LeftOut(one.folder, reason) for one in areas if has[one.folder] != most]
        areas = [one for one in areas if has[one.folder] == most]
    return list(areas), left


def _columns(path: Path) -> tuple[str, ...]:
    """The columns of a file of Parquet; none where it is not one."""
    try:
        return tuple(pq.read_schema(path).names)
    except (OSError, pa.ArrowInvalid):
        return ()
