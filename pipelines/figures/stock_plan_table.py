"""The stock plan of the latest day, from its relation and back: a row a move, and a row a fetch, each with its reason.

Comes in: measures.plan_terms as an Arrow table. Goes out: one Arrow table of moves and fetches; another of what each
troop has and may need of each item, on which they rest. How it is worked out stands in stock_plan.py.
"""

from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.figures.stock_plan import NEARLY_ALL, Cell, Demand, Fetch, Move, plan

Row = dict[str, Any]
PLAN = pa.schema([
    ("as_of", pa.date32()),
    ("kind", pa.string()), ("drive", pa.int32()), ("giver", pa.string()), ("receiver", pa.string()),
    ("troop", pa.string()), ("item", pa.string()), ("packages", pa.int32()), ("cases", pa.int32()),
    ("have", pa.int64()), ("soon_90", pa.int64()), ("worth", pa.float64()), ("reason", pa.string()),
    ("is_proven", pa.bool_()),
])  # fmt: skip

CELLS = pa.schema([
    ("as_of", pa.date32()), ("troop", pa.string()), ("item", pa.string()), ("have", pa.int64()),
    ("needed", pa.int64()), ("soon_90", pa.int64()), ("end_10", pa.int64()), ("end_90", pa.int64()),
    ("surplus", pa.int64()), ("short", pa.int64()), ("paid", pa.int64()), ("word", pa.string()),
])  # fmt: skip


def plan_cells(terms: pa.Table) -> pa.Table:
    """What each troop has, may need and could give of each item on the latest day, with a word for it."""
    made = []
    for row in _latest(terms):
        cell = _cell(row)
        word = "paid for" if cell.paid else "short" if cell.short else "spare" if cell.surplus else "enough"
        made.append({
            "as_of": row["as_of"], "troop": cell.troop, "item": cell.item, "have": cell.have, "needed": cell.needed,
            "soon_90": cell.soon_enough, "end_10": cell.end.quantile(0.1), "end_90": cell.end.quantile(NEARLY_ALL),
            "surplus": cell.surplus, "short": cell.short, "paid": cell.paid, "word": word,
        })  # fmt: skip
    return pa.Table.from_pylist(made, CELLS)


def _latest(terms: pa.Table) -> list[Row]:
    """The rows of the latest day; none once the season is over."""
    rows: list[Row] = terms.filter(pc.equal(terms["as_of"], pc.max(terms["as_of"]))).to_pylist()
    return [row for row in rows if row["week"] < row["weeks"]]


def planned(terms: pa.Table) -> pa.Table:
    """The latest day's moves, drive by drive, then its fetches; none where the season is over or nothing is known."""
    rows = _latest(terms)
    if not rows:
        return PLAN.empty_table()
    cells = {(row["troop"], row["item"]): _cell(row) for row in rows}
    towns = {row["troop"]: row["town"] for row in rows if row["town"]}
    moved, fetched = plan([*cells.values()], towns, may_order=rows[0]["may_order"], hands_back=rows[0]["hands_back"])
    given = dict.fromkeys(cells, 0)
    for move in moved.moves:
        given[move.giver, move.item] += move.packages
    drives = {pair: number for number, pair in enumerate(moved.drives, 1)}
    made = [
        _move(move, drives[min(move.giver, move.receiver), max(move.giver, move.receiver)], cells, given)
        | {"is_proven": moved.is_proven}
        for move in moved.moves
    ]
    made.sort(key=lambda row: (row["drive"], row["giver"], row["item"]))
    made += [_fetch(one, cells[one.troop, one.item]) | {"is_proven": moved.is_proven} for one in fetched]
    return pa.Table.from_pylist([row | {"as_of": rows[0]["as_of"]} for row in made], PLAN)


def _cell(row: Row) -> Cell:
    unsent = row["unsent"] if not row["is_counted"] else 0.0
    spread = row["own_spread"] ** 2 + row["area_spread"] ** 2

    def demand(mean: float) -> Demand:
        return Demand(mean, row["at_a_time"] * mean + spread * mean**2, row["needed"])

    part = row["part_soon"] / row["part_left"] if row["part_left"] else 0.0
    unsold = row["unsold_at_last"] if row["hands_back"] else row["unsold"]
    return Cell(
        row["troop"], row["item"], row["have"], demand(row["mean"] * part + unsent), demand(row["mean"] + unsent),
        float(row["gain"]), float(unsold), row["packages_per_case"], float(row["least_ratio"]), row["spare_percent"],
    )  # fmt: skip


def _move(move: Move, drive: int, cells: dict[tuple[str, str], Cell], given: dict[tuple[str, str], int]) -> Row:
    giver, receiver = cells[move.giver, move.item], cells[move.receiver, move.item]
    keeps = giver.have - given[move.giver, move.item]
    lacks = (
        f"{move.receiver} has {max(receiver.have, 0)}; until the next goods {receiver.soon_enough} are enough in 9 of "
        "10 such cases"
    )
    if receiver.paid:
        lacks += f", {min(receiver.paid, receiver.needed)} of them paid for already"
    reason = f"{lacks}; {move.giver} keeps {keeps}, as often enough to the season's end."
    return {
        "kind": "move", "drive": drive, "giver": move.giver, "receiver": move.receiver, "item": move.item,
        "packages": move.packages, "have": receiver.have, "soon_90": receiver.soon_enough, "reason": reason,
    }  # fmt: skip


def _fetch(one: Fetch, cell: Cell) -> Row:
    if one.cases < 0:
        reason = f"{one.have} are there, more than will probably go out; the depot still takes whole cases back."
    else:
        more = "would probably not pay" if one.worth <= 0 else "can wait for the next fetch"
        reason = (
            f"{max(one.have, 0)} are there; until the next goods {one.soon} are enough in 9 of 10 such cases; "
            f"a further case {more}."
        )
        if cell.needed > one.have:
            reason = f"{cell.needed} are paid for already. {reason}"
    return {
        "kind": "fetch" if one.cases > 0 else "hand back", "troop": one.troop, "item": one.item, "cases": one.cases,
        "packages": one.cases * cell.case, "have": one.have, "soon_90": one.soon, "worth": one.worth, "reason": reason,
    }  # fmt: skip
