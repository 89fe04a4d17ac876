"""Troops' workbooks → Raw tables in the long form of the bulk tables: one row an item, and one that carries the money.

Comes in: the sheets of many workbooks, the season's item codes. Goes out: one Raw a submission table, and findings.

Many are staged at a time, one Arrow table a kind. A row of Families becomes a row for each item and one for its money;
the latter is there even when all is empty, since it says that the participant was listed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from pipelines.definitions.columns import Table, fold
from pipelines.definitions.contract import MONEY_COLUMNS, REQUIRED_SHEETS, TABLES, WIDE_SHEETS
from pipelines.definitions.form_columns import INTO_BANK, MOST_ABOVE, TO_MEND, is_help
from pipelines.definitions.limits import LONGEST_LABEL
from pipelines.definitions.records import CellFault, Finding, Sheet
from pipelines.definitions.season import Season
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.intake.files.wire import column_letters as letter
from pipelines.intake.judging.cases_and_loose import opened
from pipelines.intake.judging.judge import shown
from pipelines.intake.judging.tables import (
    HEADER_WITHIN,
    Raw,
    as_wide,
    is_empty,
    placed,
    second_block,
    told_above,
    unknown_header,
)

NAMED_BY = {
    "families": ("participant",),
    "stalls": ("date", "start", "place"),
    "promised": ("participant",),
}  # what a wide row stands for
IN_PACKAGES = ("received", "damaged", "on_hand", "packages")
PASSED_OVER = "This column was passed over."
NEAR_NAME = 0.7  # from where on a sheet's name is one of ours that was mistyped: Baked, Family, Families (2)
NEAR = 0.8  # from where on a word on the cover is a label that was mistyped


@dataclass
class _Gathered:
    """The rows of one table from many workbooks, as they come in."""

    table: Table
    file_nos: list[int] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    row_nos: list[int] = field(default_factory=list)
    columns: dict[str, list[object]] = field(default_factory=dict)
    places: dict[str, dict[int, int]] = field(default_factory=dict)  # column → file → place
    others: list[tuple[object, ...]] = field(
        default_factory=list
    )  # of each row what columns beside the contract's hold
    item_places: list[int] = field(default_factory=list)  # of wide sheets: the place of each row's packages
    fixed: dict[tuple[int, str], str] = field(default_factory=dict)  # of covers: the cell of each label's value

    def __post_init__(self) -> None:
        self.columns = {name: [] for name in self.table.names}

    def add(
        self, file_no: int, sheet: str, row_no: int, values: dict[str, object], others: tuple[object, ...] = ()
    ) -> None:
        self.others.append(others)
        self.file_nos.append(file_no)
        self.sheets.append(sheet)
        self.row_nos.append(row_no)
        for name, cells in self.columns.items():
            cells.append(values.get(name))

    def raw(self) -> Raw:
        letters: dict[str, dict[int, int] | list[int] | int] = dict(self.places.items())
        if self.item_places:
            letters["packages"] = self.item_places
        columns = dict(self.columns)
        raw = Raw(self.table, self.file_nos, self.sheets, self.row_nos, columns, letters, self.fixed)
        raw.others = {"": self.others}
        return raw


class Workbooks:
    """Troops' workbooks gathered into one Raw for each submission table."""

    def __init__(self, season: Season) -> None:
        self._codes = {code.casefold(): code for code in season.codes}
        self._per_case = {code: item.packages_per_case for code, item in season.codes.items()}
        self._titles = {item.title[:MOST_ABOVE] for item in season.items} | {INTO_BANK}
        self._gathered = {table.name: _Gathered(table) for table in SUBMISSION_TABLES}

    def raw(self, name: str) -> Raw:
        """All rows gathered of one table."""
        return self._gathered[name].raw()

    def take(self, file_no: int, sheets: list[Sheet]) -> list[Finding]:
        """Adds one workbook's rows; returns what is wrong or to be told of its sheets and headers."""
        own: dict[str, Sheet] = {}
        findings = list(_sorted_out(sheets, own, self._codes))
        for name, sheet in own.items():
            findings += self._cover(file_no, sheet) if name == "cover" else self._rows(file_no, sheet, TABLES[name])
        return findings

    def _cover(self, file_no: int, sheet: Sheet) -> list[Finding]:
        gathered = self._gathered["cover"]
        wanted = gathered.table.folded
        values: dict[str, object] = {}
        findings = []
        there = {wanted.get(fold(cell)) for row in sheet.rows or [] for cell in row if not is_empty(cell)}
        for row_no, row in enumerate(sheet.rows or [], 1):
            at = next((place for place, cell in enumerate(row) if not is_empty(cell)), None)
            name = wanted.get(fold(row[at])) if at is not None else None
            if at is not None and isinstance(row[at], CellFault):
                where, how = f"{letter(at)}{row_no}", "Type the label over it: what stands beside it was not counted."
                findings.append(Finding(sheet.name, where, shown(row[at]), "a label", how))
            if at is not None and name is None and (meant := _nearest_label(row[at], wanted)):
                is_lost = wanted[meant] not in there and any(not is_empty(cell) for cell in row[at + 1 :])
                label = wanted[meant].replace("_", " ")
                how = "What stands beside it was passed over: correct the label if that is what is meant."
                where = f"{letter(at)}{row_no}"
                findings.append(Finding(sheet.name, where, shown(row[at]), f"the label {label}", how, not is_lost))
            if at is None or name is None:
                continue
            place, value = next(((p, c) for p, c in enumerate(row) if p > at and not is_empty(c)), (at + 1, None))
            findings += _labels_across(sheet, row_no, row, at, wanted) if name != "note" else ()
            if name in values and value != values[name]:
                label = name.replace("_", " ")
                where = f"{letter(at)}{row_no}"
                findings.append(
                    Finding(sheet.name, where, f"a second {label}", "each label once", "Keep one of the two.")
                )
            values[name] = value
            gathered.fixed[len(gathered.row_nos), name] = f"{letter(place)}{row_no}"
        for name in gathered.table.names:
            gathered.fixed.setdefault((len(gathered.row_nos), name), "")
        gathered.add(file_no, sheet.name, 1, values)
        return findings

    def _rows(self, file_no: int, sheet: Sheet, table: Table) -> list[Finding]:
        is_wide = table.name in WIDE_SHEETS
        rows = sheet.rows or []
        start, places, extras, findings = _header(sheet, table)
        if start < 0:
            return findings
        items: dict[int, str] = {}
        if is_wide:
            items, findings = self._item_columns(sheet, extras, start)
        findings += told_above(sheet, start, self._titles)
        body = rows[start + 1 :]
        filled = {place for row in body for place, cell in enumerate(row) if not is_empty(cell)}
        for place, header in sorted(extras.items()):
            if place in items or place not in filled or is_help(table.name, header):
                continue
            where = f"{letter(place)}{start + 1}"
            findings.append(
                unknown_header(sheet.name, where, header)
                if is_wide
                else second_block(sheet.name, where, header)
                if fold(header) in table.folded
                else Finding(
                    sheet.name,
                    where,
                    shown(header) or "no header",
                    "a column that is known",
                    PASSED_OVER,
                    is_note=True,
                )
            )
        gathered = self._gathered[table.name]
        for column, place in places.items():
            gathered.places.setdefault(column, {})[file_no] = place
        seen: dict[tuple[str, ...], tuple[object, ...]] = {}
        used = [*places.values(), *items]
        for row_no, row in enumerate(body, start + 2):
            if not any(place < len(row) and not is_empty(row[place]) for place in used):
                continue
            values = {column: row[at] if at < len(row) else None for column, at in places.items()}
            if not is_wide:
                self._open_cases(values)
                others = tuple(row[place] for place in extras if place < len(row) and not is_empty(row[place]))
                gathered.add(file_no, sheet.name, row_no, values, others)
                continue
            packages = {place: row[place] if place < len(row) else None for place in items}
            again = _again(table, values, packages, seen)
            if not again:
                self._wide_row(gathered, (file_no, sheet.name, row_no), values, packages, items)
            else:
                where = f"{letter(places[NAMED_BY[table.name][0]])}{row_no}"
                findings.append(Finding(sheet.name, where, *again))
        return findings

    def _open_cases(self, values: dict[str, object]) -> None:
        """Cases and loose packages of a row that names its item, as packages."""
        code = self._codes.get(str(values.get("item") or "").strip().casefold())
        for name in IN_PACKAGES if code else ():
            if isinstance(values.get(name), str):
                values[name] = opened(values[name], self._per_case[code or ""])

    def _item_columns(self, sheet: Sheet, extras: dict[int, str], start: int) -> tuple[dict[int, str], list[Finding]]:
        items: dict[int, str] = {}
        findings = []
        for place, header in extras.items():
            code = self._codes.get(header.strip().removesuffix(".0").casefold())
            if code and code in items.values():
                where = f"{letter(place)}{start + 1}"
                how = "Put its packages into the first one."
                findings.append(Finding(sheet.name, where, f"a second column {code}", "one column for each item", how))
            if code:
                items[place] = code
        return items, findings

    def _wide_row(
        self,
        gathered: _Gathered,
        where: tuple[int, str, int],
        values: dict[str, object],
        packages: dict[int, object],
        items: dict[int, str],
    ) -> None:
        """One row for each item that is filled in, and one for the money, which also says that the row was there."""
        shared = {name: value for name, value in values.items() if name not in MONEY_COLUMNS}
        for place, cell in packages.items():
            if not is_empty(cell):
                gathered.item_places.append(place)
                number = opened(cell, self._per_case[items[place]])
                gathered.add(*where, {**shared, "item": items[place], "packages": number})
        gathered.item_places.append(0)
        gathered.add(*where, {**shared, **{name: values.get(name) for name in MONEY_COLUMNS}})


