"""A troop's statement: one page that says how it stands and what to do, a second with families and items.

Comes in: a Week and a troop. Goes out: a PDF, statements/<troop>.pdf; every figure is one of standing.csv, items.csv or
families.csv.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from typing import Any

from pipelines.definitions.measures import measure
from pipelines.reports.aside import Aside
from pipelines.reports.closing import end_said
from pipelines.reports.dollar_places import STAND_OUT, places, total, total_label
from pipelines.reports.next_steps import next_steps, oldest_past_due, promised, well_done
from pipelines.reports.statement_tables import MOST_FAMILIES, ONE_COLUMN, count, cut, families, items
from pipelines.reports.typeset import pdf
from pipelines.reports.week import (
    Row,
    Week,
    day,
    file_name,
    instant,
    lowest_cover,
    packages,
    past_due_in,
    per_cent,
    short_day,
)
from pipelines.reports.week_account import week_account

MOST_STEPS = 6
EXPLAINED = (
    "packages_sold", "sell_through", "charged", "proceeds", "owed", "past_due", "next_due", "bank", "families_owe",
    "not_banked", "in_bank", "missing",
)  # fmt: skip
CAUTIONS = (
    "An amount owed is not proof of wrongdoing: a record may be late, a figure mistyped, a payment on its way. Where "
    "this letter and your own book differ, tell us: one of the two is missing something.",
    "Cash is counted by two adults who are not related, and banked promptly. Codes stand for young people: keep this "
    "letter to those who need it, and no longer than needed. Local rules and the organisation's own policy come first; "
    "nothing here is legal, tax or accounting advice.",
)


COMES_LATE = True  # what else there is to make is made while they are set


def expected(week: Week) -> int:
    """How many statements there will be."""
    return len(week.standing)


def begin(week: Week, beside: Executor) -> None:
    """Has every troop's statement set beside the other papers, in the order in which they will be asked for."""
    aside = Aside()
    for troop in week.standing:
        week.statements[troop] = beside.submit(_set, week, troop, aside)


def _set(week: Week, troop: str, aside: Aside) -> Callable[[], bytes]:
    return aside.put(pdf("statement.typ", values(week, troop)))


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """statements/<troop>.pdf, one a troop."""
    for troop in week.standing:
        yield f"statements/{file_name(troop)}.pdf", statement(week, troop)


def statement(week: Week, troop: str) -> bytes:
    """One troop's statement; in a roll-up it was begun before."""
    begun = week.statements.get(troop)
    return begun.result()() if begun else pdf("statement.typ", values(week, troop))


def values(week: Week, troop: str) -> dict[str, Any]:
    """All that the statement's template says, as text and lists; amounts as people read them."""
    week = week.as_closed(troop)
    row, frame = week.standing[troop], week.season.season
    leader = cut(week.troops[troop]["leader"] or "")
    known = f", as known on {instant(week.known_on)}" if week.known_on else ""
    return {
        "paper": week.paper,
        "title": f"Statement of troop {troop}, week {week.week_no}",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "troop": cut(troop),
        "dear": f"For {leader}" if leader else "",
        "as_of": f"Week {week.week_no}, as of {day(week.as_of, weekday=True)}{known}",
        "lead": " ".join(part for part in (lead(week, troop), end_said(week, troop)) if part),
        "thanks": well_done(week, troop),
        "tiles": _tiles(week, row),
        "places": places_of(week, row),
        "places_title": f"Where every {week.coin} is",
        "places_total": [total_label(row), week.money(total(row))],
        "account": _account(week, row),
        "dues": _dues(week, troop),
        "dues_said": _dues_said(week, troop),
        "week": week_account(week, troop),
        "promises": [promised(week, row) for row in week.promises(troop)],
        "items": items(week, troop),
        "steps": _few(next_steps(week, troop)),
        "families": families(week, troop) if week.with_families else None,
        "explained": [[measure("standing", name).label, _meaning(name)] for name in _explained(week, troop)],
        "cautions": CAUTIONS,
    }


