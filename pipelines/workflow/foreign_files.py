"""Files from elsewhere that wait: each with the mapping proposed for it, or the draft of one; confirmed; taken back.

Comes in: a book, which file, what a person said of it. Goes out: how the file would be read; on confirming, what became
of every file that was held. Until then nothing of it is taken in.
"""

from collections.abc import Callable
from collections.abc import Mapping as Dict
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import Stop
from pipelines.definitions.records import Finding, Sheet
from pipelines.intake.elsewhere.headers import Head, head_at, heads, part_of
from pipelines.intake.elsewhere.mapping import OF_ONE_FILE, Mapping, Mappings, as_toml, checked, named_for
from pipelines.intake.elsewhere.proposal import Hints, Proposed, propose
from pipelines.intake.elsewhere.reading_shown import Look, look
from pipelines.intake.elsewhere.rows_apart import UNREAD, first_filled, how_it_ends, part_read
from pipelines.intake.judging.judge import text_of
from pipelines.intake.judging.tables import body_of
from pipelines.landing import arrivals, kept_drafts, kept_mappings
from pipelines.landing.arrivals import Opened, Progress, Rules
from pipelines.store import engine
from pipelines.store.book import Book
from pipelines.workflow import publishing, take_in
from pipelines.workflow.rehearsal import rehearsed
from pipelines.workflow.take_in import Outcome

DRAFT = "The mapping"
NEAR_TOP, NEAR_END = 5, 12  # rows of a table that may be no rows


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
    """The mapping that is proposed for one file: the sheet and header it is for, its keys, the name it would get.

    `rivals`: tables that it may be as well, until a person says which. `is_kept`: somebody's corrections are in it.
    """

    book: Book = field(repr=False)
    file: Waiting
    sheets: list[Sheet] = field(repr=False)
    sheet: Sheet = field(repr=False)
    head: Head
    name: str
    stated: Dict[str, Any]
    hints: Hints = field(repr=False)
    rivals: tuple[str, ...] = ()
    is_kept: bool = False

    def with_(self, changes: Dict[str, Any]) -> "Draft":
        """The draft with other keys."""
        return replace(self, stated={**self.stated, **changes})

    @property
    def mapping(self) -> Mapping:
        """The mapping as far as it goes; raises BrokenMapping naming every fault by its key."""
        stated = {key: value for key, value in self.stated.items() if value not in (None, {}, [], ())}
        stated |= {"headers": list(self.head.labels), "header_rows": self.head.lines}
        if is_of_one_file(stated):
            stated["only_for"] = [self.file.sha256]
        return checked(stated, DRAFT)

    def begins(self) -> list[str]:
        """What its first and last rows begin with: among them may be rows that are no rows."""
        part, _told = part_read(self.sheet, self.head, self.stated.get("until"))
        firsts = first_filled(body_of(part, self.head.row + 1)[0])
        near = [*firsts[:NEAR_TOP], *firsts[-NEAR_END:]]
        return list(dict.fromkeys(text_of(cell) for cell in near if isinstance(cell, str)))

    def look(self) -> Look:
        """How it reads the file, row by row; raises BrokenMapping."""
        name = self.file.name
        return look(self.sheet, self.head, self.mapping, self.hints, rivals=self.rivals, file_name=name)

    def forecast(self) -> Look:
        """How it reads the file, and what would become of every row once it is confirmed; raises BrokenMapping."""
        found = self.look()
        held = {name: one for name, one in self.hints.mappings.named.items() if name != self.name}
        rules = Rules(self.hints.season, Mappings({**held, self.name: found.mapping}))
        mine = (self.file.file_no, self.file.name, self.file.sha256)
        done = rehearsed(self.book, mine, self.sheets, rules)
        return replace(found, rows_read=done.rows, rows_held=done.rows_held, findings=done.findings)


def is_of_one_file(stated: Dict[str, Any]) -> bool:
    """Whether constants say a troop or a day, which the next file with the same headers need not share."""
    table = TABLES.get(stated.get("table", ""))
    kinds = {column.name: column.kind for column in table.columns} if table else {}
    return any(text and kinds.get(name) in OF_ONE_FILE for name, text in stated.get("constants", {}).items())


