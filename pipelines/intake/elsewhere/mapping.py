"""A mapping: how the columns of a file from elsewhere are read as a table of the contract. TOML in, TOML out.

Comes in: the text of a file in `mappings/`. Goes out: a checked Mapping, every fault named by its key; and which
mapping a header belongs to.

A constant that says a troop or a day is for the files named under `only_for`: the next file with these headers must not
be taken for the same week's.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator
from collections.abc import Mapping as Dict
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal, Self

import tomli_w
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from pipelines.definitions.columns import Table, fold
from pipelines.definitions.contract import NO, TABLES, YES
from pipelines.definitions.errors import BrokenMapping
from pipelines.definitions.records import Sheet
from pipelines.definitions.season import keyed
from pipelines.intake.elsewhere.headers import Head, Key, folded, heads, key
from pipelines.intake.elsewhere.ways_of_writing import Order, Sign

ABOUT = "# How the columns of a file from elsewhere are read; a change holds from the next `musterbook ingest` on.\n"
CELL = r"^[A-Z]{1,3}[1-9][0-9]{0,5}$"
OF_ONE_FILE = ("troop", "participant", "date", "week_ending")  # kinds of constants that the next file does not share
WANTED = "{}"  # in a form: the part of the cell that is wanted
MOST_STARS = 3
MOST_ROWS_OF_PARTS = 2000  # in which headers of parts of a sheet are looked for
UNTIL = r"^(end|blank|before .+)$"


def _text(value: object) -> object:
    """A constant as text: a TOML day, number or truth value as the contract writes it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, date) else str(value) if isinstance(value, int | Decimal) else value


