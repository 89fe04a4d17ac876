"""How is this made? A figure with its definition and its terms, so that nobody has to believe it.

Comes in: a measure's name and the row that holds it. Goes out: a figure on the page, its explanation folded beside it.
`explain` is the one place where a figure is explained, down to the cells behind it.
"""

from collections.abc import Iterator, Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import downloads, readings
from dashboard.parts import words
from pipelines.definitions.measures import Measure, Unit, measure
from pipelines.figures.files import HIDDEN_FILE
from pipelines.tracing.area import AREA_SCOPES
from pipelines.tracing.explain import PART_OF, leaves, measures_of, part_of
from pipelines.tracing.terms import Traced
from pipelines.tracing.troop import AreaScope, Scope

ASK = "How is this made?"
MOST_CELLS = 300
MOST_LINES = 12
MOST_FILES = 8
LACKING = ("cover", "cover_if_apart")  # below nothing: what a bank may fall short by
NOT_MADE = {"goal_share": "nobody has set a goal", "last_season": "not known", "pace": "not known"}
RULES = "season.toml"
NOT_FETCHED = (HIDDEN_FILE, RULES)
DEEP = 2  # terms of terms that are shown
JOINED = {"quotient": "divided by ", "product": "times ", "least": "or, if less, ", "greatest": "or, if more, "}
SHOWS_IT = "shows it"  # of a cell that is not added up, such as a name or a rate
NAMES_A_ROW = ("as_of", "troop", "participant", "award", "order_no", "item", "due_on")
Row = dict[str, Any]
Figure = tuple[str, str]  # relation and name of a measure


def of_measure(told: Measure, value: Any, currency: str = "") -> str:
    """A measure's value as people read it; what a bank falls short by is lacking, not below nothing."""
    if told.name in LACKING and value is not None and value < 0:
        return f"{shown(-value, told.unit, currency)} lacking"
    return NOT_MADE.get(told.name, words.NOTHING) if value is None else shown(value, told.unit, currency)


def shown(value: Any, unit: Unit, currency: str = "") -> str:
    """A value of a unit as people read it; `currency`: that of the book that is open, unless given."""
    if value is None:
        return words.NOTHING
    if unit in {"money", "rate"}:
        return words.money(value, currency or readings.now().rules()["currency"])
    if unit in {"average", "weeks"}:
        return words.number(value, 1)
    match unit:
        case "number":
            told = words.number(value, 3)
        case "share":
            told = words.percent(float(value))
        case "date":
            told = words.day(value)
        case "yes or no":
            told = "yes" if value else "no"
        case "code" | "text":
            told = str(value)
        case _:
            told = words.number(value)
    return told


def explain(relation: str, name: str, row: Row, key: str = "") -> None:
    """A measure's meaning, what it divides by, its terms with their values, its caution, and the cells behind it."""
    told = measure(relation, name)
    st.markdown(f"{words.bold(told.label)}: {words.plain(told.meaning)}")
    if told.divides_by:
        st.markdown(words.plain(f"Divided by: {told.divides_by}."))
    lines = _terms(relation, name, told, row)
    if lines:
        st.markdown("\n".join(["| | |", "|:--|--:|", *lines]))
    if told.caution:
        st.caption(words.plain(told.caution))
    if relation in AREA_SCOPES:
        _troops(relation, name, row, key)
    elif row.get("troop") and relation in PART_OF:
        is_step = relation == "standing" and name not in measures_of("standing")
        _cells("steps" if is_step else relation, name, row, key)
    elif relation in PART_OF and name in measures_of(relation):
        _of_every_troop(relation, name, row, key)


def _of_every_troop(relation: Scope, name: str, row: Row, key: str) -> None:
    """The same row of each troop, behind one of all troops; of a troop chosen, the cells."""
    part = part_of(relation, row)
    rows = {one["troop"]: one for one in readings.now().rows(relation, row.get("as_of"))
            if one["troop"] and part_of(relation, one) == part}  # fmt: skip
    if not rows or not st.toggle("Show the troops behind it", key=f"troops_{relation}_{name}_{part}{key}"):
        return
    told = measure(relation, name)
    st.markdown("\n".join(f"- {troop}: {words.plain(of_measure(told, one[name]))}" for troop, one in rows.items()))
    chosen = st.selectbox(
        "The cells of a troop", list(rows), index=None, placeholder="Choose a troop", width=230,
        key=f"troop_of_{relation}_{name}_{part}{key}",
    )  # fmt: skip
    if chosen:
        _listed(readings.now().traced(relation, name, chosen, part, row.get("as_of")))


