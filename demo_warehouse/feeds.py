"""The organisation's tables, as it would hand them to the area on a day: nothing that came later is in them.

Comes in: the area, what came about (Told), the day. Goes out: a Table for each feed, by its name.
"""

from datetime import date
from itertools import cycle

from demo_warehouse.area import Setting, Troop
from demo_warehouse.records import OWN_PAGE, Told
from demo_warehouse.season import CENTS, VEHICLES, dice
from demo_warehouse.stall_slots import TOWNS, stall_tables
from demo_warehouse.tables import Table

Rows = list[tuple[object, ...]]
FILES = {  # most as CSV; the office keeps its adjustments in a spreadsheet, the pages come out of a larger system
    "troops": ".csv",
    "roster": ".csv",
    "supply": ".csv",
    "online_orders": ".csv",
    "collections": ".csv",
    "remittances": ".csv",
    "bank_lines": ".csv",
    "adjustments": ".xlsx",
    "organisation_balance": ".csv",
    "pages": ".parquet",
    "awards_before": ".csv",
    "last_season": ".csv",
    "vehicles": ".csv",
    "places": ".csv",
    "slots": ".csv",
    "wishes": ".csv",
}
TEXT, DATE, PACKAGES, MONEY, YES_NO = "text", "date", "packages", "money", "yes/no"


def feeds(setting: Setting, told: Told, day: date) -> dict[str, Table]:
    """Every feed as known at the end of a day."""
    tables = {
        "troops": _troops(setting.area),
        "roster": _roster(setting.area, day),
        "supply": _supply(told, day),
        "online_orders": _online_orders(told, day),
        "collections": _collections(told, day),
        "remittances": _remittances(told, day),
        "bank_lines": _bank_lines(told, day),
        "adjustments": _adjustments(told, day),
        "organisation_balance": _balances(told, day),
        "pages": _pages(told, day),
        "awards_before": _awards_before(told),
        "last_season": _last_season(setting),
        "vehicles": _vehicles(),
        **stall_tables(setting, told, day),
    }
    return {name: table for name, table in tables.items() if table.rows or name in ("troops", "roster", "supply")}


def _troops(area: list[Troop]) -> Table:
    columns = dict.fromkeys(("troop", "level", "leader", "email", "phone"), TEXT)
    columns |= {"opened_on": DATE, "closed_on": DATE, "extra_rate": TEXT, "divisor": TEXT, "town": TEXT}
    rows: Rows = [
        (t.code, t.level, t.leader, t.email, t.phone, t.opened_on, None, t.rate_extra, t.divisor, town)
        for t, town in zip(area, cycle(TOWNS))
    ]
    return Table(columns, rows)


def _roster(area: list[Troop], day: date) -> Table:
    columns = {"troop": TEXT, "participant": TEXT, "registered_on": DATE, "left_on": DATE, "contact_on_file": YES_NO}
    columns |= {"household": TEXT}
    rows: Rows = []
    for troop in area:
        for person in troop.participants:
            left_on = person.left_on if person.left_on and person.left_on <= day else None
            if person.registered_on <= day:
                known = (person.registered_on, left_on, person.has_contact, person.household)
                rows.append((troop.code, person.code, *known))
    return Table(columns, rows)


def _supply(told: Told, day: date) -> Table:
    columns = {"document": TEXT, "troop": TEXT, "item": TEXT, "date": DATE, "packages": PACKAGES, "kind": TEXT}
    rows: Rows = [(s.document, s.troop, s.item, s.on, s.packages, s.kind) for s in told.supplies if s.on <= day]
    return Table(columns, rows)


def _online_orders(told: Told, day: date) -> Table:
    columns = {"order": TEXT, "troop": TEXT, "participant": TEXT, "placed_on": DATE, "mode": TEXT, "state": TEXT}
    columns |= {"state_on": DATE, "item": TEXT, "packages": PACKAGES, "goods_amount": MONEY, "shipping_amount": MONEY}
    columns |= {"zone": TEXT, "otherwise": TEXT}
    rows: Rows = []
    for order in told.orders:
        # the organisation's table leaves the participant empty for some orders of a troop's own page
        participant = "" if order.participant == OWN_PAGE and order.number[-1] in "13579" else order.participant
        head = (order.number, order.troop, participant, order.placed_on, order.mode)
        for state, on in order.states:
            if on > day:
                continue
            for k, (item, count) in enumerate(order.packages.items()):
                shipping = order.shipping if k == 0 else 0
                zone = ("far" if order.is_far else "near") if order.mode == "by_post" else ""
                amounts = (count * CENTS[item], shipping)
                rows.append((*head, state, on, item, count, *amounts, zone, order.otherwise))
    return Table(columns, rows)


