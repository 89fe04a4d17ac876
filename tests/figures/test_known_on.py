"""Known on: what a roll-up gave at a time is given again later, byte for byte, and what changed since is said.

The book grows in six steps: a week with a part held, the week sent again and a feed replaced, the held part accepted,
other rules, the next week with later states, an earlier week's first submission.
"""

import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import busy
import pytest
from trial import FEEDS, SEASON, TABLES, W1, W2, W3, Trial
from typed_commands import Done, typed

from pipelines.figures.changes import Change, changes, moved_measures
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.beancount import ledger_text
from pipelines.reports.csv_tables import table_text
from pipelines.reports.rollup import RolledUp, roll_up, week_of
from pipelines.store.book import Book
from pipelines.workflow import looking_back, take_in

DAYS = (W1, date(2027, 2, 17))
STEPS = ("held", "sent again", "accepted", "other rules", "next week", "late")


def papers(book: Book, day: date, known_on: datetime | None = None) -> dict[str, str]:
    """The tables and the ledger of a day."""
    with week_of(book, day, known_on) as week:
        made = {name: table_text(week.figures, name, day) for name in TABLES}
        return made | {"ledger": ledger_text(week.figures, day)}


def known_at(book: Book) -> datetime:
    """When the newest file landed."""
    with looking_back.figures(book, COORDINATOR) as figures:
        at = figures.files.known_at()
    assert at is not None
    return at


def week_1(**other: str) -> dict[str, str]:
    """The busy book's first week, sheet by sheet."""
    tables = {}
    for name, text in busy.SHEETS.items():
        header, *lines = text.strip().splitlines()
        tables[name] = "\n".join([header, *(line for line in lines if W1.isoformat() in line)])
    return {name: text for name, text in tables.items() if "\n" in text} | other


@dataclass
class Grown:
    """The book after all steps, when each was done, the papers that each gave then, and one roll-up made then."""

    trial: Trial
    times: dict[str, datetime] = field(default_factory=dict)
    given: dict[tuple[str, date], dict[str, str]] = field(default_factory=dict)
    rolled_up: RolledUp | None = None

    def done(self, step: str) -> None:
        """Notes what the book gives after a step."""
        self.times[step] = known_at(self.trial.book)
        self.given.update({(step, day): papers(self.trial.book, day) for day in DAYS})


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Grown:
    """The book, step by step."""
    trial = Trial(tmp_path_factory.mktemp("grown"))
    grown = Grown(trial)
    trial.send(**FEEDS)
    early = {name: busy.FEEDS[name] for name in ("supply", "remittances")}
    families = week_1()["families"].replace("10        -      -", "24        -      -").replace("20.00", "104.00")
    stock = week_1()["stock"] + "\n0555 2027-02-14 GLA 0 0 12"
    trial.send(**early, **week_1(families=families, stock=stock))
    grown.done("held")
    supply = busy.FEEDS["supply"].replace("48        opening", "60        opening")
    trial.send(families=week_1()["families"], supply=supply)
    grown.done("sent again")
    supply = "document troop item date packages kind\nOP-5 0555 GLA 2027-02-06 14 opening"
    trial.send(roster="troop participant registered_on\n0555 0555-01 2026-10-01", supply=supply)
    grown.done("accepted")
    grown.rolled_up = roll_up(trial.book, W1, out=trial.folder / "then")
    rules = SEASON.replace('rate = "0.70"', 'rate = "0.75"').replace("7.25", "7.50")
    trial.book.season_file.write_text(rules, encoding="utf-8")
    assert take_in.refresh(trial.book, "tests")
    grown.done("other rules")
    trial.send(**busy.FEEDS, **busy.SHEETS)
    grown.done("next week")
    trial.send(stock="troop week_ending item received damaged on_hand\n1282 2027-02-14 HRB - 2 5")
    grown.done("late")
    return grown


