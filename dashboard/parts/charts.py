"""A frame → a chart; pure. The same in words, for who cannot see it, stands in told.py.

Comes in: rows or frames of measures. Goes out: Altair charts. Money is cast to floating point here and only here: a
chart of decimals is drawn a hundredfold. Colours come from the theme by their place in it, so that they suit light and
dark.

Words on charts are in the theme's fourth colour, its ink.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import altair as alt
import polars as pl

from dashboard.parts import words
from pipelines.definitions.measures import label

Row = dict[str, Any]

LOOK = "To look into"
MARK = "◆"  # beside what is to look into, so that it does not stand out by its colour alone
KINDS = ("Packages", LOOK, "Money in hand", "Arrived", "With people")
PLACES: tuple[tuple[str, str], ...] = (
    ("on_hand_value", "Packages"),
    ("damaged_value", "Packages"),
    ("missing_value", LOOK),
    ("families_owe", "With people"),
    ("stall_short", LOOK),
    ("not_banked", "Money in hand"),
    ("in_bank", "Money in hand"),
    ("remitted", "Arrived"),
    ("paid_online", "Arrived"),
    ("settled_otherwise", "Arrived"),
    ("float_out", "Money in hand"),
    ("bank_fees", "Arrived"),
)
AGES = ("past_due_0_7", "past_due_8_14", "past_due_15_30", "past_due_over_30")
FULLER = [0.3, 0.55, 0.8, 1]  # how full a bar is, by age
STEPS = ("registered", "contact", "goal", "page", "told", "first_sale", "goal_met")
MOST_TROOPS = 60  # that a chart draws one by one: more are neither read nor soon drawn
BAR = 26
TEXT = 13  # pixels
INKS = alt.Scale(domain=["", " ", "  ", "ink"])  # the fourth of the theme's colours is its ink, light and dark
INK = alt.ExprRef("scale('layer_0_color', 'ink')")  # as the first layer of every chart knows it


def axis(**other: Any) -> alt.Axis:
    """An axis whose words are as large and as dark as other text."""
    stated: dict[str, Any] = {"labelFontSize": TEXT, "labelColor": INK, "titleColor": INK, "ticks": False} | other
    return alt.Axis(**stated)


FINE = axis(grid=False, domain=False, labelLimit=170, labelOverlap=False, labelFlush=False, title=None)
HIDDEN = alt.Axis(labels=False, grid=False, ticks=False, domain=False, title=None)


def legend() -> alt.Legend:
    return alt.Legend(
        orient="top",
        direction="horizontal",
        title=None,
        columns=2,
        labelLimit=160,
        labelFontSize=TEXT,
        labelColor=INK,
        symbolOpacity=1,
    )


def beside(base: Any, text: str | alt.Text, **place: Any) -> Any:
    """Numbers beside or on marks, in the theme's ink."""
    ink = alt.Color("ink:N", scale=INKS, legend=None)
    return base.transform_calculate(ink="'ink'").mark_text(fontSize=TEXT, **place).encode(text=text, color=ink)


def over(*layers: Any, height: int) -> Any:
    """Layers upon each other, each with colours of its own; the first draws nothing and knows the theme's ink."""
    ink = alt.Chart(pl.DataFrame({"ink": ["ink"]})).mark_point(opacity=0, tooltip=None)
    first = ink.encode(color=alt.Color("ink:N", scale=INKS, legend=None))
    return alt.layer(first, *layers).resolve_scale(color="independent").properties(height=height)


def kinds_of(names: Sequence[str], legend: alt.Legend | None) -> alt.Color:
    return alt.Color("kind:N", scale=alt.Scale(domain=list(names)), legend=legend)


def places(row: Row) -> pl.DataFrame:
    """Where every dollar of a troop or the area is: place, kind, amount (exact), share of the whole."""
    whole = total(row)
    found = [
        {"name": name, "place": label("standing", name), "kind": kind, "amount": row[name],
         "share": float(row[name] / whole) if whole else None}
        for name, kind in PLACES
    ]  # fmt: skip
    return pl.DataFrame(found, schema_overrides={"amount": pl.Decimal(14, 2), "share": pl.Float64})


