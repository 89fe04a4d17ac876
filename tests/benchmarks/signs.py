"""Every sign of every declared sum turned round, one at a time: would the oracle and the worked season notice?

    python tests/benchmarks/signs.py [SEASONS]

By hand, some minutes: 6 random seasons unless said. Comes in: the declarations of a troop, an item, a family. Goes out:
how many signs there are, how many a random season notices, how many the worked season does, and each that nobody does.

A sign of entries is that of one kind in one measure; a sign of a sum that of one term. A random season notices where
any declared measure is not the oracle's; the worked season where a cell of its expected tables is not as expected.
"""

import csv
import io
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
import season_files
import seasons
from measured import RELATIONS_TOLD, differences, expected, measured
from oracle import Oracle
from trial import TABLES, Trial

from pipelines.definitions.measures import RELATIONS, Entries, Measure, Sum
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import table_text
from pipelines.store import landed_tables, relations

WORKED = Path(__file__).parents[1] / "fixtures" / "worked_season"
Check = Callable[[], bool]  # whether all is as it should be


def turned() -> Iterator[tuple[str, str, str, Measure]]:
    """Every sign turned round: relation, measure, what was turned, the measure with it."""
    for relation in TABLES:
        for name, one in RELATIONS[relation].items():
            match one.made:
                case Entries(kinds=kinds):
                    for kind, sign in kinds.items():
                        yield relation, name, kind, replace(one, made=Entries(**kinds | {kind: -sign}))
                case Sum(signed=signed):
                    for term in signed:
                        terms = (f"-{t}" if (sign < 0) != (t == term) else t for t, sign in signed.items())
                        yield relation, name, term, replace(one, made=Sum(*terms))


class Tried:
    """A season computed, that can be computed again by other declarations."""

    def __init__(self, trial: Trial, days: list[date], told: Callable[[Any, list[date]], bool]) -> None:
        self.con = landed_tables.look_back(trial.book.current_snapshot())
        self.days, self.told = days, told
        compute(self.con, trial.book.season(), days, only=RELATIONS_TOLD)
        self.own = dict(relations.ordered_relations())
        if self.notices():
            raise SystemExit("A season differs before anything is turned.")

    def notices(self) -> bool:
        """Whether anything is not as it should be."""
        return not self.told(self.con, self.days)

    def make(self, selects: dict[str, str]) -> set[str]:
        """Makes anew what differs from what was declared, and all that rests on it."""
        stale = {name for name, select in selects.items() if select != self.own[name]}
        for name, select in selects.items():
            if stale & (relations._needs(select) | {name}) and name in NEEDED:
                self.con.execute(f"create or replace table {name} as {select}")
                stale.add(name)
        return stale


NEEDED = set(relations._resting_on(RELATIONS_TOLD, ()))


def random_season(seed: int, folder: Path) -> Tried:
    """A random season, held against the oracle."""
    made = seasons.make(seed)
    trial = Trial(folder, made.text)
    season_files.write_csvs(folder / "in", made.tables)
    trial.take_in(folder / "in")
    days = sorted({*made.weeks[1::2], *made.days(4)})
    oracle = expected(Oracle(made.rules, made.tables), days)
    return Tried(trial, days, lambda con, days: not differences(measured(con, days), oracle))


def worked_season(folder: Path) -> Tried:
    """The worked season, held against its expected tables."""
    trial = Trial(folder, (WORKED / "season.toml").read_text(encoding="utf-8"))
    for part in ("feeds", "submissions-in-bulk"):
        trial.take_in(WORKED / part)
    days = sorted(date.fromisoformat(one.name.removeprefix("expected-")) for one in WORKED.glob("expected-*"))

    def is_expected(con: Any, days: list[date]) -> bool:
        figures = Figures(con, COORDINATOR)
        return all(
            list(csv.DictReader(io.StringIO(table_text(figures, name, day))))  # type: ignore[arg-type]
            == list(csv.DictReader(io.StringIO((WORKED / f"expected-{day}/{name}.csv").read_text(encoding="utf-8"))))
            for day in days for name in TABLES
        )  # fmt: skip

    return Tried(trial, days, is_expected)


def main() -> None:
    """Turns every sign round, asks the seasons, prints who noticed."""
    count = int(sys.argv[1]) if sys.argv[1:] else 6
    with tempfile.TemporaryDirectory() as folder:
        worked = worked_season(Path(tempfile.mkdtemp(dir=folder)))
        random = [random_season(seed, Path(tempfile.mkdtemp(dir=folder))) for seed in range(count)]
        signs = by_random = by_worked = 0
        for relation, name, what, other in turned():
            kept = RELATIONS[relation][name]
            RELATIONS[relation][name] = other
            selects = dict(relations.ordered_relations.__wrapped__())
            RELATIONS[relation][name] = kept
            seen = {}
            for who, tried in (("worked", [worked]), ("random", random)):
                seen[who] = any(noticed(one, selects) for one in tried)
            signs, by_random, by_worked = signs + 1, by_random + seen["random"], by_worked + seen["worked"]
            if not all(seen.values()):
                missed = " nor ".join(f"the {who} season" for who, is_seen in seen.items() if not is_seen)
                print(f"{relation}.{name}, {what}: not noticed by {missed}", flush=True)
        print(f"{signs} signs: {count} random seasons notice {by_random}, the worked season {by_worked}")


def noticed(one: Tried, selects: dict[str, str]) -> bool:
    """Whether a season notices other selects; it is as it was afterwards."""
    stale = one.make(selects)
    is_seen = one.notices()
    for name, select in one.own.items():
        if name in stale & NEEDED:
            one.con.execute(f"create or replace table {name} as {select}")
    return is_seen


if __name__ == "__main__":
    main()