def lead(week: Week, troop: str) -> str:
    """How the troop stands, in a few sentences."""
    row, money = week.standing[troop], week.money
    each = ""
    if row["taking_part"] > 1:
        each = f", {row['average_per_active']:.0f} for each of the {row['taking_part']} taking part{not_listed(row)}"
    said = [f"Your troop has sold {packages(row['packages_sold'])}{each}."]
    if not row["packages_sold"]:
        said = ["Your troop has not sold a package yet."]
    if not row["submitted"]:
        said.append(
            "No stock of this week is reported yet, so these figures rest on the weeks before and nothing is counted."
        )
    oldest = oldest_past_due(week, troop)
    if row["owed"] < 0:
        said.append(f"The organisation owes you {money(-row['owed'])}.")
    elif row["past_due"] > 0 and oldest:
        said.append(
            f"You still owe the organisation {money(row['owed'])} in all; {money(row['past_due'])} of it is past due, "
            f"the oldest since {short_day(oldest['due_on'])}."
        )
    elif row["owed"] > 0:
        said.append(f"You still owe the organisation {money(row['owed'])} in all; nothing of it is past due.")
    else:
        said.append("You owe the organisation nothing.")
    if row["next_due_on"] and not row["next_due"]:
        said.append(f"Next, nothing more is due on {short_day(row['next_due_on'])} by these figures.")
    elif row["next_due_on"]:
        about = "about " if row["next_due_is_estimate"] else ""
        late = f", of which {money(past_due_in(row))} is past due," if past_due_in(row) > 0 else ""
        said.append(
            f"Next, {about}{money(row['next_due'])}{late} is due on {short_day(row['next_due_on'])}: "
            f"{_covers(week, row)}."
        )
    return " ".join(said)


def not_listed(row: Row) -> str:
    """How many of those taking part are not on the roster, so that two counts of them do not seem to differ."""
    unknown = row["taking_part"] - row["registered_taking_part"]
    return f" ({unknown} of them not on the roster)" if unknown else ""


def _covers(week: Week, row: Row) -> str:
    """Whether the bank covers the next due; both ways where nobody said whether it includes what is past due."""
    told = "the bank covers it" if row["cover"] >= 0 else f"the bank may be {week.money(-row['cover'])} short of it"
    if row["cover_if_apart"] is None or row["cover_if_apart"] >= 0:
        return told
    return f"{told}; if what is past due is collected apart, {week.money(-row['cover_if_apart'])} may be lacking"


def _few(steps: list[str]) -> list[str]:
    """The most pressing steps, and the last one, which is the next form."""
    return steps if len(steps) <= MOST_STEPS else [*steps[: MOST_STEPS - 1], steps[-1]]


def _tiles(week: Week, row: Row) -> list[list[str]]:
    """The four figures on top: label, figure, what goes with it, tone."""
    money, past = week.money, row["past_due"]
    collected = (
        f"{money(row['being_collected'])} is being collected" if row["being_collected"] else "in all, due or not"
    )
    left = (
        "from stock and online"
        if row["sell_through"] is None
        else f"{per_cent(row['sell_through'])} of the stock has left"
    )
    return [
        ["Packages sold", count(row["packages_sold"]), left, ""],
        ["Owed", money(row["owed"]), collected, ""],
        ["Past due", money(past), "please see below" if past > 0 else "nothing is late", "ask" if past > 0 else "good"],
        _next_due(week, row),
    ]


def _next_due(week: Week, row: Row) -> list[str]:
    if not row["next_due_on"]:
        return ["Next due", "none", "after the last due date", ""]
    about, how = ("about ", "estimate") if row["next_due_is_estimate"] else ("", "announced")
    tone = "ask" if lowest_cover(row) < 0 else ""
    return ["Next due", f"{about}{week.money(row['next_due'])}", f"on {short_day(row['next_due_on'])}, {how}", tone]


def places_of(week: Week, row: Row) -> list[dict[str, Any]]:
    """Where every dollar is, for a template: label, amount as shown, amount, whether it stands out."""
    return [
        {
            "label": measure("standing", name).label,
            "shown": week.money(row[name]),
            "amount": float(row[name]),
            "stands_out": name in STAND_OUT and row[name] != 0,
        }
        for name in places(row)
    ]


