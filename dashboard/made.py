"""How is this made? A figure with its definition and its terms, so that nobody has to believe it.

Comes in: a measure's name and the row that holds it. Goes out: a figure on the page, its explanation folded beside it.
`explain` is the one place where a figure is explained, down to the cells behind it.
"""

from collections.abc import Iterator, Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard import queries, words
from pipelines.formulas import Scope
from pipelines.glossary import Measure, Unit, measure
from pipelines.terms import Traced
from pipelines.tracing import PART_OF, measures_of

ASK = "How is this made?"
MOST_CELLS = 300
SCOPES: dict[str, Scope] = {"standing": "standing", "items": "items", "families": "families"}
Row = dict[str, Any]
Figure = tuple[str, str]  # relation and name of a measure


def shown(value: Any, unit: Unit) -> str:
    """A value of a unit as people read it."""
    if value is None:
        return words.NOTHING
    if unit in {"money", "rate"}:
        return words.money(value, queries.now().rules()["currency"])
    if unit in {"average", "weeks"}:
        return words.number(value, 1)
    match unit:
        case "share":
            told = words.percent(value)
        case "date":
            told = words.day(value)
        case "yes or no":
            told = "yes" if value else "no"
        case "code" | "text":
            told = str(value)
        case _:
            told = words.number(value)
    return told


def explain(relation: str, name: str, row: Row) -> None:
    """A measure's meaning, what it divides by, its terms with their values, and its caution."""
    told = measure(relation, name)
    st.markdown(f"{words.bold(told.label)}: {words.plain(told.meaning)}")
    if told.divides_by:
        st.markdown(words.plain(f"Divided by: {told.divides_by}."))
    lines = _terms(relation, name, told, row)
    if lines:
        st.markdown("\n".join(["| | |", "|:--|--:|", *lines]))
    if told.caution:
        st.caption(words.plain(told.caution))
    _cells(relation, name, row)


def _cells(relation: str, name: str, row: Row) -> None:
    """The cells behind a troop's figure, once somebody asks: file, cell, what it says, what it counts as."""
    troop, scope = row.get("troop"), SCOPES.get(relation)
    if not troop or scope is None or name not in measures_of(scope):
        return
    part = str(row.get(PART_OF[scope], "")) if PART_OF[scope] else ""
    if not st.toggle("Show the cells behind it", key=f"cells_{relation}_{name}_{part}"):
        return
    lines = list(dict.fromkeys(_lines(queries.now().traced(scope, name, troop, part))))
    if not lines:
        st.caption("No cell of any file counts in it.")
        return
    more = f" The first {MOST_CELLS}:" if len(lines) > MOST_CELLS else ""
    st.caption(f"{words.number(len(lines))} cells count in it.{more}")
    heads = ("Counts in", "File", "Cell", "Says", "Counts as")
    st.dataframe(pl.DataFrame(lines[:MOST_CELLS], schema=heads, orient="row"), hide_index=True, height="content")


def _lines(traced: Traced, sign: int = 1) -> Iterator[tuple[str, ...]]:
    """Every cell of a figure with the term it counts in; of a term that is taken off it counts below nothing."""
    for cell in traced.cells:
        counts = shown(sign * cell.counted, traced.unit)
        yield traced.label, cell.file, f"{cell.sheet} {cell.cell}".strip(), str(cell.value), counts
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
        lines.append(f"| {words.plain(link + part.label)} | {words.plain(shown(row[term], part.unit))} |")
    return [*lines, f"| {words.bold(told.label)} | {words.bold(shown(row.get(name), told.unit))} |"]


def figures(chosen: Sequence[Figure], row: Row, *, notes: dict[str, str] | None = None) -> None:
    """A row of figures, each with a note below it where there is one, and its explanation one touch away."""
    with st.grid(min(4, len(chosen)), min_column_width=150):
        for relation, name in chosen:
            told = measure(relation, name)
            with st.container(border=True, height="stretch", gap="xxsmall"):
                st.metric(told.label, words.plain(shown(row.get(name), told.unit)))
                if notes and notes.get(name):
                    st.caption(words.plain(notes[name]))
                with st.popover(ASK, type="tertiary", key=f"made_{relation}_{name}"):
                    explain(relation, name, row)


def columns_made(relation: str, names: Sequence[str]) -> None:
    """The definitions of a table's or a picture's columns, folded."""
    with st.expander("How are these figures made?"):
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
