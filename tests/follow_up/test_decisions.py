"""What people write down about exceptions: notes, promises, settled, set aside; and what the tool notes by itself."""

import json
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, W1, W2, W3, Trial, rules_alone
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.definitions.errors import Stop
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.follow_up import decisions
from pipelines.follow_up.decisions import Entry, Key
from pipelines.store.book import Book, now
from pipelines.workflow import looking_back, publishing

RULES = ("past_due", "packages_missing", "no_contact")
pytestmark = pytest.mark.rules(*RULES)
W4 = date(2027, 3, 7)
DUE = Key("past_due", "0417")
STOCK = "troop week_ending item received damaged on_hand\n"
REMITTANCES = "reference troop date amount state state_on reason\n"
COLLECTIONS = "troop on amount announced_on\n0417 2027-02-10 100.00 2027-02-09"
Row = dict[str, Any]


def close(trial: Trial, week: date, **tables: str) -> None:
    """Everybody submits the week, and so it is published; other rows come with it."""
    lines = [f"{troop} {week} GLA - - 0" for troop in ("0417", "0031", "1282")]
    trial.send(stock=STOCK + "\n".join(lines), **tables)


def listed(book: Book, day: date, key: Key = DUE) -> Row | None:
    """An exception as it is listed on a day."""
    with looking_back.figures(book, COORDINATOR) as figures:
        rows = [row for row in figures.rows("exceptions", day) if (row["rule"], row["troop"]) == (key.rule, key.troop)]
    return next((row for row in rows if row["subject"] == key.subject), None)


def history(book: Book, key: Key = DUE) -> list[str]:
    """What was written down about an exception, by kind, oldest first."""
    with looking_back.figures(book, COORDINATOR) as figures:
        return [row["kind"] for row in figures.follow_ups() if Key(row["rule"], row["troop"], row["subject"]) == key]


def state(book: Book, day: date, key: Key = DUE) -> str:
    row = listed(book, day, key)
    return row["state"] if row else "cleared"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """0417 is past due by $100.00 as of the second week, which is published; nobody writes in it."""
    trial = Trial(tmp_path_factory.mktemp("owing"))
    with rules_alone(*RULES):
        trial.send(**FEEDS)
        assert trial.book.has_snapshot()
        close(trial, W2, collections=COLLECTIONS)
    return trial


@pytest.fixture
def owing(made_once: Trial, tmp_path: Path) -> Trial:
    """A copy of it to write in."""
    return made_once.copied_to(tmp_path)


def paid(amount: str, on: str = "2027-02-24") -> str:
    return REMITTANCES + f"R-1 0417 {on} {amount} cleared {on} -"


# One entry


def test_a_note_is_kept_with_who_and_when(owing: Trial) -> None:
    before = now()
    assert decisions.write(owing.book, "Ines", W2, [Entry(DUE, "note", " called, no answer ")]) == 1
    with looking_back.figures(owing.book, COORDINATOR) as figures:
        entry = figures.follow_ups("0417")[-1]
    assert (entry["written_by"], entry["words"], entry["as_of"]) == ("Ines", "called, no answer", W2)
    assert before <= entry["written_at"] <= now()
    assert (entry["at_stake"], state(owing.book, W2)) == (Decimal("100.00"), "open")


def test_a_second_press_writes_nothing_twice(owing: Trial) -> None:
    note = Entry(DUE, "note", "called")
    assert [decisions.write(owing.book, "Ines", W2, [note]) for _ in range(2)] == [1, 0]
    assert decisions.write(owing.book, "Bo", W2, [note]) == 1  # somebody else called too
    assert history(owing.book) == ["opened", "note", "note"]


@pytest.mark.parametrize(("entry", "told"), [
    (Entry(DUE, "note", "  "), "A note needs its words."),
    (Entry(DUE, "settle"), "say the reason"),
    (Entry(DUE, "promise"), "needs a day after 2027-02-21"),
    (Entry(DUE, "promise", on_day=W2), "needs a day after 2027-02-21"),
    (Entry(DUE, "promise", on_day=W3, amount=Decimal(0)), "above nil"),
    (Entry(DUE, "set_aside", on_day=W1), "needs a day after 2027-02-21"),
    (Entry(DUE, "note", "x" * 2001), "at most 2,000"),
    (Entry(Key("past_due", "0031"), "note", "x"), "There is no exception past_due/0031."),
])  # fmt: skip
def test_what_cannot_be_written_is_said(owing: Trial, entry: Entry, told: str) -> None:
    with pytest.raises(Stop, match=told.replace(".", r"\.")):
        decisions.write(owing.book, "Ines", W2, [entry])
    assert history(owing.book) == ["opened"]


def test_only_the_coordinator_reads_them(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "note", "called")])
    with looking_back.figures(owing.book, Viewer("leader", frozenset({"0417"}))) as figures:
        assert figures.follow_ups() == []
        assert figures.rows("exceptions", W2) == []


# Promises