def _account(week: Week, row: Row) -> list[list[str]]:
    """From charged to owed, line by line; what is taken off has its sign."""
    taken_off = (
        (f"Proceeds, {_rate(week, row)}, provisional", row["proceeds"]),
        ("Paid online by buyers", row["paid_online"]),
        ("Paid to the organisation", row["remitted"]),
        ("Adjustments agreed", row["adjustments"]),
    )
    lines = [["Charged for packages", week.money(row["charged"])]]
    lines += [[label, week.money(-amount)] for label, amount in taken_off]
    return [*lines, ["Owed", week.money(row["owed"])]]


def _rate(week: Week, row: Row) -> str:
    """The rate of the proceeds, and what it is made of where it is not the tier's alone."""
    whole, extra = f"{week.rate(row['proceeds_rate'])} a package", row["extra_rate"] or 0
    if not extra:
        return whole
    tier, more = f"{week.rate(row['proceeds_rate'] - extra)} tier", week.rate(abs(extra))
    return f"{whole} ({tier} {f'+ {more} in place of awards' if extra > 0 else f'less {more}'})"


def _dues_said(week: Week, troop: str) -> str:
    """What is late and nothing more, and what will have been paid in all by the next due date."""
    row, money = week.standing[troop], week.money
    late = f"Nothing more than {money(row['past_due'])} is late." if row["past_due"] > 0 else "Nothing is late."
    if not row["next_due"]:
        return late
    paid = row["credits"] + row["being_collected"] + row["next_due"]
    by = f"By {short_day(row['next_due_on'])}"
    about = "about " if row["next_due_is_estimate"] else ""
    if row["next_due_arrears"] == "apart":
        paid += row["past_due"]
    said = f"{late} {by} {about}{money(paid)} will have been paid or credited in all"
    if row["cover_if_apart"] is None:
        return f"{said}."
    return f"{said}, {money(paid + row['past_due'])} if what is late is collected apart."


def _explained(week: Week, troop: str) -> tuple[str, ...]:
    """As many figures explained as the second page has room for."""
    listed = min(len(week.families.get(troop, [])), MOST_FAMILIES) if week.with_families else 0
    lines = (listed if listed <= ONE_COLUMN else (listed + 1) // 2) + len(week.items.get(troop, []))
    return EXPLAINED[: max(4, min(len(EXPLAINED), (52 - lines) // 3 * 2))]


def _dues(week: Week, troop: str) -> list[list[str]]:
    """Each due date reached and the next one: day, what was asked, unpaid, how it stands; last what is owed in all."""
    row, lines, money = week.standing[troop], [], week.money
    for due in week.dues.get(troop, []):
        about = "about " if due["is_estimate"] else ""
        if not due["is_reached"]:
            if due["due_on"] == row["next_due_on"]:
                state = "next, estimate" if due["is_estimate"] else "next, announced"
                if past_due_in(row) > 0:
                    state = f"{state}, {money(past_due_in(row))} of it past due"
                lines.append([short_day(due["due_on"]), f"{about}{money(row['next_due'])}", "", state])
            continue
        if due["unpaid"] == 0:
            state = "paid"
        elif due["is_being_collected"]:
            state = "being collected"
        else:
            state = f"past due, {due['days_old']} day{'' if due['days_old'] == 1 else 's'}"
        state += _seen(week, troop, due)
        asked = due["instalment"] if due["is_estimate"] else due["amount"]
        lines.append([short_day(due["due_on"]), f"{about}{money(asked)}", money(due["unpaid"]), state])
    return [*lines[-6:], ["In all", "", money(row["owed"]), "owed, due or not"]] if lines else []


def _seen(week: Week, troop: str, due: Row) -> str:
    """Whether the bank saw the payment of a due date, where lines of the bank came in."""
    row = week.dues_seen.get((troop, due["due_on"]))
    if row is None:
        return ""
    return f"; the bank saw it on {short_day(row['seen_on'])}" if row["is_seen"] else "; the bank never saw it"


def _meaning(name: str) -> str:
    meant = measure("standing", name)
    return f"{meant.meaning}{f' Divided by {meant.divides_by}.' if meant.divides_by else ''}"