def _nearest_label(cell: object, wanted: dict[str, str]) -> str:
    """The cover's label that a word comes near to, folded; "" where it is none, or longer than any."""
    text = str(cell)
    if fold(text).endswith("balance") and len(text) <= LONGEST_LABEL:
        return fold("bank_balance")  # the account's, the closing one
    return next(iter(get_close_matches(fold(text), wanted, 1, NEAR)), "") if len(text) <= LONGEST_LABEL else ""


def _labels_across(sheet: Sheet, row_no: int, row: list[object], at: int, wanted: dict[str, str]) -> Iterator[Finding]:
    """What stands behind a label and is a label itself: its value would be read as nobody's."""
    for place, cell in enumerate(row):
        if place > at and isinstance(cell, str) and fold(cell) in wanted:
            how = "Put each label and its value on a row of their own: what stands here was not read."
            expected = "labels one below the other, each with its value to the right"
            yield Finding(sheet.name, f"{letter(place)}{row_no}", f"the label {shown(cell)}", expected, how)


def cover_values(sheets: Sequence[Sheet]) -> dict[str, object]:
    """What the labels of a workbook's cover say, unjudged."""
    wanted = TABLES["cover"].folded
    values: dict[str, object] = {}
    for row in next((sheet.rows or [] for sheet in sheets if fold(sheet.name) == "cover"), []):
        filled = [cell for cell in row if not is_empty(cell)]
        if len(filled) > 1 and (name := wanted.get(fold(filled[0]))):
            values[name] = filled[1]
    return values


