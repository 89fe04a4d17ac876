"""The fields by which a person says how a file from elsewhere is read: one click opens any of them.

Comes in: the draft as it is kept, how it reads the file. Goes out: what the person says otherwise.
"""

from contextlib import suppress
from datetime import date
from typing import Any

import streamlit as st

from dashboard.parts import words
from pipelines.definitions.contract import TABLES
from pipelines.intake.elsewhere.reading_shown import Line, Look, Question
from pipelines.workflow.corrections import PLACES, Corrections
from pipelines.workflow.foreign_files import Draft

NONE, SAME = "(nothing)", "(the same in every row)"
NAMES = {"(the file's name)": "file", "(the sheet's name)": "sheet"}
ROWS = {place: f"(the {place} row)" for place in PLACES}
MOST_OF_ITEMS = 40  # headers that may each be an item's
USUAL = {"dates": ("day-first", "month-first"), "decimals": ("point", "comma")}
WAYS = {
    "day-first": "the day first",
    "month-first": "the month first",
    "year-first": "the year first, of two digits",
    "serial": "as a spreadsheet counts days",
    "point": "a point: 1,234.50",
    "comma": "a comma: 1.234,50",
}


def fields(draft: Draft, found: Look, key: str) -> Corrections:
    """All fields of a draft; what is set in them that the draft does not say."""
    shown = [line for line in found.lines if line.is_needed or line.fed_by]
    rest = [line for line in found.lines if line not in shown]
    said = [_column(draft, line, key) for line in shown]
    if rest:
        with st.expander("What else it may hold", key=f"{key}_rest"):
            said += [_column(draft, line, key) for line in rest]
    items = _items(draft, found, key)
    dates, decimals = _ways(draft, found, key)
    by_case = None
    if {"item", "packages"} <= set(TABLES[draft.stated["table"]].names):
        is_by_case = st.toggle("Packages are stated in cases", draft.stated.get("by_case", False), key=f"{key}_cases")
        by_case = is_by_case if is_by_case != bool(draft.stated.get("by_case", False)) else None
    passed, counted = _rows(draft, found, key)
    each: dict[str, dict[str, str]] = {"columns": {}, "constants": {}, "forms": {}, "names": {}}
    for one in said:
        for part, pairs in one.items():
            each[part] |= pairs
    return Corrections(
        columns=each["columns"], constants=each["constants"], forms=each["forms"], names=each["names"], items=items,
        values=_words(found, key), dates=dates, decimals=decimals, by_case=by_case, pass_over=passed, counted=counted,
    )  # fmt: skip


def _column(draft: Draft, line: Line, key: str) -> dict[str, dict[str, str]]:
    """One column: which header feeds it, or what it says in every row."""
    name = line.column
    title = name.replace("_", " ")
    feed: dict[str, Any] = draft.stated.get("columns", {}).get(name, {})
    constant: str | None = draft.stated.get("constants", {}).get(name)
    before = _fed_by(feed, constant)
    options = list(dict.fromkeys([NONE, before, SAME, *NAMES, *draft.head.labels]))
    left, middle, right = st.columns([2, 3, 4], vertical_alignment="center")
    left.markdown(f"{words.bold(title.capitalize())}{' (must be there)' if line.is_needed else ''}", help=line.about)
    header = middle.selectbox(
        title, options, index=options.index(before), key=f"{key}_of_{name}", label_visibility="collapsed"
    )
    samples = "; ".join(was if was == now else f"{was} → {now or 'not read'}" for was, now in _pairs(line))
    right.caption(words.plain(samples or line.about))
    said: dict[str, dict[str, str]] = {}
    if header == SAME:
        text = middle.text_input(f"{title.capitalize()} in every row", constant or "", key=f"{key}_same_{name}")
        if text.strip() != (constant or "") or constant is None:
            said["constants"] = {name: text.strip()}
    elif header != before:
        part, to = ("names", NAMES[header]) if header in NAMES else ("columns", "" if header == NONE else header)
        said[part] = {name: to}
    if header not in (NONE, SAME) and (line.unread or feed.get("form") or feed.get("split") or header in NAMES):
        said |= _form(feed, name, middle, key)
    return said


def _fed_by(feed: dict[str, Any], constant: str | None) -> str:
    if constant is not None:
        return SAME
    if "name_of" in feed:
        return next(label for label, of in NAMES.items() if of == feed["name_of"])
    special = f"cell {feed['cell']}" if "cell" in feed else "packages times price" if feed.get("by_price") else NONE
    return str(feed.get("header", special))


def _pairs(line: Line) -> list[tuple[str, str]]:
    return list(zip(line.samples, line.read, strict=True))


