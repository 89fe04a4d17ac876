"""What will still go out, and who could give whom what, as pictures, each with the same in words.

Comes in: rows of measures.outlook, plan, plan_cells, standing. Goes out: Altair charts and sentences; pure.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import polars as pl

from dashboard.parts import words
from dashboard.parts.charts import BAR, FINE, HIDDEN, INKS, Row, axis, beside, kinds_of, legend, over

SO_FAR, AHEAD, BEFORE, GOAL = "So far", "Ahead, 8 of 10", "Last season", "Goals set"
LINES = (SO_FAR, AHEAD, BEFORE, GOAL)
ON_HAND, RANGE, LIKELY = "On hand", "8 of 10 cases", "Most likely"
MARKS = (ON_HAND, RANGE, LIKELY)
WORDS = {"spare": "spare", "short": "short", "paid for": "paid for", "enough": ""}
CELL = 0.8  # how much of an item's column a full bar takes
Points = list[dict[str, Any]]


def cumulative(weeks: Sequence[Row]) -> Points:
    """Packages out of stock up to each week's end, from rows of standing or the area, oldest first."""
    return [{"week": 0, "packages": 0}] + [
        {"week": row["week_no"], "packages": row["sold_from_stock"]} for row in weeks
    ]  # fmt: skip


def band(row: Row, so_far: int) -> Points:
    """From today to the last day: what will probably have gone out, with its range."""
    points: Points = [{"week": row["week"], "low": so_far, "middle": so_far, "high": so_far}]
    ends = [(row["week"] + 1, "next_"), (row["weeks"], "")] if row["week"] + 1 < row["weeks"] else [(row["weeks"], "")]
    for week, of in ends:
        if row["week"] < week and row[f"{of}low"] is not None:
            low, mean, high = (float(row[f"{of}{name}"]) for name in ("low", "mean", "high"))
            points.append({"week": week, "low": so_far + low, "middle": so_far + mean, "high": so_far + high})
    return points


def season(weeks: Sequence[Row], row: Row, last: Sequence[tuple[int, int]], goal: int, not_sent: Sequence[int]) -> Any:
    """Packages so far as a line, then the band to the last day; the goals as a level line, last season as a thin one.

    `last`: week and cumulative packages. `not_sent`: weeks that are not submitted, each a tick on the line.
    """
    so_far = cumulative(weeks)
    ahead = pl.DataFrame(band(row, so_far[-1]["packages"])).with_columns(kind=pl.lit(AHEAD))
    x = alt.X("week:Q", title="Week of the season", scale=alt.Scale(domain=[0, row["weeks"]]),
              axis=axis(tickCount=row["weeks"], format="d"))  # fmt: skip
    y = alt.Y("packages:Q", title=None, axis=axis(format=",", tickCount=5))
    color = kinds_of(LINES, legend())
    tip = [alt.Tooltip("week:Q", title="Week"), alt.Tooltip("packages:Q", title="Packages", format=",.0f")]
    layers = [
        alt.Chart(ahead).mark_area(opacity=0.25).encode(
            x=x, y=alt.Y("low:Q", title=None), y2="high:Q", color=color,
            tooltip=[alt.Tooltip(f"{name}:Q", title=title, format=",.0f") for name, title in
                     (("low", "From"), ("middle", LIKELY), ("high", "To"))],
        ),
        alt.Chart(ahead)
        .mark_line(strokeDash=[5, 3], strokeWidth=2)
        .encode(x=x, y="middle:Q", color=kinds_of(LINES, None)),
        _line([{**point, "kind": SO_FAR} for point in so_far], x, y, tip, width=3),
    ]  # fmt: skip
    if last:
        before = [{"week": 0, "packages": 0, "kind": BEFORE}] + [
            {"week": week, "packages": packages, "kind": BEFORE} for week, packages in last if week <= row["weeks"]
        ]
        layers.append(_line(before, x, y, tip, width=1.2))
    if goal:
        level = [{"week": week, "packages": goal, "kind": GOAL} for week in (0, row["weeks"])]
        layers.append(_line(level, x, y, tip, width=1.5, dash=[2, 3]))
    at = {point["week"]: point["packages"] for point in so_far}
    if gaps := [{"week": week, "packages": at[week], "kind": SO_FAR} for week in not_sent if week in at]:
        marks = alt.Chart(pl.DataFrame(gaps)).mark_tick(thickness=2, size=18, orient="vertical")
        layers.append(marks.encode(x=x, y=y, color=kinds_of(LINES, None)))
    return over(*layers, height=350)


def _line(points: Points, x: Any, y: Any, tip: Any, *, width: float, dash: Sequence[int] = (1, 0)) -> Any:
    chart = alt.Chart(pl.DataFrame(points)).mark_line(strokeWidth=width, strokeDash=list(dash))
    return chart.encode(x=x, y=y, color=kinds_of(LINES, None), tooltip=tip)