def _cells(scope: Scope, name: str, row: Row, key: str) -> None:
    """The cells behind a troop's figure, once somebody asks: file, cell, what it says, what it counts as."""
    if name not in measures_of(scope):
        return
    part = part_of(scope, row)
    if st.toggle("Show the cells behind it", key=f"cells_{scope}_{name}_{part}{key}"):
        _listed(readings.now().traced(scope, name, row["troop"], part, row.get("as_of")))


def _troops(scope: AreaScope, name: str, row: Row, key: str) -> None:
    """The troops' figures behind one of the area, once the coordinator asks; of a troop chosen, the cells."""
    read, item = readings.now(), row.get("item", "")
    if name not in measures_of(scope) or read.viewer.troops is not None:
        return
    if not st.toggle("Show the troops behind it", key=f"troops_{scope}_{name}_{item}{key}"):
        return
    lines = list(_stated(read.traced_area(scope, name, item, as_of=row.get("as_of"))))
    if not lines:
        st.caption("No troop counts in it.")
        return
    st.dataframe(
        pl.DataFrame(lines, schema=("Counts in", "Of", "Counts as"), orient="row"),
        hide_index=True, height="content" if len(lines) < MOST_LINES else 400, alt="The troops behind it",
    )  # fmt: skip
    troops = [one["troop"] for one in read.rows("standing", row.get("as_of"))]
    chosen = st.selectbox(
        "The cells of a troop", troops, index=None, placeholder="Choose a troop", width=230,
        key=f"troop_of_{scope}_{name}_{item}{key}",
    )  # fmt: skip
    if chosen:
        _listed(read.traced_area(scope, name, item, chosen, row.get("as_of")))


def _stated(traced: Traced, sign: int = 1, counts_in: str = "") -> Iterator[tuple[str, str, str]]:
    """The figures that a figure of the area is made from: the term they count in, whose, how much."""
    if not traced.terms:
        yield counts_in, traced.label, shown(sign * traced.value if traced.unit != "code" else 1, traced.unit)
    for its_sign, term in traced.terms:
        yield from _stated(term, sign * its_sign, traced.label)


def _listed(traced: Traced) -> None:
    """How a figure is worked out, and all its cells."""
    steps = list(_steps(traced))
    if steps:
        st.markdown("\n".join(steps))
    lines = list(dict.fromkeys(_lines(traced)))
    if not lines:
        st.caption("No cell of any file counts in it.")
        return
    more = f" The first {MOST_CELLS}:" if len(lines) > MOST_CELLS else ""
    st.caption(f"{words.number(len(lines))} cells count in it.{more}")
    heads = ("Counts in", "File", "Cell", "Says", "Counts as")
    cells = pl.DataFrame(lines[:MOST_CELLS], schema=heads, orient="row")
    st.dataframe(
        cells, hide_index=True, height="content" if len(lines) < MOST_LINES else 400, alt="The cells behind it"
    )
    _files(traced)


def _files(traced: Traced) -> None:
    """The files behind a figure, to fetch as they came."""
    files = {cell.file_no: cell.file for _term, cell in leaves(traced) if cell.file not in NOT_FETCHED}
    links = [f"[{words.plain(name)}]({downloads.landed_address(no)})" for no, name in files.items()]
    if links:
        more = f" and {len(links) - MOST_FILES} more" if len(links) > MOST_FILES else ""
        st.markdown(f"Fetch a file as it came: {', '.join(links[:MOST_FILES])}{more}.")


def _steps(traced: Traced, depth: int = 0) -> Iterator[str]:
    """The terms of a figure and theirs, each with its value, as a Markdown list."""
    if traced.note and not depth:
        yield f"- {words.plain(traced.note)}"
    if traced.how == "people":
        return  # each of them stands with its cells
    for place, (sign, term) in enumerate(traced.terms):
        link = JOINED.get(traced.how, "less " if sign < 0 else "plus ") if place or sign < 0 else ""
        value = words.bold(shown(term.value, term.unit))
        yield f"{'  ' * depth}- {words.plain(f'{link}{term.label}')}: {value}"
        if depth < DEEP:
            yield from _steps(term, depth + 1)