def dollars(row: Row, currency: str) -> Any:
    """Where every dollar is: a bar for each place that holds any, with its amount."""
    frame = places(row).filter(pl.col("amount") != 0)
    frame = frame.with_columns(
        pl.col("amount").cast(pl.Float64).alias("dollars"),
        pl.Series("told", [_amount(row, currency) for row in frame.to_dicts()], dtype=pl.String),
    )
    amounts = frame["dollars"].to_list()
    most, least = max([1.0, *amounts]), min([0.0, *amounts])
    base = alt.Chart(frame.drop("amount")).encode(
        y=alt.Y("place:N", sort=None, axis=FINE),
        x=alt.X("dollars:Q", axis=HIDDEN, scale=alt.Scale(domain=[least * 1.5, most * 1.55])),
        tooltip=[alt.Tooltip("place:N", title="Place"), alt.Tooltip("told:N", title="Amount"),
                 alt.Tooltip("share:Q", title="Share", format=".1%")],
    )  # fmt: skip
    bars = base.mark_bar(height=BAR - 8).encode(color=kinds_of(KINDS, legend()))
    return over(bars, beside(base, "told:N", align="left", dx=5), height=BAR * frame.height + 65)


def _amount(place: Row, currency: str) -> str:
    """A place's amount, marked where it is to look into."""
    return f"{MARK + ' ' if place['kind'] == LOOK else ''}{words.money(place['amount'], currency)}"


def dollars_by_week(rows: Sequence[Row], currency: str) -> Any:
    """Where every dollar was at each week's end: a bar a week, and beside it, marked, what is to look into."""
    found = [
        {"week": row["week_no"], "place_no": number, "place": one["place"], "kind": one["kind"],
         "dollars": float(one["amount"]), "told": words.money(one["amount"], currency)}
        for row in rows
        for number, one in enumerate(sorted(places(row).to_dicts(), key=lambda one: KINDS.index(one["kind"])))
        if one["amount"]
    ]  # fmt: skip
    schema = {"week": pl.Int64, "place_no": pl.Int64, "place": pl.String, "kind": pl.String, "dollars": pl.Float64,
              "told": pl.String}  # fmt: skip
    looked = pl.DataFrame(
        [{"week": row["week_no"], "dollars": _right_end(row), "told": look_into(row, currency)} for row in rows],
        schema={"week": pl.Int64, "dollars": pl.Float64, "told": pl.String},
    )
    frame = pl.DataFrame(found, schema=schema)
    most = max([1.0, *looked["dollars"].to_list()])
    lefts = frame.filter(pl.col("dollars") < 0).group_by("week").agg(pl.col("dollars").sum())["dollars"].to_list()
    y = alt.Y("week:O", title="Week of the season", axis=axis(grid=False, domain=False))
    x = alt.X("dollars:Q", stack="zero", axis=HIDDEN, scale=alt.Scale(domain=[min([0.0, *lefts]), most * 1.5]))
    bars = (
        alt.Chart(frame)
        .mark_bar(height=BAR - 8)
        .encode(
            y=y, x=x, order=alt.Order("place_no:Q"), color=kinds_of(KINDS, legend()),
            tooltip=[alt.Tooltip("week:O", title="Week"), alt.Tooltip("place:N", title="Place"),
                     alt.Tooltip("told:N", title="Amount")],
        )
    )  # fmt: skip
    text = beside(alt.Chart(looked).encode(y=y, x=alt.X("dollars:Q", stack=None)), "told:N", align="left", dx=5)
    return over(bars, text, height=BAR * max(len(rows), 1) + 75)


def _right_end(row: Row) -> float:
    """Where the bar of a week ends: what lies to the right of nothing."""
    return float(sum((max(row[name], Decimal(0)) for name, _kind in PLACES), Decimal(0)))


def look_into(row: Row, currency: str) -> str:
    """What is to look into in a week, marked; empty where nothing is."""
    amounts = [words.money(row[name], currency) for name, kind in PLACES if kind == LOOK and row[name]]
    return f"{MARK} {' and '.join(amounts)}" if amounts else ""


def past_due(rows: Sequence[Row], currency: str, most: int = 15) -> Any:
    """What is past due, by troop and age, the largest first; the older, the fuller the shade."""
    owing = sorted((row for row in rows if row["past_due"] > 0), key=lambda row: -row["past_due"])[:most]
    ages = [label("standing", name) for name in AGES]
    found = [
        {"troop": row["troop"], "age": age, "place": place, "dollars": float(row[name]), "kind": "Past due",
         "told": words.money(row[name], currency)}
        for row in owing
        for place, (name, age) in enumerate(zip(AGES, ages, strict=True))
        if row[name]
    ]  # fmt: skip
    schema = {"troop": pl.String, "age": pl.String, "place": pl.Int64, "dollars": pl.Float64, "kind": pl.String,
              "told": pl.String}  # fmt: skip
    sums = pl.DataFrame(
        [
            {"troop": row["troop"], "dollars": float(row["past_due"]), "told": _oldest(row, ages, currency)}
            for row in owing
        ],
        schema={"troop": pl.String, "dollars": pl.Float64, "told": pl.String},
    )
    most_dollars = max([1.0, *sums["dollars"].to_list()])
    x = alt.X("dollars:Q", axis=HIDDEN, scale=alt.Scale(domain=[0, most_dollars * 1.9]), stack="zero")
    y = alt.Y("troop:N", sort=None, axis=FINE)
    bars = (
        alt.Chart(pl.DataFrame(found, schema=schema))
        .mark_bar(height=BAR - 8)
        .encode(
            y=y, x=x, order=alt.Order("place:Q"),
            color=alt.Color("kind:N", scale=alt.Scale(domain=["", "Past due"]), legend=None),
            stroke=alt.Stroke("kind:N", scale=alt.Scale(domain=["", "Past due"]), legend=None),
            fillOpacity=alt.FillOpacity("place:O", scale=alt.Scale(domain=[0, 1, 2, 3], range=FULLER), legend=None),
            tooltip=[alt.Tooltip("troop:N", title="Troop"), alt.Tooltip("age:N", title="Age"),
                     alt.Tooltip("told:N", title="Past due")],
        )
    )  # fmt: skip
    text = beside(alt.Chart(sums).encode(y=y, x="dollars:Q"), "told:N", align="left", dx=5)
    return over(bars, text, height=BAR * max(len(owing), 1) + 10)


