"""What a person says of a proposal, in the words of `musterbook map` → the draft with it.

Comes in: a waiting file, Corrections. Goes out: a Draft that may be looked at or confirmed; raises Stop.
"""

from collections.abc import Iterable
from collections.abc import Mapping as Dict
from dataclasses import dataclass, field, replace
from typing import Any

from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import Stop
from pipelines.intake.elsewhere.headers import folded
from pipelines.intake.elsewhere.proposal import Hints, known_words, profile_of, ways_decided
from pipelines.intake.elsewhere.rows_apart import part_read
from pipelines.intake.judging.tables import body_of
from pipelines.store.book import Book
from pipelines.workflow.foreign_files import Draft, Waiting, Wanted, drafted, keep

PLACES = {"first": 1, "last": -1, "second last": -2}  # of rows below the header


@dataclass(frozen=True)
class Corrections:
    """What a person says of a proposal, in the words of `musterbook map`."""

    table: str = ""
    sheet: str | None = None
    header_rows: int = 0
    columns: Dict[str, str] = field(default_factory=dict)
    cells: Dict[str, str] = field(default_factory=dict)
    forms: Dict[str, str] = field(default_factory=dict)
    constants: Dict[str, str] = field(default_factory=dict)
    values: tuple[tuple[str, str], ...] = ()
    items: Dict[str, str] = field(default_factory=dict)
    dates: tuple[str, ...] = ()
    decimals: tuple[str, ...] = ()
    by_case: bool | None = None
    pass_over: tuple[str, ...] = ()
    rows: tuple[int, int] | tuple[()] = ()
    names: Dict[str, str] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()
    counted: tuple[str, ...] = ()

    @property
    def wanted(self) -> Wanted:
        """What they say of where the table stands and which it is."""
        return Wanted(self.table, self.sheet, self.header_rows, self.rows)


def corrected(book: Book, file: Waiting, known: Hints, said: Corrections) -> Draft:
    """The draft for a file with what a person said of it, kept so; raises Stop where that makes no sense."""
    draft = drafted(book, file, known, said.wanted)
    if draft is None:
        raise Stop(f"{file.name} holds nothing like a table.")
    return draft if said == Corrections() else keep(with_corrections(draft, said))


def with_corrections(draft: Draft, said: Corrections) -> Draft:
    """A draft with what a person said of it; raises Stop where that makes no sense."""
    stated = {**draft.stated, **({"table": said.table} if said.table else {})}
    stated |= _fed_anew(stated, said)
    stated["values"] = {**_words_known(draft, stated, said), **stated.get("values", {})}
    for key, ways in (("dates", said.dates), ("decimals", said.decimals)):
        _read_so(stated, key, ways)
    if said.items:
        stated["items"] = {**stated.get("items", {}), **said.items}
        stated["columns"] = {name: feed for name, feed in stated["columns"].items() if name not in ("item", "packages")}
    if said.by_case is not None:
        stated["by_case"] = said.by_case
    stated |= _rows_passed(stated, said)
    stated["left_out"] = _left_out(draft, stated, said)
    draft = replace(draft.with_(stated), rivals=() if said.table else draft.rivals)
    if said.columns or said.forms or said.items:
        draft = _ways_known(draft, said)
    return draft.with_({"values": _with_words(draft, said.values)}) if said.values else draft


def _rows_passed(stated: Dict[str, Any], said: Corrections) -> dict[str, Any]:
    """The rows that are passed over: by their whole text, or (`first`, `last`) by their place."""
    texts, places = [*stated.get("pass_over", ())], [*stated.get("pass_over_rows", ())]
    for one in said.pass_over:
        if one.endswith("*"):
            raise Stop(f"--pass-over {one}: type the whole text of the row's first cell, or its place: first, last.")
        if one.casefold() in PLACES:
            places.append(PLACES[one.casefold()])
        else:
            texts.append(one)
    counted = {one.casefold() for one in said.counted}
    again = {PLACES[one] for one in counted & PLACES.keys()}
    return {
        "pass_over": [one for one in dict.fromkeys(texts) if one.casefold() not in counted],
        "pass_over_rows": [at for at in dict.fromkeys(places) if at not in again],
    }


def _left_out(draft: Draft, stated: Dict[str, Any], said: Corrections) -> list[str]:
    """The headers that are known to feed nothing; one that feeds something now is no longer among them."""
    headers = [feed["header"] for feed in stated["columns"].values() if "header" in feed]
    used = {folded(one) for one in (*headers, *stated.get("items", {}))}
    labels = [label for label in draft.head.labels if folded(label) not in used]
    every = labels if "*" in said.left_out else list(said.left_out)
    return list(dict.fromkeys(one for one in (*stated.get("left_out", ()), *every) if folded(one) not in used))


