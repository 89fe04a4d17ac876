"""One participant at a glance: goal, page, orders, packages, money, awards; and whose turn it is to be helped.

Comes in: readings, a troop. Goes out: a row for each participant, those who need help first, never by who sold most.
"""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

import polars as pl
import streamlit as st

from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import explained, tables, words
from pipelines.definitions.measures.participants import OPEN_PAGE, WAITS, page_of

PICTURES = {"no": "no own picture yet", "still": "own picture", "film": "own film"}
COLUMNS = ("participant", "goal", "progress", "page", "own_picture", "people_told", "orders", "to_answer", "promised",
           "taken", "to_fetch", "owes", "stall_credit", "awards")  # fmt: skip
AWARDS = ("steps_done", "steps", "progress", "state", "missing", "earned_on", "handed_on")


@dataclass
class Glance:
    """One participant; `family`: its account, `awards`: those open, `to_fetch`: packages."""

    row: Row
    family: Row | None
    awards: list[Row] = field(default_factory=list)
    to_fetch: int = 0

    @property
    def page(self) -> str:
        return page_of(is_open=self.row["is_page_open"], waits=self.row["waits_for_caregiver"])

    @property
    def owes(self) -> Decimal:
        return self.family["owes"] if self.family else Decimal("0.00")

    def needs(self) -> list[str]:
        """What somebody could help with, the most pressing first, in few words."""
        row, found = self.row, []
        if row["to_answer"]:
            found.append(f"{words.plural(row['to_answer'], 'order')} to answer")
        if self.family and self.family["owes_15_30"] + self.family["owes_over_30"] > 0:
            found.append("money open for over two weeks")
        if not row["has_contact"]:
            found.append("no contact known")
        if self.page == WAITS:
            found.append("the page waits for a caregiver")
        if not row["goal"]:
            found.append("no goal yet")
        if self.page == OPEN_PAGE and not row["people_told"]:
            found.append("nobody told of the page yet")
        if self.to_fetch:
            found.append(f"{words.plural(self.to_fetch, 'package')} to fetch")
        if any(one["state"] == "one away" for one in self.awards):
            found.append("one step away from an award")
        return found

    def in_order(self) -> tuple[object, ...]:
        """Those who wait for an answer first, then by how much there is to help with; by code at last."""
        return -self.row["to_answer"], -len(self.needs()), self.row["participant"]


def glances(read: Readings, troop: str) -> list[Glance]:
    """Everyone registered or taking part, whoever needs help first."""
    families = {row["participant"]: row for row in read.rows("families", troop=troop)}
    found = {row["participant"]: Glance(row, families.get(row["participant"]))
             for row in read.rows("participants", troop=troop)}  # fmt: skip
    for row in read.rows("awards", troop=troop):
        if row["participant"] in found:
            found[row["participant"]].awards.append(row)
    for row in read.rows("packing", troop=troop):
        if row["participant"] in found:
            found[row["participant"]].to_fetch += row["to_fetch"]
    return sorted(found.values(), key=Glance.in_order)


def as_row(one: Glance) -> Row:
    """The columns of the table."""
    earned = [row["title"] for row in one.awards if row["state"] == "earned"]
    near = [f"{row['title']} (nearly)" for row in one.awards if row["state"] == "one away"]
    shown = one.row | {"page": one.page, "to_fetch": one.to_fetch, "owes": one.owes,
                       "own_picture": PICTURES[one.row["own_picture"]], "awards": ", ".join(earned + near)}  # fmt: skip
    return {name: shown[name] for name in COLUMNS}


def card(one: Glance, currency: str) -> None:
    """One participant on a phone, folded: what helps on top, everything else on a touch."""
    row, needs = one.row, one.needs()
    with st.expander(f"{words.bold(row['participant'])} · {words.plain('; '.join(needs[:2]) or 'all is well')}"):
        st.markdown("\n".join(f"- {words.plain(line)}" for line in _lines(one, currency)))
        with st.container(horizontal=True):
            st.page_link(
                "screens/send_week.py", label=f":blue[Write down for {words.plain(row['participant'])} →]",
                query_params={"who": row["participant"]},
            )  # fmt: skip


