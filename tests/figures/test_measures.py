"""Every declared measure of a troop, an item, a family is told by the oracle too; a declared sum needs nothing else.

What is declared is the list of what must be covered: a measure that the oracle does not tell fails here by its name.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
import season_files
import seasons
from measured import RELATIONS_TOLD, differences, expected, measured
from oracle import Oracle
from trial import FEEDS, W1, Trial, accepted

from pipelines.definitions.measures import RELATIONS, Entries, Measure, Own, Sum, columns
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store import landed_tables, relations
from pipelines.tracing.area import AreaTracer
from pipelines.tracing.explain import Tracer, leaves, measures_of
from pipelines.tracing.troop import own_way

SEEDS = (16, 41)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_declared_measure_is_the_oracles(seed: int, new_trial: Callable[..., Trial]) -> None:
    """Also those that stand in no table: every term of a sum or a ratio is held by itself."""
    made = seasons.make(seed)
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "in", made.tables)
    assert accepted(trial.take_in(trial.folder / "in"))
    days = sorted({*made.weeks[1::2], *made.days(4)})
    oracle = expected(Oracle(made.rules, made.tables), days)
    with trial.book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        compute(memory, trial.book.season(), days, only=RELATIONS_TOLD)
        assert differences(measured(memory, days), oracle) == []
        memory.close()


def test_entries_name_kinds_that_the_ledger_knows(shown: Figures) -> None:
    """A kind that nobody posts would count for nothing, in silence."""
    kinds = {row["kind"] for row in shown.kinds()}
    named = {kind for own in RELATIONS.values() for one in own.values() if isinstance(one.made, Entries)
             for kind in one.made.kinds}  # fmt: skip
    assert named
    assert named <= kinds


def test_what_is_its_own_is_traced_by_a_function_of_its_name() -> None:
    own = [one for measures in RELATIONS.values() for one in measures.values() if isinstance(one.made, Own)]
    assert len(own) > 20
    for one in own:
        assert callable(own_way(one.made.trace)), one.name  # type: ignore[union-attr]


def test_terms_are_measures_of_the_same_relation() -> None:
    for relation, measures in RELATIONS.items():
        for one in measures.values():
            assert set(one.needs) <= measures.keys(), (relation, one.name)


GOOD_FOR_DAMAGED = Measure(
    "swapped", "Swapped", "packages", "Good packages that the depot gave for damaged ones.",
    made=Entries(exchange=+1), shown=("csv", "all troops", "packages", "troops"),
)  # fmt: skip
NET = Measure("swapped_less", "Swapped, less sold", "packages", "One less the other.", made=Sum("swapped", "-remote"))


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch, new_trial: Callable[..., Trial]) -> Iterator[Figures]:
    """A book whose figures hold two measures more, declared and nothing else."""
    trial = new_trial()
    trial.send(**FEEDS, supply="""
        document  troop  item  date        packages  kind
        S1        0417   GLA   2027-02-09  60        opening
        S2        0417   GLA   2027-02-10  7         exchange
        S3        0031   GLA   2027-02-10  4         exchange""")  # fmt: skip
    for relation in ("standing", "area"):
        for one in (GOOD_FOR_DAMAGED, NET):
            monkeypatch.setitem(RELATIONS[relation], one.name, replace(one))
    relations.ordered_relations.cache_clear()
    with trial.book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        compute(memory, trial.book.season(), [W1])
        yield Figures(memory, COORDINATOR)
        memory.close()
    monkeypatch.undo()
    relations.ordered_relations.cache_clear()


def test_a_declared_sum_needs_nothing_else(shown: Figures) -> None:
    """Its column for each troop and the area, its trace to the cell, its place in every list of columns."""
    rows = {row["troop"]: row for row in shown.rows("standing", W1)}
    assert {troop: row["swapped"] for troop, row in rows.items()} == {"0417": 7, "0031": 4, "1282": 0}
    assert {row["swapped_less"] for row in rows.values()} == {7, 4, 0}
    (area,) = shown.rows("area", W1)
    assert (area["swapped"], area["swapped_less"]) == (11, 11)
    traced = Tracer(shown, "0417", W1).of("standing", "swapped")
    assert [(cell.file.rpartition("/")[2], cell.cell, cell.value) for _term, cell in leaves(traced)] == [
        ("supply.csv", "E3", 7)
    ]
    whole = AreaTracer(shown, W1, whole=True).of("area", "swapped_less")
    assert [cell.value for _term, cell in leaves(whole)] == [4, 7]
    assert "swapped" in measures_of("standing")
    for place in GOOD_FOR_DAMAGED.shown:
        assert columns("standing", place)[-1] == "swapped"  # type: ignore[arg-type]
