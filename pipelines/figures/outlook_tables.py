"""The outlook of every asked day, from relations and back: rows a troop and item, a troop, the area and item, the area.

Comes in: measures.outlook_sizes, weekly_sales and takings, accepted.last_season, season.items, as Arrow tables. Goes
out: one Arrow table; an empty troop stands for the area, an empty item for all stocked items. How it is worked out
stands in outlook.py.
"""

from collections import defaultdict
from datetime import date
from typing import Any

import numpy as np
import pyarrow as pa

from pipelines.figures.outlook import Floats, LastSeason, Outlook, Season, outlook, quantile

Row = dict[str, Any]
MIDDLE = 0.5
EXPLAINED = (
    "size", "seen", "seen_part", "growth", "level", "part_left", "part_soon", "part_unsent", "own_spread", "tries",
    "area_spread", "at_a_time", "wanted",
)  # fmt: skip
AMOUNTS = ("mean", "low", "high", "next_mean", "next_low", "next_middle", "next_high", "unsent")
OUTLOOKS = pa.schema([
    ("as_of", pa.date32()), ("week", pa.int32()), ("weeks", pa.int32()), ("troop", pa.string()), ("item", pa.string()),
    *((name, pa.float64()) for name in (*AMOUNTS, *EXPLAINED, "share")), ("has_last", pa.bool_()),
    ("shape", pa.list_(pa.float64())),
])  # fmt: skip


def outlooks(
    sizes: pa.Table, sales: pa.Table, takings: pa.Table, last: pa.Table, items: pa.Table, plan: pa.Table
) -> pa.Table:
    """The outlook of every day of `sizes`; no rows for a day of which nothing is known."""
    soon = 1 + plan["lead_weeks"].to_pylist()[0]
    codes = [row["code"] for row in items.to_pylist() if row["is_stocked"]]
    sold = _Sales(sales, codes)
    taken = takings.to_pylist()
    seasons_before = points_of(last.to_pylist())
    days: dict[date, list[Row]] = defaultdict(list)
    for row in sizes.to_pylist():
        days[row["as_of"]].append(row)
    made = []
    for as_of in sorted(days):
        troops = sorted(days[as_of], key=lambda row: str(row["troop"]))
        before = [row for row in taken if row["week_ending"] <= as_of]
        season = _season(troops, sold, seasons_before, before)
        found = outlook(season) if codes else None
        if found:
            made.append(_rows(as_of, [row["troop"] for row in troops], codes, found, soon))
    return pa.concat_tables(made) if made else OUTLOOKS.empty_table()


class _Sales:
    """What each troop sold, by code: arrays of week numbers, items, packages and what was left."""

    def __init__(self, sales: pa.Table, codes: list[str]) -> None:
        places = {code: place for place, code in enumerate(codes)}
        item = np.array([places[code] for code in sales["item"].to_pylist()], dtype=np.int64)
        week, packages, left = (sales[name].to_numpy().astype(np.int64) for name in ("week_no", "sold", "on_hand"))
        troop = sales["troop"].to_numpy(zero_copy_only=False)
        self.items = len(codes)
        self._of: dict[str, tuple[Any, ...]] = {}
        order = np.argsort(troop, kind="stable")
        if not len(troop):
            return
        names, starts = np.unique(troop[order], return_index=True)
        for name, rows in zip(names, np.split(order, starts[1:]), strict=True):
            self._of[str(name)] = (week[rows], item[rows], packages[rows], left[rows])

    def up_to(self, troops: list[str], week: int) -> tuple[Floats, Any, Any]:
        """Packages sold (troops, week, items), whether a week was sent (troops, week), whether an item had run out."""
        sold = np.zeros((len(troops), week, self.items))
        sent, out = np.zeros(sold.shape[:2], dtype=np.bool_), np.zeros(sold.shape, dtype=np.bool_)
        for place, troop in enumerate(troops):
            if troop in self._of:
                weeks, item, packages, left = self._of[troop]
                known = (weeks >= 1) & (weeks <= week)
                at = weeks[known] - 1
                sold[place, at, item[known]] = packages[known]
                out[place, at, item[known]] = left[known] <= 0
                sent[place, at] = True
        return sold, sent, out


def points_of(rows: list[Row]) -> dict[str, tuple[dict[int, float], float]]:
    """Last season of each troop: cumulative packages of all items by week number, and participants at its end."""
    points: dict[str, dict[int, float]] = defaultdict(dict)
    people: dict[str, float] = {}
    for row in sorted(rows, key=lambda row: (str(row["troop"]), row["week_no"] or 0)):
        if row["week_no"] is not None and row["packages"] is not None and not row.get("item"):
            points[row["troop"]][row["week_no"]] = row["packages"]
            people[row["troop"]] = row["participants"] or 0
    return {troop: (points[troop], people[troop]) for troop in points}