Text = Annotated[str, BeforeValidator(_text)]
Name = Annotated[str, Field(min_length=1, max_length=600)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Feed(_Part):
    """[columns]: what feeds a column: a header, a cell outside the rows, the file's or sheet's name, or packages times
    price; and how it is read.

    `split` and `part`: the cell's text parted, and which part counts (1 the first, -1 the last). `form`: the cell's
    text in a plain form, `{}` the part that counts, `*` anything: `Troop {} (*)`.
    """

    header: Name | None = None
    cell: str | None = Field(default=None, pattern=CELL)
    name_of: Literal["file", "sheet"] | None = None
    by_price: Literal[True] | None = None
    split: str | None = Field(default=None, min_length=1, max_length=20)
    part: int = Field(default=1, ge=-20, le=20)
    form: str | None = Field(default=None, min_length=3, max_length=200)
    dates: Order | None = None
    decimals: Sign | None = None

    @model_validator(mode="before")
    @classmethod
    def _header_alone(cls, given: object) -> object:
        return {"header": given} if isinstance(given, str) else given

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if sum(one is not None for one in (self.header, self.cell, self.name_of, self.by_price)) != 1:
            raise ValueError("give it a header, or a cell such as B2, name_of or by_price = true, and one of them only")
        if self.split and self.form:
            raise ValueError("split or form, not both")
        if self.part == 0:
            raise ValueError("part counts from 1, or from -1 at the end")
        if self.form and (self.form.count(WANTED) != 1 or self.form.count("*") > MOST_STARS):
            raise ValueError(f"a form holds {WANTED} once, for the part that counts, and * at most {MOST_STARS} times")
        if self.form and re.search(r"\*\{\}|\{\}\*|\*\*", self.form):
            raise ValueError(f"in a form something must stand between {WANTED} and *, and between two *")
        return self

    def part_in(self, text: str) -> str | None:
        """The part of a text that the form marks, each mark as short as can be; None where the text is not of the form.

        Literal by literal from the left, so that no text makes it slow.
        """
        literals = re.split(r"\{\}|\*", self.form or WANTED)
        marks = re.findall(r"\{\}|\*", self.form or WANTED)
        if not text.startswith(literals[0]):
            return None
        at, wanted = len(literals[0]), None
        for number, (mark, literal) in enumerate(zip(marks, literals[1:], strict=True)):
            least = at + (mark == WANTED)
            is_last = number == len(marks) - 1
            found = len(text) - len(literal) if is_last else text.find(literal, least)
            if found < least or not text.endswith(literal if is_last else ""):
                return None
            if mark == WANTED:
                wanted = text[at:found]
            at = found + len(literal)
        return wanted

    @property
    def is_plain(self) -> bool:
        """Whether it is a header and nothing more."""
        return self.model_dump(exclude_defaults=True).keys() == {"header"}


class Mapping(_Part):
    """One mapping: for which table and which headers it is, and what feeds each column.

    `pass_over`: rows that are no rows, by the whole text of their first filled cell; `pass_over_rows`: by their place
    below the header (1 the first, -1 the last), and never one that is filled in like a row of the table. `left_out`:
    headers that are known to feed nothing. `until`: where several tables stand on one sheet, how this one ends: at the
    `end`, at a `blank` row, or `before` a row that begins with a text; its header may then stand anywhere.
    """

    table: str
    headers: tuple[Name, ...] = Field(min_length=1, max_length=20_000)
    header_rows: Literal[1, 2] = 1
    only_for: tuple[Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")], ...] = ()
    dates: Order | None = None
    decimals: Sign | None = None
    by_case: bool = False
    pass_over: tuple[Name, ...] = ()
    pass_over_rows: tuple[Annotated[int, Field(ge=-9, le=9)], ...] = ()
    left_out: tuple[Name, ...] = ()
    until: str | None = Field(default=None, pattern=UNTIL, max_length=200)
    columns: dict[str, Feed] = {}
    constants: dict[str, Text] = {}
    items: dict[Name, Text] = {}
    values: dict[str, dict[str, Text]] = {}

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        faults = [*self._faults()] if self.table in TABLES else [f"table: {self.table} is none of {', '.join(TABLES)}"]
        if faults:
            raise ValueError("\n".join(faults))
        return self

    @property
    def of(self) -> Table:
        """The contract's table."""
        return TABLES[self.table]

    @cached_property
    def key(self) -> Key:
        """What its headers have in common with those of a file that it is for."""
        return key(self.headers)

    def place(self, header: str) -> int:
        """Where a header of its own stands among `headers`; -1 where it does not."""
        return self._places.get(folded(header), -1)

    @cached_property
    def _places(self) -> dict[str, int]:
        return {folded(label): place for place, label in reversed([*enumerate(self.headers)])}

    def _faults(self) -> Iterator[str]:
        names = self.of.names
        for part in ("columns", "constants", "values"):
            for column in getattr(self, part):
                if column not in names:
                    yield f"{part}.{column}: no column of {self.table}; it has {', '.join(names)}"
        for column, feed in self.columns.items():
            if feed.header is not None and self.place(feed.header) < 0:
                yield f'columns.{column}: "{feed.header}" is none of the headers'
            if feed.by_price and (column != "goods_amount" or self.table != "online_orders"):
                yield f"columns.{column}: by_price is for goods_amount of online_orders"
            if column in self.constants:
                yield f"constants.{column}: it is fed by a header too; keep one of the two"
        for header in self.left_out:
            if self.place(header) < 0:
                yield f'left_out: "{header}" is none of the headers'
        yield from self._item_faults()
        yield from self._value_faults()
        if not self.only_for:
            for column in self.constants.keys() & {one.name for one in self.of.columns if one.kind in OF_ONE_FILE}:
                if self.constants[column]:
                    yield (
                        f"constants.{column}: the next file with these headers may say another; name the files that "
                        'this is for under only_for (their SHA-256), or read it from a cell: { cell = "B2" }'
                    )

    def _item_faults(self) -> Iterator[str]:
        if (self.items or self.by_case) and not {"item", "packages"} <= set(self.of.names):
            yield f"{'items' if self.items else 'by_case'}: {self.table} has no packages of items"
        places = [self.place(header) for header in self.items]
        for header, place in zip(self.items, places, strict=True):
            if place < 0:
                yield f'items: "{header}" is none of the headers'
            elif places.count(place) > 1:
                yield f'items: "{header}" stands twice'
        codes = [code.casefold() for code in self.items.values()]
        for code in sorted({code for code in codes if codes.count(code) > 1}):
            yield f"items: {code.upper()} is fed by two headers"
        if self.items:
            for column in ("item", "packages"):
                if column in self.columns or column in self.constants:
                    yield f"{column}: the columns of items give it already"

    def _value_faults(self) -> Iterator[str]:
        for name, meanings in self.values.items():
            given = [value.strip().casefold() for value in meanings]
            for value in sorted({value for value in given if given.count(value) > 1}):
                yield f'values.{name}: "{value}" stands twice, differing in case only'
        meant = [
            (f'values.{name}."{value}"', name, to) for name, all_ in self.values.items() for value, to in all_.items()
        ]
        meant += [(f"constants.{name}", name, to) for name, to in self.constants.items()]
        for where, name, to in meant:
            column = next((one for one in self.of.columns if one.name == name), None)
            if column and column.choices and to and fold(to) not in {fold(choice) for choice in column.choices}:
                yield f"{where}: {to} is none of {', '.join(column.choices)}"
            if column and column.kind == "yes_no" and to and to.strip().casefold() not in (*YES, *NO):
                yield f"{where}: {to} is neither yes nor no"

    def lacking(self) -> list[str]:
        """The columns that must be there and that nothing feeds."""
        fed = {*self.columns, *self.constants, *(("item", "packages") if self.items else ())}
        return [column.name for column in self.of.columns if column.required and column.name not in fed]


class Mappings:
    """All mappings that hold, by name, found by a header's key."""

    def __init__(self, named: Dict[str, Mapping]) -> None:
        self.named = dict(named)
        self._by_key: dict[Key, list[str]] = {}
        for name, one in self.named.items():
            self._by_key.setdefault(one.key, []).append(name)
        self._lines = sorted({one.header_rows for one in self.named.values() if one.until is None})
        self._lines_of_parts = sorted({one.header_rows for one in self.named.values() if one.until is not None})

    def __bool__(self) -> bool:
        return bool(self.named)

    def for_sheet(self, sheet: Sheet, sha256: str) -> list[tuple[Head, list[str]]]:
        """The sheet's headers, each with the mappings it goes by, one a table; [] where none was confirmed for it.

        One header for the whole sheet; several where mappings are each for a part of one.
        """
        for lines in self._lines:
            for head in heads(sheet, lines):
                if own := self._named_for(head, sha256, is_part=False):
                    return [(head, own)]
        found = []
        for lines in self._lines_of_parts:
            for head in heads(sheet, lines, MOST_ROWS_OF_PARTS):
                if own := self._named_for(head, sha256, is_part=True):
                    found.append((head, own))
        return sorted(found, key=lambda one: one[0].row)

    def _named_for(self, head: Head, sha256: str, *, is_part: bool) -> list[str]:
        names = [name for name in self._by_key.get(head.key, ()) if self.named[name].header_rows == head.lines]
        return [
            name for name in names if (self.named[name].until is not None) == is_part and self._is_for(name, sha256)
        ]

    def _is_for(self, name: str, sha256: str) -> bool:
        one = self.named[name]
        if one.only_for:
            return sha256 in one.only_for
        return not any(  # one for this very file goes first
            sha256 in other.only_for and other.table == one.table
            for other in (self.named[near] for near in self._by_key[one.key])
        )

    def like(self, head_key: Key) -> list[str]:
        """The mappings of the same headers, for whichever files."""
        return list(self._by_key.get(head_key, ()))


def read_mapping(text: str, name: str) -> Mapping | None:
    """The mapping that a file states; None where it is empty; raises BrokenMapping naming each fault by its key."""
    if all(not line.strip() or line.lstrip().startswith("#") for line in text.splitlines()):
        return None
    try:
        stated = tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise BrokenMapping(f"{name} is not valid TOML: {fault}.") from fault
    one = checked(stated, name)
    if missing := one.lacking():
        lines = [f"  columns.{column}: is fed by nothing; name its header, or a constant" for column in missing]
        raise BrokenMapping(f"{name} needs mending:\n" + "\n".join(lines))
    return one


def checked(stated: Dict[str, Any], name: str) -> Mapping:
    """The mapping that these keys state, complete or not; raises BrokenMapping naming every fault by its key."""
    try:
        return Mapping.model_validate(stated)
    except ValidationError as faults:
        raise BrokenMapping(f"{name} needs mending:\n" + "\n".join(keyed(faults, ""))) from faults


def without_clashes(named: Dict[str, Mapping]) -> Mappings:
    """The mappings together; raises BrokenMapping where two are for the same table, headers and files."""
    seen: dict[tuple[object, ...], str] = {}
    for name, one in named.items():
        for sha256 in one.only_for or ("",):
            before = seen.setdefault((one.table, one.key, one.header_rows, one.until is None, sha256), name)
            if before != name:
                raise BrokenMapping(f"{before} and {name} are for the same headers and table: take one of them out.")
    return Mappings(named)


def as_toml(one: Mapping) -> str:
    """The mapping as a file states it."""
    stated = one.model_dump(exclude_defaults=True)
    stated["headers"] = list(one.headers)
    if one.columns:
        stated["columns"] = {
            name: feed.header if feed.is_plain else feed.model_dump(exclude_defaults=True)
            for name, feed in one.columns.items()
        }
    for name in ("only_for", "pass_over", "pass_over_rows", "left_out"):
        if name in stated:
            stated[name] = list(stated[name])
    return ABOUT + tomli_w.dumps(stated)


def named_for(one: Mapping, file_name: str, taken: Iterable[str]) -> str:
    """A name for a new mapping, after its table and the file it was made for."""
    stem = re.sub(r"[^a-z0-9]+", "-", file_name.rpartition("/")[2].rpartition(".")[0].casefold()).strip("-")[:40]
    start = f"{one.table.replace('_', '-')}-{stem or 'file'}"
    names, number = set(taken), 1
    while f"{start}{'' if number == 1 else f'-{number}'}.toml" in names:
        number += 1
    return f"{start}{'' if number == 1 else f'-{number}'}.toml"
