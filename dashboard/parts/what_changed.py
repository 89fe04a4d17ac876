"""What changed since a time, and why: which file, which rows, by how much.

Comes in: the readings of this run, and a troop where it is about one. Goes out: a choice of times, sentences, tables.
"""

from decimal import Decimal
from functools import partial
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import explained, tables, words
from pipelines.definitions.measures import RELATIONS, measure
from pipelines.figures.changes import Change, Line, MovedMeasure

MOST_SENTENCES = 12
MAIN = ("packages_sold", "owed", "past_due", "families_owe", "not_banked", "missing")


def show(read: Readings, troop: str = "") -> None:
    """A choice of times at which files came in, and what changed from then on; nothing is compared before."""
    moments = read.moments()
    if len(moments) < 2:
        st.markdown("Everything came in at once: there is no earlier state to compare with.")
        return
    times = words.instants([row["at"] for row in moments[:-1]])
    labels = {place: _moment(at, row) for place, (at, row) in enumerate(zip(times, moments[:-1], strict=True))}
    chosen = st.selectbox(
        "What changed since", list(labels), index=None, key=f"since_{troop}", format_func=labels.__getitem__,
        placeholder="Choose when files came in", help="These files and all that came in after them.", width=420,
    )  # fmt: skip
    if chosen is None:
        return
    before = moments[chosen + 1]["at"]
    with st.spinner("Looking back"):
        found, moved = read.changes(before, troop or None)
    if not found and not moved:
        st.markdown("Nothing changed in the figures of this week.")
    elif troop:
        _of_one(found, moved)
    else:
        _of_all(found, moved)


def _moment(at: str, row: Row) -> str:
    return f"{at}: {words.plural(row['files'], 'file')} came in"


def said(change: Change) -> str:
    """A change in one sentence: `Sent again Tue 16 Mar: taken by a family, 14 packages fewer and $84.00 less.`"""
    money = partial(words.money, currency=readings.now().rules()["currency"])
    when = f" {words.short_instant(change.landed_at)}" if change.landed_at else ""
    return f"{change.why}{when}: {change.told(money)}."


def _of_one(found: tuple[Change, ...], moved: tuple[MovedMeasure, ...]) -> None:
    """One troop: the figures that moved, then each file's change in a sentence, then its rows."""
    if moved:
        lines = [
            f"| {words.plain(told.label)} | {words.plain(explained.shown(one.then, told.unit))} | "
            f"{words.plain(explained.shown(one.now, told.unit))} |"
            for one in moved
            if (told := RELATIONS["standing"].get(one.measure))
        ]
        st.markdown("\n".join(["| | Then | Now |", "|:--|--:|--:|", *lines]))
    for change in found[:MOST_SENTENCES]:
        place = f", in place of {change.in_place_of}" if change.in_place_of else ""
        table = f"{change.table_name.replace('_', ' ')}, {words.day(change.on_day)}"
        st.markdown(f"- {words.bold(table)}: {words.plain(said(change))} {words.aside(f'{change.file}{place}')}")
    if len(found) > MOST_SENTENCES:
        st.caption(f"and {words.number(len(found) - MOST_SENTENCES)} more; all their rows stand below.")
    if found:
        _rows([line for change in found for line in change.lines])


def _rows(lines: list[Line]) -> None:
    """The rows that are new, and those that count no longer."""
    frame = pl.DataFrame(
        [("new" if one.is_new else "no longer", one.what, one.about, one.packages, one.amount, one.file,
          f"{one.sheet} row {one.row_no}".strip()) for one in lines],
        schema={"Row": pl.String, "What": pl.String, "Of": pl.String, "Packages": pl.Int64,
                "Amount": pl.Decimal(18, 2), "File": pl.String, "Where": pl.String},
        orient="row",
    )  # fmt: skip
    st.dataframe(
        frame, hide_index=True, alt="Rows that changed", key="changed_rows", placeholder="",
        column_config={"Amount": st.column_config.NumberColumn(format=_style())},
        height="content" if frame.height <= tables.MOST_ROWS else tables.ROW_PIXELS * tables.MOST_ROWS,
    )  # fmt: skip


def in_short(found: tuple[Change, ...], moved: tuple[MovedMeasure, ...]) -> str:
    """What changed in a sentence, as Markdown."""
    if not found and not moved:
        return "nothing in the figures of this week."
    troops = words.plural(len({one.troop for one in found} | {one.troop for one in moved}), "troop")
    return f"{words.plural(len(found), 'entry', 'entries')} in {troops}.{_summed(moved)}"


def _of_all(found: tuple[Change, ...], moved: tuple[MovedMeasure, ...]) -> None:
    """The area: by how much the main figures moved in all, and a line for each change."""
    troops = words.plural(len({one.troop for one in found} | {one.troop for one in moved}), "troop")
    files = words.plural(len({one.file_no for one in found}), "file")
    st.markdown(f"{words.bold(words.plural(len(found), 'change'))} in {troops}, from {files}.{_summed(moved)}")
    frame = pl.DataFrame(
        [(one.troop, one.table_name.replace("_", " "), one.on_day, said(one), one.file, one.in_place_of)
         for one in found],
        schema={"troop": pl.String, "Table": pl.String, "Counts from": pl.Date, "What changed, and why": pl.String,
                "File": pl.String, "In place of": pl.String},
        orient="row",
    )  # fmt: skip
    config = st.column_config
    more: dict[str, Any] = {name: config.TextColumn(name) for name in frame.columns[1:]}
    more["Counts from"] = config.DateColumn("Counts from", format="ddd D MMM")
    more["What changed, and why"] = config.TextColumn(width="large")
    tables.table("standing", frame, alt="What changed", key="changed", opens_troop=True, more=more)
    st.caption("Open a troop to see the rows and the figures that moved.")


def _summed(moved: tuple[MovedMeasure, ...]) -> str:
    """By how much the main figures moved over all troops."""
    parts = []
    for name in MAIN:
        told = measure("standing", name)
        by = sum((Decimal(one.now or 0) - Decimal(one.then or 0) for one in moved if one.measure == name), Decimal(0))
        if by:
            amount = explained.shown(abs(by), told.unit)
            parts.append(f"{told.label.lower()} {amount} {'up' if by > 0 else 'down'}")
    return f" In all: {words.plain(', '.join(parts))}." if parts else ""


def _style() -> str:
    return tables.MONEY.get(readings.now().rules()["currency"], "%,.2f")
