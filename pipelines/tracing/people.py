"""How who is registered, takes part, and has come how far is worked out from cells.

Comes in: a TroopTrace, a day. Goes out: Traced trees of people, of the path, and of how packages are spread.
"""

from datetime import date
from functools import partial

from pipelines.definitions.contract import OWN_PAGE
from pipelines.tracing.evidence import Row
from pipelines.tracing.progress import met
from pipelines.tracing.terms import Cell, Traced, combined, of_cells, stated, total
from pipelines.tracing.troop import TroopTrace

TAKEN = ("hand_out", "bring_back", "donation_out", "donation_back")
Shown = dict[str, list[Cell]]
ORDERS = {"remote_order": 1, "remote_order_undone": -1, "hand_order": 1, "hand_order_undone": -1}


def _did(troop: TroopTrace, day: date) -> dict[str, list[Cell]]:
    """Everyone taking part by a day, with the cells that show it."""
    taken: dict[str, list[tuple[int, Cell]]] = {}
    orders: dict[str, list[tuple[int, Cell]]] = {}
    for row in troop.evidence.entries:
        sign = ORDERS.get(row["kind"], 0)
        if row["on_day"] > day or row["participant"] in (None, OWN_PAGE) or row["packages"] is None:
            continue
        if row["kind"] in TAKEN:
            taken.setdefault(row["participant"], []).append((row["packages"], troop.counted(row, 1, "packages")))
        elif sign:
            orders.setdefault(row["participant"], []).append((sign, troop.counted(row, sign, "packages")))
    shown: dict[str, list[Cell]] = {}
    for seen in (taken, orders):
        for who, told in seen.items():
            if sum(number for number, _cell in told) > 0:
                shown.setdefault(who, []).extend(cell for _number, cell in told)
    for row in troop.evidence.rows("stall_work"):
        if row["week_ending"] <= day:
            who = row["participant"]
            cell = troop.evidence.cell(row, "stalls", "participants", who, note=f"{row['date']} stall")
            shown.setdefault(who, []).append(cell)
    return shown


def _roster(troop: TroopTrace, day: date) -> dict[str, Cell]:
    """Everyone registered on a day, with the row of the roster."""
    return {
        row["participant"]: troop.evidence.cell(row, "roster", "participant", row["participant"])
        for row in troop.evidence.rows("roster")
        if row["registered_on"] <= day and (row["left_on"] is None or row["left_on"] > day)
    }


def _people(label: str, shown: dict[str, list[Cell]]) -> Traced:
    each = [stated(who, "participants", 1, cells) for who, cells in sorted(shown.items())]
    return combined("people", label, "participants", *each)


def registered(troop: TroopTrace, day: date, _part: str) -> Traced:
    """Everyone on the roster."""
    return _people("Registered", {who: [cell] for who, cell in _roster(troop, day).items()})


def taking_part(troop: TroopTrace, day: date, _part: str) -> Traced:
    """Everyone who did anything."""
    return _people("Taking part", _did(troop, day))


def registered_taking_part(troop: TroopTrace, day: date, _part: str) -> Traced:
    """Everyone on the roster who did anything."""
    roster = _roster(troop, day)
    both = {who: [*cells, roster[who]] for who, cells in _did(troop, day).items() if who in roster}
    return _people("Registered and taking part", both)


# The path from registered to goal met


def _newest(evident_day: str, rows: list[Row], day: date) -> dict[str, Row]:
    """Each participant's newest row by a day."""
    found: dict[str, Row] = {}
    for row in sorted(rows, key=lambda row: row[evident_day]):
        if row[evident_day] <= day:
            found[row["participant"]] = row
    return found


def _goals(troop: TroopTrace, day: date) -> dict[str, Cell]:
    """Everyone's goal by a day, the newest of each."""
    found = _newest("week_ending", troop.evidence.rows("goals"), day)
    return {who: troop.evidence.cell(row, "goals", "goal", row["goal"]) for who, row in found.items()}


def _everybody(troop: TroopTrace, day: date) -> set[str]:
    """Everyone who is registered on a day, or did anything by it; not the troop's own page."""
    families = {row["participant"] for row in troop.evidence.rows("families") if row["week_ending"] <= day}
    orders = {row["participant"] for row in troop.evidence.entries if row["on_day"] <= day and row["kind"] in ORDERS}
    stalls = {row["participant"] for row in troop.evidence.rows("stall_work") if row["week_ending"] <= day}
    return (families | orders | stalls | _roster(troop, day).keys()) - {None, OWN_PAGE}


