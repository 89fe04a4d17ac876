"""Traced to its cells: every figure of a participant at a glance, of awards, packing and postage."""

from collections.abc import Iterator
from decimal import Decimal

import pytest
from trial import POSTAGE, SEASON, W1, W2, Trial

from pipelines.definitions.measures import RELATIONS
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store import landed_tables
from pipelines.tracing.explain import PART_OF, Tracer, leaves, measures_of, part_of
from pipelines.tracing.terms import worked_out

RULES = """
[stalls]
credit = "equal"

[[awards]]
code = "GROW1"
title = "Grower, first year"
steps = 3
cost = "1.25"

[[awards]]
code = "P10"
title = "Ten packages"
packages = 10
cost = "2.00"
"""
ROWS = {
    "troops": "troop level\n0417 younger",
    "roster": "troop participant registered_on\n0417 0417-01 2026-10-01\n0417 0417-02 2026-10-01",
    "goals": f"""
        troop  week_ending  participant  goal  made_elsewhere
        0417   {W1}   0417-01      5     -
        0417   {W2}   0417-01      40    3""",
    "families": f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 12\n0417 {W2} 0417-01 GLA -2",
    "promised": f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 8\n0417 {W2} 0417-01 GLA 9",
    "stalls": f"""
        troop  week_ending  date        place   item  packages  participants
        0417   {W1}   2027-02-13  Market  GLA   6         0417-01,0417-02""",
    "pages": """
        troop  participant  on          page_open  own_picture  people_told  waits_for_caregiver
        0417   0417-01      2027-02-12  yes        film         12           no
        0417   0417-02      2027-02-12  no         no           0            yes""",
    "awards": f"""
        troop  week_ending  participant  award  steps  handed_on
        0417   {W1}   0417-01      GROW1  1,2    -
        0417   {W2}   0417-01      GROW1  1,2,3  -
        0417   {W2}   0417-02      GROW1  1,3    -
        0417   {W2}   0417-01      P10    -      2027-02-20""",
    "online_orders": """
        order troop participant placed_on mode state state_on item packages goods_amount shipping_amount zone
        HAND 0417 0417-01 2027-02-10 by_hand taken_on 2027-02-11 GLA 4 24.00 - -
        WAIT 0417 0417-01 2027-02-20 by_hand waiting 2027-02-20 GLA 2 12.00 - -
        POST 0417 0417-02 2027-02-10 by_post placed 2027-02-10 GLA 23 138.00 30.00 far""",
}  # fmt: skip
SHOWN = ("participants", "awards", "to_buy", "packing", "postage")


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Figures]:
    trial = Trial(tmp_path_factory.mktemp("shown"), SEASON + POSTAGE + RULES)
    assert all(done.status == "taken in" for done in trial.send(**ROWS))
    memory = landed_tables.look_back(trial.book.warehouse_file)
    only = frozenset({*(f"measures.{name}" for name in (*SHOWN, "families")), "ledger.kinds"})
    compute(memory, trial.book.season(), [W1, W2], only=only)
    yield Figures(memory, COORDINATOR)
    memory.close()


def cells(figures: Figures, relation: str, name: str, part: str) -> list[str]:
    """The cells of a figure of the second week: table and cell, or the key in the season's rules."""
    traced = Tracer(figures, "0417", W2).of(relation, name, part)  # type: ignore[arg-type]
    return [
        f"{cell.file.rpartition('/')[2].removesuffix('.csv')} {cell.cell}".removeprefix("season.toml ")
        for _term, cell in leaves(traced)
    ]


@pytest.mark.parametrize("relation", SHOWN)
def test_every_figure_is_given_again_and_leads_to_its_cells(shown: Figures, relation: str) -> None:
    seen = set()
    for day in (W1, W2):
        tracer = Tracer(shown, "0417", day)
        for row in shown.rows(relation, day, "0417"):  # type: ignore[arg-type]
            for name in measures_of(relation):  # type: ignore[arg-type]
                traced = tracer.of(relation, name, part_of(relation, row))  # type: ignore[arg-type]
                if name in row:
                    assert traced.value == worked_out(traced) == row[name], (day, name, row)
                if row.get(name):
                    assert list(leaves(traced)), (day, name, row)
                    seen.add(name)
    screens_own = {"page", "owes", "to_fetch"} if relation == "participants" else set()
    assert seen == set(measures_of(relation)) - screens_own  # type: ignore[arg-type]


def test_nothing_that_is_shown_is_left_without_a_trace() -> None:
    """But what names a row, what is made of other rows that are traced, and what is counted over pages."""
    names = {"troop", "participant", "award", "title", "order_no", "item", "placed_on", "in_stock"}
    made = {"awards", "told_ten", "pages"}
    for relation in SHOWN:
        assert relation in PART_OF
        assert {name for name, one in RELATIONS[relation].items() if not one.made} <= names | made


@pytest.mark.parametrize(
    ("relation", "name", "part", "expected"),
    [
        ("participants", "goals_raised", "0417-01", ["goals D2", "goals D3"]),
        ("participants", "made_elsewhere", "0417-01", ["goals E3"]),
        ("participants", "page", "0417-02", ["pages D3", "pages G3"]),
        ("participants", "to_answer", "0417-01", ["online_orders A3"]),
        ("participants", "to_fetch", "0417-01", ["promised E3", "online_orders I2", "families E2", "families E3"]),
        ("awards", "steps_done", "0417-01|GROW1", ["awards E3"]),
        ("awards", "missing", "0417-02|GROW1", ["awards E4", "awards[1].steps"]),
        ("to_buy", "handed", "P10", ["awards F5"]),
        ("packing", "packages", "0417-01|HAND|GLA", ["online_orders I2"]),
        ("postage", "asked", "POST", ["online_orders K4"]),
        ("postage", "ours", "POST", ["online.postage[1].price", "online.postage[2].price", "online.far"]),
    ],
)
def test_a_figure_names_its_cells(shown: Figures, relation: str, name: str, part: str, expected: list[str]) -> None:
    assert cells(shown, relation, name, part) == expected


def test_postage_is_worked_out_from_the_rules(shown: Figures) -> None:
    """23 far: twice the top tier, the first tier for the rest, and once what far adds: 24 + 8 + 3."""
    traced = Tracer(shown, "0417", W2).of("postage", "ours", "POST")
    assert [(str(term.value), term.label) for _sign, term in traced.terms] == [
        ("8.00", "Up to 5 packages, once"), ("24.00", "Up to 10 packages, 2 times"), ("3.00", "Goes far"),
    ]  # fmt: skip
    assert traced.value == Decimal("35.00")
