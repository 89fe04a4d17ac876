"""Raw tables judged: typed rows ready to land, and every finding with its cell.

Comes in: a Raw table and what is known. Goes out: Staged: an Arrow table (file_no, sheet, row_no, unit, is_bad and the
contract's columns) and findings by row. What needs other files' rows (a key twice, one code in two troops) is SQL's.

A troop's own page is refused where persons are listed.
"""

from dataclasses import dataclass, field
from itertools import islice

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.definitions.contract import MONEY_COLUMNS, OF_PERSONS, OWN_PAGE, WIDE_SHEETS, is_state_of
from pipelines.definitions.limits import MOST_FINDINGS
from pipelines.definitions.records import Finding
from pipelines.intake.judging.judge import CodeFault, Fault, Known, arrow_type, judge_column, shown
from pipelines.intake.judging.tables import Raw

OUT_OF_THE_BANK = ("fee", "returned_cheque")


@dataclass
class Staged:
    """One table's rows, judged: `rows` to land, and findings by position in it (at most MOST_FINDINGS a column)."""

    table_name: str
    rows: pa.Table
    findings: list[tuple[int, Finding]] = field(default_factory=list)


def judge_raw(raw: Raw, known: Known, given: dict[str, list[object]] | None = None) -> Staged:
    """Judges every cell and every row of a Raw. `given`: columns already typed (a workbook's troop and week)."""
    table, size = raw.table, len(raw)
    given = given or {}
    empty_rows = set(raw.placeholders)
    typed: dict[str, pa.Array] = {}
    findings: list[tuple[int, Finding]] = []
    wrong: set[int] = set()
    for column in table.columns:
        kind = arrow_type(column.kind)
        if column.name in given:
            typed[column.name] = pa.array(given[column.name], kind)
            continue
        cells = raw.columns.get(column.name)
        judged = judge_column([None] * size if cells is None else cells, column, known, filled=column.filled)
        typed[column.name] = judged.values
        faults = judged.faults
        if refused := raw.refused.get(column.name):
            faults = dict(sorted({**faults, **{row: Fault(*why) for row, why in refused.items()}}.items()))
        faulty = [row for row in faults if row not in empty_rows or column.name in ("troop", "week_ending")]
        wrong.update(faulty)
        findings += [
            (row, _finding(raw, row, column.name, _told(faults[row], row, typed, known)))
            for row in faulty[:MOST_FINDINGS]
        ]
        if len(faulty) > MOST_FINDINGS:
            findings.append((faulty[MOST_FINDINGS], _more(raw, faulty, column.name)))
        for row, how in islice(judged.notes.items(), MOST_FINDINGS):
            findings.append((row, _noted(raw, row, column.name, how)))
    for row, several in raw.row_faults.items():
        findings += [(row, finding) for finding in several]
    findings += [(row, finding) for row, finding in _row_rules(raw, typed, known) if row not in empty_rows]
    wrong.update(row for row, finding in findings if not finding.is_note)
    bad = pa.array([row in wrong for row in range(size)]) if wrong else pa.array([False] * size)
    names = {
        "file_no": pa.array([raw.file_nos] * size if isinstance(raw.file_nos, int) else raw.file_nos, pa.int32()),
        "sheet": pa.array([raw.sheets] * size if isinstance(raw.sheets, str) else raw.sheets, pa.string()),
        "row_no": pa.array(raw.row_nos, pa.int32())
        if not isinstance(raw.row_nos, pa.Array)
        else raw.row_nos.cast(pa.int32()),
        "unit": _units(raw, typed, given),
        "is_bad": bad,
        "pos": pa.array(range(size), pa.int32()),
        "is_nothing": pa.array([row in empty_rows for row in range(size)]) if empty_rows else pa.array([False] * size),
    }
    return Staged(table.name, pa.table({**names, **typed}), _folded(raw, findings))


def _folded(raw: Raw, findings: list[tuple[int, Finding]]) -> list[tuple[int, Finding]]:
    """Each finding once: a wide row became several long ones, and the same cell is judged in each."""
    seen: set[tuple[int, Finding]] = set()
    kept = []
    for row, finding in findings:
        mark = (raw.file_no(row), finding)
        if mark not in seen:
            seen.add(mark)
            kept.append((row, finding))
    return kept