def _lines(one: Glance, currency: str) -> list[str]:
    """Everything about one participant, a line each."""
    row, told = one.row, []
    if one.needs():
        told.append(f"Could use help: {'; '.join(one.needs())}.")
    goal = f"Goal: {words.number(row['goal'])} packages" if row["goal"] else "No goal is set yet"
    if row["goals_raised"]:
        goal += f", raised {words.plural(row['goals_raised'], 'time')}"
    met = "; a goal was met" if row["is_goal_met"] else ""
    told.append(f"{goal}; {words.number(row['progress'])} so far{met}.")
    if row["made_elsewhere"]:
        told.append(
            f"By own word {words.plural(row['made_elsewhere'], 'package')} sold elsewhere (counted for the bar alone)."
        )
    people, orders = words.plural(row["people_told"], "person", "people"), words.plural(row["orders"], "order")
    told.append(f"Page: {one.page}; {PICTURES[row['own_picture']]}; {people} told, {orders}.")
    told.append(f"Packages: {words.number(row['promised'])} promised on paper, {words.number(row['taken'])} taken, "
                f"{words.number(one.to_fetch)} to fetch, {words.number(row['stall_credit'])} of stalls.")  # fmt: skip
    if one.family:
        owes = one.family["owes"]
        open_ = f"{words.money(owes, currency)} still to bring" if owes > 0 else (
            f"{words.money(-owes, currency)} ahead" if owes < 0 else "all paid")  # fmt: skip
        told.append(f"Money: {words.money(one.family['charged'], currency)} charged; {open_}.")
    for award in one.awards:
        if award["state"] in ("earned", "one away", "begun"):
            told.append(_award(award))
    return told


def _award(row: Row) -> str:
    if row["state"] == "earned":
        handed = f"handed over on {words.day(row['handed_on'])}" if row["handed_on"] else "to hand over"
        return f"{row['title']}: earned, {handed}."
    if row["packages"] is None:
        step = "step" if row["state"] == "one away" else "steps"
        return (
            f"{row['title']}: {row['steps_done']} of {row['steps']}; {step} {row['missing'].replace(' ', ', ')} to go."
        )
    return f"{row['title']}: {words.plural(int(row['missing']), 'package')} to go."


def bar(label: str, row: Row) -> None:
    """A goal's bar; what is told by own word stands beside it."""
    share = min(1.0, (row["packages"] + row.get("made_elsewhere", 0)) / row["goal"])
    st.progress(share, text=words.plain(f"{label}: {words.of(row['packages'], row['goal'])} packages"))


def table(found: list[Glance]) -> None:
    """All of them as a table."""
    rows = [as_row(one) for one in found]
    frame = pl.DataFrame(rows, infer_schema_length=None)
    tables.table("participants", frame, alt="Our participants at a glance", key="at_a_glance")
    explained.columns_made("participants", COLUMNS[1:-1], [one.row | row for one, row in zip(found, rows, strict=True)])
    awards = [row for one in found for row in one.awards]
    if awards:
        explained.columns_made("awards", AWARDS, awards)


def still_to_earn(read: Readings, last: date) -> str:
    """What can still be reached, and until when; empty once the season is over."""
    if read.as_of >= last:
        return ""
    return f"What is not earned yet can still be: steps count wherever they are done, until {words.day(last)}."


def stalls(read: Readings, troop: str) -> None:
    """How each stall was shared, with who was given a package that was left over, and why."""
    rows = read.rows("stall_shares", troop=troop)
    if not rows:
        st.caption("No stall was shared yet, or the season shares none.")
        return
    held: dict[str, list[Row]] = {}
    for row in rows:
        held.setdefault(f"{row['date']} {row['start']} {row['place']}", []).append(row)
    for _stall, shares in sorted(held.items(), reverse=True):
        on, place = shares[0]["date"], shares[0]["place"]
        each = ", ".join(f"{row['participant']} {row['packages']}" for row in shares)
        left = [f"{row['participant']} ({row['why']})" for row in shares if row["left_over"]]
        how = "by minutes" if shares[0]["by_minutes"] else "in equal parts"
        more = f" One more, left over, for {words.listed(left)}." if left else ""
        where = f"{words.day(on)}{', ' + place if place else ''}"
        told = f"{where}: {words.plural(shares[0]['of_stall'], 'package')} {how}: {each}.{more}"
        st.markdown(f"- {words.plain(told)}")
    st.caption("What is left over after whole packages goes by the larger remainder; among equals to whoever has had "
               "the fewest left over so far, then by lot. Nobody owes anything for it.")  # fmt: skip
