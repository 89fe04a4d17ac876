"""What a participant has to show for it: progress, goals, awards, packing and postage, by example and by the oracle."""

import random
import tomllib
from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
import season_files
import seasons
from oracle import Oracle
from plain_progress import Progress, postage
from trial import POSTAGE, SEASON, W1, W2, W3, Trial, accepted

from pipelines.figures.viewer import COORDINATOR, Viewer

MORE = """
[stalls]
credit = "equal"

[[awards]]
code = "GROW1"
title = "Grower, first year"
steps = 3
levels = ["younger"]

[[awards]]
code = "GROW2"
title = "Grower, second year"
steps = 2
levels = ["younger"]
after = "GROW1"

[[awards]]
code = "P50"
title = "Fifty packages"
packages = 50
cost = "1.25"
in_stock = 1
"""
PEOPLE = """
    troop  participant  registered_on
    0417   0417-01      2026-10-01
    0417   0417-02      2026-10-01
    0031   0031-01      2026-10-01"""
TROOPS = """
    troop  level
    0417   younger
    0031   older"""


@pytest.fixture
def grown(new_trial: Callable[..., Trial]) -> Trial:
    """A book of the small season with awards, stalls that are shared, and tiers of postage."""
    one = new_trial(SEASON + POSTAGE + MORE)
    one.send(troops=TROOPS, roster=PEOPLE)
    return one


def one_of(trial: Trial, day: date, who: str) -> dict[str, int]:
    with trial.asked("progress", days=[day]) as figures:
        return next(row for row in figures.rows("progress", day) if row["participant"] == who)


def test_a_promised_package_that_is_taken_counts_once(grown: Trial) -> None:
    """20 promised, 15 of them taken: 20; 22 taken: 22. Posted ones come on top."""
    grown.send(
        promised=f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 12\n0417 {W1} 0417-01 HRB 8",
        families=f"""troop week_ending participant item packages
                     0417 {W1} 0417-01 GLA 15
                     0417 {W2} 0417-01 GLA 7""",
        online_orders="""
            order troop participant placed_on mode state state_on item packages goods_amount
            O1 0417 0417-01 2027-02-20 by_post placed 2027-02-20 GLA 4 24.00""",
    )
    assert [one_of(grown, day, "0417-01")["progress"] for day in (W1, W2)] == [20, 26]


def test_a_later_promise_replaces_the_earlier(grown: Trial) -> None:
    grown.send(
        promised=f"""troop week_ending participant item packages
                            0417 {W1} 0417-01 GLA 12
                            0417 {W1} 0417-01 HRB 8
                            0417 {W2} 0417-01 GLA 5"""
    )
    assert [one_of(grown, day, "0417-01")["promised"] for day in (W1, W2, W3)] == [20, 5, 5]


def test_a_goal_once_met_stays_met_when_it_is_raised(grown: Trial) -> None:
    grown.send(
        goals=f"troop week_ending participant goal\n0417 {W1} 0417-01 10\n0417 {W2} 0417-01 30\n0417 {W2} 0417-02 5",
        families=f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 10",
    )
    kept = ("goal", "goals_raised", "is_goal_met")
    assert [one_of(grown, W2, "0417-01")[name] for name in kept] == [30, 1, True]
    assert [one_of(grown, W2, "0417-02")[name] for name in kept] == [5, 0, False]


def test_the_troops_own_goal_counts_every_package_once(grown: Trial) -> None:
    """Ten taken, six at a stall that is credited to two, four on the own page: 20."""
    grown.send(
        goals=f"troop week_ending participant goal\n0417 {W1} troop 20",
        families=f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 10",
        stalls=f"""troop week_ending date place item packages participants
                   0417 {W1} 2027-02-13 Market GLA 6 0417-01,0417-02""",
        online_orders="""
            order troop participant placed_on mode state state_on item packages goods_amount
            O1 0417 - 2027-02-12 donated placed 2027-02-12 GIV 4 24.00""",
    )
    with grown.asked("troop_goals", days=[W1]) as figures:
        (row,) = figures.rows("troop_goals", W1)
    assert (row["packages"], row["goal"], row["is_goal_met"]) == (20, 20, True)


def test_what_is_to_fetch(grown: Trial) -> None:
    """Four accepted, ten held that were promised: fetch the four. What was refused: nothing."""
    grown.send(
        promised=f"troop week_ending participant packages item\n0417 {W1} 0417-01 10 GLA",
        families=f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 10",
        online_orders="""
            order troop participant placed_on mode state state_on item packages goods_amount
            YES 0417 0417-01 2027-02-12 by_hand taken_on 2027-02-13 GLA 4 24.00
            NO 0417 0417-01 2027-02-12 by_hand refused 2027-02-13 GLA 6 36.00
            GIVE 0417 0417-01 2027-02-12 by_hand taken_on 2027-02-13 GIV 2 12.00""",
    )
    with grown.asked("packing", days=[W1]) as figures:
        rows = {(row["order_no"], row["item"]): row["to_fetch"] for row in figures.rows("packing", W1)}
        now = figures.rows("packing", date.max)
    assert rows == {("YES", "GLA"): 4, (None, "GLA"): 0}
    assert {(row["order_no"], row["item"]): row["to_fetch"] for row in now} == rows


