"""Slots, moves agreed and deliveries of random calendars: exactly the exceptions that plain loops name.

MUSTERBOOK_CALENDARS: how many calendars (1 unless said).
"""

import os
import random
from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from plain_stalls import PlainStalls
from season_files import write_csvs
from trial import FEEDS, W1, W2, W3, Trial, accepted

from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up import decisions
from pipelines.follow_up.taken_up import agreed, came

CALENDARS = range(int(os.environ.get("MUSTERBOOK_CALENDARS", "1")))
RULES = {
    "slot_twice", "slot_without_permission", "slot_given_back_late", "slot_nothing_reported", "stall_without_slot",
    "move_agreed", "delivery_differs",
}  # fmt: skip
TROOPS, WEEKS, FIRST = ("0031", "0417", "1282"), (W1, W2, W3), date(2027, 2, 8)
Row = dict[str, Any]


def calendar(dice: random.Random) -> dict[str, list[Row]]:
    """Places, slots with their states, stalls reported here and there, moves, opening orders."""
    tables: dict[str, list[Row]] = {"slots": [], "stalls": [], "stock": [], "moves": []}
    tables["places"] = [
        {"place": code, "title": title, "town": None, "from_on": dice.choice([None, date(2027, 2, 12)]),
         "until_on": dice.choice([None, date(2027, 2, 22)]), "prime": "no"}
        for code, title in (("MILL", "Old mill"), ("GATE", "Garden gate"), ("DOCK", "The dock"))
    ]  # fmt: skip
    for number in range(40):
        hour = dice.choice((9, 10))
        on_day = FIRST + timedelta(dice.choice((2, 5, 9, 12, 13, 16, 19, 20)))
        frame = {"slot": f"S{number:02}", "place": dice.choice(("MILL", "GATE", "DOCK")),
                 "date": on_day, "start": f"{hour:02}:00", "end": f"{hour + 2:02}:00"}  # fmt: skip
        has, on = dice.choice(TROOPS), FIRST - timedelta(7)
        tables["slots"].append(frame | {"troop": None, "state": "open", "state_on": on})
        for state in ("given", "given_back", "not_held"):
            if dice.random() < (0.8 if state == "given" else 0.3):
                on = max(on, frame["date"] - timedelta(dice.randrange(9)))
                tables["slots"].append(frame | {"troop": has, "state": state, "state_on": on})
        if dice.random() < 0.6:
            who = dice.choice((has, has, dice.choice(TROOPS)))
            _stall(tables, dice, who, frame)
    for troop in TROOPS:
        for week in WEEKS:
            if dice.random() < 0.8:
                tables["stock"].append({"troop": troop, "week_ending": week, "item": "GLA", "on_hand": 5})
    for _ in range(12):
        week = dice.choice(WEEKS)
        giver, receiver = dice.sample(TROOPS, 2)
        move = {"week_ending": week, "date": week - timedelta(dice.randrange(7)), "item": "GLA", "packages": 6}
        for side in dice.choice((("out",), ("in",), ("out", "in"))):
            own, other = (giver, receiver) if side == "out" else (receiver, giver)
            tables["moves"].append(move | {"troop": own, "direction": side, "other_troop": other})
    tables["moves"] = list({(m["troop"], m["week_ending"], m["date"], m["other_troop"], m["direction"]): m
                            for m in tables["moves"]}.values())  # fmt: skip
    tables["supply"] = [
        {"document": f"D{troop}", "troop": troop, "item": "GLA", "date": FIRST, "packages": dice.choice((12, 24)),
         "kind": "opening"} for troop in TROOPS
    ]  # fmt: skip
    return tables


def _stall(tables: dict[str, list[Row]], dice: random.Random, troop: str, slot: Row) -> None:
    other = {"MILL": "old MILL", "GATE": "Garden gate", "DOCK": "elsewhere"}[slot["place"]]
    place = dice.choice((slot["place"], other))
    week = next(week for week in WEEKS if week >= slot["date"])
    row = {"troop": troop, "week_ending": week, "date": slot["date"], "start": slot["start"], "end": slot["end"],
           "place": place, "item": "GLA", "packages": 2}  # fmt: skip
    if all((one["troop"], one["date"], one["start"], one["place"]) != (troop, row["date"], row["start"], place)
           for one in tables["stalls"]):  # fmt: skip
        tables["stalls"].append(row)


@pytest.mark.parametrize("seed", CALENDARS)
def test_exactly_those_that_plain_loops_name(seed: int, tmp_path: Path) -> None:
    dice = random.Random(seed)  # noqa: S311 - dice for a test
    tables = calendar(dice)
    trial = Trial(tmp_path)
    trial.send(troops=FEEDS["troops"])
    assert accepted(trial.take_in(write_csvs(tmp_path / "in", tables)))
    written: list[tuple[date, str, tuple[str, ...], int]] = []
    for day in (W1, W2):
        giver, receiver = dice.sample(TROOPS, 2)
        move = {"giver": giver, "receiver": receiver, "item": "GLA", "packages": 6}
        troop, number = dice.choice(TROOPS), dice.choice((0, 12, 20))
        decisions.write(trial.book, "tests", day, [*agreed([move]), came(troop, "GLA", number)])
        written += [(day, "agree", (giver, receiver, "GLA"), 6), (day, "received", (troop, "GLA"), number)]
    plain, seen = PlainStalls(tables, W1, Decimal("6.00"), written), Counter[str]()
    with trial.book.reading() as con:
        shown = Figures(con, COORDINATOR)
        for day in WEEKS:
            found = {
                (row["rule"], row["troop"], row["subject"]): row["severity"]
                for row in shown.rows("exceptions", day) if row["rule"] in RULES
            }  # fmt: skip
            assert found == plain.exceptions(day), f"as of {day}"
            seen.update(rule for rule, _troop, _subject in found)
    assert seen.keys() == RULES, "the calendar is no empty ground"
