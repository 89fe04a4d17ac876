"""Which troops owe money, since when, and can they pay?"""

from datetime import date

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import account, chart_words, charts, explained, tables, words

TITLE = "Who owes"
ORDER = 20
GROUP = "Week"
ROLES = ("coordinator",)
EVERY, PAST, SHORT = "Every troop", "Past due", "May not be covered"
SHOWN = (
    "troop", "owed", "past_due", "since", "cover_said", "cover", "next", "next_due", *charts.AGES, "being_collected",
    "families_owe", "not_banked",
)  # fmt: skip


def state(area: Row, standing: tuple[Row, ...], currency: str) -> str:
    """One sentence of the state, as Markdown."""
    parts = [f"Troops owe {words.bold(words.money(area['owed'], currency))} in all, due or not"]
    if area["past_due"] > 0:
        oldest = next(told for name, told in _AGED if area[name] > 0)
        past = words.bold(words.money(area["past_due"], currency))
        parts.append(f"{past} is past due in {words.plural(area['troops_past_due'], 'troop')}, the oldest {oldest}")
    else:
        parts.append("nothing is past due")
    days = sorted({row["next_due_on"] for row in standing if row["next_due_on"]})
    if days:
        asked = sum(row["next_due"] for row in standing if row["next_due_on"] == days[0])
        amount = words.plain(words.money(asked, currency))
        parts.append(f"the next collection, on {words.bold(words.day(days[0]))}, asks {amount}")
        short = area["troops_not_covered"]
        lacking = f"{words.bold(words.money(area['lacking'], currency))} lacking"
        parts.append(
            f"it may not be covered in {words.plural(short, 'troop')}, {lacking}" if short else "every bank covers it"
        )
    return "; ".join(parts) + "."


_AGED = (
    ("past_due_over_30", "for over 30 days"), ("past_due_15_30", "for 15 to 30 days"),
    ("past_due_8_14", "for 8 to 14 days"), ("past_due_0_7", "for up to 7 days"),
)  # fmt: skip


def table(read: Readings, standing: tuple[Row, ...]) -> None:
    """Every troop, or those of one kind; choosing a troop opens it."""
    with st.container(horizontal=True, vertical_alignment="bottom", horizontal_alignment="distribute"):
        kept = st.radio("Show", [EVERY, PAST, SHORT], key="owes_kept", horizontal=True, width="content")
        tables.choose_troop([row["troop"] for row in standing], "owes_open")
    rows = [
        row
        for row in standing
        if kept == EVERY or (kept == PAST and row["past_due"] > 0) or (kept == SHORT and row["cover"] < 0)
    ]
    if not rows:
        st.success("No troop is past due." if kept == PAST else "Every troop's bank covers the next collection.")
        return
    rows.sort(key=lambda row: (0 if kept == SHORT else -row["past_due"], row["cover"], row["troop"]))
    since, beside = past_due_since(read), came_back(read)
    frame = pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.Series("cover_said", [words.cover_said(row) for row in rows]),
        pl.Series("next", [_next(row) for row in rows]),
        pl.Series("since", [since.get(row["troop"]) for row in rows], dtype=pl.Date),
    )
    for row in rows:
        if row["troop"] in beside:
            st.markdown(f"- {words.bold(row['troop'])}: {words.plain(beside[row['troop']])}")
    config = st.column_config
    tables.table(
        "standing", frame.select(SHOWN), alt="What every troop owes", key="owes", opens_troop=True,
        blank=("past_due", *charts.AGES, "being_collected", "not_banked", "families_owe"),
        more={
            "next": config.TextColumn("Next due on", help="Announced by the organisation, or estimated here."),
            "since": config.DateColumn("Past due since", help="The oldest due that is unpaid.", format="ddd D MMM"),
            "cover_said": config.TextColumn("Can it be collected?", help="Whether the bank covers what is ahead."),
        },
    )  # fmt: skip
    st.caption("Choose a troop to see everything about it. An amount owed is not proof of wrongdoing.")
    explained.columns_made(
        "standing", [name for name in SHOWN if name not in {"troop", "next", "cover_said", "since"}], rows
    )


def past_due_since(read: Readings) -> dict[str, date]:
    """Since when each troop is past due: the oldest due that is unpaid and not being collected."""
    found: dict[str, date] = {}
    for row in read.rows("dues"):
        if row["is_reached"] and row["unpaid"] and not row["is_being_collected"]:
            found[row["troop"]] = min(row["due_on"], found.get(row["troop"], row["due_on"]))
    return found


def came_back(read: Readings) -> dict[str, str]:
    """Payments that came back, by troop, as Follow up tells them."""
    found: dict[str, str] = {}
    for row in read.rows("exceptions"):
        if row["rule"] == "remittance_returned":
            found[row["troop"]] = f"{found.get(row['troop'], '')} {row['what']}".strip()
    return found


def families(read: Readings, area: Row, currency: str) -> None:
    """Every family of the area that owes, the oldest debt first."""
    rows = [row for row in read.rows("families") if row["owes"] > 0]
    if not rows:
        st.markdown("No family owes anything.")
        return
    rows.sort(key=lambda row: (*(-row[age] for age in reversed(account.OWES)), row["troop"], row["participant"]))
    total = sum(row["owes"] for row in rows)
    told = f"{words.bold(words.plural(len(rows), 'family', 'families'))} owe {words.bold(words.money(total, currency))}"
    if total != area["families_owe"]:
        others, left = (
            words.money(amount, currency) for amount in (total - area["families_owe"], area["families_owe"])
        )
        told += words.plain(f"; others have paid {others} ahead or too much, which leaves {left}")
    st.markdown(f"{told}. The oldest debt stands first.")
    frame = pl.DataFrame(rows, infer_schema_length=None).select("troop", "participant", "owes", *account.OWES)
    tables.table(
        "families", frame, alt="Families that owe", key="families_owe", opens_troop=True, blank=account.OWES,
        more={"troop": st.column_config.TextColumn("Troop")},
    )  # fmt: skip
    st.caption("Participants are codes. What a family owes may still be with its buyers; it is no proof of anything.")


def _next(row: Row) -> str:
    if row["next_due_on"] is None:
        return ""
    return f"{words.day(row['next_due_on'])}, {'estimated' if row['next_due_is_estimate'] else 'announced'}"


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    area, standing = read.row("area"), read.rows("standing")
    if area is None:
        st.info("No troop is known yet. Take in the troops list or the roster first.")
        tables.go("submissions", "Take files in")
        return
    st.markdown(f"#### {state(area, standing, currency)}")
    explained.figures(
        [("area", "owed"), ("area", "past_due"), ("area", "being_collected"), ("area", "families_owe")], area
    )
    st.subheader("Past due by troop and age", anchor=False)
    if area["past_due"] > 0:
        st.altair_chart(charts.past_due(standing, currency), alt=chart_words.past_due(standing, currency))
    else:
        st.success("Nothing is past due.")
    st.subheader("Every troop", anchor=False)
    table(read, standing)
    st.subheader("Families that owe", anchor=False)
    families(read, area, currency)


show()