def test_each_step_is_given_again(grown: Grown) -> None:
    """Tables and ledger of a week's end and of a day between, as known after each step."""
    assert list(grown.times) == list(STEPS)
    for (step, day), given in grown.given.items():
        assert papers(grown.trial.book, day, grown.times[step]) == given, (step, day)
    for before, after in pairwise(STEPS):
        assert grown.given[before, W1] != grown.given[after, W1], f"{after} changes nothing, and so proves nothing"


def test_a_moment_before_a_step_the_one_before_holds(grown: Grown) -> None:
    """A known-on time just before files landed."""
    for before, after in pairwise(STEPS):
        moment = grown.times[after] - timedelta(microseconds=1)
        assert papers(grown.trial.book, W1, moment) == grown.given[before, W1], after


def test_a_roll_up_is_given_again(grown: Grown, tmp_path: Path) -> None:
    """Every file of the folder save the manifest, byte for byte, after three more steps."""
    then = grown.rolled_up
    assert then is not None
    now = roll_up(grown.trial.book, W1, grown.times["accepted"], tmp_path / "now")
    assert {"standing.csv", "ledger.beancount", "rollup.xlsx", "tables/standing.parquet"} <= then.files.keys()
    assert now.files == then.files
    for path in then.files:
        assert (now.folder / path).read_bytes() == (then.folder / path).read_bytes(), path


@pytest.fixture(scope="module")
def known(grown: Grown) -> Iterator[dict[str, Figures]]:
    """Figures of the first week's end as known after each step."""
    trial, times = grown.trial, grown.times
    with ExitStack() as stack:
        yield {
            step: stack.enter_context(looking_back.figures(trial.book, COORDINATOR, W1, at))
            for step, at in times.items()
        }


def found(changed: list[Change], table: str) -> list[Change]:
    """The changes of one table."""
    return [change for change in changed if change.table_name == table]


def test_a_week_sent_again(known: dict[str, Figures]) -> None:
    """14 packages fewer, 84.00 less handed in, and the file that says so."""
    (change,) = found(changes(known["held"], known["sent again"], W1), "families")
    assert change.sentence == (
        "Sent again: cash and cheques from a family, 84.00 less; taken by a family, 14 packages fewer and 84.00 less."
    )
    assert (change.troop, change.on_day) == ("0417", W1)
    assert (change.file, change.in_place_of) == ("sent 3/families.csv", "sent 2/families.csv")


def test_a_feed_replaced(known: dict[str, Figures]) -> None:
    """One document now says 60 in place of 48; the rows that say the same again are no change."""
    (change,) = found(changes(known["held"], known["sent again"], W1), "supply")
    assert [(one.kind, one.packages, one.amount, one.rows) for one in change.moved] == [
        ("opening", 12, Decimal("72.00"), 2)
    ]
    assert not found(changes(known["sent again"], known["accepted"], W1, "0417"), "supply")


def test_a_held_part_accepted(known: dict[str, Figures]) -> None:
    """The count of a troop that nobody knew, once its roster is in: from the file that had landed before."""
    (change,) = found(changes(known["sent again"], known["accepted"], W1, "0555"), "stock")
    assert change.sentence == "Accepted since: counted, 12 packages more."
    assert change.file == "sent 2/stock.csv"


def test_other_rules(known: dict[str, Figures]) -> None:
    """A price in season.toml changes every amount that goes by it, and a rate the proceeds, with no row changed."""
    changed = changes(known["accepted"], known["other rules"], W1, "0417")
    assert {change.why for change in changed} == {"Other rules since"}
    moved = {
        (one.measure, one.then, one.now) for one in moved_measures(known["accepted"], known["other rules"], W1, "0417")
    }
    assert ("proceeds_rate", Decimal("0.7000"), Decimal("0.7500")) in moved


def test_later_states(known: dict[str, Figures]) -> None:
    """Orders that came in later but were placed before: their day's figures grow, and the feed is named."""
    (first, *_rest) = found(changes(known["other rules"], known["next week"], W1, "0417"), "online_orders")
    assert first.sentence.startswith("Sent: online order, posted or donated, ")
    assert first.file.endswith("online_orders.csv")


