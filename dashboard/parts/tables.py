"""The table behind a picture: columns headed and explained by the glossary, money with its sign, a way on to the troop.

Comes in: a frame of a relation. Goes out: the table on the page.

Cells of the table cannot be pressed by keyboard, hence `choose_troop` beside it.
"""

from collections.abc import Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.snapshots import Row
from dashboard.parts import words
from pipelines.definitions.measures import Measure, Unit, measure

MONEY = {"USD": "dollar", "EUR": "euro", "JPY": "yen"}
TROOP_PAGE = "screens/troop.py"
OPEN = "open_troop"
ROW_PIXELS = 35
MOST_ROWS = 40  # a longer table scrolls by itself
PAGE = 250  # rows that a screen is sent at once: a list of thousands takes seconds on the way


NUMBERS: dict[Unit, str] = {"share": "%.0f %%", "average": "%.1f", "weeks": "%.1f", "rate": "%.4f"}


def page(rows: list[Row], key: str) -> list[Row]:
    """A page of a long list, and how to turn it; a list that is not long as it is."""
    pages = -(-len(rows) // PAGE)
    if pages < 2:
        return rows
    if st.session_state.get(key, 1) > pages:
        st.session_state[key] = 1
    number = st.selectbox("Page", range(1, pages + 1), format_func=lambda n: f"{n} of {pages}", key=key, width=120)
    return rows[(number - 1) * PAGE : number * PAGE]


def _column(told: Measure, label: str, *, is_first: bool) -> Any:
    config = st.column_config
    if told.unit in ("code", "text"):
        return config.TextColumn(label, help=told.meaning, pinned=is_first)
    if told.unit == "date":
        return config.DateColumn(label, help=told.meaning, format="ddd D MMM", pinned=is_first)
    style = NUMBERS.get(told.unit, "localized")
    if told.unit == "money":
        style = MONEY.get(readings.now().rules()["currency"], "%,.2f")
    return config.NumberColumn(label, help=told.meaning, format=style, pinned=is_first)


def table(
    relation: str,
    frame: pl.DataFrame,
    *,
    alt: str,
    key: str,
    more: dict[str, Any] | None = None,
    labels: dict[str, str] | None = None,
    opens_troop: bool = False,
    blank: Sequence[str] = (),
) -> None:
    """Shows a frame; columns that are no measure are told in `more`, other headings in `labels`.

    With `opens_troop` each row's troop is a button that opens it. In the columns of `blank` a nil is left empty.
    """
    told: dict[str, Any] = dict(more or {})
    shares = []
    for place, name in enumerate(frame.columns):
        if name in told:
            continue
        one = measure(relation, name)
        told[name] = _column(one, (labels or {}).get(name, one.label), is_first=place == 0)
        if one.unit == "share":
            shares.append(pl.col(name) * 100)
    if opens_troop:
        told["troop"] = st.column_config.ButtonColumn(
            "Troop", help="Opens the troop.", pinned=True, alignment="left", width=76, key=f"{key}_troop",
            on_click=_remember, args=(f"{key}_troop",),
        )  # fmt: skip
    st.dataframe(
        frame.with_columns(*shares, *(pl.when(pl.col(name) != 0).then(pl.col(name)).alias(name) for name in blank)),
        column_config=told,
        hide_index=True,
        height="content" if frame.height <= MOST_ROWS else ROW_PIXELS * MOST_ROWS,
        placeholder="",
        alt=alt,
        key=key,
    )
    if st.session_state.get(OPEN):
        troop = st.session_state.pop(OPEN)
        st.switch_page(TROOP_PAGE, query_params=address(troop))


def go(page: str, label: str) -> None:
    """A link to another screen, in the week chosen."""
    st.page_link(f"screens/{page}.py", label=f":blue[{words.plain(label)} →]", query_params=address())


def _remember(key: str) -> None:
    click = st.session_state.get(key)
    if click:
        st.session_state[OPEN] = click["label"]


def choose_troop(troops: Sequence[str], key: str) -> None:
    """A way to open a troop of the table below by typing its code: cells of a table cannot be pressed by keyboard."""
    st.selectbox(
        "Open a troop", sorted(troops), index=None, placeholder="Type its code", key=key, width=230,
        on_change=_remember_chosen, args=(key,),
    )  # fmt: skip


def _remember_chosen(key: str) -> None:
    chosen = st.session_state.get(key)
    if chosen:
        st.session_state[OPEN] = chosen


def address(troop: str = "") -> dict[str, str]:
    """What the address of a page says: the week chosen, the time looked back at, and a troop."""
    kept = {name: str(st.session_state[name]) for name in ("week", "known") if st.session_state.get(name)}
    return kept | ({"troop": troop} if troop else {})


def way_to_troop(troop: str, label: str = "") -> None:
    """A link that opens a troop in the week chosen."""
    st.page_link(TROOP_PAGE, label=f":blue[{words.plain(label or f'Troop {troop}')} →]", query_params=address(troop))


def ways_to_troops(troops: Sequence[str]) -> None:
    """Links to troops, side by side."""
    with st.container(horizontal=True, gap="small"):
        for troop in troops:
            way_to_troop(troop, troop)
