"""Opening orders judged before the season: far above, thin or fitting, with a proposal in whole cases and the reason.

Comes in: measures.opening_terms (what each troop ordered of each item, its participants, what a package earns), last
season, the season's items and plan, as Arrow tables. Goes out: one Arrow table, a row a troop. Above is more than goes
out in 9 of 10 such cases in the whole season, thin is less than the middle of what goes out until the first fetch; the
proposal is the newsvendor's of stock_plan.py with nothing on hand. Without a last season only what lies far above the
area's order a participant is told.
"""

from collections import defaultdict
from typing import Any

import numpy as np
import pyarrow as pa

from pipelines.figures.outlook import LastSeason, Outlook, Season, outlook, quantile
from pipelines.figures.outlook_tables import points_of
from pipelines.figures.stock_plan import NEARLY_ALL, Cell, Demand

Row = dict[str, Any]
FAR_ABOVE = 1.5  # times the area's order a participant
CASES_OFF = 2
OPENING = pa.schema([
    ("as_of", pa.date32()), ("troop", pa.string()), ("ordered", pa.int64()), ("word", pa.string()),
    ("mean", pa.float64()), ("low", pa.int64()), ("high", pa.int64()), ("first_middle", pa.int64()),
    ("proposal", pa.string()), ("reason", pa.string()),
])  # fmt: skip


def opening(terms: pa.Table, last: pa.Table, plan: pa.Table) -> pa.Table:
    """A row a troop that has an opening order."""
    rows: list[Row] = sorted(terms.to_pylist(), key=lambda row: (row["troop"], row["item"]))
    if not rows:
        return OPENING.empty_table()
    by_troop: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_troop[row["troop"]].append(row)
    troops = sorted(by_troop)
    before = points_of(last.to_pylist())
    asked = plan.to_pylist()[0]
    expected = _before(troops, by_troop, before, rows[0]["weeks"])
    found = _expected(expected, asked["lead_weeks"]) if expected else []
    all_items: dict[str, int] = defaultdict(int)
    for row in rows:
        all_items[row["item"]] += row["ordered"]
    whole = sum(all_items.values())
    mix = {item: packages / whole for item, packages in all_items.items()} if whole else {}
    people = sum(by_troop[troop][0]["registered"] for troop in troops if _ordered(by_troop[troop]))
    made = []
    for place, troop in enumerate(troops):
        items, ordered = by_troop[troop], _ordered(by_troop[troop])
        if not ordered:
            continue
        if expected is None:
            told = _without_last(items, ordered, whole / people if people else 0)
        else:
            told = _with_last(items, ordered, expected, found[place], asked, mix, before.get(troop))
        told["reason"] += _off(items, ordered, mix)
        made.append({"as_of": items[0]["as_of"], "troop": troop, "ordered": ordered} | told)
    return pa.Table.from_pylist(made, OPENING)


def _ordered(items: list[Row]) -> int:
    return sum(row["ordered"] for row in items)


def _before(
    troops: list[str], by_troop: dict[str, list[Row]], before: dict[str, tuple[dict[int, float], float]], weeks: int
) -> Outlook | None:
    """The outlook before the season's first week; None without a last season."""
    last = LastSeason.of_points([one for one, _w in before.values()], [who for _p, who in before.values()], weeks)
    own = [_each(before.get(troop)) for troop in troops]
    people = np.array([by_troop[troop][0]["registered"] for troop in troops], dtype=np.float64)
    nothing = np.zeros((len(troops), 0, 1))
    return outlook(Season(weeks, 0, nothing, np.zeros((len(troops), 0), np.bool_), people, np.array(own), last))


def _each(one: tuple[dict[int, float], float] | None) -> float:
    """Last season's packages a participant."""
    return one[0][max(one[0])] / one[1] if one and one[1] and one[0][max(one[0])] else np.nan


def _expected(expected: Outlook, lead_weeks: int) -> list[tuple[float, float, int, int, int]]:
    """Of each troop: means of the season and until the first fetch, low and high of the first, middle of the second."""
    mean = expected.mean(expected.left())
    first = expected.mean(expected.left(1, min(max(1, lead_weeks), expected.season.weeks)))
    low, high = (quantile(chance, mean, expected.troop_variance(mean)) for chance in (0.1, NEARLY_ALL))
    middle = quantile(0.5, first, expected.troop_variance(first))
    whole = (found.astype(np.int64).tolist() for found in (low, high, middle))
    return list(zip(mean.tolist(), first.tolist(), *whole, strict=True))


def _with_last(
    items: list[Row], ordered: int, expected: Outlook, found: tuple[float, float, int, int, int], plan: Row,
    mix: dict[str, float], before: tuple[dict[int, float], float] | None,
) -> Row:  # fmt: skip
    mean, first, low, high, middle = found
    word = "above" if ordered > high else "thin" if ordered < middle else "fits"
    held = [row for row in items if mix.get(row["item"])]
    cases = {row["item"]: _cell(row, mean, first, expected, plan, mix).cases(0) for row in held}
    then = ""
    if before and before[1]:
        then = f"last season {before[0][max(before[0])]:,.0f} with {before[1]:,.0f} participants, "
    reason = (
        f"{ordered:,} ordered; {then}now {items[0]['registered']:,}: about {mean:,.0f}, 8 of 10 between {low:,} and "
        f"{high:,}."
    )
    if word == "above":
        reason += " That is more than 9 in 10 such troops sell in the whole season."
    elif word == "thin":
        reason += f" About {middle:,} go out before the first fetch: it would more likely than not run out."
    told = ", ".join(f"{count} {item}" for item, count in sorted(cases.items()) if count)
    return {"word": word, "mean": mean, "low": low, "high": high, "first_middle": middle,
            "proposal": told or "nothing yet", "reason": reason}  # fmt: skip


def _cell(row: Row, mean: float, first: float, expected: Outlook, plan: Row, mix: dict[str, float]) -> Cell:
    part = mix[row["item"]]

    def demand(of: float) -> Demand:
        return Demand(of, float(expected.troop_variance(np.array(of))))

    gain, unsold = float(row["gain"]), float(row["unsold"])
    return Cell(row["troop"], row["item"], 0, demand(first * part), demand(mean * part), gain, unsold,
                row["packages_per_case"], float(plan["least_ratio"]))  # fmt: skip


def _without_last(items: list[Row], ordered: int, each: float) -> Row:
    usual = items[0]["registered"] * each
    smallest = min(row["packages_per_case"] for row in items)
    is_above = ordered > FAR_ABOVE * usual and ordered >= usual + CASES_OFF * smallest
    reason = (
        f"{ordered:,} ordered with {items[0]['registered']:,} participants; in the area {each:,.1f} a participant "
        f"would be {usual:,.0f}. No season before is known."
    )
    return {"word": "above" if is_above else "fits", "mean": None, "low": None, "high": None, "first_middle": None,
            "proposal": "", "reason": reason}  # fmt: skip


def _off(items: list[Row], ordered: int, mix: dict[str, float]) -> str:
    """The items of which a troop ordered far more or less than its order in the area's mix would have."""
    found = []
    for row in items:
        usual = ordered * mix.get(row["item"], 0)
        off = row["ordered"] - usual
        if abs(off) >= CASES_OFF * row["packages_per_case"] and abs(off) >= usual / 2:
            found.append(f"{row['item']} {row['ordered']:,}, in the area's mix about {usual:,.0f}")
    return f" Unlike the others: {'; '.join(found)}." if found else ""