def _season(
    troops: list[Row], sold: _Sales, before: dict[str, tuple[dict[int, float], float]], takings: list[Row]
) -> Season:
    weeks, week = troops[0]["weeks"], troops[0]["week"]
    packages, sent, out = sold.up_to([row["troop"] for row in troops], week)
    each = [before.get(row["troop"]) for row in troops]
    own = [one[0][max(one[0])] / one[1] if one and one[1] and one[0][max(one[0])] else np.nan for one in each]
    return Season(
        weeks,
        week,
        packages,
        sent,
        np.array([row["registered"] for row in troops], dtype=np.float64),
        np.array(own),
        LastSeason.of_points(
            [points for points, _people in before.values()], [who for _p, who in before.values()], weeks
        ),
        (float(sum(row["packages"] for row in takings)), float(sum(row["squares"] for row in takings))),
        out,
    )


def _rows(as_of: date, troops: list[str], codes: list[str], found: Outlook, soon: int) -> pa.Table:
    """One day's rows: troops and items, troops, the area's items, the area; `soon`: weeks to the next goods."""
    season, left = found.season, found.left()
    coming = found.left(season.week + 1, season.week + 1) if season.week < season.weeks else 0.0
    unsent = (~season.sent) @ season.shape[: season.week]
    columns: dict[str, list[Floats]] = defaultdict(list)
    for place, part in enumerate((left, coming)):
        means = found.mean(part)
        by_item = means[:, None] * found.mix
        variances = [found.troop_variance(by_item).ravel(), found.troop_variance(means),
                     found.area_item_variance(by_item), found.area_variance(means)[None]]  # fmt: skip
        mean = np.concatenate([by_item.ravel(), means, by_item.sum(axis=0), means.sum()[None]])
        variance = np.concatenate(variances)
        columns["next_mean" if place else "mean"].append(mean)
        for name, chance in (("low", 0.1), ("middle", MIDDLE), ("high", 0.9)):
            if place or name != "middle":
                columns[f"next_{name}" if place else name].append(quantile(chance, mean, variance))
    several, many = len(codes), len(troops)
    missed = found.mean(1.0) * unsent
    of_items = missed[:, None] * found.mix
    columns["unsent"].append(np.concatenate([of_items.ravel(), missed, of_items.sum(axis=0), missed.sum()[None]]))
    if not season.week:  # before the season there are ranges for troops only
        for name in ("low", "high", "next_low", "next_middle", "next_high"):
            columns[name][0][: many * several] = np.nan
            columns[name][0][many * several + many :] = np.nan
    rows = many * several + many + several + 1
    told = {
        "as_of": [as_of] * rows, "week": [season.week] * rows, "weeks": [season.weeks] * rows,
        "troop": [*(t for t in troops for _ in codes), *troops, *[None] * (several + 1)],
        "item": [*codes * many, *[None] * many, *codes, None],
    }  # fmt: skip
    told |= {name: np.concatenate(each) for name, each in columns.items()}
    nothing = np.full(rows, np.nan)
    nothing[: many * several] = found.mix.ravel()
    told |= {"share": nothing, "has_last": [season.last is not None] * rows}
    shape = season.shape.tolist()
    told["shape"] = [*[None] * (many * several), *[shape] * many, *[None] * (several + 1)]
    told |= _explained(
        found, unsent, (left, found.left(None, min(season.week + soon, season.weeks))), rows, many * several
    )
    return pa.table(
        {field.name: pa.array(told[field.name], field.type, from_pandas=True) for field in OUTLOOKS}, OUTLOOKS
    )


def _explained(found: Outlook, unsent: Floats, parts: tuple[float, float], rows: int, first: int) -> dict[str, Any]:
    """What the troops' figures rest on, in the troops' own rows; elsewhere empty."""
    seen, seen_part = found.seen()
    each = {
        "size": found.season.size, "seen": seen, "seen_part": seen_part, "growth": found.growth,
        "level": found.level, "part_left": parts[0], "part_soon": parts[1], "part_unsent": unsent,
        "own_spread": found.own_spread, "tries": found.tries, "area_spread": found.area_spread_squared**0.5,
        "at_a_time": found.season.at_a_time, "wanted": found.wanted,
    }  # fmt: skip
    told = {}
    for name, values in each.items():
        told[name] = np.full(rows, np.nan)
        told[name][first : first + len(unsent)] = values
    return told