def test_a_promise_waits_for_its_day_and_is_kept(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "after the stall", W3, Decimal("100.00"))])
    row = listed(owing.book, W2)
    assert row
    assert (row["state"], row["until_on"], row["promised"]) == ("promised", W3, Decimal("100.00"))
    close(owing, W3, remittances=paid("100.00"))
    assert state(owing.book, W3) == "cleared"
    assert listed(owing.book, W3, Key("promise_broken", "0417", "past_due")) is None


@pytest.mark.parametrize(("sent", "promised", "left", "what"), [
    ("40.00", "100.00", "60.00", "$100.00 was promised for 28 February; $40.00 of it has come."),
    ("0.00", "30.00", "30.00", "$30.00 was promised for 28 February."),
    ("40.00", None, "60.00", "It was promised for 28 February; $40.00 of it has come."),
    ("40.00", "40.00", None, ""),  # kept, though more is owed
])  # fmt: skip
def test_a_promise_not_kept_is_an_exception(
    owing: Trial, sent: str, promised: str | None, left: str | None, what: str
) -> None:
    amount = Decimal(promised) if promised else None
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3, amount)])
    close(owing, W3, remittances=paid(sent))
    broken = listed(owing.book, W3, Key("promise_broken", "0417", "past_due"))
    assert state(owing.book, W3) == "open"
    if left is None:
        assert broken is None
        return
    assert broken
    assert (broken["severity"], broken["at_stake"], broken["what"]) == ("act now", Decimal(left), what)
    assert sum(piece["amount"] for piece in broken["evidence"]) == broken["at_stake"]


def test_a_new_promise_takes_the_broken_ones_place(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3)])
    close(owing, W3)
    assert listed(owing.book, W3, Key("promise_broken", "0417", "past_due"))
    decisions.write(owing.book, "Ines", W3, [Entry(DUE, "promise", "next week", W4)])
    assert listed(owing.book, W3, Key("promise_broken", "0417", "past_due")) is None
    assert state(owing.book, W3) == "promised"


def test_what_is_settled_since_breaks_no_promise(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3)])
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "the organisation waits until May")])
    close(owing, W3)
    assert listed(owing.book, W3, Key("promise_broken", "0417", "past_due")) is None
    assert state(owing.book, W3) == "settled"


def test_new_debts_do_not_break_a_promise_that_was_kept(owing: Trial) -> None:
    """All $100.00 came, but then another $500.00 fell due."""
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3, Decimal("100.00"))])
    close(owing, W3, remittances=paid("100.00"), collections=COLLECTIONS + "\n0417 2027-02-15 600.00 2027-02-12")
    row = listed(owing.book, W3)
    assert row
    assert row["at_stake"] == Decimal("500.00")
    assert listed(owing.book, W3, Key("promise_broken", "0417", "past_due")) is None


# Settled, set aside, opened again


def test_settled_until_it_grows(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "the organisation waits until May")])
    close(owing, W3)
    row = listed(owing.book, W3)
    assert row
    assert (row["state"], row["decided"]) == ("settled", "the organisation waits until May")
    close(owing, W4, collections=COLLECTIONS + "\n0417 2027-02-15 150.00 2027-02-12")
    assert state(owing.book, W4) == "open"


def test_set_aside_until_its_day(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "set_aside", "on holiday", W4)])
    close(owing, W3)
    assert state(owing.book, W3) == "set aside"
    close(owing, W4)
    assert state(owing.book, W4) == "open"


def test_opened_again_by_hand(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "agreed")])
    assert state(owing.book, W2) == "settled"
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "reopen")])
    assert state(owing.book, W2) == "open"


# Clearing by itself, coming back


def test_it_clears_by_itself_and_comes_back_with_its_history(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "agreed")])
    close(owing, W3, remittances=paid("100.00"))
    assert (state(owing.book, W3), history(owing.book)) == ("cleared", ["opened", "settle", "cleared"])
    came_back = REMITTANCES + "R-1 0417 2027-02-24 100.00 returned 2027-03-02 R01"
    close(owing, W4, remittances=came_back)
    row = listed(owing.book, W4)
    assert row
    assert (row["state"], row["has_returned"], row["first_seen"]) == ("open", True, W4)
    assert history(owing.book) == ["opened", "settle", "cleared", "opened"]


def test_it_comes_back_though_nobody_saw_it_clear(owing: Trial) -> None:
    """Two weeks come in at once: paid in the one, come back in the other."""
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "agreed")])
    both = "0417 2027-02-24 100.00 {}"
    remittances = f"R-1 {both.format('cleared 2027-02-24 -')}\nR-1 {both.format('returned 2027-03-02 R01')}"
    close(owing, W4, remittances=REMITTANCES + remittances)
    assert [state(owing.book, day) for day in (W2, W3, W4)] == ["settled", "cleared", "open"]
    assert history(owing.book) == ["opened", "settle"]