def season_words(weeks: Sequence[Row], row: Row, goal: int, not_sent: Sequence[int]) -> str:
    """The same in words."""
    so_far = cumulative(weeks)[-1]["packages"]
    end = band(row, so_far)[-1]
    told = f"{words.number(so_far)} packages have gone out of stock up to week {row['week']}; by the last day probably "
    told += f"{end['middle']:,.0f}, in 8 of 10 such cases between {end['low']:,.0f} and {end['high']:,.0f}."
    if goal:
        told += f" The goals set add up to {words.number(goal)}."
    if not_sent:
        told += f" Not sent: week {words.listed([str(week) for week in not_sent])}."
    return told


def ranges(rows: Sequence[Row], name: str) -> Any:
    """A bar a row: the range pale, what is most likely a dot, what is on hand an upright mark, a word beside."""
    found = [
        {"name": row[name] or "All", "low": row["low"], "high": row["high"], "mean": row["mean"],
         "on_hand": row["on_hand"], "word": row["word"], "end": max(float(row["high"]), row["on_hand"])}
        for row in rows if row["low"] is not None
    ]  # fmt: skip
    frame = pl.DataFrame(found, schema={"name": pl.String, "low": pl.Float64, "high": pl.Float64, "mean": pl.Float64,
                                        "on_hand": pl.Float64, "word": pl.String, "end": pl.Float64})  # fmt: skip
    most = max([1.0, *frame["end"].to_list()])
    scale = alt.Scale(domain=[0, most * 1.4])
    tips = [alt.Tooltip("name:N", title="Of"), alt.Tooltip("on_hand:Q", title=ON_HAND, format=","),
            alt.Tooltip("mean:Q", title=LIKELY, format=",.0f"), alt.Tooltip("low:Q", title="From", format=",.0f"),
            alt.Tooltip("high:Q", title="To", format=",.0f")]  # fmt: skip
    base = alt.Chart(frame).encode(y=alt.Y("name:N", sort=None, axis=FINE), tooltip=tips)

    def of(kind: str) -> Any:
        return base.transform_calculate(kind=f"'{kind}'")

    numbers = axis(format=",", tickCount=5, title="Packages", grid=False)
    pale = of(RANGE).mark_bar(height=12, opacity=0.35)
    layers = [
        pale.encode(x=alt.X("low:Q", scale=scale, axis=numbers), x2="high:Q", color=kinds_of(MARKS, legend())),
        of(LIKELY).mark_point(filled=True, size=70, opacity=1).encode(
            x=alt.X("mean:Q", scale=scale), color=kinds_of(MARKS, None)),
        of(ON_HAND).mark_tick(thickness=3, size=18).encode(
            x=alt.X("on_hand:Q", scale=scale), color=kinds_of(MARKS, None)),
        beside(base.encode(x=alt.X("end:Q", scale=scale)), "word:N", align="left", dx=8),
    ]  # fmt: skip
    return over(*layers, height=BAR * max(frame.height, 1) + 125)


def ranges_words(rows: Sequence[Row], name: str) -> str:
    """The same in words."""
    parts = [
        f"{row[name] or 'all'} {row['low']:,.0f} to {row['high']:,.0f}, {row['on_hand']:,} on hand, {row['word']}"
        for row in rows if row["low"] is not None
    ]  # fmt: skip
    return f"Packages that will probably still go out, in 8 of 10 cases: {'; '.join(parts) or 'nothing to tell'}."