def step_registered(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The same as registered."""
    return registered(troop, day, "")


def _with_contact(troop: TroopTrace, _day: date) -> Shown:
    return {
        row["participant"]: [troop.evidence.cell(row, "roster", "contact_on_file", True)]
        for row in troop.evidence.rows("roster")
        if row["contact_on_file"]
    }


def _with_goal(troop: TroopTrace, day: date) -> Shown:
    return {who: [cell] for who, cell in _goals(troop, day).items() if cell.value > 0}


def _with_page(troop: TroopTrace, day: date) -> Shown:
    return {
        who: [troop.evidence.cell(row, "pages", "page_open", True)]
        for who, row in _newest("on", troop.evidence.rows("pages"), day).items()
        if row["page_open"]
    }


def _having_told(troop: TroopTrace, day: date) -> Shown:
    return {
        who: [troop.evidence.cell(row, "pages", "people_told", row["people_told"])]
        for who, row in _newest("on", troop.evidence.rows("pages"), day).items()
        if (row["people_told"] or 0) > 0
    }


def _packages_of(troop: TroopTrace, day: date, who: str) -> Traced:
    return troop.of("families", "packages", day, who).named(who)


def _having_sold(troop: TroopTrace, day: date) -> Shown:
    shown = {}
    for who in _roster(troop, day):
        sold, by_hand = _packages_of(troop, day, who), troop.of("families", "by_hand", day, who)
        if sold.value > 0 or by_hand.value > 0:
            shown[who] = [*_cells(sold), *_cells(by_hand)]
    return shown


def _having_met(troop: TroopTrace, day: date) -> Shown:
    shown = {who: [cell for one in met(troop, day, who) for cell in _cells(one)] for who in _roster(troop, day)}
    return {who: cells for who, cells in shown.items() if cells}


STEPS = {
    "Contact known": _with_contact, "Goal set": _with_goal, "Page open": _with_page, "People told": _having_told,
    "First sale": _having_sold, "Goal met": _having_met,
}  # fmt: skip


def _along(troop: TroopTrace, day: date, _part: str, last: str) -> Traced:
    """The registered who made every step of the path up to one, with the cells that show it."""
    shown = {who: [cell] for who, cell in _roster(troop, day).items()}
    for step, made in STEPS.items():
        found = made(troop, day) if shown else {}
        shown = {who: [*cells, *found[who]] for who, cells in shown.items() if who in found}
        if step == last:
            break
    return _people(last, shown)


step_contact, step_goal = partial(_along, last="Contact known"), partial(_along, last="Goal set")
step_page, step_told = partial(_along, last="Page open"), partial(_along, last="People told")
step_first_sale, step_goal_met = partial(_along, last="First sale"), partial(_along, last="Goal met")


def goal(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The goals of everyone who is registered or did anything."""
    goals, everybody = _goals(troop, day), _everybody(troop, day)
    return of_cells("Goal", "packages", [cell for who, cell in sorted(goals.items()) if who in everybody])


def goal_packages(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The packages of everyone who has a goal, and is registered or did anything."""
    with_goal = {who for who, cell in _goals(troop, day).items() if cell.value > 0} & _everybody(troop, day)
    return packages_of("Packages of those with a goal", [_packages_of(troop, day, who) for who in sorted(with_goal)])


# How packages are spread


def sellers(troop: TroopTrace, day: date) -> list[Traced]:
    """The packages of everyone taking part, the most first."""
    each = [_packages_of(troop, day, who) for who in sorted(_did(troop, day))]
    return sorted(each, key=lambda one: (-one.value, one.label))


def participants_packages(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The packages of everyone taking part."""
    return packages_of("Participants' packages", sellers(troop, day))


def top_tenth_packages(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The packages of the first tenth."""
    return packages_of("Top tenth's packages", top_tenth(sellers(troop, day)))


def median_per_active(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The packages of the one in the middle."""
    return combined("median", "Median", "average", *sellers(troop, day))


def packages_of(label: str, sellers: list[Traced]) -> Traced:
    """The packages of participants, added up."""
    return total(label, "packages", *((1, one) for one in sellers))


def top_tenth(sellers: list[Traced]) -> list[Traced]:
    """The first tenth of sellers that are in order, at least one where there is any."""
    return sellers[: -(-len(sellers) // 10)]


def _cells(traced: Traced) -> list[Cell]:
    """All cells of a figure."""
    return [*traced.cells, *(cell for _sign, term in traced.terms for cell in _cells(term))]
