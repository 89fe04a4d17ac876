"""The troops' submissions as bulk tables: the sheets of many workbooks under one another.

Comes in: filings. Goes out: a Table for each sheet, by its name. A faulty filing names an item that the season has not.
"""

from demo_warehouse.papers import Filing
from demo_warehouse.tables import Table

Rows = list[tuple[object, ...]]
KEYS = {"troop": "text", "week_ending": "date"}
MONEY_IN = {"cash": "money", "card": "money"}
PACKAGES = {"item": "text", "packages": "packages"}
COLUMNS = {
    "cover": {
        "prepared_by": "text",
        "prepared_on": "date",
        "bank_balance": "money",
        "balance_on": "date",
        "note": "text",
    },
    "stock": {"item": "text", "received": "packages", "damaged": "packages", "on_hand": "packages"},
    "families": {"participant": "text", **PACKAGES, **MONEY_IN, "note": "text"},
    "stalls": {
        "date": "date",
        "start": "text",
        "end": "text",
        "place": "text",
        **PACKAGES,
        **MONEY_IN,
        "participants": "text",
        "note": "text",
        "gift": "money",
    },
    "banked": {
        "date": "date",
        "amount": "money",
        "slip": "text",
        "note": "text",
        "kind": "text",
        "participant": "text",
    },
    "moves": {"date": "date", **PACKAGES, "direction": "text", "other_troop": "text"},
    "goals": {"participant": "text", "goal": "packages", "made_elsewhere": "packages"},
    "promised": {"participant": "text", **PACKAGES},
    "awards": {"participant": "text", "award": "text", "steps": "text", "handed_on": "date"},
}


def bulk_tables(filed: list[Filing]) -> dict[str, Table]:
    """All sheets of these filings; a troop-week with no families and no stalls says so by a row of its own."""
    rows: dict[str, Rows] = {name: [] for name in COLUMNS}
    for filing in filed:
        report = filing.report
        key = (filing.troop_as_typed, report.ends)
        cover = (report.prepared_by, report.prepared_on, report.bank_balance, report.balance_on, report.note)
        rows["cover"].append((*key, *cover))
        for item, line in report.stock.items():
            rows["stock"].append((*key, item, line.received, line.damaged, line.on_hand))
        rows["families"] += _families(filing, key)
        rows["stalls"] += _stalls(filing, key)
        rows["banked"] += [
            (*key, row.on, row.amount, row.slip, row.note, row.kind, row.participant) for row in report.banked
        ]
        for move in report.moves:
            rows["moves"].append((*key, move.on, move.item, move.packages, move.direction, move.other))
        rows["goals"] += [(*key, who, goal, report.elsewhere.get(who)) for who, goal in report.goals.items()]
        for who, packages in report.promised.items():
            rows["promised"] += [(*key, who, item, count) for item, count in packages.items()]
        for row in report.awards:
            rows["awards"].append((*key, row.participant, row.award, " ".join(map(str, row.steps)), row.handed_on))
    return {name: Table(KEYS | columns, rows[name]) for name, columns in COLUMNS.items() if rows[name]}


def _families(filing: Filing, key: tuple[object, ...]) -> Rows:
    rows: Rows = []
    for row in filing.report.families:
        rows += [(*key, row.participant, item, count, 0, 0, "") for item, count in row.packages.items()]
        if row.cash or row.card or row.note:
            rows.append((*key, row.participant, "", 0, row.cash, row.card, row.note))
    if filing.is_faulty:
        rows.append((*key, f"{filing.report.troop}-01", "TUL", 3, 0, 0, ""))
    return rows or [(*key, None, None, None, None, None, None)]


def _stalls(filing: Filing, key: tuple[object, ...]) -> Rows:
    rows: Rows = []
    for stall in filing.report.stalls:
        which = (*key, stall.on, stall.start, stall.until, stall.place)
        team = " ".join(stall.team)
        rows += [(*which, item, count, 0, 0, team, "", 0) for item, count in stall.packages.items()]
        rows.append((*which, "", 0, stall.cash, stall.card, team, stall.note, stall.gift))
    return rows or [(*key, *(None,) * len(COLUMNS["stalls"]))]