def _collections(told: Told, day: date) -> Table:
    columns = {"troop": TEXT, "on": DATE, "amount": MONEY, "announced_on": DATE, "arrears": TEXT}
    rows: Rows = [
        (c.troop, c.on, c.amount, c.announced_on, c.arrears) for c in told.collections if c.announced_on <= day
    ]
    return Table(columns, rows)


def _bank_lines(told: Told, day: date) -> Table:
    columns = {"troop": TEXT, "line": TEXT, "date": DATE, "amount": MONEY, "kind": TEXT, "text": TEXT}
    rows: Rows = [(b.troop, b.line, b.on, b.amount, b.kind, b.text) for b in told.bank_lines if b.on <= day]
    return Table(columns, rows)


def _remittances(told: Told, day: date) -> Table:
    columns = {"reference": TEXT, "troop": TEXT, "date": DATE, "amount": MONEY}
    columns |= {"state": TEXT, "state_on": DATE, "reason": TEXT}
    rows: Rows = [
        (sent.reference, sent.troop, sent.on, sent.amount, state, on, reason)
        for sent in told.remittances
        for state, on, reason in sent.states
        if on <= day
    ]
    return Table(columns, rows)


def _adjustments(told: Told, day: date) -> Table:
    columns = {"reference": TEXT, "troop": TEXT, "participant": TEXT, "date": DATE, "amount": MONEY}
    columns |= {"reason": TEXT, "authorised_by": TEXT}
    rows: Rows = [
        (a.reference, a.troop, a.participant, a.on, a.amount, a.reason, a.authorised_by)
        for a in told.adjustments
        if a.on <= day
    ]
    return Table(columns, rows)


def _balances(told: Told, day: date) -> Table:
    columns = {"troop": TEXT, "on": DATE, "owed": MONEY}
    return Table(columns, [(b.troop, b.on, b.owed) for b in told.balances if b.on <= day])


def _pages(told: Told, day: date) -> Table:
    columns = {"troop": TEXT, "participant": TEXT, "on": DATE, "page_open": YES_NO}
    columns |= {"waits_for_caregiver": YES_NO, "own_picture": TEXT, "delivers": YES_NO, "people_told": PACKAGES}
    rows: Rows = [
        (p.troop, p.participant, p.on, p.is_open, p.waits, p.own_picture, p.delivers, p.people_told)
        for p in told.pages
        if p.on <= day
    ]
    return Table(columns, rows)


def _vehicles() -> Table:
    """What carries the opening orders on the day of delivery."""
    rows: Rows = [(f"{kind} {number}", cases) for kind, cases, count in VEHICLES for number in range(1, count + 1)]
    return Table({"vehicle": TEXT, "cases": PACKAGES}, rows)


def _awards_before(told: Told) -> Table:
    return Table({"troop": TEXT, "participant": TEXT, "award": TEXT}, told.awards_before)


def _last_season(setting: Setting) -> Table:
    """Last season's cumulative packages by week; a few troops are new and have none."""
    columns = {"troop": TEXT, "week_no": PACKAGES, "participants": PACKAGES, "packages": PACKAGES}
    rows: Rows = []
    for troop in setting.area:
        rng = dice(setting.seed, "last", troop.code)
        if rng.random() < 0.06 or not troop.participants:
            continue
        people = max(3, len(troop.participants) + rng.randint(-3, 3))
        total, sold = people * rng.uniform(28, 48), 0.0
        for week in range(1, setting.season.weeks + 1):
            sold += total * setting.season.demand(week) * rng.uniform(0.85, 1.15)
            rows.append((troop.code, week, people, round(sold)))
    return Table(columns, rows)
