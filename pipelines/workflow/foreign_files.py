"""Files from elsewhere that wait: each with the mapping proposed for it, corrected, and confirmed.

Comes in: a book, which file, what a person corrects. Goes out: how the file would be read; on confirming, what became
of every file that was held. Until then nothing of it is taken in.
"""

from collections.abc import Callable
from collections.abc import Mapping as Dict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import Stop
from pipelines.definitions.records import Finding, Sheet
from pipelines.intake.elsewhere.headers import Head, heads
from pipelines.intake.elsewhere.mapping import OF_ONE_FILE, Mapping, Mappings, as_toml, checked, named_for
from pipelines.intake.elsewhere.proposal import Hints, Proposed, propose
from pipelines.intake.elsewhere.reading_shown import Look, look
from pipelines.landing import arrivals, kept_mappings
from pipelines.landing.arrivals import Opened, Progress
from pipelines.store import engine
from pipelines.store.book import Book
from pipelines.workflow import publishing, take_in
from pipelines.workflow.take_in import Outcome

DRAFT = "The mapping"


@dataclass(frozen=True, slots=True)
class Waiting:
    """A file that a mapping can help: one that waits for it, or (`is_mapped`) one of which something is held."""

    file_no: int
    name: str
    sha256: str
    sender: str
    what: str
    is_read: bool


@dataclass(frozen=True)
class Draft:
    """The mapping that is proposed for one file: the sheet and header it is for, its keys, the name it would get."""

    file: Waiting
    sheet: Sheet
    head: Head
    name: str
    stated: Dict[str, Any]
    hints: Hints = field(repr=False)

    def with_(self, changes: Dict[str, Any]) -> "Draft":
        """The draft with other keys, made complete by what follows from them."""
        return Draft(self.file, self.sheet, self.head, self.name, {**self.stated, **changes}, self.hints)

    @property
    def mapping(self) -> Mapping:
        """The mapping as far as it goes; raises BrokenMapping naming every fault by its key."""
        stated = {key: value for key, value in self.stated.items() if value not in (None, {}, [], ())}
        stated |= {"headers": list(self.head.labels), "header_rows": self.head.lines}
        if is_of_one_file(stated):
            stated["only_for"] = [self.file.sha256]
        return checked(stated, DRAFT)

    def look(self) -> Look:
        """How it reads the file; raises BrokenMapping."""
        return look(self.sheet, self.head, self.mapping, self.hints)


def is_of_one_file(stated: Dict[str, Any]) -> bool:
    """Whether constants say a troop or a day, which the next file with the same headers need not share."""
    table = TABLES.get(stated.get("table", ""))
    kinds = {column.name: column.kind for column in table.columns} if table else {}
    return any(text and kinds.get(name) in OF_ONE_FILE for name, text in stated.get("constants", {}).items())


def waiting(book: Book) -> list[Waiting]:
    """The files that a mapping can help, those that wait for one first, oldest first."""
    query = """
        select f.file_no, f.name, f.sha256, f.sender, f.what, count(u.unit_no) > 0 as is_read
        from landed.files f left join landed.units u on u.file_no = f.file_no
        where f.what in ('foreign', 'unknown', 'feed', 'bulk')
        group by all having count(u.unit_no) = 0 or bool_or(u.accepted_at is null)
        order by is_read, f.file_no
    """
    with book.reading() as con:
        return [Waiting(**row) for row in engine.rows(con, query)]


def chosen(book: Book, which: str) -> Waiting:
    """The waiting file of this name or number; raises Stop."""
    files = waiting(book)
    found = [one for one in files if which in (str(one.file_no), one.name)]
    found = found or [one for one in files if which and Path(one.name).name == which]
    if len(found) != 1:
        listed = "; ".join(f"{one.file_no}: {one.name}" for one in (found or files)[:10]) or "none"
        several = "several files of that name" if found else f"no file {which} that waits or is held"
        raise Stop(f"There is {several}. Name one by its number ({listed}).".replace("is several", "are several"))
    return found[0]


