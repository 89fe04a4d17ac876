"""Altered SQL: one sign, comparison, bound or join of the money's relations at a time; would the tests see it?

    python tests/benchmarks/mutation.py [SEASONS [PART...]]

By hand, minutes to an hour: 12 seasons, all files unless said; PART: of a file's name.
Comes in: the SQL files of facts, measures and ledger. Goes out: the score of each file, and every survivor.

A change of facts or measures is seen where a cell of standing, items, families or dues of a random season differs from
what the unaltered SQL gives (test_figures holds that against the oracle, on the same seasons and more days); one of the
ledger where its proof finds something. Who survives here may still be seen by a test with rows of its own.

Measured: 947 altered texts of 26 files, of which random seasons alone see 810. Of the 137 left, 35 (all of charges,
dues, families, standing and money_events, part of family_weeks) were tried against test_money and test_explain, which
see 22. What still survives in owed, past due, families owe and ageing changes nothing: a week charged 0.00 (> or >=),
one week's end between 8 and 14 days (sum or max), one money row for a family and week (sum or max), branches that the
contract shuts (union of rows that cannot be alike, coalesce of what is never empty), words.
"""

import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
import season_files
import seasons
from trial import Trial

from pipelines.figures import double_entry
from pipelines.figures.computing import compute
from pipelines.reports.csv_tables import COLUMNS
from pipelines.store import landed_tables, relations

FILES = (
    "facts.family_weeks", "facts.entries", "facts.moves", "facts.order_spans", "facts.remittance_spans",
    "facts.stalls", "facts.stall_workers", "facts.submitted", "measures.family_points",
    "measures.participant_points", "measures.charges", "measures.dues", "measures.families", "measures.items",
    "measures.bank_balances", "measures.recent_sales", "measures.standing", "ledger.kinds", "ledger.counts",
    "ledger.proceeds", "ledger.events", "ledger.postings", "ledger.balances",
)  # fmt: skip
SWAPS = (
    (r" \+ ", " - "), (r" - ", " + "), (r"<=", "<"), (r"(?<![<=>-])<(?![=>])", "<="), (r">=", ">"),
    (r"(?<![<=>-])>(?!=)", ">="), (r" = ", " <> "), (r"<>", "="),
    (r"\bgreatest\(", "least("), (r"\bleast\(", "greatest("),
    (r"\bleft join\b", "join"), (r"\band\b", "or"), (r"\bor\b", "and"), (r"\bis not null\b", "is null"),
    (r"\bis null\b", "is not null"), (r" desc\b", ""), (r"\bmax\(", "min("), (r"\bmin\(", "max("), (r"\bsum\(", "max("),
    (r"\bunion all\b", "union"), (r"\b0\b", "1"), (r"\b1\b", "2"), (r"\b(7|8|14|15|30|3|6)\b", "99"),
    (r"(?<=[ (,])-(?=[a-z])", ""), (r"\blag\(", "lead("), (r"\blead\(", "lag("), (r"\bround\(", "trunc("),
    (r"\b(organisation_\w+|stock|families|cash|bank|damaged|missing|stall_short)'", "proceeds'"),
)  # fmt: skip
TABLES = ("standing", "items", "families", "dues")


def mutants(text: str) -> Iterator[tuple[str, str]]:
    """Every text with one thing changed, and what was changed: the line with the change marked."""
    body = re.sub(r"--.*", "", text)
    for pattern, other in SWAPS:
        for found in re.finditer(pattern, body):
            made = body[: found.start()] + other + body[found.end() :]
            start, end = body.rfind("\n", 0, found.start()) + 1, body.find("\n", found.end())
            line = body[start : found.start()] + f"[{found[0]}→{other}]" + body[found.end() : end]
            yield made, " ".join(line.split())