def _oldest(row: Row, ages: Sequence[str], currency: str) -> str:
    held = [age for name, age in zip(AGES, ages, strict=True) if row[name]]
    since = f"{held[-1][0].lower()}{held[-1][1:]}" if held else ""
    return f"{words.money(row['past_due'], currency)}, {'part ' if len(held) > 1 else ''}{since}"


def sell_through(frame: pl.DataFrame, items: Sequence[str]) -> Any:
    """Troop by item: the part of the packages available that has left the stock, as a shade and a number.

    Of many troops those that have the most on hand.
    """
    known = frame.filter(pl.col("sell_through").is_not_null())
    have = known.group_by("troop").agg(pl.col("on_hand_or_expected").sum()).sort(
        "on_hand_or_expected", "troop", descending=[True, False]
    )  # fmt: skip
    shares = known.filter(pl.col("troop").is_in(have["troop"].head(MOST_TROOPS).implode())).select(
        "troop", "item", "sell_through", "available", "sold_from_stock", "on_hand_or_expected",
        (pl.col("sell_through") * 100).round(0).cast(pl.Int64).alias("shown"),
    )  # fmt: skip
    base = alt.Chart(shares).encode(
        y=alt.Y("troop:N", axis=FINE, scale=alt.Scale(paddingInner=0.06)),
        x=alt.X(
            "item:N",
            sort=list(items),
            scale=alt.Scale(paddingInner=0.03),
            axis=axis(orient="top", labelAngle=0, domain=False, title=None),
        ),
    )
    cells = base.mark_rect().encode(
        color=alt.Color("sell_through:Q", scale=alt.Scale(domain=[0, 1], clamp=True), legend=None),
        tooltip=[
            alt.Tooltip("troop:N", title="Troop"),
            alt.Tooltip("item:N", title="Item"),
            alt.Tooltip("sell_through:Q", title="Sell-through", format=".0%"),
            alt.Tooltip("sold_from_stock:Q", title="Sold from stock", format=","),
            alt.Tooltip("available:Q", title="Available", format=","),
            alt.Tooltip("on_hand_or_expected:Q", title="On hand", format=","),
        ],
    )
    return over(cells, beside(base, "shown:Q"), height=24 * shares["troop"].n_unique() + 24)


def lowest(rows: Sequence[Row]) -> list[Row]:
    """The troops whose share taking part is drawn, the lowest first."""
    known = (row for row in rows if row["share"] is not None)
    return sorted(known, key=lambda row: (row["share"], row["troop"]))[:MOST_TROOPS]


