"""A troop's week as it is filled in on the page: kept as a draft, made into the same workbook that a troop would send.

Comes in: what was typed, as text by sheet, row and column. Goes out: sheets of cells, and a workbook's bytes. Nothing
is judged here: what is typed lands like any other file and meets the same checks.

Each device says with a value what the field showed before. Where something else is kept by then, that stays, and the
device is told: a value that somebody typed is neither lost nor put over one that its writer had not seen.
An editor's limits are the browser's only. Each such workbook carries a mark of its own, so that what is sent is always
a file of its own.
"""

import io
import json
import time
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from sqlite3 import Connection, Row
from typing import Any

from xlsxwriter.workbook import Workbook

from pipelines.accounts.account_store import Store
from pipelines.definitions.contract import OWN_PAGE
from pipelines.definitions.errors import Stop
from pipelines.definitions.records import Sheet
from pipelines.definitions.season import Season

HANDED = " handed"  # behind an award's code: the column of the day it was handed over
Cells = dict[str, str]  # column → what was typed
MOST_CHARACTERS = 200_000  # of a whole draft: about a hundred times a full one
PACKAGES = ("received", "damaged", "on_hand", "packages", "goal", "made_elsewhere")  # and every column that is an item
COLUMNS: dict[
    str, tuple[str, ...]
] = {  # of the sheets that have a row for each entry; items come where "*" stands, awards where "+" does
    "stock": ("item", "received", "damaged", "on_hand"),
    "families": ("participant", "*", "cash", "card", "note"),
    "stalls": ("date", "start", "end", "place", "*", "cash", "card", "gift", "participants", "note"),
    "banked": ("date", "amount", "kind", "participant", "slip", "note"),
    "moves": ("date", "item", "packages", "direction", "other_troop"),
    "goals": ("participant", "goal", "made_elsewhere"),
    "promised": ("participant", "*"),
    "awards": ("participant", "+"),
}
COVER = ("prepared_by", "bank_balance", "balance_on", "note")
KEPT = "select content from drafts where troop = ? and week_ending = ?"
NAMED_BY = {
    "stock": "item",
    "families": "participant",
    "goals": "participant",
    "promised": "participant",
    "awards": "participant",
}  # the column that is the row's name


@dataclass(frozen=True, slots=True)
class Typed:
    """One field as a device typed it: what the field showed before, and what stands there now. Row "": the cover's."""

    sheet: str
    row: str
    column: str
    was: str
    now: str


@dataclass
class Draft:
    """One troop's week: the cover, and of each sheet its rows, each under a name of its own.

    `version` goes up with every change, also when the draft is sent or thrown away and when another one is begun.
    """

    cover: Cells = field(default_factory=dict)
    sheets: dict[str, dict[str, Cells]] = field(default_factory=lambda: {name: {} for name in COLUMNS})
    version: int = 0

    def text(self) -> str:
        """As it is kept."""
        kept = {"version": self.version, "cover": self.cover, "sheets": self.sheets}
        return json.dumps(kept, ensure_ascii=False)

    def value(self, of: Typed) -> str:
        """What stands in a field."""
        cells = self.cover if of.sheet == "cover" else self.sheets[of.sheet].get(of.row, {})
        return cells.get(of.column, "")

    def put(self, typed: Typed) -> None:
        """Puts a value into its field; a stall, a deposit or a move without any value is none any more."""
        rows = {"": self.cover} if typed.sheet == "cover" else self.sheets[typed.sheet]
        name = NAMED_BY.get(typed.sheet)
        cells = rows.setdefault(typed.row, {name: typed.row} if name else {})
        if typed.now:
            cells[typed.column] = typed.now
        else:
            cells.pop(typed.column, None)
        if name and cells:
            cells[name] = typed.row  # a row with a value keeps its name
        if not cells and typed.sheet != "cover":
            del rows[typed.row]


