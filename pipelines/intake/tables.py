"""Sheets of cells → the contract's tables, still unjudged: which table it is, where its header is, which cell is what.

Comes in: a file's sheets and the season. Goes out: Raw tables (columns of cells with their places) and findings.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.contract import REQUIRED_SHEETS, SUBMISSION_TABLES, TABLES, WIDE_SHEETS, Table, fold
from pipelines.records import Finding, Sheet
from pipelines.season import Season

Cells = Sequence[object] | pa.Array
HEADER_WITHIN = 20  # rows in which a header is looked for


@dataclass
class Raw:
    """Cells of one contract table, by column, with the place of each; rows of many workbooks may stand in one Raw."""

    table: Table
    file_nos: list[int] | int
    sheets: list[str] | str
    row_nos: Sequence[int] | pa.Array
    columns: dict[str, Cells]
    letters: dict[str, dict[int, int] | list[int] | int] = field(default_factory=dict)
    fixed: dict[tuple[int, str], str] = field(default_factory=dict)
    row_faults: dict[int, list[Finding]] = field(default_factory=dict)
    placeholders: list[int] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.row_nos)

    def file_no(self, row: int) -> int:
        return self.file_nos if isinstance(self.file_nos, int) else self.file_nos[row]

    def sheet(self, row: int) -> str:
        return self.sheets if isinstance(self.sheets, str) else self.sheets[row]

    def cell(self, row: int, column: str) -> str:
        """The cell's name as a spreadsheet gives it."""
        if (row, column) in self.fixed:
            return self.fixed[row, column]
        place = self.letters.get(column)
        if isinstance(place, dict):
            place = place.get(self.file_no(row))
        elif isinstance(place, list):
            place = place[row]
        number = self.row_nos[row]
        return f"{letter(place) if place is not None else ''}{number}"

    def found(self, row: int, column: str) -> object:
        """The cell as it stands."""
        cell = self.columns[column][row] if column in self.columns else None
        return cell.as_py() if isinstance(cell, pa.Scalar) else cell


def letter(column: int) -> str:
    """A column's letters: 0 → A, 26 → AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def is_empty(cell: object) -> bool:
    """Whether a cell holds nothing, or only spaces."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def is_submission(sheets: Iterable[Sheet]) -> bool:
    """Whether a file is a troop's workbook: a cover of labels, or a sheet of its names without a troop column."""
    names = {table.name for table in SUBMISSION_TABLES}
    own = [sheet for sheet in sheets if fold(sheet.name) in names and sheet.rows is not None]
    return any(fold(sheet.name) == "cover" and recognised(sheet) is None for sheet in own) or (
        len(own) > 1 and all(recognised(sheet) is None for sheet in own)
    )


@dataclass
class Headed:
    """A sheet whose header was found: the table it is, the row the header stands in, the place of each column."""

    table: Table
    header_row: int  # 0 = the sheet's first; -1 = names outside the rows
    places: dict[str, int]
    extras: dict[int, str]  # place → header, of columns that the table does not know


def _headers(sheet: Sheet) -> list[tuple[int, list[object]]]:
    if sheet.rows is not None:
        return [(k, row) for k, row in enumerate(sheet.rows[:HEADER_WITHIN]) if any(not is_empty(c) for c in row)]
    if sheet.table is None:
        return []
    if sheet.has_names:
        return [(-1, list(sheet.table.column_names))]
    top = sheet.table.slice(0, HEADER_WITHIN).to_pylist()
    rows = [(k, list(row.values())) for k, row in enumerate(top)]
    return [(k, row) for k, row in rows if any(not is_empty(c) for c in row)]


def _placed(table: Table, header: list[object]) -> tuple[dict[str, int], dict[int, str]]:
    wanted = {fold(name): name for name in table.names}
    places: dict[str, int] = {}
    extras: dict[int, str] = {}
    for place, cell in enumerate(header):
        name = wanted.get(fold(cell)) if not is_empty(cell) else None
        if name and name not in places:
            places[name] = place
        else:
            extras[place] = "" if is_empty(cell) else str(cell)
    return places, extras


def recognised(sheet: Sheet) -> Headed | None:
    """The feed or bulk table that a sheet's headers tell, or None."""
    best: tuple[int, Headed] | None = None
    for row, header in _headers(sheet):
        for table in TABLES.values():
            places, extras = _placed(table, header)
            if all(column.name in places for column in table.columns if column.required):
                weight = 2 * len(places) - sum(1 for extra in extras.values() if extra)
                if best is None or weight > best[0]:
                    best = (weight, Headed(table, row, places, extras))
        if best:
            break
    return best[1] if best else None