def _form(feed: dict[str, Any], name: str, place: Any, key: str) -> dict[str, dict[str, str]]:
    """Which part of a cell counts."""
    before = feed.get("form", f"{{}}{feed['split']}*" if "split" in feed and feed.get("part", 1) == 1 else "")
    form = place.text_input(
        "Part that counts", before, key=f"{key}_form_{name}", max_chars=200,
        help="Where a cell holds two things: {} is the part that counts, * anything. Such as {} / *, or Week {}.",
    ).strip()  # fmt: skip
    return {"forms": {name: form}} if form and form != before else {}


def _items(draft: Draft, found: Look, key: str) -> dict[str, str]:
    """Columns that hold the packages of one item each."""
    table = TABLES[draft.stated["table"]]
    stated: dict[str, str] = draft.stated.get("items", {})
    if not {"item", "packages"} <= set(table.names):
        return {}
    if not st.toggle("Its packages stand in a column for each item", bool(stated), key=f"{key}_wide"):
        return {}
    fed = {feed.get("header") for feed in draft.stated.get("columns", {}).values()}
    codes = ["", *draft.hints.season.codes]
    said = {}
    for place, label in enumerate(draft.head.labels):
        if label in fed or place >= MOST_OF_ITEMS:
            continue
        before = stated.get(label, "")
        left, right = st.columns([2, 3], vertical_alignment="center")
        left.markdown(words.plain(label))
        code = right.selectbox(
            f"Item of {label}", codes, index=codes.index(before), key=f"{key}_item_{place}",
            label_visibility="collapsed", format_func=lambda one: one or "(no item)",
        )  # fmt: skip
        if code and code != before:
            said[label] = code
    return said


def _ways(draft: Draft, found: Look, key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The order of days and the decimal sign, where the file holds texts that need them."""
    chosen: list[tuple[str, ...]] = []
    for about, label in (("dates", "How its days are written"), ("decimals", "What divides its decimals")):
        asked = [question for question in found.questions if question.about == about]
        stated = draft.stated.get(about)
        found_ways = [*(way for one in asked for way in one.choices), *([stated] if stated else [])]
        if not found_ways:
            chosen.append(())
            continue
        ways = list(dict.fromkeys([*USUAL[about], *found_ways]))
        shown = {way: _way(way, asked) for way in ways}
        way = st.radio(
            label, ways, index=ways.index(stated) if stated else None, key=f"{key}_{about}",
            format_func=lambda one, shown=shown: shown[one],
        )  # fmt: skip
        chosen.append((way,) if way and way != stated else ())
    return chosen[0], chosen[1]


def _way(way: str, asked: list[Question]) -> str:
    """A way of writing, with what it makes of the cell that is asked about."""
    means = next((one.choices[way] for one in asked if one.choices.get(way)), "")
    with suppress(ValueError):  # a number
        means = words.full_day(date.fromisoformat(means))
    return words.plain(f"{WAYS.get(way, way)}{f': {means}' if means else ''}")


def _words(found: Look, key: str) -> tuple[tuple[str, str], ...]:
    """What words mean that are not known."""
    asked = [question for question in found.questions if question.word]
    if asked:
        st.markdown("Words that are not known. Rows with one that you leave open are held.")
    said = []
    for one in asked:
        left, right = st.columns([2, 3], vertical_alignment="center")
        left.markdown(f"{words.bold(one.word)}, {words.plain(one.column.replace('_', ' '))}")
        means = right.selectbox(
            f"{one.word} means", list(one.choices), index=None, key=f"{key}_word_{one.column}_{one.word}",
            label_visibility="collapsed", placeholder="What does it mean?",
        )  # fmt: skip
        if means:
            said.append((f"{one.column}:{one.word}", means))
    return tuple(said)


def _rows(draft: Draft, found: Look, key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Rows that are no rows: chosen by what they begin with, or by their place; those that count after all."""
    texts = list(draft.stated.get("pass_over", ()))
    by_place = {at: label for place, at in PLACES.items() for label in [ROWS[place]]}
    stated = [*texts, *(by_place[at] for at in draft.stated.get("pass_over_rows", ()) if at in by_place)]
    begins = draft.begins()
    options = list(dict.fromkeys([*stated, *ROWS.values(), *begins]))
    chosen = st.multiselect(
        "Rows that are no rows (totals, closing lines)", options, stated, key=f"{key}_rows",
        placeholder="None: every row counts",
    )  # fmt: skip
    back = {label: place for place, label in ROWS.items()}
    added = tuple(back.get(one, one) for one in chosen if one not in stated)
    return added, tuple(back.get(one, one) for one in stated if one not in chosen)