def read_draft(text: str) -> Draft | None:
    """A draft that was kept; None where only the version of one that was sent or thrown away is left."""
    kept = json.loads(text)
    if "cover" not in kept:
        return None
    sheets = {name: kept["sheets"].get(name, {}) for name in COLUMNS}
    return Draft(kept["cover"], sheets, kept.get("version", 1))


def columns_of(sheet: str, season: Season) -> list[str]:
    """The columns of a sheet, with one for each item where packages stand in the row."""
    awards = [name for one in season.awards for name in ([one.code] if one.steps else []) + [one.code + HANDED]]
    many = {"*": list(season.codes), "+": awards}
    return [name for column in COLUMNS[sheet] for name in many.get(column, [column])]


def change(
    store: Store, troop: str, week_ending: date, typed: Iterable[Typed], begun: Draft, by: str
) -> tuple[Draft, list[Typed]]:
    """Keeps what a device typed; returns the draft, and the fields that hold something else by now, as their `was`.

    `begun`: what the fields showed where no draft is kept yet. Raises Stop where the whole is too long to be kept.
    """
    with store.writing() as con:
        found = con.execute(KEPT, (troop, week_ending.isoformat())).fetchone()
        draft = (read_draft(found["content"]) if found else None) or _copy(begun, _version_in(found))
        was, others = draft.text(), []
        for one in typed:
            stands = draft.value(one)
            if stands in (one.was, one.now):
                draft.put(one)
            else:
                others.append(replace(one, was=stands))
        if draft.text() != was:
            draft.version += 1
            _write(con, troop, week_ending, draft.text(), by)
    return draft, others


def _copy(draft: Draft, version: int) -> Draft:
    copied = read_draft(draft.text()) or Draft()
    return replace(copied, version=version)


def _write(con: Connection, troop: str, week_ending: date, text: str, by: str) -> None:
    if len(text) > MOST_CHARACTERS:
        raise Stop("This is too long to be kept. Shorten the notes.")
    con.execute(
        "insert into drafts values (?, ?, ?, ?, ?) on conflict (troop, week_ending) do update set "
        "content = excluded.content, changed_at = excluded.changed_at, changed_by = excluded.changed_by",
        (troop, week_ending.isoformat(), text, time.time(), by),
    )


def kept(store: Store, troop: str, week_ending: date) -> Draft | None:
    """The draft of a troop's week, if one is kept."""
    found = store.rows(KEPT, troop, week_ending.isoformat())
    return read_draft(found[0]["content"]) if found else None


def version(store: Store, troop: str, week_ending: date) -> int:
    """Of a troop's week: a number that goes up with every change of its draft; 0 where none was ever kept."""
    found = store.rows(KEPT, troop, week_ending.isoformat())
    return _version_in(found[0] if found else None)


def _version_in(found: Row | None) -> int:
    return int(json.loads(found["content"]).get("version", 1)) if found else 0


def drop(store: Store, troop: str, week_ending: date, by: str, *, only: int | None = None) -> None:
    """Lets a draft go; its version stays, so that a device that shows it learns of it. `only`: of this version."""
    with store.writing() as con:
        found = con.execute(KEPT, (troop, week_ending.isoformat())).fetchone()
        if found and only in (None, _version_in(found)):
            _write(con, troop, week_ending, json.dumps({"version": _version_in(found) + 1}), by)


def prefilled(season: Season, participants: Iterable[str], sent: Mapping[str, Sequence[Mapping[str, Any]]]) -> Draft:
    """A new draft: what was sent of that week, by table, and a row for every stocked item and every participant."""
    draft = Draft()
    draft.sheets["stock"] = {item.code: {"item": item.code} for item in season.items if item.stocked}
    draft.sheets["families"] = {code: {"participant": code} for code in (*participants, OWN_PAGE)}
    for row in sent.get("cover", ()):
        draft.cover = {name: _typed(row[name]) for name in COVER if row[name] is not None}
    for name, rows in sent.items():
        if name in draft.sheets:
            _fill(draft.sheets[name], name, rows)
    return draft