def hints(book: Book) -> Hints:
    """What the book knows: season, troops and participants, mappings."""
    with book.reading() as con:
        troops = con.execute("select troop from landed.troops union select troop from landed.roster").fetchall()
        people = con.execute("select distinct participant from landed.roster").fetchall()
    held = kept_mappings.holding(kept_mappings.stated(book))
    return Hints(book.season(), frozenset(row[0] for row in troops), frozenset(row[0] for row in people), held)


def sheets_of(book: Book, file: Waiting) -> tuple[list[Sheet], list[Finding]]:
    """A landed file's sheets, and what is to be told of reading it."""
    one = Opened(file.name, file.sha256, 0, book.landed_path(file.sha256))
    arrivals.read([one], publishing.silent)
    return one.reading.sheets, one.reading.findings


def drafted(
    book: Book, file: Waiting, known: Hints, *, table: str = "", sheet: str | None = None, header_rows: int = 0
) -> Draft | None:
    """The mapping proposed for a file; None where it holds nothing like a table. Raises Stop where no such sheet is.

    `table`, `sheet`, `header_rows`: what a person said; else the nearest.
    """
    sheets, _told = sheets_of(book, file)
    if sheet is not None:
        sheets = [one for one in sheets if one.name == sheet]
        if not sheets:
            raise Stop(f"{file.name} has no sheet {sheet}.")
    found = _confirmed(sheets, file, known.mappings, table) or propose(sheets, known, table)
    if found is None:
        return None
    head = found.head
    if header_rows and header_rows != head.lines:
        head = _of_lines(sheets[found.sheet_no], head, header_rows)
        again = propose([sheets[found.sheet_no]], known, table, [head])
        found = Proposed(found.sheet_no, head, again.stated) if again else found
    return Draft(file, sheets[found.sheet_no], head, _name(found, file, known.mappings), found.stated, known)


def _confirmed(sheets: list[Sheet], file: Waiting, held: Mappings, table: str) -> Proposed | None:
    """The mapping that the file already goes by."""
    for number, sheet in enumerate(sheets):
        head, names = held.for_sheet(sheet, file.sha256) or (None, ())
        for one in (held.named[name] for name in names):
            if head and table in ("", one.table):
                return Proposed(number, head, one.model_dump(exclude_defaults=True))
    return None


def _of_lines(sheet: Sheet, head: Head, lines: int) -> Head:
    """The header of so many lines that begins or ends where this one does; raises Stop."""
    near = [one for one in heads(sheet, lines) if abs(one.row - head.row) <= 1]
    if not near:
        raise Stop(f"There is no header of {lines} lines there.")
    return min(near, key=lambda one: abs(one.row - head.row))


def _name(found: Proposed, file: Waiting, held: Mappings) -> str:
    """The name it has, where it is for these very headers and files already; else a new one."""
    one = checked({**found.stated, "headers": list(found.head.labels), "header_rows": found.head.lines}, DRAFT)
    for name in held.like(one.key):
        other = held.named[name]
        if other.table == one.table and (not other.only_for or file.sha256 in other.only_for):
            return name
    return named_for(one, file.name, held.named)


def confirm(
    book: Book,
    draft: Draft,
    sender: str,
    *,
    progress: Progress = publishing.silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> list[Outcome]:
    """Keeps the mapping and tries again what is held; raises Stop where something must be said first."""
    found = draft.look()
    if not found.may_be_confirmed:
        open_ = [question.said for question in found.questions if question.stops]
        raise Stop("Not confirmed yet:\n" + "\n".join(f"  {said}" for said in open_))
    name = draft.name
    one = found.mapping
    if one.only_for and name in draft.hints.mappings.named and not draft.hints.mappings.named[name].only_for:
        name = named_for(one, draft.file.name, draft.hints.mappings.named)
    return take_in.keep_mapping(book, name, as_toml(one), sender, progress=progress, on_wait=on_wait)