def _lines(traced: Traced, sign: int = 1) -> Iterator[tuple[str, ...]]:
    """Every cell of a figure with the term it counts in; of a term that is taken off it counts below nothing."""
    for cell in traced.cells:
        counts = shown(sign * cell.counted, traced.unit) if traced.how == "cells" else SHOWS_IT
        file = "the season's rules" if cell.file == RULES else cell.file
        yield traced.label, file, f"{cell.sheet} {cell.cell}".strip(), str(cell.value), counts
    for its_sign, term in traced.terms:
        yield from _lines(term, sign * its_sign)


def _terms(relation: str, name: str, told: Measure, row: Row) -> list[str]:
    """The terms as rows of a Markdown table, the figure itself last; none where the row lacks one of them."""
    terms = [term.removeprefix("-") for term in told.terms]
    if not terms or any(row.get(term) is None for term in terms):
        return []
    lines = []
    for place, (term, stated) in enumerate(zip(terms, told.terms, strict=True)):
        part = measure(relation, term)
        is_below = bool(told.divides_by) and place == len(terms) - 1
        link = "divided by " if is_below else "less " if stated.startswith("-") else "plus " if place else ""
        lines.append(f"| {words.plain(link + part.label)} | {words.plain(of_measure(part, row[term]))} |")
    return [*lines, f"| {words.bold(told.label)} | {words.bold(of_measure(told, row.get(name)))} |"]


def figures(chosen: Sequence[Figure], row: Row, *, notes: dict[str, str] | None = None) -> None:
    """A row of figures, each with a note below it where there is one, and its explanation one touch away."""
    with st.grid(min(4, len(chosen)), min_column_width=150):
        for relation, name in chosen:
            told = measure(relation, name)
            with st.container(border=True, height="stretch", gap="xxsmall"):
                st.metric(told.label, words.plain(of_measure(told, row.get(name))))
                if notes and notes.get(name):
                    st.caption(words.plain(notes[name]))
                with st.popover(ASK, type="tertiary", key=f"made_{relation}_{name}"):
                    explain(relation, name, row)


def columns_made(relation: str, names: Sequence[str], rows: Sequence[Row] = (), key: str = "") -> None:
    """The definitions of a table's or a picture's columns, folded; of `rows` each figure can be traced to its cells.

    `key`: tells two tables of one relation on one screen apart.
    """
    with st.expander("How are these figures made?"):
        if rows:
            _one(relation, names, rows, f"{relation}_{key}")
        for name in names:
            told = measure(relation, name)
            parts = [told.meaning]
            if told.terms and not told.divides_by:
                signs = [
                    ("less " if t.startswith("-") else "plus ", measure(relation, t.removeprefix("-")))
                    for t in told.terms
                ]
                parts.append(f"It is {' '.join(s + m.label.lower() for s, m in signs).removeprefix('plus ')}.")
            if told.divides_by:
                parts.append(f"Divided by: {told.divides_by}.")
            if told.caution:
                parts.append(told.caution)
            st.markdown(f"- {words.bold(told.label)}: {words.plain(' '.join(parts))}")


def _one(relation: str, names: Sequence[str], rows: Sequence[Row], key: str) -> None:
    """One figure of a table, chosen by its column and its row, explained down to the cells."""
    labels = {name: measure(relation, name).label for name in names}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        name = st.selectbox(
            "One figure", names, index=None, placeholder="Choose a column", key=f"figure_{key}", width=230,
            format_func=labels.__getitem__,
        )  # fmt: skip
        row: Row | None = rows[0]
        if len(rows) > 1:
            varies = [one for one in NAMES_A_ROW if len({row.get(one) for row in rows}) > 1]
            told = {place: _row_named(row, varies) for place, row in enumerate(rows)}
            place = st.selectbox(
                "Of", list(told), index=None, placeholder="Choose a row", key=f"of_{key}", width=230,
                format_func=told.__getitem__,
            )  # fmt: skip
            row = None if place is None else rows[place]
    if name and row:
        st.markdown(f"{words.bold(labels[name])}: {words.bold(of_measure(measure(relation, name), row.get(name)))}")
        explain(relation, name, row, f"_{key}")


def _row_named(row: Row, varies: Sequence[str]) -> str:
    """What tells a row from the others."""
    return (
        " ".join(
            words.day(row[name]) if name in ("as_of", "due_on") else str(row[name]) for name in varies if row.get(name)
        )
        or "All"
    )
