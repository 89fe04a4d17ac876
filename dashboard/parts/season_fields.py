"""The season's rules as fields of a form: each shows what holds, a fault stands beside it, what differs is an edit.

Comes in: a section of the season's form and the season that the form began from. Goes out: fields on the page, the
edits and faults of what was typed.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard.parts import words
from pipelines.definitions.season import Season
from pipelines.definitions.season_form import Asked, Path, Section, Table, shown, typed, value_at
from pipelines.definitions.season_text import Edits

ROW = "_row"
CHOICES = {
    "none": "They are not shared", "equal": "In equal parts", "minutes": "By the minutes worked",
    "taking_part": "Those taking part", "registered": "Everyone registered",
}  # fmt: skip
Faults = dict[Path, str]


def fields(section: Section, season: Season, mark: str, faults: Mapping[Path, str]) -> None:
    """The questions of a section, two beside each other, then its tables."""
    left, right = st.columns(2, gap="large")
    for place, asked in enumerate(section.asked):
        with left if place < (len(section.asked) + 1) // 2 else right:
            _field(asked, value_at(season, asked.path), _key(mark, asked.path))
            if asked.path in faults:
                st.markdown(f":red[{words.plain('↑ ' + faults[asked.path])}]")
    for table in section.tables:
        if section.asked or len(section.tables) > 1:
            st.markdown(words.bold(table.label))
        _rows(table, value_at(season, table.path), _key(mark, table.path))
        for path, said in faults.items():
            if path[: len(table.path)] == table.path:
                st.markdown(f":red[{words.plain('↑ ' + said)}]")


def _key(mark: str, path: Path) -> str:
    return f"season_{mark}_{'.'.join(path)}"


def _field(asked: Asked, value: Any, key: str) -> None:
    if asked.kind == "choice":
        st.selectbox(asked.label, asked.choices, index=asked.choices.index(value), key=key, format_func=_spoken)
    elif asked.kind == "yes":
        st.checkbox(asked.label, value, key=key)
    elif asked.kind == "day":
        st.date_input(asked.label, value, format="YYYY-MM-DD", key=key)
    else:
        st.text_input(asked.label, shown(value), placeholder=asked.default, key=key)


def _spoken(choice: str) -> str:
    return CHOICES.get(choice, choice.capitalize())


def _rows(table: Table, rows: Sequence[Mapping[str, Any]], key: str) -> None:
    """A table that rows can be added to and taken from."""
    config = st.column_config
    told: dict[str, Any] = {ROW: None}
    for one in table.columns:
        name, about = one.path[-1], one.about or None
        if one.kind == "yes":
            told[name] = config.CheckboxColumn(one.label, help=about, default=one.default == "yes")
        elif one.kind == "day":
            told[name] = config.DateColumn(one.label, help=about, format="YYYY-MM-DD", required=one.is_needed)
        else:
            told[name] = config.TextColumn(one.label, help=about, default=one.default or None)
    kept = st.data_editor(
        _frame(table, rows), key=key, num_rows="dynamic", hide_index=True, column_config=told, placeholder=""
    )
    st.session_state[f"{key}_rows"] = kept.to_dicts()
    st.caption("Type in the last, empty row to add one; mark a row at its left and press the bin to take it out.")


def _frame(table: Table, rows: Sequence[Mapping[str, Any]]) -> pl.DataFrame:
    kinds = {"yes": pl.Boolean, "day": pl.Date}
    schema = {ROW: pl.Int64} | {one.path[-1]: kinds.get(one.kind, pl.String) for one in table.columns}
    told = [
        {ROW: number}
        | {one.path[-1]: row[one.path[-1]] if one.kind in kinds else shown(row[one.path[-1]]) for one in table.columns}
        for number, row in enumerate(rows)
    ]
    return pl.DataFrame(told, schema=schema)


def edits_of(section: Section, season: Season, mark: str) -> tuple[Edits, Faults]:
    """What was typed: what differs from the season, and what is wrong with it in words."""
    values: dict[Path, Any] = {}
    tables: dict[Path, Sequence[tuple[int | None, dict[str, Any]]]] = {}
    faults: Faults = {}
    for asked in section.asked:
        given, was = st.session_state.get(_key(mark, asked.path)), value_at(season, asked.path)
        try:
            value = typed(asked, given)
        except ValueError as fault:
            faults[asked.path] = str(fault)
            continue
        if value != was and not (value is None and shown(was) == asked.default):
            values[asked.path] = value
    for table in section.tables:
        given = st.session_state.get(f"{_key(mark, table.path)}_rows")
        if given is None:
            continue
        rows = _typed_rows(table, given, value_at(season, table.path), faults)
        if any(number is None or row for number, row in rows) or len(rows) < len(value_at(season, table.path)):
            tables[table.path] = rows
    return Edits(values, tables), faults


def _typed_rows(
    table: Table, given: Sequence[Mapping[str, Any]], were: Sequence[Mapping[str, Any]], faults: Faults
) -> list[tuple[int | None, dict[str, Any]]]:
    """Each row with what differs in it from what the season says; a new one with all that was typed."""
    rows = []
    for place, row in enumerate(given, 1):
        number = row[ROW]
        if number is None and not any(row[one.path[-1]] for one in table.columns if not one.default):
            continue  # an empty row
        was = were[number] if number is not None else {}
        said = {}
        for one in table.columns:
            name = one.path[-1]
            try:
                value = typed(one, row[name])
            except ValueError as fault:
                faults[(*table.path, str(place), name)] = f"Row {place}, {one.label.lower()}: {fault}"
                continue
            is_unsaid = shown(value) in ("", one.default)
            if (number is None and not is_unsaid) or (
                number is not None and value != was[name] and not (value is None and shown(was[name]) == one.default)
            ):
                said[name] = value
        rows.append((number, said))
    return rows
