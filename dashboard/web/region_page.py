"""The page of a part of a region: its sums, the levels within it, what to follow up. Plain HTML, no script.

Comes in: a RolledUp with nothing in it that the reader may not see, and a part of it. Goes out: an Answer.
"""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from urllib.parse import urlencode

from dashboard.data.answer import Answer
from dashboard.parts import explained, words
from dashboard.web import sign_in_pages
from pipelines.definitions.measures import measure
from pipelines.region.adding import Row
from pipelines.region.rolled_up import RolledUp, stated
from pipelines.region.sources import Levels
from pipelines.region.workbook import CAUTIONS

STYLE = "/static/region.css"
FIGURES = (
    "packages_sold", "goal_share", "sell_through", "owed", "remitted", "past_due", "troops_past_due", "families_owe",
    "not_banked", "missing", "average_per_active", "median_per_active",
)  # fmt: skip
OF_LEVELS = ("packages_sold", "sell_through", "owed", "remitted", "past_due", "troops_past_due")
OF_ITEMS = (
    "available", "packages_sold", "sold_from_stock", "remote", "on_hand_or_expected", "missing", "sell_through",
    "weeks_of_supply",
)  # fmt: skip
NOTES = {"median_per_active": "half have at least as many"}
COMPARED = {"share": "share", "average": "average_per_active"}  # what is compared, and the measure that it is
FETCHED = {
    "region": "Sums", "items": "Items", "orders": "Orders", "exceptions": "To follow up",
    "compared": "Beside the others", "left_out": "Left out",
}  # fmt: skip
MOST_ROWS = 250
TO_ANSWER = ("by_hand", "waiting")
Cell = tuple[str, bool]  # HTML, and whether it is a figure


def name_of(part: Levels) -> str:
    """A part as a person says it: Council north."""
    return f"{_title(part[-1][0])} {part[-1][1]}" if part else "The region"


def page(region: RolledUp, own: Levels, part: Levels) -> Answer:
    """The page of a part; `own`: what the reader was given, above which no way leads."""
    sums = region.rows("region", part)[0]
    body = "".join((
        _crumbs(own, part), _lead(region, part, sums), _figures(region, sums), _levels(region, part),
        _items(region, part), _orders(region, part), _exceptions(region, part), _compared(region, part),
        _older(region, part), _left_out(region, part), _to_fetch(region, part), _notes(),
    ))  # fmt: skip
    return sign_in_pages.page(name_of(part), body, style=STYLE)


def address(part: Levels, what: str = "") -> str:
    """Where a part is looked at, or a table of it fetched."""
    return f"/{f'fetch/{what}.csv' if what else ''}?{urlencode({'part': stated(part)})}"


def _crumbs(own: Levels, part: Levels) -> str:
    ways = [
        f'<a href="{escape(address(part[:depth]))}">{escape(name_of(part[:depth]))}</a>'
        for depth in range(len(own), len(part))
    ]
    return (
        f'<nav aria-label="Where you are">{" ".join(f"{way} ·" for way in ways)}<a href="/sign-out">Sign out</a></nav>'
    )


def _lead(region: RolledUp, part: Levels, sums: Row) -> str:
    sent = words.of(sums["troops_submitted"], sums["troops"])
    due = words.money(sums["past_due"], region.currency)
    out = words.of(sums["registered_taking_part"], sums["registered"], sums["share"])
    many = len(region.areas(part))
    of = f", {words.plural(many, 'area')}" if many > 1 else ""
    when = f"{region.title}, week {region.week}, as of {words.full_day(sums['as_of'])}{of}"
    return (
        f"<p>{escape(when)}. Sums of what areas handed up; nothing can be changed here.</p>"
        f'<p class="lead"><b>{sent}</b> '
        f"submissions in; <b>{words.number(sums['packages_sold'])}</b> packages sold; <b>{escape(due)}</b> past due; "
        f"<b>{out}</b> registered participants take part.</p>"
    )


def _figures(region: RolledUp, sums: Row) -> str:
    told = "".join(
        f"<div><dt>{escape(measure('area', name).label)}</dt>"
        f"<dd>{escape(explained.of_measure(measure('area', name), sums[name], region.currency))}"
        f"{f' <small>{NOTES[name]}</small>' if name in NOTES else ''}</dd></div>"
        for name in FIGURES
    )
    return f'<dl class="figures">{told}</dl>'