def _like_ours(sheet: Sheet, codes: dict[str, str]) -> str:
    """The sheet of the contract that another one looks like, by its name or its headers; "" where it is none."""
    rows = sheet.rows or []
    names = [table.name for table in SUBMISSION_TABLES]
    name = fold(sheet.name)[:LONGEST_LABEL]
    filled = [row for row in rows if any(not is_empty(cell) for cell in row)]
    has_numbers = any(isinstance(cell, int | float) for row in filled[1:] for cell in row)
    if has_numbers and (near := get_close_matches(name, names, 1, NEAR_NAME)):
        return near[0]
    for row in filled[:HEADER_WITHIN] if len(filled) > 1 else ():
        folded = {fold(cell) for cell in row if isinstance(cell, str)}
        for table in SUBMISSION_TABLES[1:]:
            if table.name in WIDE_SHEETS:
                has_items = any(str(cell).strip().casefold() in codes for cell in row)
                if NAMED_BY[table.name][0] in folded and (has_items or not folded.isdisjoint({"cash", "card"})):
                    return table.name
            elif {fold(name) for name in _needed(table)} <= folded:
                return table.name
    return ""


def _needed(table: Table) -> set[str]:
    """The columns whose headers a sheet of a table must have."""
    if table.name in WIDE_SHEETS:
        return {NAMED_BY[table.name][0]}
    return {column.name for column in table.columns if column.required} - {"troop", "week_ending"}