def shares(rows: Sequence[Row], area: float | None) -> Any:
    """Each troop's share taking part with its limits, the area's ratio as a line; the lowest share first."""
    known = lowest(rows)
    found = [
        {"troop": row["troop"], "share": row["share"], "low": row["share_low"], "high": row["share_high"],
         "kind": "Troop", "told": words.of(row["registered_taking_part"], row["registered"], row["share"])}
        for row in known
    ]  # fmt: skip
    schema = {"troop": pl.String, "share": pl.Float64, "low": pl.Float64, "high": pl.Float64, "kind": pl.String,
              "told": pl.String}  # fmt: skip
    kinds = kinds_of(["Troop", "Area"], None)
    percents = axis(format=".0%", tickCount=5, title=None, grid=False)
    base = alt.Chart(pl.DataFrame(found, schema=schema)).encode(
        y=alt.Y("troop:N", sort=None, axis=FINE),
        tooltip=[
            alt.Tooltip("troop:N", title="Troop"),
            alt.Tooltip("told:N", title="Taking part"),
            alt.Tooltip("low:Q", title="Lower limit", format=".0%"),
            alt.Tooltip("high:Q", title="Upper limit", format=".0%"),
        ],
    )
    scale = alt.Scale(domain=[0, 1])
    limits = base.mark_rule(strokeWidth=2, opacity=0.8).encode(
        x=alt.X("low:Q", scale=scale, axis=percents), x2="high:Q", color=kinds
    )
    dots = base.mark_point(filled=True, size=80, opacity=1).encode(
        x=alt.X("share:Q", scale=scale), color=kinds_of(["Troop", "Area"], legend())
    )
    whole = pl.DataFrame(
        {"area": [area], "kind": ["Area"]}, schema={"area": pl.Float64, "kind": pl.String}
    ).drop_nulls()
    line = (
        alt.Chart(whole)
        .mark_rule(strokeDash=[5, 4], strokeWidth=2)
        .encode(x="area:Q", color=kinds, tooltip=[alt.Tooltip("area:Q", title="Area", format=".0%")])
    )
    return over(line, limits, dots, height=21 * max(len(known), 1) + 60)


def path(row: Row) -> Any:
    """From registered to goal met: how many have come how far."""
    whole = row["step_registered"]
    found = [
        {"step": label("area", f"step_{step}"), "people": row[f"step_{step}"],
         "told": words.of(row[f"step_{step}"], whole, row[f"step_{step}"] / whole if whole else None)}
        for step in STEPS
    ]  # fmt: skip
    base = alt.Chart(pl.DataFrame(found)).encode(
        y=alt.Y("step:N", sort=None, axis=FINE),
        x=alt.X("people:Q", axis=HIDDEN, scale=alt.Scale(domain=[0, max(whole, 1) * 1.6])),
        tooltip=[alt.Tooltip("step:N", title="Step"), alt.Tooltip("told:N", title="Participants")],
    )
    return over(base.mark_bar(height=BAR - 8), beside(base, "told:N", align="left", dx=5), height=BAR * len(STEPS) + 10)


def pace(rows: Sequence[Row], as_of: Any) -> Any:
    """Packages sold up to each week, this season's line up to the week chosen beside last season's."""
    seasons = ["This season", "Last season"]
    found = [
        {"week": row["week_no"], "kind": kind, "packages": row[name]}
        for kind, name in zip(seasons, ("packages_sold", "last_season"), strict=True)
        for row in rows
        if row[name] is not None and (kind == seasons[1] or row["as_of"] <= as_of)
    ]
    schema = {"week": pl.Int64, "kind": pl.String, "packages": pl.Int64}
    frame = pl.DataFrame(found, schema=schema)
    x = alt.X("week:O", title="Week of the season", axis=axis(labelAngle=0))
    y = alt.Y("packages:Q", title=None, axis=axis(format="~s", tickCount=5))
    base = alt.Chart(frame).encode(
        x=x,
        y=y,
        color=kinds_of(seasons, None),
        tooltip=[
            alt.Tooltip("kind:N", title="Season"),
            alt.Tooltip("week:O", title="Week"),
            alt.Tooltip("packages:Q", title="Packages sold so far", format=","),
        ],
    )
    lines = base.mark_line(strokeWidth=3).encode(
        strokeDash=alt.StrokeDash("kind:N", scale=alt.Scale(domain=seasons, range=[[1, 0], [6, 4]]), legend=None)
    )
    ends = frame.group_by("kind", maintain_order=True).last()
    named = beside(alt.Chart(ends).encode(x=x, y=y), "kind:N", align="right", dx=-6, dy=-12, fontWeight=600)
    return over(lines, base.mark_point(filled=True, size=45), named, height=240)


def weekly(rows: Sequence[Row]) -> Any:
    """A troop's packages sold in each week: what was added since the week before; a week not sent is a gap."""
    found, sold = [], 0
    for row in rows:
        found.append({"week": row["week_no"], "packages": row["packages_sold"] - sold if row["submitted"] else None})
        sold = row["packages_sold"]
    base = alt.Chart(pl.DataFrame(found, schema={"week": pl.Int64, "packages": pl.Int64})).encode(
        x=alt.X("week:O", title="Week of the season", axis=axis(labelAngle=0)),
        y=alt.Y("packages:Q", axis=HIDDEN),
        tooltip=[alt.Tooltip("week:O", title="Week"), alt.Tooltip("packages:Q", title="Packages sold", format=",")],
    )
    return over(base.mark_bar(), beside(base, alt.Text("packages:Q", format=","), dy=-8), height=200)


def total(row: Row) -> Decimal:
    """The value of all packages, and gifts: of it every dollar has a place."""
    return Decimal(row["available_value"] + row["remote_value"] + row["gifts"])