def test_nothing_changed(known: dict[str, Figures]) -> None:
    """The same state twice; another troop's late week."""
    assert changes(known["held"], known["held"], W1) == []
    assert changes(known["next week"], known["late"], W1, "0417") == []
    assert moved_measures(known["next week"], known["late"], W1, "0417") == []
    assert {change.troop for change in changes(known["next week"], known["late"], W1)} == {"1282"}


def test_the_rows_that_changed_are_named(known: dict[str, Figures]) -> None:
    """A family's row of the newer file beside the one that it takes the place of."""
    (change,) = found(changes(known["held"], known["sent again"], W1), "families")
    lines = {(one.is_new, one.about, one.packages, one.file, one.row_no) for one in change.lines}
    assert (False, "GLA 0417-01", 24, "sent 2/families.csv", 2) in lines
    assert (True, "GLA 0417-01", 10, "sent 3/families.csv", 2) in lines


def test_what_is_no_entry_of_the_ledger_is_told_too(known: dict[str, Figures]) -> None:
    """A participant on the roster, and the balance that a later cover says."""
    (roster,) = found(changes(known["sent again"], known["accepted"], W1, "0555"), "roster")
    assert roster.sentence == "Sent: registered, 1 row more."
    (cover,) = found(changes(known["other rules"], known["next week"], W2, "0417"), "cover")
    assert cover.sentence == "Sent: bank balance read, 61.50 more."


def test_a_week_is_looked_back_at_alone(grown: Grown) -> None:
    """One day of an earlier state, and the weeks that were published then."""
    at = grown.times["sent again"]
    with looking_back.looked_back(grown.trial.book, at, W1) as con:
        assert Figures(con, COORDINATOR).days() == [W1]
        assert table_text(Figures(con, COORDINATOR), "standing", W1) == grown.given["sent again", W1]["standing"]
    with looking_back.looked_back(grown.trial.book, at) as con:
        assert Figures(con, COORDINATOR).days() == [W1]
    with looking_back.looked_back(grown.trial.book, grown.times["late"]) as con:
        assert Figures(con, COORDINATOR).days() == [W1, W2, W3]


def command(grown: Grown, *options: str) -> Done:
    """`musterbook changes` since the held week, as of the first week's end."""
    since = grown.times["held"].replace(tzinfo=UTC).isoformat()
    return typed("changes", "--since", since, "--week", "1", "--book", str(grown.trial.book.folder), *options)


def test_the_command_says_which_file_which_rows_and_by_how_much(grown: Grown) -> None:
    """In words, with its rows, and for machines."""
    done = command(grown, "--troop", "0417", "--rows")
    assert (done.returncode, done.stderr) == (0, "")
    assert "  families, 2027-02-14: Sent again: cash and cheques from a family, 84.00 less;" in done.stdout
    assert ", in place of sent 2/families.csv" in done.stdout
    assert "no longer: taken by a family GLA 0417-01 24 packages 144.00 (sent 2/families.csv row 2)" in done.stdout
    made = json.loads(command(grown, "--json").stdout)
    assert {"0417", "0555", "1282"} <= {change["troop"] for change in made["changes"]}
    owed = next(one for one in made["measures"] if (one["troop"], one["measure"]) == ("0417", "owed"))
    assert owed["then"] != owed["now"]


def test_the_command_where_nothing_changed_or_nothing_is_there(grown: Grown) -> None:
    """A time to come, a troop that is not there, what is no time."""
    assert command(grown, "--since", "2099-01-01").stdout.startswith("Nothing changed since 2099-01-01 23:59")
    none = command(grown, "--troop", "0999")
    assert (none.returncode, none.stderr[:24]) == (2, "There is no troop 0999 h")
    assert command(grown, "--since", "Tuesday").stderr.startswith("--since Tuesday: type a time such as")