def awards_of(trial: Trial, day: date) -> dict[tuple[str, str], tuple[str, str]]:
    with trial.asked("awards", days=[day]) as figures:
        return {
            (row["participant"], row["award"]): (row["state"], row["missing"]) for row in figures.rows("awards", day)
        }


def test_the_second_year_is_open_to_those_who_have_the_first(grown: Trial) -> None:
    """01 has the first from before and lacks one step of the second; 02 missed it and works on the first."""
    grown.send(
        awards_before="troop participant award\n0417 0417-01 GROW1",
        awards=f"""troop week_ending participant award steps handed_on
                   0417 {W1} 0417-01 GROW2 2 -
                   0417 {W1} 0417-02 GROW1 1,3 -
                   0417 {W1} 0417-02 GROW2 1,2 -""",
    )
    assert awards_of(grown, W1) == {
        ("0417-01", "GROW2"): ("one away", "1"), ("0417-02", "GROW1"): ("one away", "2"),
        ("0417-01", "P50"): ("open", "50"), ("0417-02", "P50"): ("open", "50"), ("0031-01", "P50"): ("open", "50"),
    }  # fmt: skip
    grown.send(awards=f"troop week_ending participant award steps handed_on\n0417 {W2} 0417-02 GROW1 1,2,3 2027-02-20")
    later = awards_of(grown, W2)
    assert (later["0417-02", "GROW1"], later["0417-02", "GROW2"]) == (("earned", ""), ("earned", ""))


def test_what_is_to_buy(grown: Trial) -> None:
    """Three have fifty packages, one has the award in hands, one lies in stock: one to buy."""
    told = "\n".join(f"{who[:4]} {W1} {who} GLA 50" for who in ("0417-01", "0417-02", "0031-01"))
    grown.send(
        families=f"troop week_ending participant item packages\n{told}",
        awards=f"troop week_ending participant award steps handed_on\n0417 {W1} 0417-01 P50 - 2027-02-14",
    )
    with grown.asked("to_buy", days=[W1]) as figures:
        rows = {
            row["troop"]: (row["earned"], row["handed"], row["to_buy"], row["cost"])
            for row in figures.rows("to_buy", W1)
        }
        own = Viewer("leader", frozenset({"0417"}))
    assert rows == {
        "0417": (2, 1, 1, Decimal("1.25")),
        "0031": (1, 0, 1, Decimal("1.25")),
        None: (3, 1, 1, Decimal("1.25")),
    }
    with grown.asked("to_buy", days=[W1], viewer=own) as figures:
        assert {row["troop"] for row in figures.rows("to_buy", W1)} == {"0417"}


@pytest.mark.parametrize(
    ("packages", "zone", "ours"), [(4, "-", 8), (10, "near", 12), (11, "-", 20), (23, "near", 32), (11, "far", 23)]
)
def test_postage_by_tier(grown: Trial, packages: int, zone: str, ours: int) -> None:
    assert postage([(5, 8), (10, 12)], 3, packages, is_far=zone == "far") == ours
    grown.send(
        online_orders=f"""
        order troop participant placed_on mode state state_on item packages goods_amount shipping_amount zone
        O1 0417 0417-01 2027-02-12 by_post placed 2027-02-12 GLA {packages} {packages * 6}.00 9.50 {zone}"""
    )
    with grown.asked("postage", days=[W1]) as figures:
        (row,) = figures.rows("postage", W1)
    assert (row["ours"], row["differs"]) == (ours, Decimal("9.50") - ours)
    with grown.asked("postage", days=[W1], viewer=Viewer("leader", frozenset({"0417"}))) as figures:
        assert figures.rows("postage", W1) == []


def test_postage_over_many_sizes_is_the_loops(grown: Trial) -> None:
    """Every size from 1 to 60, near and far."""
    lines = [
        f"O{n}{zone} 0417 0417-01 2027-02-12 by_post placed 2027-02-12 GLA {n} {n * 6}.00 1.00 {zone}"
        for n in range(1, 61) for zone in ("near", "far")
    ]  # fmt: skip
    head = "order troop participant placed_on mode state state_on item packages goods_amount shipping_amount zone"
    grown.send(online_orders="\n".join([head, *lines]))
    with grown.asked("postage", days=[W1]) as figures:
        rows = figures.rows("postage", W1)
    assert len(rows) == len(lines)
    for row in rows:
        assert row["ours"] == postage([(5, 8), (10, 12)], 3, row["packages"], is_far=row["zone"] == "far"), row


BOX = """
[[items]]
code = "BOX"
title = "Gift box"
price = "31.00"
stocked = false
box_of = 6
"""


