"""A fuzzer of meaning: from a correct week, one edit as people make it. It is read as a careful person would, or asked.

MUSTERBOOK_MEANINGS (150) files, MUSTERBOOK_MEANINGS_SEED (1). Run as a program it prints what became of each edit:
`MUSTERBOOK_MEANINGS=2000 PYTHONPATH=tests/support python tests/intake/test_meaning.py`.
"""

import os
import random
import tempfile
import time
from collections import Counter, defaultdict
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from meaning import EDITS, PEOPLE, WEEK, File, Meaning, meaning, week

from pipelines.definitions.season import read_season
from pipelines.definitions.starter_season import starter_season
from pipelines.figures.computing import compute
from pipelines.intake.elsewhere.mapping import Mappings
from pipelines.intake.files.readers import Reader
from pipelines.landing import arrivals, landed_rows, which_workbook
from pipelines.landing.arrivals import Opened, Rules
from pipelines.landing.landed_rows import Arrival
from pipelines.store import engine, landed_tables
from pipelines.store.book import now

# ruff: noqa: S311 - chance that repeats is wanted here
FILES = int(os.environ.get("MUSTERBOOK_MEANINGS", "150"))
SEED = int(os.environ.get("MUSTERBOOK_MEANINGS_SEED", "1"))
SECONDS = 30  # that the suite gives it; what is left over is left for the long run
MONEY = "sum(coalesce(cash, 0) + coalesce(card, 0))"
SUMS = {
    "families": "sum(packages) from families",
    "families money": f"{MONEY} from families",
    "stalls": "sum(packages) from stalls",
    "stalls money": f"{MONEY} from stalls",
    "banked": "sum(amount) from banked",
    "on hand": "sum(on_hand) from stock",
    "balance": "sum(bank_balance) from cover",
    "goals": "sum(goal) from goals",
}


class Desk:
    """A book in memory that knows troop 0417 and its roster; each batch is taken in alone."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.reader = Reader()
        self.rules = Rules(read_season(starter_season()), Mappings({}))
        self.con = engine.connect()
        landed_tables.prepare_landed(self.con)
        engine.suit(self.con, is_large=False)
        engine.insert(self.con, "landed.roster (troop, participant)", [("0417", code) for code in PEOPLE])

    def take(self, files: list[File]) -> tuple[Meaning, bool]:
        """What counts of files that came together, and whether anything is asked."""
        opened = [Opened(file.name, file.name, 0, file.write(self.folder)) for file in files]
        for number, one in enumerate(opened, 1):
            one.reading = self.reader.read(one.path, one.name)
            arrivals._recognise(one, number)
        which_workbook.put_in_order(opened)
        self.con.execute("begin")
        try:
            at = now()
            for number, one in enumerate(opened, 1):
                one.file_no = number
            landed_rows.land_files(self.con, [Arrival(o.file_no, o.name, o.name, 0, at, "", o.what) for o in opened])
            arrivals.judge(self.con, self.rules, opened, at, lambda _what, _done, _of: None)
            asked = self.con.execute("select count(*) from landed.findings where not is_note").fetchall()[0][0]
            return self._counted(), bool(asked) or self._is_deposit_asked()
        finally:
            self.con.execute("rollback")

    def _is_deposit_asked(self) -> bool:
        """Whether the leader is asked about a deposit that stands twice: it counts, it is asked about all the same."""
        twice = "select 1 from landed.banked group by date, amount, slip having count(*) > 1 limit 1"
        if not self.con.execute(twice).fetchall():
            return False
        with closing(engine.connect()) as apart:  # what is computed is not undone with what landed
            landed_tables.prepare_landed(apart)
            for name in ("files", "units", "banked", "roster"):
                rows = self.con.sql(f"from landed.{name}").to_arrow_table()
                apart.register("rows", rows)
                apart.execute(f"insert into landed.{name} by name from rows")
            compute(apart, self.rules.season, [WEEK], only=frozenset({"exceptions.deposit_twice"}))
            return bool(apart.execute("select 1 from exceptions.deposit_twice where ask <> ''").fetchall())

    def _counted(self) -> Meaning:
        self.con.execute(
            "create or replace temp view counts as select unit_no from landed.units where accepted_at is not null "
            "qualify row_number() over (partition by table_name, troop, week_ending order by file_no desc) = 1"
        )
        sums: dict[str, Any] = {}
        for name, what in SUMS.items():
            query = f"select {what.replace(' from ', ' from landed.')} semi join counts using (unit_no)"  # noqa: S608
            sums[name] = self.con.execute(query).fetchall()[0][0] or 0
        people = (
            "select participant from landed.families semi join counts using (unit_no) "
            "union select unnest(participants) from landed.stalls semi join counts using (unit_no)"
        )
        return {**sums, "people": {row[0] for row in self.con.execute(people).fetchall()}}


@dataclass
class Tally:
    """What became of each edit, and the silent wrongs."""

    of_edit: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    silent: list[str] = field(default_factory=list)
    files: int = 0


def tried(count: int, seed: int, folder: Path, seconds: float = float("inf")) -> Tally:
    """Edits weeks, each edit in turn, and takes them in."""
    desk, dice, tally, until = Desk(folder), random.Random(seed), Tally(), time.monotonic() + seconds
    names = sorted(EDITS)
    with desk.reader:
        for k in range(count):
            if time.monotonic() > until:
                break
            name, own = names[(k + seed) % len(names)], dice.randrange(1 << 40)
            of_own = random.Random(own)
            files, said = EDITS[name](week(of_own), of_own)
            counts, is_asked = desk.take(files)
            counts = counts if said is None else {what: counts[what] for what in said}
            what = "asked" if is_asked else "as meant" if counts == said else "silent wrong"
            tally.of_edit[name][what] += 1
            tally.files += len(files)
            if what == "silent wrong":
                wrong = {w: (counts[w], said[w]) for w in said if counts[w] != said[w]} if said else "unclear"
                tally.silent.append(f"{name}, {own}: {wrong}")
    return tally


def test_a_correct_week_is_read_as_it_is(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    with desk.reader:
        file = week(random.Random(5))
        assert desk.take([file]) == (meaning(file), False)


def test_every_edit_is_read_as_a_careful_person_would_or_asked(tmp_path: Path) -> None:
    tally = tried(FILES, SEED, tmp_path, SECONDS if FILES <= 150 else float("inf"))
    assert tally.silent == []
    assert sum((counts["as meant"] for counts in tally.of_edit.values()), 0) > 0
    assert sum((counts["asked"] for counts in tally.of_edit.values()), 0) > 0


def main() -> None:
    """Prints what became of each edit."""
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tally = tried(FILES, SEED, Path(folder))
    print(f"{'':56}{'as meant':>10}{'asked':>10}{'silent wrong':>14}")
    for name, counts in sorted(tally.of_edit.items()):
        print(f"{name:56}{counts['as meant']:10}{counts['asked']:10}{counts['silent wrong']:14}")
    print(f"{tally.files:,} files in {time.monotonic() - started:,.0f} s; {len(tally.silent)} silent wrongs")
    for one in tally.silent[:40]:
        print("   ", one)


if __name__ == "__main__":
    main()
