"""Mappings piece by piece: how days and numbers may be written, and that whatever is written elsewhere comes back."""

import random
import time
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trial import SEASON

from pipelines.definitions.columns import Column, Table
from pipelines.definitions.contract import TABLES
from pipelines.definitions.records import Sheet
from pipelines.definitions.season import read_season
from pipelines.intake.elsewhere.headers import Head, heads, key, labels_of, stacked
from pipelines.intake.elsewhere.mapping import Feed, Mapping, Mappings, checked
from pipelines.intake.elsewhere.proposal import Hints, propose
from pipelines.intake.elsewhere.read_through import Given, take_mapped
from pipelines.intake.elsewhere.reading_shown import look
from pipelines.intake.elsewhere.rewriting import Refusal, parted
from pipelines.intake.elsewhere.rows_apart import is_passed
from pipelines.intake.elsewhere.ways_of_writing import Order, Sign, day_in, days_readings, number_in, numbers_readings
from pipelines.intake.judging.checks import judge_raw
from pipelines.intake.judging.judge import Known
from pipelines.intake.judging.tables import recognised, take_table

THE_SEASON = read_season(SEASON)
TROOPS = ("0417", "0031", "1282")
HINTS = Hints(THE_SEASON, frozenset(TROOPS), frozenset({"0417-01", "0031-01"}))


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2027-02-14", None, "2027-02-14"),
        ("2027/2/14", None, "2027-02-14"),
        ("20270214", None, "2027-02-14"),
        ("14 Feb 2027", None, "2027-02-14"),
        ("Feb 14, 2027", None, "2027-02-14"),
        ("Sunday, 14th February 2027", None, "2027-02-14"),
        ("2027-02-14T18:30:00Z", None, "2027-02-14"),
        ("14-Feb-27", None, None),  # may be the 27th of 2014
        ("14-Feb-27", "day-first", "2027-02-14"),
        ("03/04/2027", None, None),
        ("03/04/2027", "day-first", "2027-04-03"),
        ("03/04/2027 6:30 pm", "month-first", "2027-03-04"),
        ("3.4.27", "day-first", "2027-04-03"),
        ("27/02/14", "year-first", "2027-02-14"),
        ("14/02/2027", "month-first", None),
        ("02/14/2027", "day-first", None),
        ("31/02/2027", "day-first", None),
        ("46432", "serial", "2027-02-14"),
        ("46432", None, None),
        ("12", "day-first", None),
        ("", "day-first", None),
    ],
)
def test_days_as_they_are_written(text: str, order: Order | None, day: str | None) -> None:
    found = day_in(text, order)
    assert (found.isoformat() if found else None) == day


@pytest.mark.parametrize(
    ("text", "sign", "number"),
    [
        ("1.234,50", "comma", "1234.5"),
        ("1 234,50", "comma", "1234.5"),
        ("1\u202f234,50 €", "comma", "1234.5"),
        ("-€ 1.234,5", "comma", "-1234.5"),
        ("(12,50)", "comma", "-12.5"),
        ("12,50-", "comma", "-12.5"),
        ("1.234.567", "comma", "1234567"),
        ("12.50", "comma", None),
        ("1,234.50", "comma", None),
        ("1,234.50", "point", "1234.5"),
        ("1'234.50", "point", "1234.5"),
        ("1.234,50", "point", None),
        ("1.000", "point", "1"),
        ("1.000", "comma", "1000"),
        ("1,23,456", "point", None),
        ("--5", "point", None),
        ("12 apples", "point", None),
        ("5²", "point", None),
        ("\uff11\uff12", "point", "12"),
    ],
)
def test_numbers_as_they_are_written(text: str, sign: Sign, number: str | None) -> None:
    assert number_in(text, sign) == number


@pytest.mark.parametrize(
    ("texts", "decided", "is_asked"),
    [
        (["14/02/2027", "03/04/2027"], "day-first", False),
        (["02/14/2027", "03/04/2027"], "month-first", False),
        (["03/04/2027", "05/06/2027"], None, True),
        (["05/05/2027"], None, True),  # one day either way here, but not in the next file
        (["14/02/2027", "02/14/2027"], None, True),
        (["2027-02-14"], None, False),
        (["46432"], "serial", False),  # from 1904 on it would lie years after the season
    ],
)
def test_a_column_of_days_decides_or_is_asked_about(texts: list[str], decided: str | None, is_asked: bool) -> None:
    found = days_readings([(text, 1) for text in texts], THE_SEASON.first_dated, THE_SEASON.last_dated)
    assert (found.decided, found.is_asked) == (decided, is_asked)


