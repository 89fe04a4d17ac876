"""How what is shown of each participant at a glance is worked out from cells: goal, page, orders, packages to fetch.

Comes in: a TroopTrace, a day, a participant. Goes out: Traced trees.
"""

from datetime import date
from functools import partial
from itertools import pairwise

from pipelines.definitions.measures.participants import page_of
from pipelines.tracing.evidence import Row
from pipelines.tracing.progress import met
from pipelines.tracing.terms import Cell, Traced, combined, not_below_0, of_cells, picked, stated, total
from pipelines.tracing.troop import TroopTrace


def _of_family(troop: TroopTrace, day: date, who: str, name: str) -> Traced:
    return troop.of("families", name, day, who)


progress, promised = partial(_of_family, name="progress"), partial(_of_family, name="promised")
owes, stall_credit = partial(_of_family, name="owes"), partial(_of_family, name="stall_credit")


def taken(troop: TroopTrace, day: date, who: str) -> Traced:
    """Packages taken, less those brought back."""
    out, back = troop.of("families", "taken", day, who), troop.of("families", "brought_back", day, who)
    return total("Taken, less brought back", "packages", (1, out), (-1, back))


# Goals


def _goals(troop: TroopTrace, day: date, who: str) -> list[Row]:
    rows = [row for row in troop.evidence.rows("goals") if row["participant"] == who and row["week_ending"] <= day]
    return sorted(rows, key=lambda row: row["week_ending"])


def _newest(troop: TroopTrace, day: date, who: str, column: str) -> Traced:
    """The newest row of goals that says something in a column."""
    told = [row for row in _goals(troop, day, who) if row[column] is not None][-1:]
    return of_cells(
        column, "packages", _stood([troop.evidence.cell(row, "goals", column, row[column]) for row in told])
    )


def _stood(cells: list[Cell]) -> list[Cell]:
    """The cells that are there: a column that a file has not counts as empty, and stands nowhere."""
    return [cell for cell in cells if cell.cell[:1].isalpha()]


goal, made_elsewhere = partial(_newest, column="goal"), partial(_newest, column="made_elsewhere")


def goals_raised(troop: TroopTrace, day: date, who: str) -> Traced:
    """Each goal that is above the one before it."""
    each = []
    told = [row for row in _goals(troop, day, who) if row["goal"] is not None]
    for one, later in pairwise(told):
        if 0 < one["goal"] < later["goal"]:
            cells = [troop.evidence.cell(row, "goals", "goal", row["goal"]) for row in (one, later)]
            each.append(stated(f"From {one['goal']} to {later['goal']}", "packages", 1, cells))
    return combined("people", "Raised", "packages", *each)


def is_goal_met(troop: TroopTrace, day: date, who: str) -> Traced:
    """The goal that was met first, with what it was met by."""
    found = met(troop, day, who)
    return stated("Goal met", "yes or no", bool(found), [cell for one in found for cell in cells_of(one)])


def cells_of(traced: Traced) -> list[Cell]:
    """All cells of a tree."""
    return [*traced.cells, *(cell for _sign, term in traced.terms for cell in cells_of(term))]


# The participant's page


def _said(troop: TroopTrace, day: date, who: str, column: str) -> list[Cell]:
    """The cell of the newest row of pages that says something in a column; none where no row does."""
    rows = [row for row in troop.evidence.rows("pages") if row["participant"] == who and row["on"] <= day]
    told = sorted((row for row in rows if row[column] is not None), key=lambda row: row["on"])[-1:]
    return _stood([troop.evidence.cell(row, "pages", column, row[column]) for row in told])


def page(troop: TroopTrace, day: date, who: str) -> Traced:
    """Whether the page is open, with the cells that say so."""
    is_open, waits = _said(troop, day, who, "page_open"), _said(troop, day, who, "waits_for_caregiver")
    value = page_of(is_open=any(cell.value for cell in is_open), waits=any(cell.value for cell in waits))
    return stated("Page", "text", value, [*is_open, *waits], note="" if is_open else "No row of any file tells of it.")