def _fill(entries: dict[str, Cells], sheet: str, rows: Sequence[Mapping[str, Any]]) -> None:
    """Puts rows that were sent into a sheet's entries; an item's packages go to the item's column."""
    is_wide = "*" in COLUMNS[sheet]
    for number, row in enumerate(rows, 1):
        match sheet:
            case "stock":
                key = str(row["item"])
            case "families" | "goals" | "promised" | "awards":
                key = str(row["participant"])
            case "stalls":
                key = " ".join(_typed(row[name]) for name in ("date", "start", "place")).strip()
            case _:
                key = str(number)
        cells = entries.setdefault(key, {})
        if is_wide and row["item"]:
            cells[row["item"]] = _typed(row["packages"])
        if sheet == "awards":
            told = {row["award"]: _typed(row["steps"]), row["award"] + HANDED: _typed(row["handed_on"])}
            cells |= {name: value for name, value in told.items() if value}
        cells |= {n: _typed(row[n]) for n in COLUMNS[sheet] if n not in "*+" and row.get(n) not in (None, "", [])}


def _typed(value: Any) -> str:
    """A value as somebody would type it."""
    if value is None:
        return ""
    if isinstance(value, list):
        return " ".join(map(str, value))
    return f"{value:%H:%M}" if hasattr(value, "hour") else str(value)


def sheets_of(draft: Draft, season: Season, troop: str, week_ending: date) -> list[Sheet]:
    """The workbook's sheets as cells: packages as numbers where they are whole, all else as it was typed."""
    cover: list[list[object]] = [["troop", troop], ["week ending", week_ending]]
    cover += [[name.replace("_", " "), draft.cover[name]] for name in COVER if draft.cover.get(name, "").strip()]
    sheets = [Sheet("Cover", cover)]
    for name, entries in draft.sheets.items():
        if name == "awards":
            sheets += _awards(entries, season)
            continue
        columns = columns_of(name, season)
        whole = {*PACKAGES, *season.codes} if "*" in COLUMNS[name] else set(PACKAGES)
        rows: list[list[object]] = [list(columns)]
        for cells in entries.values():
            row = [_cell(cells.get(column, ""), is_whole=column in whole) for column in columns]
            if name in ("stock", "families") or any(cell is not None for cell in row):
                rows.append(row)
        if len(rows) > 1 or name == "stock":
            sheets.append(Sheet(name.capitalize(), rows))
    return sheets


def _awards(entries: Mapping[str, Cells], season: Season) -> list[Sheet]:
    """The sheet of awards: a row for each participant and award of which something is told."""
    rows: list[list[object]] = [["participant", "award", "steps", "handed_on"]]
    for who, cells in entries.items():
        for one in season.awards:
            told = (cells.get(one.code, "").strip(), cells.get(one.code + HANDED, "").strip())
            if any(told):
                rows.append([who, one.code, *(text or None for text in told)])
    return [Sheet("Awards", rows)] if len(rows) > 1 else []


def _cell(text: str, *, is_whole: bool) -> object:
    text = text.strip()
    if is_whole and text.removeprefix("-").isdecimal() and text.isascii() and len(text) < 12:
        return int(text)
    return text or None


def workbook(sheets: Sequence[Sheet]) -> bytes:
    """The workbook's bytes, with a mark of its own: the same figures sent again later are a new word."""
    out = io.BytesIO()
    kept_as = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = Workbook(out, {**kept_as, "default_date_format": "yyyy-mm-dd"})
    book.set_properties({"author": "Musterbook", "comments": "Filled in on the page."})
    book.set_custom_property("sent", str(uuid.uuid4()))
    for sheet in sheets:
        page = book.add_worksheet(sheet.name)
        for number, row in enumerate(sheet.rows or []):
            for place, cell in enumerate(row):
                if isinstance(cell, date):
                    page.write_datetime(number, place, cell)
                elif isinstance(cell, int):
                    page.write_number(number, place, cell)
                elif cell is not None:
                    page.write_string(number, place, str(cell))
    book.close()
    return out.getvalue()