def waiting(book: Book) -> list[Waiting]:
    """The files that a mapping can help, those that wait for one first, oldest first.

    Of these is also one of which a part was mapped and another part is read by nothing yet.
    """
    query = """
        with unread as (
            select distinct file_no from landed.findings where ended_at is null and starts_with(found, ?)
        )
        select f.file_no, f.name, f.sha256, f.sender, f.what, count(u.unit_no) > 0 and count(g.file_no) = 0 as is_read
        from landed.files f
        left join landed.units u on u.file_no = f.file_no
        left join unread g on g.file_no = f.file_no
        where f.what in ('foreign', 'unknown', 'feed', 'bulk')
            and not exists (from landed.dismissals d where d.file_no = f.file_no)
        group by all having count(u.unit_no) = 0 or bool_or(u.accepted_at is null)
        order by is_read, f.file_no
    """
    with book.reading() as con:
        return [Waiting(**row) for row in engine.rows(con, query, [UNREAD])]


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


@dataclass(frozen=True)
class Wanted:
    """What a person said of where a table stands and which it is; "", None, 0 and () where they said nothing.

    `rows`: the row its header ends in and its last row, from 1 on.
    """

    table: str = ""
    sheet: str | None = None
    header_rows: int = 0
    rows: tuple[int, int] | tuple[()] = ()


ANYTHING = Wanted()


def drafted(book: Book, file: Waiting, known: Hints, wanted: Wanted = ANYTHING) -> Draft | None:
    """The draft that is kept for a file, else the mapping proposed; None where it holds nothing like a table.

    A draft of another table or place than is wanted is proposed anew. Raises Stop where no such sheet or row is.
    """
    every, _told = sheets_of(book, file)
    found = _kept(book, file, every, wanted) or _found(every, file, known, wanted)
    if found is None:
        return None
    name = _name(found, file, known.mappings)
    sheet, is_kept = every[found.sheet_no], kept_drafts.path_of(book, file.sha256).is_file() and wanted == ANYTHING
    return Draft(book, file, every, sheet, found.head, name, found.stated, known, found.rivals, is_kept)


def _found(every: list[Sheet], file: Waiting, known: Hints, wanted: Wanted) -> Proposed | None:
    """What is proposed, or was confirmed already, for the table that is wanted."""
    sheets = {number: one for number, one in enumerate(every) if wanted.sheet in (None, one.name)}
    if not sheets:
        raise Stop(f"{file.name} has no sheet {wanted.sheet}.")
    if wanted.rows:
        return _in_rows(sheets, file, known, wanted)
    listed = list(sheets.values())
    found = _confirmed(listed, file, known.mappings, wanted.table) or propose(
        listed, known, wanted.table, file_name=file.name
    )
    if found is None:
        return None
    if wanted.header_rows and wanted.header_rows != found.head.lines:
        head = _of_lines(listed[found.sheet_no], found.head, wanted.header_rows)
        again = propose([listed[found.sheet_no]], known, wanted.table, [head], file.name)
        found = again._replace(sheet_no=found.sheet_no) if again else found
    return found._replace(sheet_no=[*sheets][found.sheet_no])


def _in_rows(sheets: Dict[int, Sheet], file: Waiting, known: Hints, wanted: Wanted) -> Proposed | None:
    """What is proposed for the rows of a sheet that were pointed at."""
    first, last = wanted.rows or (1, 1)
    number, sheet = next(iter(sheets.items()))
    head = head_at(sheet, first - 1, wanted.header_rows or 1)
    if head is None or last <= first:
        raise Stop("Point at the row of its header and at its last row, further down.")
    found = propose([part_of(sheet, last)], known, wanted.table, [head], file.name)
    until = how_it_ends(sheet, head, last)
    return found._replace(sheet_no=number, stated={**found.stated, "until": until}) if found else None


def _confirmed(sheets: list[Sheet], file: Waiting, held: Mappings, table: str) -> Proposed | None:
    """The mapping that the file already goes by."""
    for number, sheet in enumerate(sheets):
        for head, names in held.for_sheet(sheet, file.sha256):
            for one in (held.named[name] for name in names):
                if table in ("", one.table):
                    return Proposed(number, head, one.model_dump(exclude_defaults=True))
    return None