def _levels(region: RolledUp, part: Levels) -> str:
    made = []
    sums = dict(region.placed("region", part))
    for place, parts in enumerate(region.inner(part)):
        for level in sorted({one[-1][0] for one in parts}):
            listed = [one for one in parts if one[-1][0] == level]
            title = f"By {level.replace('_', ' ')}"
            if place == 0:
                made.append(f"<h2>{escape(title)}</h2>{_of_level(region, title, listed, sums)}")
            elif len(listed) <= MOST_ROWS:
                made.append(_folded(title, _of_level(region, title, listed, sums)))
    return "".join(made)


def _of_level(region: RolledUp, title: str, parts: Sequence[Levels], of: Mapping[Levels, Row]) -> str:
    rows = []
    for one in parts:
        sums = of[one]
        older = f"<br><small>as of {words.day(sums['as_of'])}</small>" if sums["as_of"] < region.as_of else ""
        above = f"<small>{escape(one[-2][1])}</small> " if len({each[:-1] for each in parts}) > 1 and one[:-1] else ""
        name = f'{above}<a href="{escape(address(one))}">{escape(one[-1][1])}</a>{older}'
        rows.append([
            (name, False), (words.of(sums["troops_submitted"], sums["troops"]), True),
            *_measured(region, "area", OF_LEVELS, sums),
            (words.of(sums["registered_taking_part"], sums["registered"], sums["share"]), True),
        ])  # fmt: skip
    heads = [parts[0][-1][0], "troops_submitted", *OF_LEVELS, "share"]
    return _table(title, [_title(heads[0]), *(measure("area", name).label for name in heads[1:])], rows)


def _items(region: RolledUp, part: Levels) -> str:
    rows = [
        [(escape(row["title"]), False), *_measured(region, "item_totals", OF_ITEMS, row)]
        for row in region.rows("items", part)
    ]
    heads = ["Item", *(measure("item_totals", name).label for name in OF_ITEMS)]
    return f"<h2>Items</h2>{_table('Items', heads, rows, 'No packages have been supplied yet.')}"


def _orders(region: RolledUp, part: Levels) -> str:
    found = region.rows("orders", part)
    waiting = sum(row["orders"] for row in found if (row["mode"], row["state"]) == TO_ANSWER)
    rows = [
        [(escape(_title(row["mode"])), False), (escape(row["state"].replace("_", " ")), False),
         (words.number(row["orders"]), True), (words.number(row["packages"]), True),
         (escape(words.money(row["goods_amount"], region.currency)), True)]
        for row in found
    ]  # fmt: skip
    told = f"<p><b>{words.plural(waiting, 'order')}</b> to answer.</p>" if waiting else "<p>No order waits.</p>"
    heads = ("How it is delivered", "Where it stands", "Orders", "Packages", "Amount")
    return f"<h2>Online orders</h2>{told}{_table('Online orders', heads, rows, 'No online order is known yet.')}"


def _exceptions(region: RolledUp, part: Levels) -> str:
    rows = [
        [(escape(row["label"]), False), (words.number(row["found"]), True), (words.number(row["troops"]), True),
         (escape(words.money(row["at_stake"], region.currency)) if row["at_stake"] else "", True)]
        for row in sorted(
            region.rows("exceptions", part), key=lambda row: (-(row["at_stake"] or 0), -row["found"], row["label"])
        )
    ]  # fmt: skip
    table = _table("To follow up", ("About", "Found", "Troops", "At stake"), rows, "Nothing waits to be followed up.")
    return f"<h2>To follow up</h2>{table}"