@pytest.mark.parametrize(
    ("texts", "places", "decided", "is_asked"),
    [
        (["12,50", "1.000"], 2, "comma", False),
        (["12.50", "1.000"], 2, "point", False),
        (["1.000"], 2, None, True),
        (["1,000", "12"], 0, None, True),
        (["1,234"], 2, None, True),  # thousands, or three decimals: likely is not sure
        (["12.505"], 2, None, True),
        (["100.000"], 2, None, True),
        (["40,000"], 0, None, True),
        (["12.505", "1.50"], 2, "point", False),
        (["0.125"], 4, "point", False),  # nobody groups by thousands from nought on
        (["12", "7"], 2, None, False),
        (["12,5", "12.5"], 2, None, True),
    ],
)
def test_a_column_of_numbers_decides_or_is_asked_about(
    texts: list[str], places: int, decided: str | None, is_asked: bool
) -> None:
    found = numbers_readings([(text, 1) for text in texts], places)
    assert (found.decided, found.is_asked) == (decided, is_asked)


@pytest.mark.parametrize(
    ("cell", "feed", "part"),
    [
        ("0417 / Maple", {"split": " / "}, "0417"),
        ("0417 / Maple", {"split": "/", "part": -1}, "Maple"),
        ("0417-07 Ann", {"split": " "}, "0417-07"),
        ("Troop 0417 (Maple)", {"form": "Troop {} (*)"}, "0417"),
        ("0417-07 Ann", {"form": "{}-*"}, "0417"),
        ("GLA - a.b (c)", {"form": "{} - *"}, "GLA"),
        ("0417", {"split": "/", "part": 2}, None),
        ("Maple", {"form": "Troop {}"}, None),
        ("a" * 3000, {"form": "{} / *"}, None),
    ],
)
def test_a_cell_that_holds_two_things(cell: str, feed: dict[str, Any], part: str | None) -> None:
    found = parted(cell, Feed.model_validate({"header": "x", **feed}))
    assert found == part if part is not None else isinstance(found, Refusal)


def test_a_form_takes_no_time_whatever_it_meets() -> None:
    """Three stars over a text made to be slow."""
    feed = Feed.model_validate({"header": "x", "form": "*a*a*a{}b"})
    started = time.process_time()
    parted("a" * 1999, feed)
    assert time.process_time() - started < 5


def test_headers_have_labels_of_their_own() -> None:
    assert labels_of(["Qty", "qty", None, "Qty (2)", " On\nhand "]) == (
        "Qty",
        "qty (3)",
        "(column C)",
        "Qty (2)",
        "On hand",
    )
    assert stacked(["Troop", "Packages", None, "Money"], [None, "GLA", "HRB", "Cash"]) == [
        "Troop",
        "Packages GLA",
        "Packages HRB",
        "Money Cash",
    ]
    assert key(("A", "B")) == key(("b", "a"))
    assert key(("A", "A (2)")) != key(("A (2)", "A"))


@pytest.mark.parametrize(
    ("cell", "is_one"),
    [("Total", True), ("TOTAL ", True), ("Printed 3 March", True), ("Totally", False), (12, False), (None, False)],
)
def test_rows_to_pass_over(cell: object, is_one: bool) -> None:
    assert is_passed(cell, ("Total", "Printed*")) is is_one


# What is written elsewhere comes back: a random table of the contract, other headers, values written otherwise.

WRITES: dict[str, dict[str, str]] = {
    "dates": {"day-first": "%d.%m.%Y", "month-first": "%m/%d/%Y"},
}  # fmt: skip