def _sorted_out(sheets: list[Sheet], own: dict[str, Sheet], codes: dict[str, str]) -> Iterator[Finding]:
    """Fills `own` with the contract's sheets of a workbook; tells what is doubled, missing, hidden or passed over."""
    names = {table.name for table in SUBMISSION_TABLES}
    for sheet in sheets:
        name = fold(sheet.name)
        if name not in names:
            if (
                not sheet.is_hidden
                and name != fold(TO_MEND)
                and any(not is_empty(cell) for row in sheet.rows or [] for cell in row)
            ):
                meant = _like_ours(sheet, codes).capitalize()
                how = "This sheet was passed over."
                if meant:
                    how = f"If it is {meant}, name it so, or put its rows there; else take it out: it was not read."
                expected = f"the sheet {meant}" if meant else "sheets that are known"
                found = f"a sheet named {sheet.name}" + (f", with rows like those of {meant}" if meant else "")
                yield Finding(sheet.name, "", found, expected, how, is_note=not meant)
        elif name in own:
            how = "Put the rows together on one sheet."
            yield Finding(sheet.name, "", f"two sheets named {name.capitalize()}", "one sheet of each", how)
        else:
            own[name] = sheet
            if sheet.is_hidden:
                how = "It was read all the same; unhide it to see its rows."
                yield Finding(sheet.name, "", "a hidden sheet", "sheets that can be seen", how, is_note=True)
    for name in REQUIRED_SHEETS:
        if name not in own:
            title = name.capitalize()
            yield Finding("", "", f"no sheet named {title}", f"a sheet {title}", f"Add the sheet {title}.")


def _header(sheet: Sheet, table: Table) -> tuple[int, dict[str, int], dict[int, str], list[Finding]]:
    """Where a sheet's header stands (-1: nowhere), the place of each column, the headers that are not known."""
    rows = sheet.rows or []
    needed = _needed(table)
    for start, header in enumerate(rows[:HEADER_WITHIN]):
        places, extras = placed(table, as_wide(header, rows))
        if needed <= places.keys():
            # These come from the cover, or from the item columns: as headers here they are unknown ones.
            for name in ("troop", "week_ending", *(("item", "packages") if table.name in WIDE_SHEETS else ())):
                if name in places:
                    extras[places.pop(name)] = name
            return start, places, extras, []
    filled = next((k for k, row in enumerate(rows) if any(not is_empty(cell) for cell in row)), None)
    if filled is None:
        return -1, {}, {}, []
    places, extras = placed(table, rows[filled])
    missing = ", ".join(sorted(name.replace("_", " ") for name in needed - places.keys()))
    how = "Give the first row the headers of the form."
    finding = Finding(sheet.name, f"A{filled + 1}", f"a header without {missing}", f"the columns {missing}", how)
    return -1, places, extras, [finding]


def _again(
    table: Table,
    values: dict[str, object],
    packages: dict[int, object],
    seen: dict[tuple[str, ...], tuple[object, ...]],
) -> tuple[str, str, str] | None:
    """None where a wide row's participant or stall is new to its sheet, or stands there already word for word (which is
    asked about later); else what is found, expected and to do."""
    names = NAMED_BY[table.name]
    key = tuple(str(values.get(name)).strip().casefold() for name in names)
    whole = (*(values.get(name) for name in table.names), *packages.values())
    if key not in seen or is_empty(values.get(names[0])) or seen[key] == whole:
        seen[key] = whole
        return None
    what = "stall" if table.name == "stalls" else "participant"
    how = "Put the two rows together." if what == "participant" else "Put them together, or say when each one started."
    return f"{shown(values[names[0]])} a second time, with other values", f"one row for each {what}", how