def test_a_corrected_week_clears_what_it_tripped(trial: Trial) -> None:
    """The count was mistyped: the week's new version leaves no trace in the figures, but the history keeps it."""
    key = Key("packages_missing", "0417", "GLA")
    supply = "document troop item date packages kind\nD-1 0417 GLA 2027-02-06 24 opening"
    trial.send(supply=supply, stock=STOCK + "0417 2027-02-14 GLA - - 2")
    decisions.write(trial.book, "Ines", W1, [Entry(key, "note", "asked for a second count")])
    trial.send(stock=STOCK + "0417 2027-02-14 GLA - - 24")
    assert (state(trial.book, W1, key), history(trial.book, key)) == ("cleared", ["opened", "note", "cleared"])
    assert decisions.write(trial.book, "Ines", W1, [Entry(key, "note", "two cases, it was")]) == 1
    trial.send(stock=STOCK + "0417 2027-02-14 GLA - - 3")
    assert history(trial.book, key) == ["opened", "note", "cleared", "note", "opened"]


# Never lost, never doubled


def test_publishing_again_changes_nothing(owing: Trial) -> None:
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3)])
    with looking_back.figures(owing.book, COORDINATOR) as figures:
        before = figures.follow_ups()
    for _ in range(2):
        with owing.book.writing() as con:
            publishing.publish(owing.book, con, owing.book.season())
    with looking_back.figures(owing.book, COORDINATOR) as figures:
        assert figures.follow_ups() == before
    assert state(owing.book, W2) == "promised"


def test_a_copied_book_has_them_all(owing: Trial) -> None:
    """Copying the folder copies everything; its snapshots can be made anew."""
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "promise", "", W3)])
    copied = owing.folder / "restored"
    shutil.copytree(owing.book.folder, copied)
    shutil.rmtree(copied / "published")
    book = Book(copied)
    with book.writing() as con:
        publishing.publish(book, con, book.season())
    assert (state(book, W2), history(book)) == ("promised", ["opened", "promise"])


def test_an_earlier_known_on_time_knows_nothing_of_later_entries(owing: Trial) -> None:
    before = now()
    decisions.write(owing.book, "Ines", W2, [Entry(DUE, "settle", "agreed")])
    with looking_back.figures(owing.book, COORDINATOR, W2, before) as figures:
        (row,) = [row for row in figures.rows("exceptions", W2) if row["rule"] == "past_due"]
        assert row["state"] == "open"
        assert not [entry for entry in figures.follow_ups() if entry["kind"] == "settle"]


def test_a_day_between_weeks_says_since_when(owing: Trial) -> None:
    """Made anew for a Wednesday: the weeks before it are looked at too."""
    with looking_back.figures(owing.book, COORDINATOR, date(2027, 2, 24)) as figures:
        (row,) = [row for row in figures.rows("exceptions", date(2027, 2, 24)) if row["rule"] == "past_due"]
    assert (row["first_seen"], row["weeks_open"]) == (W2, 2)
    assert row["what"] == "$100.00 is past due since 10 February (14 days)."


def test_past_weeks_show_what_was_decided_by_then(owing: Trial) -> None:
    close(owing, W3)
    decisions.write(owing.book, "Ines", W3, [Entry(DUE, "settle", "agreed")])
    assert (state(owing.book, W2), state(owing.book, W3)) == ("open", "settled")


# The command


def run(book: Book, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(app, ["follow-up", "--book", str(book.folder), *words])
    return done.exit_code, done.output if not done.exception or done.exit_code else str(done.exception)


def test_the_command_lists_writes_and_shows(owing: Trial) -> None:
    status, said = run(owing.book)
    assert status == 0
    assert "to follow up in 2 troops" in said
    row = listed(owing.book, W2)
    assert row
    assert f"{row['code']}  act now new      $100.00 is past due since 10 February (11 days)." in said
    assert run(owing.book, row["code"], "--promise", "2027-02-28", "--amount", "$100.00", "--note", "by Sunday") == (
        0, f"{row['code']}: promised.\n" + run(owing.book, row["code"])[1],
    )  # fmt: skip
    shown = run(owing.book, str(DUE))[1]
    assert "[promised for 2027-02-28]" in shown
    assert "promised. 100.00 for 2027-02-28 by Sunday" in shown
    assert "of the instalment due on 10 February is unpaid" in shown
    (told,) = json.loads(run(owing.book, row["code"], "--json")[1])
    assert (told["state"], told["at_stake"]) == ("promised", "100.00")


@pytest.mark.parametrize(("words", "told"), [
    (["--note", "x"], "Which exception?"),
    (["past_due/0417", "--promise", "soon"], "type a day such as"),
    (["past_due/0417", "--promise", "2027-02-28", "--amount", "many"], "type an amount such as"),
    (["past_due/0417", "--settle", "x", "--reopen"], "One at a time"),
    (["past_due/0417", "--note", "x", "--amount", "5"], "--amount goes with --promise"),
    (["0000000"], "There is no troop and no open exception 0000000"),
])  # fmt: skip
def test_the_command_says_what_it_cannot_do(owing: Trial, words: list[str], told: str) -> None:
    done = CliRunner().invoke(app, ["follow-up", "--book", str(owing.book.folder), *words])
    assert isinstance(done.exception, Stop)
    assert told in str(done.exception)