def _words_known(draft: Draft, stated: Dict[str, Any], said: Corrections) -> dict[str, dict[str, str]]:
    """The words of columns that are fed anew, where the book knows what they mean."""
    cells, _row_nos = body_of(draft.sheet, draft.head.row + 1)
    found: dict[str, dict[str, str]] = {}
    table = TABLES.get(stated["table"])
    for column in table.columns if table else ():
        label = said.columns.get(column.name, "")
        at = draft.head.labels.index(label) if label in draft.head.labels else len(cells)
        if at < len(cells):
            found[column.name] = known_words(cells[at], column, stated["columns"][column.name], draft.hints)
    return {name: words for name, words in found.items() if words}


def _ways_known(draft: Draft, said: Corrections) -> Draft:
    """The order of days and the decimal sign of what is fed anew, where only one fits its cells; raises BrokenMapping.

    What was stated for the whole file stays so for every other column; what a person says goes before.
    """
    table = draft.mapping.of
    part, _told = part_read(draft.sheet, draft.head, draft.stated.get("until"))
    below = dict(zip(draft.head.labels, body_of(part, draft.head.row + 1)[0], strict=False))
    stated = {**draft.stated, "columns": {name: {**feed} for name, feed in draft.stated["columns"].items()}}
    anew = {*said.columns, *said.forms}
    used = {*stated.get("items", ()), *(stated["columns"].get(name, {}).get("header") for name in anew)}
    profiles = {label: profile_of(cells) for label, cells in below.items() if label in used}
    for key, by_column in ways_decided(table, stated, profiles, draft.hints).items():
        is_said = any("=" not in way for way in (said.dates if key == "dates" else said.decimals))
        for name, way in by_column.items() if not is_said else ():
            if way and name in anew and stated.get(key) != way:
                stated["columns"][name].setdefault(key, way)
            elif way and name not in stated["columns"]:  # items, whose columns have no way of their own
                stated.setdefault(key, way)
    return replace(draft, stated=stated)


def _fed_anew(stated: Dict[str, Any], said: Corrections) -> dict[str, Any]:
    """What feeds each column, with what was said: a header or a cell takes a constant's place, and the reverse."""
    if both := sorted((said.columns.keys() | said.cells.keys() | said.names.keys()) & said.constants.keys()):
        raise Stop(f"{both[0]} is fed by the file and by a constant. Say one of them.")
    fed = {name: {"header": header} for name, header in said.columns.items() if header}
    fed |= {name: {"cell": cell.upper()} for name, cell in said.cells.items()}
    fed |= {name: {"name_of": of} for name, of in said.names.items()}
    gone = {name for name, header in said.columns.items() if not header} | said.constants.keys()
    before = {name: {**feed} for name, feed in stated.get("columns", {}).items() if name not in gone}
    columns: dict[str, dict[str, Any]] = {**before, **fed}
    for name, form in said.forms.items():
        kept = {key: one for key, one in _fed(columns, name).items() if key not in ("split", "part")}
        columns[name] = {**kept, "form": form}
    constants = {name: text for name, text in stated.get("constants", {}).items() if name not in fed}
    return {"columns": columns, "constants": {**constants, **said.constants}}


def _read_so(stated: dict[str, Any], key: str, ways: Iterable[str]) -> None:
    """The order of days or the decimal sign: of one column (`date=day-first`), or of the whole file."""
    columns: dict[str, dict[str, Any]] = stated["columns"]
    for way in ways:
        name, _equals, of_column = way.partition("=")
        if of_column:
            columns[name] = {**_fed(columns, name), key: of_column}
            continue
        stated[key] = way
        for feed in columns.values():
            feed.pop(key, None)


def _fed(columns: Dict[str, dict[str, Any]], name: str) -> dict[str, Any]:
    if name not in columns:
        raise Stop(f"{name} is fed by nothing yet: say --column {name}=HEADER too.")
    return columns[name]


def _with_words(draft: Draft, said: Iterable[tuple[str, str]]) -> dict[str, dict[str, str]]:
    """The words that are translated, with these: each of the column that asks about it, or of the one that is named."""
    values = {name: {**meanings} for name, meanings in draft.stated.get("values", {}).items()}
    asked: dict[str, set[str]] = {}
    for question in draft.look().questions:
        if question.word:
            asked.setdefault(question.word.casefold(), set()).add(question.column)
    for given, meaning in said:
        start, colon, rest = given.partition(":")
        named = {start} if colon and start in draft.mapping.of.names else set()
        word = rest.strip() if named else given
        columns = named or asked.get(word.casefold(), set())
        if len(columns) != 1:
            where = f"in {' and '.join(sorted(columns))}" if columns else "asked about nowhere"
            raise Stop(f'{word} is {where}. Say which column is meant: --value "COLUMN:{word}={meaning}".')
        values.setdefault(columns.pop(), {})[word] = meaning
    return values