def _value(column: Column, chance: random.Random) -> object:  # noqa: PLR0911, PLR0912 - one line a kind
    """A good value of a column, as the contract writes it."""
    if not column.filled and chance.random() < 0.3:
        return None
    match column.kind:
        case "troop" | "other_troop":
            return chance.choice(TROOPS)
        case "participant":
            return f"{chance.choice(TROOPS)}-{chance.randint(1, 30):02}"
        case "participants":
            return " ".join(f"0417-{n:02}" for n in range(chance.randint(1, 4)))
        case "item" | "stocked_item":
            return chance.choice(["GLA", "HRB"])
        case "packages" | "count" | "packages_back":
            return str(chance.choice([0, 7, 12, 1000, 12345]))
        case "money" | "money_noted" | "money_signed":
            return str(Decimal(chance.randint(0, 10_000_000)) / 100)
        case "rate":
            return str(Decimal(chance.randint(0, 9999)) / 10000)
        case "date":
            return (date(2027, 2, 8) + timedelta(days=chance.randint(0, 60))).isoformat()
        case "week_ending":
            return (date(2027, 2, 14) + timedelta(weeks=chance.randint(0, 5))).isoformat()
        case "time":
            return "09:30"
        case "yes_no":
            return chance.choice(["yes", "no"])
        case "choice":
            return chance.choice(column.choices)
        case _:
            return chance.choice(["a note", "Ärger, 5", "x"])


def _grouped(number: str, sign: str) -> str:
    whole, _point, rest = number.partition(".")
    thousands, mark = (",", ".") if sign == "point" else (".", ",")
    shown = f"{int(whole):,}".replace(",", thousands)
    return f"{shown}{mark}{rest}" if rest else shown


def _elsewhere(value: object, column: Column, order: str, sign: str, words: dict[str, str]) -> object:
    if value is None:
        return None
    if column.kind in ("date", "week_ending"):
        return date.fromisoformat(str(value)).strftime(WRITES["dates"][order])
    if column.kind in ("packages", "count", "packages_back", "money", "money_noted", "money_signed", "rate"):
        return _grouped(str(value), sign)
    if column.kind in ("choice", "item", "stocked_item", "yes_no"):
        return words.setdefault(str(value), f"Word {len(words)}")
    return f"{value} / more" if column.kind == "troop" else value


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), name=st.sampled_from(sorted(TABLES)), is_arrow=st.booleans())
def test_whatever_is_written_elsewhere_comes_back_through_its_mapping(seed: int, name: str, is_arrow: bool) -> None:
    chance = random.Random(seed)  # noqa: S311 - no secret
    table: Table = TABLES[name]
    columns = [one for one in table.columns if one.required or chance.random() < 0.7]
    rows = [[_value(one, chance) for one in columns] for _ in range(chance.randint(1, 12))]
    order, sign = chance.choice(["day-first", "month-first"]), chance.choice(["point", "comma"])
    words: dict[str, dict[str, str]] = {one.name: {} for one in columns}
    other = [[_elsewhere(v, c, order, sign, words[c.name]) for v, c in zip(row, columns, strict=True)] for row in rows]
    places = list(range(len(columns)))
    chance.shuffle(places)
    headers = [f"H{seed % 97} {columns[place].name[::-1]}" for place in places]
    title = [["Made elsewhere"]] * chance.randint(0, 3)
    sheet = _sheet([*title, headers, *([row[place] for place in places] for row in other)], is_arrow=is_arrow)
    stated = {
        "table": name, "headers": headers, "dates": order, "decimals": sign,
        "columns": {
            columns[place].name: {"header": header} | ({"split": " / "} if columns[place].kind == "troop" else {})
            for place, header in zip(places, headers, strict=True)
        },
        "values": {column: {word: value for value, word in found.items()} for column, found in words.items() if found},
    }  # fmt: skip
    mapping = checked(stated, "x")
    held = Mappings({"x": mapping})
    ((head, _names),) = held.for_sheet(sheet, "")
    mapped, _told = take_mapped(Given("x", mapping, THE_SEASON, 1), sheet, head)
    own = _sheet([[one.name for one in columns], *rows], is_arrow=False)
    headed = recognised(own)
    assert headed is not None
    raw, _told = take_table(1, own, headed)
    if raw.table is not table:
        return  # a table with so few columns that its headers tell another one too
    known = Known(THE_SEASON, frozenset(TROOPS))
    ours, theirs = judge_raw(raw, known).rows, judge_raw(mapped, known).rows
    names = [*table.names, "is_bad"]
    assert theirs.select(names).to_pylist() == ours.select(names).to_pylist()