def take_table(file_no: int, sheet: Sheet, headed: Headed) -> tuple[Raw, list[Finding]]:
    """A feed or a bulk table as a Raw, and what is to be told of its columns."""
    table, start = headed.table, headed.header_row + 1
    columns: dict[str, Cells]
    extras: dict[int, Cells]
    row_nos: list[int] | pa.Array
    if sheet.rows is not None:
        body = sheet.rows[start:]
        wide = [[row[p] if p < len(row) else None for row in body] for p in range(max(map(len, sheet.rows)))]
        columns = {name: wide[place] for name, place in headed.places.items()}
        extras = {place: wide[place] for place in headed.extras if place < len(wide)}
        row_nos = list(range(start + 1, start + 1 + len(body)))
        filled = [any(not is_empty(c) for c in row) for row in body]
    else:
        assert sheet.table is not None  # noqa: S101 - a sheet has rows or a table
        body_table = sheet.table.slice(start).combine_chunks()
        arrays = [one.chunk(0) if one.num_chunks else pa.array([], one.type) for one in body_table.columns]
        columns = {name: arrays[place] for name, place in headed.places.items()}
        extras = {place: arrays[place] for place in headed.extras}
        numbers = sheet.row_numbers
        row_nos = numbers.slice(start) if numbers is not None else pa.array(range(start + 1, start + 1 + len(body_table)))
        filled = _any_filled(columns.values(), len(body_table))
    raw = Raw(table, file_no, sheet.name, row_nos, columns, {name: place for name, place in headed.places.items()})
    if not all(filled):
        raw = _without_blank_rows(raw, filled)
        keep = [k for k, is_filled in enumerate(filled) if is_filled]
        extras = {place: _picked(cells, keep) for place, cells in extras.items()}
    findings = _told_of_extras(raw, headed, extras)
    if not table.is_feed:
        others = [cells for name, cells in raw.columns.items() if name not in ("troop", "week_ending")]
        raw.placeholders = [k for k, is_filled in enumerate(_any_filled(others, len(raw))) if not is_filled]
    return raw, findings


def _any_filled(columns: Iterable[Cells], length: int) -> list[bool]:
    """For each row whether any of the columns holds something."""
    filled: pa.Array = pa.array([False] * length)
    for cells in columns:
        if not isinstance(cells, pa.Array):
            one = pa.array([not is_empty(cell) for cell in cells], pa.bool_())
        elif pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type):
            one = pc.fill_null(pc.greater(pc.utf8_length(pc.utf8_trim_whitespace(cells)), 0), False)
        else:
            one = pc.is_valid(cells)
        filled = pc.or_(filled, one)
    return list(filled.to_pylist())


def _picked(cells: Cells, keep: list[int]) -> Cells:
    return cells.take(pa.array(keep, pa.int64())) if isinstance(cells, pa.Array) else [cells[k] for k in keep]


def _without_blank_rows(raw: Raw, filled: list[bool]) -> Raw:
    keep = [k for k, is_filled in enumerate(filled) if is_filled]
    columns = {name: _picked(cells, keep) for name, cells in raw.columns.items()}
    row_nos = _picked(raw.row_nos, keep)
    return Raw(raw.table, raw.file_nos, raw.sheets, row_nos, columns, raw.letters)  # type: ignore[arg-type]


def _told_of_extras(raw: Raw, headed: Headed, extras: dict[int, Cells]) -> list[Finding]:
    """Columns that the table does not know: passed over with a note, save where packages would vanish."""
    notes = []
    for place, cells in extras.items():
        header = headed.extras[place]
        filled = [k for k, is_filled in enumerate(_any_filled([cells], len(raw))) if is_filled]
        if not filled:
            continue
        cell = f"{letter(place)}{headed.header_row + 1}" if headed.header_row >= 0 else header
        if headed.table.name in WIDE_SHEETS:
            for row in filled:
                raw.row_faults.setdefault(row, []).append(_unknown_header(raw.sheet(row), cell, header))
        else:
            notes.append(
                Finding(raw.sheet(0), cell, header or "no header", "a column of the contract",
                        "This column was passed over; nothing in it was counted.", is_note=True)
            )  # fmt: skip
    return notes


def _unknown_header(sheet: str, cell: str, header: str) -> Finding:
    return Finding(
        sheet, cell, header or "no header over filled cells", "an item's code, or a column of the contract",
        "Correct the header, or empty the cells below it: its packages would not be counted.",
    )  # fmt: skip