def own_picture(troop: TroopTrace, day: date, who: str) -> Traced:
    """What the newest row says of it; nothing said is no picture."""
    for cell in _said(troop, day, who, "own_picture"):
        return picked("Own picture", "text", cell)
    return stated("Own picture", "text", "no", note="No row of any file tells of it.")


def people_told(troop: TroopTrace, day: date, who: str) -> Traced:
    """What the newest row says."""
    return of_cells("People told", "orders", _said(troop, day, who, "people_told"))


# Orders on the page


def _orders(troop: TroopTrace, day: date, who: str, label: str, states: tuple[str, ...] = ()) -> Traced:
    """Orders on the page that stand in one of some states on a day; without any named: in all but withdrawn."""
    found: dict[str, list[Cell]] = {}
    for row in spans(troop, day):
        if row["seller"] == who and (row["state"] in states if states else row["state"] != "withdrawn"):
            found.setdefault(row["order"], []).append(troop.evidence.cell(row, "online_orders", "order", row["order"]))
    return combined("people", label, "orders", *(stated(no, "orders", 1, cells) for no, cells in sorted(found.items())))


orders = partial(_orders, label="Orders")
to_answer = partial(_orders, label="To answer", states=("waiting",))


def spans(troop: TroopTrace, day: date) -> list[Row]:
    """The state of each item of each order on a day."""
    return [
        row
        for row in troop.evidence.rows("order_spans")
        if row["from_on"] <= day and (row["until_on"] is None or row["until_on"] > day)
    ]


# Packages to fetch


def to_fetch(troop: TroopTrace, day: date, who: str) -> Traced:
    """Of each item that the troop stocks: promised on paper and in orders to deliver, less taken, never below 0."""
    terms = []
    for item, about in troop.evidence.items.items():
        if about["is_stocked"]:
            wanted = total("Promised and ordered", "packages", (1, on_paper(troop, day, who, item)),
                           (1, to_deliver(troop, day, who, item)))  # fmt: skip
            had = not_below_0("Taken", "packages", fetched(troop, day, who, item))
            left = total(item, "packages", (1, wanted), (-1, had))
            if wanted.value and left.value > 0:
                terms.append((1, left))
    return total("To fetch", "packages", *terms)


def on_paper(troop: TroopTrace, day: date, who: str, item: str) -> Traced:
    """What the participant's newest row of promises says of an item."""
    rows = [row for row in troop.evidence.rows("promised") if row["participant"] == who and row["week_ending"] <= day]
    newest = max((row["week_ending"] for row in rows), default=None)
    told = [row for row in rows if row["week_ending"] == newest and row["item"] == item and row["packages"]]
    cells = [troop.evidence.cell(row, "promised", "packages", row["packages"], note=str(newest)) for row in told]
    return of_cells("Promised on paper", "packages", cells)


def to_deliver(troop: TroopTrace, day: date, who: str, item: str, order: str = "") -> Traced:
    """Packages of an item in orders (or one) that the participant delivers or has delivered."""
    told = [row for row in spans(troop, day) if row["is_paid_by_hand"] and row["seller"] == who and row["item"] == item]
    cells = [
        troop.evidence.cell(row, "online_orders", "packages", row["packages"], note=row["order"])
        for row in told
        if order in ("", row["order"])
    ]
    return of_cells("In orders to deliver", "packages", cells)


def fetched(troop: TroopTrace, day: date, who: str, item: str) -> Traced:
    """Packages of an item that the family took, less those brought back."""
    rows = [row for row in troop.evidence.rows("families") if row["participant"] == who and row["item"] == item]
    cells = [
        troop.evidence.cell(row, "families", "packages", row["packages"], note=str(row["week_ending"]))
        for row in rows
        if row["packages"] and row["week_ending"] <= day
    ]
    return of_cells("Taken, less brought back", "packages", cells)