def _sheet(rows: list[list[Any]], *, is_arrow: bool) -> Sheet:
    if not is_arrow:
        return Sheet("S", rows=rows)
    width = max(map(len, rows))
    padded = [[*("" if cell is None else cell for cell in row), *[""] * (width - len(row))] for row in rows]
    return Sheet("", table=pa.table({f"c{k}": pa.array([row[k] for row in padded]) for k in range(width)}))


# Hostile headers: nothing is slow, nothing breaks.

HOSTILE: dict[str, list[object]] = {
    "10,000 columns": [f"Column {k}" for k in range(10_000)],
    "10,000 times one header": ["Qty"] * 10_000,
    "200 characters": ["Unit number " * 17, "x" * 200, "Quantity " + "y" * 190],
    "markup": ["<script>alert(1)</script>", "=cmd|' /C calc'!A0", "**bold** [a](b)", "{{}}"],
    "blanks": [None, "Unit", None, None, "Quantity"],
    "numbers": [1, 2.5, True, date(2027, 2, 14)],
    "other scripts": ["部隊", "数量", "تاريخ", "\u202eevil\u202c"],
    "zero width": ["\u200b", "\ufeff", "\u2060Unit"],
    "one": ["a"],
}


@pytest.mark.parametrize("header", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_headers_are_proposed_quickly_or_not_at_all(header: list[object]) -> None:
    rows = [header, *([f"0417 {k}" for k in range(len(header))] for _ in range(20))]
    sheet = Sheet("S", rows=rows)
    started = time.process_time()
    found = propose([sheet], HINTS)
    if found:
        one = checked({**found.stated, "headers": list(found.head.labels), "header_rows": found.head.lines}, "x")
        look(sheet, found.head, one, HINTS)
        assert Mappings({"x": one}).for_sheet(sheet, "")
    assert time.process_time() - started < 5


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.lists(
            st.one_of(
                st.none(), st.text(max_size=12), st.integers(-99, 99), st.floats(), st.booleans(), st.dates(),
                st.sampled_from(["0417", "GLA", "14/02/2027", "1.000", "Total", "Unit", "Qty", "Status", "Order no"]),
            ),
            max_size=7,
        ),
        min_size=1, max_size=8,
    )
)  # fmt: skip
def test_any_cells_at_all_are_proposed_and_looked_at_without_an_error(rows: list[list[object]]) -> None:
    sheet = Sheet("S", rows=rows)
    found = propose([sheet], HINTS)
    if found is None:
        return
    one = checked({**found.stated, "headers": list(found.head.labels), "header_rows": found.head.lines}, "x")
    look(sheet, found.head, one, HINTS)


def test_a_mapping_is_found_among_many_without_reading_the_rows() -> None:
    """The header's key is looked up; a sheet of other headers costs its first twenty rows."""
    named = {f"{k}.toml": _small(f"Doc {k}") for k in range(300)}
    held = Mappings(named)
    rows = [["Doc 299", "U", "I", "D", "Q", "K"], *[["D1", "0417", "GLA", "2027-02-14", 1, "depot"]] * 1000]
    ((head, names),) = held.for_sheet(Sheet("S", rows=rows), "")
    assert (head.row, names) == (0, ["299.toml"])
    assert held.for_sheet(Sheet("S", rows=[["Doc 3000", "U"]]), "") == []


def _small(document: str) -> Mapping:
    labels = [document, "U", "I", "D", "Q", "K"]
    columns = dict(zip(("document", "troop", "item", "date", "packages", "kind"), labels, strict=True))
    return checked({"table": "supply", "headers": labels, "columns": columns}, "x")


def test_a_header_outside_the_rows_is_one_too() -> None:
    table = pa.table({"Doc 1": ["D1"], "U": ["0417"], "I": ["GLA"], "D": [date(2027, 2, 14)], "Q": [2], "K": ["depot"]})
    sheet = Sheet("", table=table, has_names=True)
    assert list(heads(sheet, 1)) == [Head(-1, 1, ("Doc 1", "U", "I", "D", "Q", "K"))]
    one = Mappings({"x": _small("Doc 1")})
    ((head, _names),) = one.for_sheet(sheet, "")
    raw, _told = take_mapped(Given("x", one.named["x"], THE_SEASON, 1), sheet, head)
    staged = judge_raw(raw, Known(THE_SEASON, frozenset(TROOPS)))
    assert (staged.findings, staged.rows.column("packages").to_pylist()) == ([], [2])