class Workbooks:
    """Troops' workbooks gathered into one Raw for each submission table, in the long form of the bulk tables."""

    def __init__(self, season: Season) -> None:
        self.codes = {code.casefold(): code for code in season.codes}
        self.raws = {
            table.name: Raw(table, [], [], [], {column.name: [] for column in table.columns})
            for table in SUBMISSION_TABLES
        }

    def take(self, file_no: int, sheets: list[Sheet]) -> list[Finding]:
        """Adds one workbook's rows; returns what is wrong or to be told of its sheets and headers."""
        findings: list[Finding] = []
        seen: dict[str, Sheet] = {}
        for sheet in sheets:
            name = fold(sheet.name)
            if name not in self.raws:
                if not sheet.is_hidden and any(not is_empty(c) for row in sheet.rows or [] for c in row):
                    findings.append(Finding(sheet.name, "", f"a sheet named {sheet.name}", "the contract's sheets",
                                            "This sheet was passed over.", is_note=True))  # fmt: skip
            elif name in seen:
                findings.append(Finding(sheet.name, "", f"two sheets named {name.capitalize()}", "one sheet of each",
                                        "Put the rows together on one sheet."))  # fmt: skip
            else:
                seen[name] = sheet
                if sheet.is_hidden:
                    findings.append(Finding(sheet.name, "", "a hidden sheet", "sheets that can be seen",
                                            "It was read all the same; unhide it to see its rows.", is_note=True))  # fmt: skip
        for name in REQUIRED_SHEETS:
            if name not in seen:
                findings.append(Finding("", "", f"no sheet named {name.capitalize()}", f"a sheet {name.capitalize()}",
                                        f"Add the sheet {name.capitalize()}; the form has it."))  # fmt: skip
        for name, sheet in seen.items():
            findings += self._cover(file_no, sheet) if name == "cover" else self._sheet(file_no, sheet, name)
        return findings

    def _cover(self, file_no: int, sheet: Sheet) -> list[Finding]:
        raw = self.raws["cover"]
        wanted = {fold(name): name for name in raw.table.names}
        values: dict[str, object] = {}
        cells: dict[str, str] = {}
        findings = []
        for r, row in enumerate(sheet.rows or []):
            at = next((c for c, cell in enumerate(row) if not is_empty(cell)), None)
            name = wanted.get(fold(row[at])) if at is not None else None
            if at is None or name is None:
                continue
            value = next((cell for cell in row[at + 1 :] if not is_empty(cell)), None)
            if name in values and value != values[name]:
                findings.append(Finding(sheet.name, f"{letter(at)}{r + 1}", f"a second {name.replace('_', ' ')}",
                                        "each label once", "Keep one of the two."))  # fmt: skip
            values[name], cells[name] = value, f"{letter(at + 1)}{r + 1}"
        row_no = len(raw)
        for name in raw.table.names:
            raw.columns[name].append(values.get(name))  # type: ignore[union-attr]
            raw.fixed[row_no, name] = cells.get(name, "")
        self._place(raw, file_no, sheet.name, 1)
        return findings

    def _place(self, raw: Raw, file_no: int, sheet: str, row_no: int) -> None:
        raw.file_nos.append(file_no)  # type: ignore[union-attr]
        raw.sheets.append(sheet)  # type: ignore[union-attr]
        raw.row_nos.append(row_no)  # type: ignore[union-attr]

    def _sheet(self, file_no: int, sheet: Sheet, name: str) -> list[Finding]:
        raw, is_wide = self.raws[name], name in WIDE_SHEETS
        rows = sheet.rows or []
        needed = {"participant"} if name == "families" else {"date"} if name == "stalls" else {
            column.name for column in raw.table.columns[2:] if column.required
        }  # fmt: skip
        start, places, extras = -1, {}, {}
        for r, header in enumerate(rows[:HEADER_WITHIN]):
            start, (places, extras) = r, _placed(raw.table, header)
            if needed <= places.keys():
                break
        else:
            filled = next((r for r, row in enumerate(rows) if any(not is_empty(c) for c in row)), None)
            if filled is None:
                return []
            places, _ = _placed(raw.table, rows[filled])
            missing = ", ".join(sorted(each.replace("_", " ") for each in needed - places.keys()))
            return [Finding(sheet.name, f"A{filled + 1}", "a header without " + missing, f"the columns {missing}",
                            "Give the first row the headers of the form.")]  # fmt: skip
        for unwanted in ("troop", "week_ending", *(("item", "packages") if is_wide else ())):
            if unwanted in places:
                extras[places.pop(unwanted)] = unwanted
        items, findings = self._item_columns(sheet, extras, start) if is_wide else ({}, [])
        body = rows[start + 1 :]
        for place, header_text in sorted(extras.items()):
            if place in items or not any(place < len(row) and not is_empty(row[place]) for row in body):
                continue
            if is_wide:
                findings.append(_unknown_header(sheet.name, f"{letter(place)}{start + 1}", header_text))
            else:
                findings.append(Finding(sheet.name, f"{letter(place)}{start + 1}", header_text or "no header",
                                        "a column of the contract", "This column was passed over.", is_note=True))  # fmt: skip
        used = [*places.values(), *items]
        for column, place in places.items():
            if not is_wide or column not in ("item", "packages"):
                raw.letters.setdefault(column, {})[file_no] = place  # type: ignore[index]
        seen: dict[object, tuple[object, ...]] = {}
        for r, row in enumerate(body, start + 2):
            if not any(place < len(row) and not is_empty(row[place]) for place in used):
                continue
            if is_wide:
                findings += self._wide_row(raw, file_no, sheet.name, r, row, places, items, seen)
            else:
                for column, cells in raw.columns.items():
                    at = places.get(column, -1)
                    cells.append(row[at] if 0 <= at < len(row) else None)  # type: ignore[union-attr]
                self._place(raw, file_no, sheet.name, r)
        return findings

    def _item_columns(self, sheet: Sheet, extras: dict[int, str], start: int) -> tuple[dict[int, str], list[Finding]]:
        items: dict[int, str] = {}
        findings = []
        for place, header in extras.items():
            code = self.codes.get(header.strip().removesuffix(".0").casefold())
            if code and code in items.values():
                findings.append(Finding(sheet.name, f"{letter(place)}{start + 1}", f"a second column {code}",
                                        "one column for each item", "Put its packages into the first one."))  # fmt: skip
            if code:
                items[place] = code
        return items, findings

    def _wide_row(  # noqa: PLR0913 - the one place where a wide row becomes long ones
        self, raw: Raw, file_no: int, sheet: str, row_no: int, row: list[object],
        places: dict[str, int], items: dict[int, str], seen: dict[object, tuple[object, ...]],
    ) -> list[Finding]:  # fmt: skip
        values = {column: row[at] if at < len(row) else None for column, at in places.items()}
        packages = {place: row[place] if place < len(row) else None for place in items}
        keys = ("participant",) if raw.table.name == "families" else ("date", "start", "place")
        key = tuple(str(values.get(column)).strip().casefold() for column in keys)
        whole = (*(values.get(column) for column in raw.table.names), *packages.values())
        if key in seen:
            if seen[key] == whole or is_empty(values.get(keys[0])):
                return []
            what = "participant" if raw.table.name == "families" else "stall"
            how = "Put the two rows together." if what == "participant" else "Put them together, or tell their start."
            return [Finding(sheet, f"{letter(places[keys[0]])}{row_no}", f"{row[places[keys[0]]]} a second time",
                            f"one row for each {what}", how)]  # fmt: skip
        seen[key] = whole
        letters = raw.letters.setdefault("packages", [])
        shared = {"note": values.get("note"), **{column: values.get(column) for column in (*keys, "participants")}}
        money = {"cash": values.get("cash"), "card": values.get("card")}
        lines = [(p, {"item": items[p], "packages": cell}) for p, cell in packages.items() if not is_empty(cell)]
        for place, line in [*lines, (places[keys[0]], money)]:
            for column, cells in raw.columns.items():
                cells.append(line.get(column, shared.get(column)))  # type: ignore[union-attr]
            letters.append(place)  # type: ignore[union-attr]
            self._place(raw, file_no, sheet, row_no)
        return []


def nearest(sheet: Sheet) -> tuple[Table, list[str]] | None:
    """The table whose headers a sheet comes nearest to, with those it lacks."""
    best: tuple[float, Table, list[str]] | None = None
    for _row, header in _headers(sheet)[:5]:
        for table in TABLES.values():
            places, _extras = _placed(table, header)
            needed = [column.name for column in table.columns if column.required]
            share = sum(name in places for name in needed) / len(needed)
            if share and (best is None or share > best[0]):
                best = (share, table, [name for name in needed if name not in places])
    return (best[1], best[2]) if best else None
