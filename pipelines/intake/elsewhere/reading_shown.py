"""How a mapping would read a file: column by column with sample values, the first rows, and what must be asked.

Comes in: a sheet, its header, a Mapping that need not be complete, what the book knows. Goes out: a Look. Nothing
lands.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from pipelines.definitions.columns import Column
from pipelines.definitions.contract import TABLES
from pipelines.definitions.records import Finding, Sheet
from pipelines.intake.elsewhere.headers import Head, folded
from pipelines.intake.elsewhere.mapping import Mapping
from pipelines.intake.elsewhere.proposal import Hints, profile_of, readings_of
from pipelines.intake.elsewhere.read_through import Given, columns_read, take_mapped
from pipelines.intake.elsewhere.rewriting import DAYS, Refusal, Rewriting, distinct_of, parted
from pipelines.intake.elsewhere.rows_apart import part_read
from pipelines.intake.judging.checks import judge_raw
from pipelines.intake.judging.judge import Known, text_of
from pipelines.intake.judging.tables import Raw, body_of, is_empty

SAMPLES = 3  # distinct values of a column that are shown
FIRST_ROWS = 8
MOST_NAMED = 8  # headers that one question names
LONG = 40  # characters of a value that are shown


@dataclass(frozen=True, slots=True)
class Line:
    """One column of the contract: what feeds it, values as they stand and as they are read, how many cannot be."""

    column: str
    about: str
    is_needed: bool
    fed_by: str
    samples: tuple[str, ...] = ()
    read: tuple[str, ...] = ()
    unread: int = 0


@dataclass(frozen=True, slots=True)
class Question:
    """What a person must say (or, where it does not stop, may) before it is confirmed."""

    about: str  # table, lacking, left_over, dates, decimals, word, mixed
    column: str
    said: str
    choices: dict[str, str] = field(default_factory=dict)  # what to state → what it would mean
    word: str = ""  # the word that is asked about
    stops: bool = True


@dataclass(frozen=True)
class Look:
    """How a mapping would read a file."""

    mapping: Mapping
    lines: tuple[Line, ...]
    questions: tuple[Question, ...]
    used: frozenset[str]  # headers
    rows: tuple[dict[str, Any], ...]
    rows_read: int
    rows_held: int
    findings: tuple[Finding, ...]

    @property
    def may_be_confirmed(self) -> bool:
        """Whether nothing is left that must be said first."""
        return not any(question.stops for question in self.questions)


def look(
    sheet: Sheet, head: Head, mapping: Mapping, hints: Hints, *, rivals: Sequence[str] = (), file_name: str = ""
) -> Look:
    """How this mapping would read the sheet; `hints`: what the book knows; `rivals`: tables it may be as well."""
    raw, findings = take_mapped(Given("the mapping", mapping, hints.season, 1, file_name), sheet, head)
    known = Known(hints.season, hints.troops, defines_troops=mapping.table in ("troops", "roster"))
    staged = judge_raw(raw, known)
    rows = staged.rows.slice(0, FIRST_ROWS).select([*mapping.of.names, "is_bad"]).to_pylist()
    refused = [finding for _row, finding in staged.findings if not finding.is_note]
    left_over = _left_over(mapping, sheet, head)
    return Look(
        mapping,
        tuple(_lines(mapping, raw, staged.rows)),
        (*_whole_table(rivals, left_over), *_questions(mapping, raw, hints)),
        frozenset(head.labels[at] for at in _used(mapping, head)),
        tuple(rows),
        len(raw),
        sum(staged.rows.column("is_bad").to_pylist()),
        (*findings, *refused),
    )


def _used(mapping: Mapping, head: Head) -> Iterator[int]:
    at = {folded(label): place for place, label in reversed([*enumerate(head.labels)])}
    for header in [*(feed.header for feed in mapping.columns.values() if feed.header is not None), *mapping.items]:
        yield at[folded(header)]


def _left_over(mapping: Mapping, sheet: Sheet, head: Head) -> dict[str, str]:
    """Headers over values that feed nothing and that nobody has left out, each with the first of its values."""
    part, _told = part_read(sheet, head, mapping.until)
    cells, _row_nos = body_of(part, head.row + 1)
    used = {*_used(mapping, head), *(mapping.place(header) for header in mapping.left_out)}
    found: dict[str, str] = {}
    for at, label in enumerate(head.labels[: len(cells)]):
        if at not in used and (values := profile_of(cells[at]).counts):
            found[label] = "; ".join(_shown(value) for value in list(values)[:2])
    return found


def _whole_table(rivals: Sequence[str], left_over: dict[str, str]) -> Iterator[Question]:
    """What is asked of the table as a whole: which one it is, and what becomes of columns that nothing uses."""
    if rivals:
        choices = {name: TABLES[name].a_row_is for name in rivals}
        may_be = " or ".join(TABLES[name].a_row_is for name in rivals) if len(rivals) > 1 else ""
        said = f"Which is a row of it: {may_be}?" if may_be else f"Is a row of it {TABLES[rivals[0]].a_row_is}?"
        yield Question("table", "", said, choices)
    if left_over:
        listed = ", ".join(f"{label} ({shown})" for label, shown in list(left_over.items())[:MOST_NAMED])
        more = f" and {len(left_over) - MOST_NAMED:,} more" if len(left_over) > MOST_NAMED else ""
        said = f"Used for nothing: {listed}{more}. Leave them out, or say what they are?"
        yield Question("left_over", "", said, left_over)


def _lines(mapping: Mapping, raw: Raw, rows: pa.Table) -> Iterator[Line]:
    for column in mapping.of.columns:
        fed_by = fed_by_of(mapping, column.name)
        cells = raw.found_column(column.name)
        samples: list[str] = []
        read: list[str] = []
        unread = 0
        if cells is not None:
            typed = rows.column(column.name)
            distinct, indices = distinct_of(cells)
            first = {place: row for row, place in reversed([*enumerate(indices)])}
            for place, cell in enumerate(distinct):
                if not is_empty(cell) and len(samples) < SAMPLES:
                    samples.append(_shown(cell))
                    read.append(_shown(typed[first[place]].as_py()))
            valid = typed.is_valid().to_pylist()
            empty = [is_empty(cell) for cell in distinct]
            unread = sum(1 for row, place in enumerate(indices) if not valid[row] and not empty[place])
            unread = max(unread, len(raw.refused.get(column.name, ())))
        yield Line(column.name, column.about, column.required, fed_by, tuple(samples), tuple(read), unread)


def fed_by_of(mapping: Mapping, column: str) -> str:
    """What feeds a column, in words; "" where nothing does."""
    if column in mapping.constants:
        return f"always {mapping.constants[column] or 'empty'}"
    if mapping.items and column in ("item", "packages"):
        return f"the columns {', '.join(mapping.items)}"
    feed = mapping.columns.get(column)
    if feed is None:
        return ""
    if feed.by_price:
        return "packages times price"
    start = f"cell {feed.cell}" if feed.cell else f"the {feed.name_of}'s name" if feed.name_of else f"{feed.header}"
    if feed.split:
        return f'{start}, part {feed.part} by "{feed.split}"'
    cases = ", in cases" if mapping.by_case and column == "packages" else ""
    return f"{start}, as {feed.form}{cases}" if feed.form else f"{start}{cases}"


def _shown(value: object) -> str:
    if isinstance(value, list):
        return " ".join(map(str, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = text_of(value)
    return text if len(text) <= LONG else text[: LONG - 1] + "…"


def _questions(mapping: Mapping, raw: Raw, hints: Hints) -> Iterator[Question]:
    for name in mapping.lacking():
        choices = mapping.of.column(name).choices
        also = f" It may be the same for the whole file: {', '.join(choices)}." if choices else ""
        yield Question("lacking", name, f"Which header is {name.replace('_', ' ')}?{also}")
    for column, feed in columns_read(mapping):
        cells = raw.found_column(column.name)
        work = Rewriting.of(column, feed, mapping, hints.season, cells)
        distinct, indices = distinct_of(cells)
        counts = [0] * len(distinct)
        for place in indices:
            counts[place] += 1
        parts = [(_part(cell, work), many) for cell, many in zip(distinct, counts, strict=True)]
        yield from _asked(column, work, [(cell, many) for cell, many in parts if not is_empty(cell)], hints)


def _part(cell: object, work: Rewriting) -> object:
    """The part of a cell that counts; None where it is empty, has a meaning of its own, or cannot be parted."""
    if is_empty(cell):
        return None
    if work.feed.split or work.feed.form:
        cell = parted(cell, work.feed)
    if isinstance(cell, Refusal) or text_of(cell).casefold() in work.meanings:
        return None
    return cell


def _asked(column: Column, work: Rewriting, parts: Sequence[tuple[object, int]], hints: Hints) -> Iterator[Question]:
    readings = readings_of(column, parts, hints.season, work.places)
    if readings is None:
        words = sorted({text_of(cell) for cell, _many in parts if isinstance(work.on_word(cell), Refusal)})
        for word in words[:20]:
            choices = dict.fromkeys(column.choices or hints.season.codes, "")
            yield Question("word", column.name, f"What does {_shown(word)} mean?", choices, word, stops=False)
        if len(words) > 20:
            yield Question("word", column.name, f"{len(words) - 20:,} more words are not known.", stops=False)
        return
    about, stated = ("dates", work.order) if column.kind in DAYS else ("decimals", work.sign)
    name = column.name.replace("_", " ")
    if work.is_mixed and any(isinstance(work(cell), Refusal) for cell, _many in parts if not isinstance(cell, str)):
        said = f"{name.capitalize()} holds dates and texts: the dates' day and month may be swapped. They are held."
        yield Question("mixed", column.name, said, stops=False)
    if stated is None:
        if readings.alone or readings.open_:
            yield _which(
                about, column.name, readings.open_ or {text: {} for text in readings.first.values()}, readings.alone
            )
        return
    against = {way: many for way, many in readings.alone.items() if way != stated}
    if against:
        way, many = max(against.items(), key=lambda one: one[1])
        said = f"{name.capitalize()}: {many:,} cells speak against {stated}, such as {readings.first[way]}; {way} fits."
        stops = sum(against.values()) > readings.alone.get(stated, 0)
        yield Question(about, column.name, said, dict.fromkeys(readings.alone, ""), stops=stops)


def _which(about: str, column: str, texts: dict[str, dict[str, str]], alone: dict[str, int]) -> Question:
    text = next(iter(texts))
    ways = texts[text] or dict.fromkeys(alone, "")
    name = column.replace("_", " ").capitalize()
    what = "day" if about == "dates" else "number"
    said = f"{name}: which {what} is {_shown(text)}?"
    if len(alone) > 1 and not texts[text]:
        said = f"{name}: its cells are not all written one way. Which one counts?"
    return Question(about, column, said, {way: ways.get(way, "") for way in {**ways, **alone}})
