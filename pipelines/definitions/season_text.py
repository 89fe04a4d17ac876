"""A season.toml with some values changed and everything else as it was, comments too.

Comes in: the text of a season.toml, values by their place, rows of tables. Goes out: the text with them. What is not
changed stays byte for byte; ends of lines are those of the file. Whatever is written is read again: a file laid out in
a way that this does not follow is refused, never written wrong.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from pipelines.definitions.errors import BrokenSeason
from pipelines.definitions.season import Season, read_season
from pipelines.definitions.season_form import Path, value_at

Row = Mapping[str, Any]
Plain = dict[str, Any]
HEADER = re.compile(r"^\s*(\[\[?)\s*([\w.\-]+)\s*\]\]?\s*(?:#.*)?$")
BY_HAND = "This season.toml is laid out in a way that the form cannot change. Change it as text."


@dataclass(frozen=True)
class Edits:
    """What is to be changed: values by their place (None: as if never said), and whole tables.

    A table's rows come in order, each with the number that it has in the file now; None: it is new.
    """

    values: Mapping[Path, Any] = field(default_factory=dict)
    tables: Mapping[Path, Sequence[tuple[int | None, Row]]] = field(default_factory=dict)

    def places(self) -> list[Path]:
        """All that is to be changed."""
        return [*self.values, *self.tables]


def edited(text: str, edits: Edits) -> str:
    """The text with the edits; raises BrokenSeason where it cannot be read, or is laid out otherwise."""
    newline = "\r\n" if "\r\n" in text else "\n"
    made, wanted = text.replace("\r\n", "\n"), _loaded(text)
    for path, value in edits.values.items():
        made = _put(made, path[:-1], 0, path[-1], value)
        _want(_part(wanted, path[:-1]), path[-1], value)
    for path, rows in edits.tables.items():
        there: list[Plain] = _part(wanted, path[:-1]).setdefault(path[-1], [])
        made = _put_rows(made, path, rows, there)
        if not there:
            del _part(wanted, path[:-1])[path[-1]]
    if _loaded(made) != _without_empty(wanted):
        raise BrokenSeason(BY_HAND)
    return made.replace("\n", newline)


def _loaded(text: str) -> Plain:
    try:
        return _without_empty(tomllib.loads(text, parse_float=Decimal))
    except tomllib.TOMLDecodeError as fault:
        raise BrokenSeason(f"season.toml is not valid TOML: {fault}.") from fault


def _without_empty(stated: Plain) -> Plain:
    return {name: one for name, one in stated.items() if one != {}}


def _part(stated: Plain, path: Path) -> Plain:
    for name in path:
        stated = stated.setdefault(name, {})
    return stated


def _want(stated: Plain, name: str, value: Any) -> None:
    if value is None:
        stated.pop(name, None)
    elif name not in stated or not _same(stated[name], value):
        stated[name] = _toml(value)


def _toml(value: Any) -> Any:
    """Amounts stand in quotes, lists as lists; the rest as it is."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return list(value) if isinstance(value, tuple) else value


def _same(stated: Any, value: Any) -> bool:
    """Whether what stands there says the same, be it in quotes or not."""
    return bool(stated == _toml(value) or (isinstance(value, Decimal) and str(stated) == str(_toml(value))))


# one value


def _put(text: str, section: Path, number: int, name: str, value: Any) -> str:
    """One key of a section, or of its `number`th row: where it stands; else in place of its own comment, or last."""
    try:
        document = tomlkit.parse(text)
        part: Any = document
        for one in section:
            part = part[one]
        part = part[number] if isinstance(part, list) else part
        if name in part and value is None:
            part.remove(name)
            return tomlkit.dumps(document)
        if name in part:
            if not _same(part[name].unwrap(), value):
                part[name] = _toml(value)
            return tomlkit.dumps(document)
    except (TOMLKitError, IndexError):
        pass  # the section is not there yet
    return text if value is None else _add(text, section, number, name, value)


def _line(name: str, value: Any) -> str:
    return tomlkit.dumps({name: _toml(value)}).rstrip("\n")


