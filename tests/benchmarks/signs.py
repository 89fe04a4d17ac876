"""Every sign of every declared sum turned round, one at a time: would the oracle and the worked season notice?

    python tests/benchmarks/signs.py [SEASONS]

By hand, some minutes: 6 random seasons unless said. Comes in: the declarations of a troop, an item, a family. Goes out:
how many signs there are, how many a random season notices, how many the worked season does, and each that nobody does.

A sign of entries is that of one kind in one measure; a sign of a sum that of one term. A random season notices where
the measure is not the oracle's; the worked season where a cell of its expected tables is not as expected: of a measure
that stands in none, a cell of what is made of it.

Measured: 178 signs; 6 random seasons notice all of them, the worked season 136. The other 42 are of kinds that the
worked season has none of (donations brought back, settlements, cheques back, gifts, fees, change), and of measures that
stand in none of its tables.
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
from pipelines.store import landed_tables, measure_sql, relations
from pipelines.store.engine import SQL
from pipelines.store.measure_sql import CHAINS

WORKED = Path(__file__).parents[1] / "fixtures" / "worked_season"
OWN = {
    f"measures.{path.stem}": path.read_text(encoding="utf-8") for path in (SQL / measure_sql.STAGE).glob("[!_]*.sql")
}


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


NEEDED = relations._resting_on(RELATIONS_TOLD, ())


class Tried:
    """A season whose figures are those of the oracle, or of the expected tables, until a sign is turned round."""

    def __init__(self, trial: Trial, days: list[date], is_right: Callable[[Any], bool]) -> None:
        self.con = landed_tables.look_back(trial.book.current_snapshot())
        self.is_right = is_right
        compute(self.con, trial.book.season(), days, only=RELATIONS_TOLD)
        if not is_right(self.con):
            raise SystemExit("A season differs before anything is turned.")

    def differs(self, relation: str, name: str, select: str) -> bool:
        """Whether a measure itself is another where it is made by another select."""
        keys = ", ".join(("as_of", *CHAINS[relation].keys))
        self.con.execute(f"create or replace temp table turned as {select}")
        query = f"from turned t join measures.{relation} k using ({keys}) where t.{name} is distinct from k.{name}"
        return bool(self.con.execute(f"select count(*) {query}").fetchall()[0][0])

    def notices(self, changed: str, select: str) -> bool:
        """Whether anything that is told is another, with all made anew that rests on one relation."""
        self._make(changed, select)
        is_seen = not self.is_right(self.con)
        self._make(changed, NEEDED[changed])
        return is_seen

    def _make(self, changed: str, select: str) -> None:
        stale = {changed}
        for name, own in NEEDED.items():
            if name == changed or relations.needs_of(own) & stale:
                self.con.execute(f"create or replace table {name} as {select if name == changed else own}")
                stale.add(name)


def random_season(seed: int, folder: Path) -> Tried:
    """A random season, held against the oracle."""
    made = seasons.make(seed)
    trial = Trial(folder, made.text)
    season_files.write_csvs(folder / "in", made.tables)
    trial.take_in(folder / "in")
    days = sorted({*made.weeks[1::2], *made.days(4)})
    oracle = expected(Oracle(made.rules, made.tables), days)
    return Tried(trial, days, lambda con: not differences(measured(con, days), oracle))


def worked_days() -> list[date]:
    """The days that the worked season has expected tables of."""
    return sorted(date.fromisoformat(one.name.removeprefix("expected-")) for one in WORKED.glob("expected-*"))


def expected_lines(name: str, day: date) -> list[dict[str, str]]:
    """One of the worked season's tables."""
    return list(csv.DictReader(io.StringIO((WORKED / f"expected-{day}/{name}.csv").read_text(encoding="utf-8"))))


def worked_season(folder: Path) -> Tried:
    """The worked season, held against its expected tables."""
    trial = Trial(folder, (WORKED / "season.toml").read_text(encoding="utf-8"))
    for part in ("feeds", "submissions-in-bulk"):
        trial.take_in(WORKED / part)
    days = worked_days()

    def is_expected(con: Any) -> bool:
        figures = Figures(con, COORDINATOR)
        for name, day in ((name, day) for day in days for name in TABLES):
            told = list(csv.DictReader(io.StringIO(table_text(figures, name, day))))  # type: ignore[arg-type]
            lines = expected_lines(name, day)
            if [{column: row[column] for column in lines[0]} for row in told] != lines:
                return False
        return True

    return Tried(trial, days, is_expected)


def main() -> None:
    """Turns every sign round, asks the seasons, prints who noticed."""
    count = int(sys.argv[1]) if sys.argv[1:] else 6
    with tempfile.TemporaryDirectory() as folder:
        worked = worked_season(Path(tempfile.mkdtemp(dir=folder)))
        random = [random_season(seed, Path(tempfile.mkdtemp(dir=folder))) for seed in range(count)]
        listed = {name: expected_lines(name, worked_days()[0])[0].keys() for name in TABLES}
        signs = by_random = by_worked = 0
        for relation, name, what, other in turned():
            made = measure_sql.made(OWN, RELATIONS | {relation: RELATIONS[relation] | {name: other}})
            ((changed, select),) = [one for one in made.items() if one[0] in NEEDED and one[1] != NEEDED[one[0]]]
            is_seen = any(season.differs(relation, name, select) for season in random)
            is_listed = name in listed[relation]
            is_worked = worked.differs(relation, name, select) if is_listed else worked.notices(changed, select)
            signs, by_random, by_worked = signs + 1, by_random + is_seen, by_worked + is_worked
            for who, is_so in (("a random season", is_seen), ("the worked season", is_worked)):
                if not is_so:
                    print(f"{relation}.{name}, {what}: not noticed by {who}", flush=True)
        print(f"{signs} signs: {count} random seasons notice {by_random}, the worked season {by_worked}")


if __name__ == "__main__":
    main()