def _units(raw: Raw, typed: dict[str, pa.Array], given: dict[str, list[object]]) -> pa.Array:
    """For each row the unit it is held or accepted with: its key in words; a workbook's is the file as a whole."""
    if given or isinstance(raw.file_nos, list):
        return pa.array([""] * len(raw), pa.string())
    parts = []
    for name in raw.table.unit:
        values = typed[name].cast(pa.string())
        if values.null_count:
            found = pa.array(
                [shown(raw.found(k, name)) if not v else None for k, v in enumerate(values.is_valid().to_pylist())],
                pa.string(),
            )
            values = pc.coalesce(values, found, pa.scalar(""))
        parts.append(values)
    units = parts[0] if len(parts) == 1 else pc.binary_join_element_wise(*parts, " ")
    nameless = pc.equal(pc.utf8_trim_whitespace(units), "")
    if not pc.any(nameless).as_py():
        return units
    rows = pa.array([f"row {number}" for number in raw.row_nos], pa.string())  # "" would be the file as a whole
    return pc.if_else(nameless, rows, units)


def _told(fault: Fault, row: int, typed: dict[str, pa.Array], known: Known) -> Fault:
    """A fault as the troop of its row may read it."""
    if not isinstance(fault, CodeFault):
        return fault
    return fault.told_to(known.codes, typed["troop"][row].as_py() if "troop" in typed else None)


def _finding(raw: Raw, row: int, column: str, fault: Fault) -> Finding:
    found = shown(raw.found(row, column)) or "an empty cell"
    return Finding(raw.sheet(row), raw.cell(row, column), found, fault.expected, fault.how)


def _more(raw: Raw, faulty: list[int], column: str) -> Finding:
    row = faulty[MOST_FINDINGS]
    found = f"{len(faulty) - MOST_FINDINGS:,} more cells of {column.replace('_', ' ')} like these"
    return Finding(
        raw.sheet(row), raw.cell(row, column), found, "the same", "Mend the first ones' cause and send again."
    )


def _noted(raw: Raw, row: int, column: str, how: str) -> Finding:
    found = shown(raw.found(row, column))
    return Finding(raw.sheet(row), raw.cell(row, column), found, found, how, is_note=True)


def _where(mask: pa.Array) -> list[int]:
    return [int(row) for row in pc.indices_nonzero(pc.fill_null(mask, False)).to_pylist()]


def _row_rules(raw: Raw, typed: dict[str, pa.Array], known: Known) -> list[tuple[int, Finding]]:
    """What can be told from one row alone, more than one of its cells together."""
    rules = [
        _notes_beside_negatives,
        _bank_rows,
        _money_on_its_own_row,
        _dates_in_order,
        _moves,
        _orders,
        _roster,
        _cover,
    ]
    return [found for rule in rules for found in rule(raw, typed, known)]


