"""What a person says of a proposal, in the words of `musterbook map` → the draft with it.

Comes in: a waiting file, Corrections. Goes out: a Draft that may be looked at or confirmed; raises Stop.
"""

from collections.abc import Iterable
from collections.abc import Mapping as Dict
from dataclasses import dataclass, field
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.intake.elsewhere.proposal import Hints
from pipelines.store.book import Book
from pipelines.workflow.foreign_files import Draft, Waiting, drafted


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


def corrected(book: Book, file: Waiting, known: Hints, said: Corrections) -> Draft:
    """The proposal for a file with what a person said of it; raises Stop where that makes no sense."""
    draft = drafted(book, file, known, table=said.table, sheet=said.sheet, header_rows=said.header_rows)
    if draft is None:
        raise Stop(f"{file.name} holds nothing like a table.")
    return with_corrections(draft, said)


def with_corrections(draft: Draft, said: Corrections) -> Draft:
    """A draft with what a person said of it; raises Stop where that makes no sense."""
    stated = {**draft.stated, **({"table": said.table} if said.table else {})}
    stated |= _fed_anew(stated, said)
    for key, ways in (("dates", said.dates), ("decimals", said.decimals)):
        _read_so(stated, key, ways)
    if said.items:
        stated["items"] = {**stated.get("items", {}), **said.items}
        stated["columns"] = {name: feed for name, feed in stated["columns"].items() if name not in ("item", "packages")}
    if said.by_case is not None:
        stated["by_case"] = said.by_case
    stated["pass_over"] = [*stated.get("pass_over", ()), *said.pass_over]
    draft = draft.with_(stated)
    return draft.with_({"values": _with_words(draft, said.values)}) if said.values else draft


def _fed_anew(stated: Dict[str, Any], said: Corrections) -> dict[str, Any]:
    """What feeds each column, with what was said: a header or a cell takes a constant's place, and the reverse."""
    if both := sorted((said.columns.keys() | said.cells.keys()) & said.constants.keys()):
        raise Stop(f"{both[0]} is fed by the file and by a constant. Say one of them.")
    fed = {name: {"header": header} for name, header in said.columns.items() if header}
    fed |= {name: {"cell": cell.upper()} for name, cell in said.cells.items()}
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