def moves(cells: Sequence[Row], plan: Sequence[Row]) -> Any:
    """Troops by items: on hand solid, its range to the season's end pale behind it; arrows only for moves."""
    troops = sorted({row["troop"] for row in cells})
    items = list(dict.fromkeys(row["item"] for row in cells))
    column = {item: place for place, item in enumerate(items)}
    line = {troop: place for place, troop in enumerate(troops)}
    full = {
        item: max([1, *(max(row["have"], row["end_90"]) for row in cells if row["item"] == item)]) for item in items
    }
    found = []
    for row in cells:
        left, most = column[row["item"]], full[row["item"]]
        found.append({
            "troop": row["troop"], "item": row["item"], "y": line[row["troop"]], "left": left,
            "have": left + CELL * max(row["have"], 0) / most, "low": left + CELL * row["end_10"] / most,
            "high": left + CELL * row["end_90"] / most, "word": WORDS[row["word"]],
            "packages": row["have"], "range": f"{row['end_10']:,} to {row['end_90']:,}",
        })  # fmt: skip
    frame = pl.DataFrame(found)
    across = alt.Scale(domain=[0, len(items)])
    down = alt.Scale(domain=[len(troops) - 0.5, -0.5], nice=False)
    names = alt.Axis(**_labels(troops))
    heads = alt.Axis(**(_labels(items, 0.4) | {"orient": "top"}))
    y = alt.Y("y:Q", scale=down, axis=names)
    base = alt.Chart(frame).encode(y=y, tooltip=[
        alt.Tooltip("troop:N", title="Troop"), alt.Tooltip("item:N", title="Item"),
        alt.Tooltip("packages:Q", title=ON_HAND, format=","), alt.Tooltip("range:N", title="Will go out, 8 of 10"),
    ])  # fmt: skip
    solid = base.transform_calculate(kind=f"'{ON_HAND}'").mark_bar(height=6)
    pale = base.transform_calculate(kind=f"'{RANGE}'").mark_bar(height=16, opacity=0.3)
    layers = [
        pale.encode(x=alt.X("low:Q", scale=across, axis=heads), x2="high:Q", color=kinds_of(MARKS[:2], legend())),
        solid.encode(x=alt.X("left:Q", scale=across, axis=heads), x2="have:Q", color=kinds_of(MARKS[:2], None)),
        beside(
            base.encode(x=alt.X("left:Q", scale=across, axis=heads)), "word:N", align="left", dy=-13, fontWeight=600
        ),
    ]
    if arrows := [
        {"from": line[row["giver"]], "to": line[row["receiver"]], "x": column[row["item"]] + 0.86 + 0.03 * (place % 4),
         "angle": 0 if line[row["giver"]] > line[row["receiver"]] else 180,
         "told": f"{row['giver']} gives {row['receiver']} {row['packages']} {row['item']}"}
        for place, row in enumerate(plan)
    ]:  # fmt: skip
        moved = alt.Chart(pl.DataFrame(arrows)).encode(
            x=alt.X("x:Q", scale=across, axis=heads), tooltip=[alt.Tooltip("told:N", title="Move")]
        )
        ink = alt.Color("ink:N", scale=INKS, legend=None)
        rule = moved.transform_calculate(ink="'ink'").mark_rule(strokeWidth=1.5)
        layers.append(rule.encode(y=alt.Y("from:Q", scale=down, axis=names), y2="to:Q", color=ink))
        head = moved.transform_calculate(ink="'ink'").mark_point(shape="triangle-up", filled=True, size=70, opacity=1)
        layers.append(
            head.encode(y=alt.Y("to:Q", scale=down, axis=names), angle=alt.Angle("angle:Q", scale=None), color=ink)
        )
    return over(*layers, height=36 * len(troops) + 90)


def _labels(names: Sequence[str], off: float = 0) -> dict[str, Any]:
    """An axis of whole places that says names."""
    listed = "[" + ", ".join(f"'{name}'" for name in names) + "]"
    return {"values": [place + off for place in range(len(names))], "labelExpr": f"{listed}[floor(datum.value)]",
            "grid": False, "ticks": False, "domain": False, "title": None, "labelFontSize": 13,
            "labelColor": FINE.labelColor, "labelOverlap": False}  # fmt: skip


def moves_words(plan: Sequence[Row]) -> str:
    """The same in words."""
    parts = [f"troop {row['giver']} gives troop {row['receiver']} {row['packages']} {row['item']}" for row in plan]
    return f"Proposed moves: {'; '.join(parts) or 'none'}."


def loads(rows: Sequence[Row], capacity: Mapping[str, int]) -> Any:
    """A bar a vehicle: the troops' cases stacked, up to what it carries, which an upright mark shows."""
    found = [{"vehicle": row["vehicle"], "troop": row["troop"], "cases": row["cases"], "kind": "Cases"} for row in rows]
    frame = pl.DataFrame(found)
    room = pl.DataFrame([{"vehicle": name, "room": cases, "kind": "Carries"} for name, cases in capacity.items()])
    y = alt.Y("vehicle:N", sort=None, axis=FINE)
    scale = alt.Scale(domain=[0, max([1, *capacity.values()]) * 1.1])
    kinds = ["Cases", "Carries"]
    bars = alt.Chart(frame).mark_bar(height=16, stroke="white", strokeWidth=1).encode(
        y=y, x=alt.X("cases:Q", stack="zero", scale=scale, axis=HIDDEN), color=kinds_of(kinds, legend()),
        detail="troop:N", tooltip=[alt.Tooltip("vehicle:N", title="Vehicle"), alt.Tooltip("troop:N", title="Troop"),
                                   alt.Tooltip("cases:Q", title="Cases")],
    )  # fmt: skip
    marks = alt.Chart(room).mark_tick(thickness=3, size=22).encode(
        y=y, x=alt.X("room:Q", scale=scale), color=kinds_of(kinds, None)
    )  # fmt: skip
    return over(bars, marks, height=BAR * max(len(capacity), 1) + 60)