class Tried:
    """One random season, computed, and what its tables hold."""

    def __init__(self, seed: int, folder: Path) -> None:
        made = seasons.make(seed)
        trial = Trial(folder, made.text)
        season_files.write_csvs(folder / "in/1 feeds", made.feeds)
        season_files.write_csvs(folder / "in/2 drafts", made.drafts)
        season_files.write_csvs(folder / "in/3 sheets", made.sheets)
        trial.take_in(folder / "in")
        self.con = landed_tables.look_back(trial.book.current_snapshot())
        compute(self.con, trial.book.season(), sorted({*made.weeks[1::2], *made.days(6)}))
        self.holds = {name: self.table(name) for name in TABLES}
        if found := self.faults():
            raise SystemExit(f"season {seed}: the proof finds something before anything is altered: {found[0]}")

    def table(self, name: str) -> list[Any]:
        """The columns of a table that go out, or all of dues."""
        names = COLUMNS.get(name, ("*",))  # type: ignore[call-overload]
        columns = ", ".join("as_of" if one == "week_ending" else one for one in names)
        return self.con.execute(f"select {columns} from measures.{name} order by all").fetchall()  # noqa: S608

    def faults(self) -> tuple[str, ...]:
        """What the ledger's proof finds."""
        return double_entry.places_proved(self.con)[1] + double_entry.balances_proved(self.con)[1]

    def make(self, altered: list[tuple[str, str]]) -> None:
        """Computes some relations anew."""
        for name, select in altered:
            made = "view" if name.partition(".")[0] in relations.VIEWS else "table"
            self.con.execute(f"create or replace {made} {name} as {select}")

    def sees(self, name: str) -> bool:
        """Whether anything is not as it was, after a relation was altered."""
        if name.startswith("ledger."):
            return bool(self.faults())
        return any(self.table(one) != self.holds[one] for one in TABLES)


def downstream(name: str) -> list[tuple[str, str]]:
    """A relation and all that tables and ledger need of those made from it, in order."""
    ordered = dict(relations.ordered_relations())
    wanted = {"measures.standing", "measures.items", "measures.families", "measures.dues"}
    needs = {
        one: {f"{s}.{t}" for s, t in relations.REFERENCE.findall(re.sub(r"--.*", "", text))}
        for one, text in ordered.items()
    }
    below, above = {name}, set(wanted)
    for one in ordered:
        if needs[one] & below:
            below.add(one)
    for one in reversed(list(ordered)):
        if one in above:
            above |= needs[one]
    is_ledger = name.startswith("ledger.")
    kept = [
        one
        for one in ordered
        if one in below and one.startswith("ledger.") is is_ledger and (is_ledger or one in above)
    ]
    return [(one, ordered[one]) for one in kept]


def try_file(name: str, tried: list[Tried]) -> tuple[int, list[str]]:
    """How many mutants of a file there are, and those that nothing sees."""
    chain = downstream(name)
    text = dict(chain)[name]
    survivors, count = [], 0
    for altered, told in mutants(text):
        count += 1
        seen, touched = False, []
        for season in tried:
            touched.append(season)
            try:
                season.make([(name, altered), *chain[1:]])
                seen = season.sees(name)
            except duckdb.Error:
                seen = True  # it does not run, or no longer fits
            if seen:
                break
        if not seen:
            survivors.append(told)
        for season in touched:
            season.make(chain)
    return count, survivors


def main() -> None:
    """Tries every file, and tells."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    names = [name for name in FILES if len(sys.argv) < 3 or any(part in name for part in sys.argv[2:])]
    with tempfile.TemporaryDirectory() as folder:
        tried = []
        for seed in range(seeds):
            (Path(folder) / str(seed)).mkdir()
            tried.append(Tried(seed, Path(folder) / str(seed)))
        total = left = 0
        for name in names:
            count, survivors = try_file(name, tried)
            total, left = total + count, left + len(survivors)
            print(f"{name}: {count - len(survivors)} of {count} seen", flush=True)
            for told in survivors:
                print(f"    survives: {told}", flush=True)
        print(f"{total - left} of {total} seen, {len(tried)} seasons")


if __name__ == "__main__":
    main()