def _kept(book: Book, file: Waiting, sheets: list[Sheet], wanted: Wanted) -> Proposed | None:
    """The draft that is kept, where it still fits the file and what is wanted."""
    kept = kept_drafts.kept(book, file.sha256)
    number = next((k for k, one in enumerate(sheets) if kept and one.name == kept["sheet"]), None)
    if kept is None or number is None:
        return None
    is_wanted = wanted.table in ("", kept["mapping"].get("table")) and wanted.sheet in (None, kept["sheet"])
    if not is_wanted or wanted.rows or wanted.header_rows not in (0, kept["lines"]):
        return None
    head = Head(-1, 1, tuple(kept["mapping"]["headers"])) if kept["row"] < 0 else None
    head = head or head_at(sheets[number], kept["row"], kept["lines"])
    return Proposed(number, head, kept["mapping"], tuple(kept["rivals"])) if head else None


def keep(draft: Draft) -> Draft:
    """Keeps a draft with what was corrected in it until it is confirmed or dropped; raises BrokenMapping."""
    stated = draft.mapping.model_dump(exclude_defaults=True) | {"headers": list(draft.head.labels)}
    where = {"sheet": draft.sheet.name, "row": draft.head.row, "lines": draft.head.lines}
    kept_drafts.keep(draft.book, draft.file.sha256, {**where, "rivals": list(draft.rivals), "mapping": stated})
    return replace(draft, is_kept=True)


def kept_as(book: Book, file: Waiting) -> str:
    """By what the draft that is kept for a file is told from any other of its drafts; "" where none is."""
    stated = kept_drafts.kept(book, file.sha256)
    return repr(stated) if stated else ""


def in_use(book: Book) -> dict[str, str]:
    """The confirmed mappings by name, each with its table."""
    return {name: one.table for name, one in kept_mappings.holding(kept_mappings.stated(book)).named.items()}


def drop(book: Book, file: Waiting) -> bool:
    """Throws a file's draft away; whether there was one."""
    return kept_drafts.drop(book, file.sha256)


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
    return take_in.keep_mapping(
        book, name, as_toml(one), sender, draft_of=draft.file.sha256, progress=progress, on_wait=on_wait
    )


@dataclass(frozen=True)
class TakenBack:
    """What became of a mapping that was taken back: what it had taken in, which stays, and what waits again."""

    name: str
    stays: tuple[str, ...]
    waits: tuple[str, ...]

    @property
    def said(self) -> tuple[str, ...]:
        """The same in sentences."""
        lines = [f"{self.name} is used for no more files: the next one with its headers waits and is asked about."]
        if self.stays:
            lines.append(f"What it had taken in stays and counts: {', '.join(self.stays)}.")
            lines.append("To have that read another way, export it again, say how it is read, and confirm.")
        else:
            lines.append("Nothing had been taken in by it.")
        return (*lines, *(f"{name} waits for a mapping again." for name in self.waits))


def take_back(
    book: Book,
    name: str,
    sender: str,
    *,
    progress: Progress = publishing.silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> TakenBack:
    """Uses a confirmed mapping for no more files; raises Stop where there is none of that name."""
    held = kept_mappings.holding(kept_mappings.stated(book)).named
    name = name if name in held else f"{name}.toml"
    if name not in held:
        raise Stop(f"There is no mapping {name.removesuffix('.toml')}. There are: {', '.join(held) or 'none'}.")
    stays = _read_by(book, Mappings({name: held[name]}), progress)
    outcomes = take_in.take_mapping_back(book, name, sender, progress=progress, on_wait=on_wait)
    waits = tuple(one.name for one in outcomes if one.what == "foreign" and not one.rows)
    return TakenBack(name, stays, waits)


def _read_by(book: Book, one: Mappings, progress: Progress) -> tuple[str, ...]:
    """The files of which rows were taken in, and whose headers are those of a mapping."""
    query = (
        "select f.name, f.sha256 from landed.files f where f.what in ('foreign', 'feed', 'bulk') and exists "
        "(select 1 from landed.units u where u.file_no = f.file_no and u.accepted_at is not null) order by f.file_no"
    )
    with book.reading() as con:
        listed = con.execute(query).fetchall()
    opened = [Opened(name, sha256, 0, book.landed_path(sha256)) for name, sha256 in listed]
    arrivals.read(opened, progress)
    return tuple(each.name for each in opened if any(one.for_sheet(s, each.sha256) for s in each.reading.sheets))