def _add(text: str, section: Path, number: int, name: str, value: Any) -> str:
    """A key that is not there yet."""
    lines = text.split("\n")
    places = _blocks(lines, section)
    if number >= len(places):
        return f"{text.rstrip()}\n\n[{'.'.join(section)}]\n{_line(name, value)}\n"
    begin, last, end = places[number]
    waiting = re.compile(rf"^#\s*{re.escape(name)}\s*=[^#]*(#.*)?$")
    for place in range(begin + 1, end):
        if found := waiting.match(lines[place]):
            lines[place] = _line(name, value) + (f"  {found[1]}" if found[1] else "")
            return "\n".join(lines)
    lines.insert(last + 1, _line(name, value))
    return "\n".join(lines)


def _blocks(lines: Sequence[str], section: Path) -> list[tuple[int, int, int]]:
    """Where a section stands, or each row of a table: its header, its last key, and where the next header is."""
    heads = [(place, found[2]) for place, line in enumerate(lines) if (found := HEADER.match(line))]
    blocks = []
    for place, name in heads:
        if name == ".".join(section):
            end = next((later for later, _name in heads if later > place), len(lines))
            keys = [one for one in range(place, end) if lines[one].strip() and not lines[one].lstrip().startswith("#")]
            blocks.append((place, keys[-1], end))
    return blocks


# rows


def _put_rows(text: str, path: Path, rows: Sequence[tuple[int | None, Row]], there: list[Plain]) -> str:
    """The rows of a table; `there`, what stands in the file, becomes what is wanted."""
    kept = {number: row for number, row in rows if number is not None}
    for number, row in kept.items():
        for name, value in row.items():
            text = _put(text, path, number, name, value)
            _want(there[number], name, value)
    for gone in sorted(set(range(len(there))) - kept.keys(), reverse=True):
        text = _taken_out(text, path, gone)
        del there[gone]
    for known, row in rows:
        if known is None:
            place = _place(there, row)
            text = _put_in(text, path, place, row)
            there.insert(place, {name: _toml(value) for name, value in row.items() if value is not None})
    return text


def _taken_out(text: str, path: Path, number: int) -> str:
    lines = text.split("\n")
    places = _blocks(lines, path)
    if number >= len(places):
        raise BrokenSeason(BY_HAND)
    begin, last, _end = places[number]
    while last + 1 < len(lines) and not lines[last + 1].strip():
        last += 1
    return "\n".join([*lines[:begin], *lines[last + 1 :]])


def _put_in(text: str, path: Path, place: int, row: Row) -> str:
    """A new row, behind the one before it; the first one behind its section, or at the end."""
    lines = text.split("\n")
    places = _blocks(lines, path)
    block = [f"[[{'.'.join(path)}]]", *(_line(name, value) for name, value in row.items() if value is not None)]
    if place < len(places):
        spot, block = places[place][0], [*block, ""]
    elif places:
        spot, block = places[-1][1] + 1, ["", *block]
    elif around := _blocks(lines, path[:-1]):
        spot, block = around[0][1] + 1, ["", *block]
        while spot < len(lines) and lines[spot].strip():  # keys that wait behind a mark stay with their section
            spot += 1
    else:
        return f"{text.rstrip()}\n\n" + "\n".join(block) + "\n"
    return "\n".join([*lines[:spot], *block, *lines[spot:]])


def _place(there: Sequence[Plain], row: Row) -> int:
    """Where a new row belongs: rows that begin with a day or a number stand in its order, others come last."""
    name, first = next(iter(row.items()))
    if isinstance(first, date):
        return sum(one[name] < first for one in there)
    if isinstance(first, Decimal | int):
        return sum(Decimal(str(one[name])) < first for one in there)
    return len(there)


def merged(base: Season, now: Season, edits: Edits) -> Season:
    """The season as it is now, with edits that somebody began from `base`; raises BrokenSeason where two disagree."""
    for path in edits.places():
        if value_at(base, path) != value_at(now, path):
            named = " ".join(path).replace("_", " ")
            raise BrokenSeason(f"Somebody else changed {named} meanwhile. Look at it again; nothing of yours was kept.")
    return read_season(edited(now.text, edits))