@pytest.mark.parametrize(("boxes", "told"), [(1, []), (0, ["O1"])])
def test_a_gift_box_counts_as_what_it_holds(new_trial: Callable[..., Trial], boxes: int, told: list[str]) -> None:
    """Three packages and a box of six: nine in the post, at the price of the box; three alone are under the minimum."""
    one = new_trial(SEASON + POSTAGE + BOX)
    box = f"\nO1 0417 0417-01 2027-02-12 by_post placed 2027-02-12 BOX {boxes} 31.00 -" if boxes else ""
    one.send(troops=TROOPS, roster=PEOPLE, online_orders=f"""
        order troop participant placed_on mode state state_on item packages goods_amount shipping_amount
        O1 0417 0417-01 2027-02-12 by_post placed 2027-02-12 GLA 3 18.00 12.00{box}""")  # fmt: skip
    with one.asked("postage", "standing", "exceptions", days=[W1]) as figures:
        (row,) = figures.rows("postage", W1)
        charged = next(row["charged"] for row in figures.rows("standing", W1) if row["troop"] == "0417")
        few = [row["subject"] for row in figures.rows("exceptions", W1) if row["rule"] == "posted_under_minimum"]
    assert (row["packages"], row["ours"]) == (3 + 6 * boxes, 12 if boxes else 8)
    assert charged == 18 + 31 * boxes
    assert few == told


def test_no_tiers_no_postage(new_trial: Callable[..., Trial]) -> None:
    one = new_trial()
    one.send(troops=TROOPS, roster=PEOPLE, online_orders="""
        order troop participant placed_on mode state state_on item packages goods_amount shipping_amount
        O1 0417 0417-01 2027-02-12 by_post placed 2027-02-12 GLA 5 30.00 9.50""")  # fmt: skip
    with one.asked("postage", days=[W1]) as figures:
        assert figures.rows("postage", W1) == []


@pytest.mark.parametrize("seed", [3, 12])
def test_random_seasons_are_the_oracles(seed: int, new_trial: Callable[..., Trial]) -> None:
    """Progress, goals, what is to fetch and awards of everyone, on several days."""
    made = seasons.make(seed)
    text = made.text + MORE
    made.rules = tomllib.loads(text, parse_float=Decimal)
    dice = random.Random(seed)  # noqa: S311 - dice for a test
    made.tables |= more_tables(made, dice)
    trial = new_trial(text)
    season_files.write_csvs(trial.folder / "in", made.tables)
    assert accepted(trial.take_in(trial.folder / "in"))
    days = sorted({*made.weeks[1::2], *made.days(4)})
    plain = Progress(Oracle(made.rules, made.tables))
    with trial.asked("progress", "packing", "awards", "participants", days=days, viewer=COORDINATOR) as figures:
        for day in days:
            fetch: dict[tuple[str, str], dict[str, int]] = {}
            for row in figures.rows("packing", day):
                of = fetch.setdefault((row["troop"], row["participant"]), {})
                of[row["item"]] = of.get(row["item"], 0) + row["to_fetch"]
            rows = figures.rows("progress", day)
            assert rows
            for row in rows:
                troop, who = row["troop"], row["participant"]
                assert row["progress"] == plain.progress(troop, who, day), (day, who)
                assert row["stall_credit"] == plain.credit(troop, who, day), (day, who)
                goal = (row["goal"], row["goals_raised"], row["is_goal_met"])
                assert goal == plain.goal(troop, who, day), (day, who)
                got = {item: number for item, number in fetch.get((troop, who), {}).items() if number}
                assert got == plain.to_fetch(troop, who, day), (day, who)
            listed: dict[tuple[str, str], dict[str, tuple[str, str]]] = {}
            for row in figures.rows("awards", day):
                of_one = listed.setdefault((row["troop"], row["participant"]), {})
                of_one[row["award"]] = (row["state"], row["missing"])
            for row in figures.rows("participants", day):
                if not (row["is_registered"] or row["is_taking_part"]):
                    continue
                key = (row["troop"], row["participant"])
                assert listed.get(key, {}) == plain.awards(*key, day), (day, key)


def more_tables(made: seasons.Made, dice: random.Random) -> dict[str, list[seasons.Row]]:
    """Promises, awards of this season and of earlier ones."""
    people = [(row["troop"], row["participant"]) for row in made.tables["roster"]]
    told = {(row["troop"], row["week_ending"]) for row in made.tables["cover"]}
    items = [item["code"] for item in made.rules["items"]]
    promised, awards = [], []
    for troop, week in sorted(told):
        for who in [who for of, who in people if of == troop]:
            start = {"troop": troop, "week_ending": week, "participant": who}
            if dice.random() < 0.4:
                promised += [start | {"item": item, "packages": dice.randrange(12)}
                             for item in dice.sample(items, dice.randint(1, len(items)))]  # fmt: skip
            for award, steps in (("GROW1", 3), ("GROW2", 2)):
                if dice.random() < 0.3:
                    done = sorted(dice.sample(range(1, steps + 1), dice.randint(1, steps)))
                    awards.append(start | {"award": award, "steps": done, "handed_on": None})
    before = [{"troop": troop, "participant": who, "award": "GROW1"} for troop, who in people if dice.random() < 0.3]
    return {"promised": promised, "awards": awards, "awards_before": before}