def _compared(region: RolledUp, part: Levels) -> str:
    """Each beside the others of its level: what chance and size explain, and who lies outside."""
    found = region.placed("compared", part)
    if not found:
        few = "Nobody is compared here: from five of a level on, where the others are several, it says something."
        return f"<h2>Beside the others</h2><p>{few}</p>"
    ordered = sorted(found, key=lambda one: not (one[1]["is_low"] or one[1]["is_high"]))
    rows = []
    for of, row in ordered[:MOST_ROWS]:
        meant = measure("area", COMPARED[row["measure"]])
        own, others, low, high = (
            escape(explained.of_measure(meant, row[name])) for name in ("value", "expected", "low_95", "high_95")
        )
        said = "lower" if row["is_low"] else "higher" if row["is_high"] else "as the others"
        rows.append([
            (escape(name_of(of)), False), (escape(meant.label), False), (own, True), (others, True),
            (f"{low} to {high}", True), (said, False),
        ])  # fmt: skip
    out = sum(row["is_low"] or row["is_high"] for _of, row in found)
    lies = f"{words.number(out)} of them {'lies' if out == 1 else 'lie'} outside" if out else "all of them lie within"
    told = f"{words.plural(len(found), 'figure')} compared; {lies}"
    heads = ("Of", "Measure", "Own", "The others", "Chance and size explain", "Lies")
    title = "Each of them" if len(found) <= MOST_ROWS else f"{MOST_ROWS} of them; all are in the file below"
    table = _folded(title, _table("Beside the others", heads, rows))
    return f"<h2>Beside the others</h2><p>{told} what chance and size explain.</p>{table}"


def _older(region: RolledUp, part: Levels) -> str:
    older = [(of, row) for of, row in region.placed("region", part) if row["as_of"] < region.as_of]
    told = "".join(f"<li>{escape(name_of(of))}: as of {words.full_day(row['as_of'])}</li>" for of, row in older)
    return f"<h2>Older than the rest</h2><p>In the sums as they were then.</p><ul>{told}</ul>" if older else ""


def _left_out(region: RolledUp, part: Levels) -> str:
    if part or not region.left_out:
        return ""
    rows = [[(escape(row["folder"]), False), (escape(row["reason"]), False)] for row in region.left_out]
    return f"<h2>Left out</h2>{_table('Left out', ('Folder', 'Reason'), rows)}"


def _to_fetch(region: RolledUp, part: Levels) -> str:
    ways = "".join(
        f'<a href="{escape(address(part, name))}" download>{title}</a> '
        for name, title in FETCHED.items()
        if name != "left_out" or (region.left_out and not part)
    )
    return f'<h2>To take along</h2><p class="ways">As CSV, this part and the levels in it: {ways}</p>'


def _notes() -> str:
    told = "".join(
        f"<dt>{escape(one.label)}</dt><dd>{escape(one.meaning)}"
        f"{f' Divided by: {escape(one.divides_by)}.' if one.divides_by else ''}</dd>"
        for one in {
            one.label: one
            for one in (
                *(measure("area", name) for name in ("troops_submitted", *FIGURES, *OF_LEVELS, "share")),
                *(measure("item_totals", name) for name in OF_ITEMS),
            )
        }.values()
    )
    cautions = "".join(f"<p>{escape(line)}</p>" for line in CAUTIONS)
    return f"{_folded('What each figure means', f'<dl>{told}</dl>')}<footer>{cautions}</footer>"


def _measured(region: RolledUp, relation: str, names: Iterable[str], row: Row) -> list[Cell]:
    """A row's figures; one that is not known is left empty, as in the tables of the screens."""
    told = [(measure(relation, name), row[name]) for name in names]
    return [
        ("" if value is None else escape(explained.of_measure(meant, value, region.currency)), True)
        for meant, value in told
    ]


def _title(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _folded(title: str, body: str) -> str:
    return f"<details><summary>{escape(title)}</summary>{body}</details>"


def _table(title: str, heads: Sequence[str], rows: Sequence[Sequence[Cell]], empty: str = "") -> str:
    """A table that scrolls within itself where the window is narrow; a sentence in place of one without rows."""
    if not rows:
        return f"<p>{escape(empty)}</p>"
    figures = [is_figure for _html, is_figure in rows[0]]
    head = "".join(
        f'<th scope="col"{_figure(is_figure)}>{escape(one)}</th>' for one, is_figure in zip(heads, figures, strict=True)
    )
    body = "".join(
        f'<tr><th scope="row">{row[0][0]}</th>'
        + "".join(f"<td{_figure(is_figure)}>{html}</td>" for html, is_figure in row[1:])
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="table" role="region" aria-label="{escape(title)}" tabindex="0"><table><thead><tr>{head}</tr>'
        f"</thead><tbody>{body}</tbody></table></div>"
    )


def _figure(is_figure: bool) -> str:
    return ' class="figure"' if is_figure else ""