def _notes_beside_negatives(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    found = []
    for column in raw.table.columns:
        if column.kind != "money_noted":
            continue
        for row in _where(pc.less(typed[column.name], pa.scalar(0, pa.decimal128(12, 2)))):
            if not typed["note"][row].as_py() and not _is_negative_by_nature(typed, row):
                fault = Fault(
                    "an amount of 0 or more, or a note that says why", "Write into the note why it is negative."
                )
                found.append((row, _finding(raw, row, column.name, fault)))
    return found


def _is_negative_by_nature(typed: dict[str, pa.Array], row: int) -> bool:
    """Whether a row of the bank tells by its kind why its amount is negative."""
    return "kind" in typed and typed["kind"][row].as_py() in (*OUT_OF_THE_BANK, "float")


def _bank_rows(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name != "banked":
        return []
    goes_out = pc.is_in(typed["kind"], pa.array(OUT_OF_THE_BANK))
    positive = pc.greater(typed["amount"], pa.scalar(0, pa.decimal128(12, 2)))
    fault = Fault("an amount below 0 for what leaves the bank", "Write a minus before it, such as -15.00.")
    found = [(row, _finding(raw, row, "amount", fault)) for row in _where(pc.and_(goes_out, positive))]
    is_cheque = pc.fill_null(pc.equal(typed["kind"], "returned_cheque"), False)
    named = pc.and_(pc.is_valid(typed["participant"]), pc.invert(is_cheque))
    fault = Fault("a participant only beside a returned cheque", "Take the code out, or say that a cheque came back.")
    return found + [(row, _finding(raw, row, "participant", fault)) for row in _where(named)]


def _money_on_its_own_row(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name not in WIDE_SHEETS or isinstance(raw.file_nos, list):
        return []
    found = []
    zero = pa.scalar(0, pa.decimal128(12, 2))
    for column in MONEY_COLUMNS:
        if column not in typed:
            continue
        mask = pc.and_(pc.is_valid(typed["item"]), pc.not_equal(typed[column], zero))
        fault = Fault("no amount on an item's row", "Put the amount on a row of its own with an empty item.")
        found += [(row, _finding(raw, row, column, fault)) for row in _where(mask)]
    named = pa.array([raw.found(k, "item") is not None for k in range(len(raw))]) if typed["item"].null_count else None
    mask = pc.and_(pc.is_null(typed["item"]), pc.not_equal(typed["packages"], 0))
    for row in _where(mask):
        if named is None or not shown(raw.found(row, "item")):
            fault = Fault("an item's code beside packages", "Say which item the packages are.")
            found.append((row, _finding(raw, row, "packages", fault)))
    return found


def _dates_in_order(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.is_feed or "date" not in typed:
        return []
    fault = Fault("a day not after the week's end", "Correct the date, or report it with the week it lies in.")
    return [(row, _finding(raw, row, "date", fault)) for row in _where(pc.greater(typed["date"], typed["week_ending"]))]


def _moves(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name != "moves":
        return []
    week = pa.scalar(6, pa.int32())
    age = pc.subtract(typed["week_ending"].cast(pa.int32()), typed["date"].cast(pa.int32()))
    outside = Fault("a day of the week reported", "Correct the date, or report the move with its own week.")
    itself = Fault("another troop", "Type the other troop's code, or outside for another area.")
    return [
        *((row, _finding(raw, row, "date", outside)) for row in _where(pc.greater(age, week))),
        *(
            (row, _finding(raw, row, "other_troop", itself))
            for row in _where(pc.equal(typed["troop"], typed["other_troop"]))
        ),
    ]


def _orders(raw: Raw, typed: dict[str, pa.Array], known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name != "online_orders":
        return []
    early = Fault("a day not before the order was placed", "Correct the one of the two dates that is wrong.")
    found = [
        (row, _finding(raw, row, "state_on", early)) for row in _where(pc.less(typed["state_on"], typed["placed_on"]))
    ]
    modes, states = typed["mode"].to_pylist(), typed["state"].to_pylist()
    for row, (mode, state) in enumerate(zip(modes, states, strict=True)):
        if mode and state and not is_state_of(mode, state):
            found.append(
                (row, _finding(raw, row, "state", Fault(f"a state of {mode} orders", "Correct the mode or the state.")))
            )
    prices = {code: item.price for code, item in known.season.codes.items()}
    price = pa.array([prices.get(item) for item in typed["item"].to_pylist()], pa.decimal128(12, 2))
    differs = pc.not_equal(pc.multiply(typed["packages"].cast(pa.decimal128(10, 0)), price), typed["goods_amount"])
    for row in _where(differs):
        how = "The amount is not packages times price; it was taken as it is."
        found.append((row, _noted(raw, row, "goods_amount", how)))
    return found


def _roster(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name not in OF_PERSONS:
        return []
    fault = Fault("a person's code", f"Take this row out: {OWN_PAGE} is the troop's own page, not a person.")
    return [(row, _finding(raw, row, "participant", fault)) for row in _where(pc.equal(typed["participant"], OWN_PAGE))]


def _cover(raw: Raw, typed: dict[str, pa.Array], _known: Known) -> list[tuple[int, Finding]]:
    if raw.table.name != "cover":
        return []
    how = "Say for which day the balance was read; without it the balance is not used."
    undated = pc.and_(pc.is_valid(typed["bank_balance"]), pc.is_null(typed["balance_on"]))
    return [(row, _noted(raw, row, "bank_balance", how)) for row in _where(undated)]
