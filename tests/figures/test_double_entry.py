"""Double entry: what each event posts, that all of it balances and is what the measures say, and the ledger as text.

MUSTERBOOK_SEASONS: how many random seasons are tried (3 unless set).
"""

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import busy
import pytest
import season_files
import seasons
from beancount import loader
from beancount.core.data import Balance, Transaction
from trial import FEEDS, SEASON, W1, W2, W3, Trial, accepted

from pipelines.figures import double_entry
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.beancount import ledger_text, named
from pipelines.store import engine, landed_tables
from pipelines.store.book import Book
from pipelines.workflow import looking_back

SEASONS = int(os.environ.get("MUSTERBOOK_SEASONS", "3"))

# Of troop 0417 in the busy book: what each kind of event takes from one account into another, in all.
POSTED = """
2027-02-06  opening              stock                    organisation_charged      462.00
2027-02-10  remote_order         organisation_paid_online organisation_charged       30.00
2027-02-11  remote_order         organisation_paid_online organisation_charged       29.00
2027-02-13  remote_order         organisation_paid_online organisation_charged       12.00
2027-02-14  count_short          missing                  stock                       6.00
2027-02-14  damage               damaged                  stock                      18.00
2027-02-14  deposit              bank                     cash                       25.00
2027-02-14  donation_out         families                 organisation_charged        6.00
2027-02-14  family_card          bank                     families                    9.00
2027-02-14  family_cash          cash                     families                   20.00
2027-02-14  hand_out             families                 stock                      89.00
2027-02-14  proceeds             organisation_proceeds    proceeds                   58.80
2027-02-14  stall_card           bank                     stall_short                 3.00
2027-02-14  stall_cash           cash                     stall_short                20.00
2027-02-14  stall_sale           stall_short              stock                      24.00
2027-02-15  count_short_undone   stock                    missing                     6.00
2027-02-16  hand_order           organisation_paid_online families                   18.00
2027-02-20  adjustment           organisation_adjusted    adjustments                 5.00
2027-02-20  remittance           organisation_remitted    bank                      100.00
2027-02-21  bring_back           stock                    families                   12.00
2027-02-21  count_short          missing                  stock                      42.00
2027-02-21  deposit              bank                     cash                      100.00
2027-02-21  family_cash          cash                     families                   85.00
2027-02-21  move_out             organisation_charged     stock                      36.00
2027-02-21  proceeds             proceeds                 organisation_proceeds       4.20
2027-02-22  count_short_undone   stock                    missing                    42.00
2027-02-23  remote_order_undone  organisation_charged     organisation_paid_online   29.00
2027-02-24  depot                stock                    organisation_charged       72.00
2027-02-25  remittance_undone    bank                     organisation_remitted     100.00
2027-02-25  taken_back           organisation_charged     stock                      43.50
2027-02-26  exchange             stock                    damaged                    12.00
2027-02-27  remittance           organisation_remitted    bank                       60.00
2027-02-27  settlement           organisation_settled     families                    6.00
2027-02-28  count_short          missing                  stock                       7.25
2027-02-28  damage               damaged                  stock                       6.00
2027-02-28  proceeds             organisation_proceeds    proceeds                    1.40
2027-03-01  count_short_undone   stock                    missing                     7.25
"""


@contextmanager
def computed(book: Book, days: list[date]) -> Iterator[engine.Connection]:
    """A warehouse with the relations of several days."""
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            compute(memory, book.season(), days)
            yield memory
        finally:
            memory.close()


def faults(con: engine.Connection) -> list[str]:
    """What the proofs find."""
    return [*double_entry.places_proved(con)[1], *double_entry.balances_proved(con)[1]]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The busy book."""
    trial = Trial(tmp_path_factory.mktemp("busy"))
    trial.send(**FEEDS)
    return busy.fill(trial).book


@pytest.fixture(scope="module")
def con(book: Book) -> Iterator[engine.Connection]:
    """The busy book on its three weeks' ends."""
    with computed(book, [W1, W2, W3]) as memory:
        yield memory


def test_what_each_event_posts(con: engine.Connection) -> None:
    """Every kind of event of troop 0417: the day, into which account, out of which, how much."""
    lines = [
        tuple(str(part) for part in row)
        for row in con.execute(
            "with sums as (select on_day, kind, account, sum(amount) as amount from ledger.postings "
            "where troop = '0417' "
            "group by on_day, kind, account, case when kind = 'remote_order' then reference end) "
            "select i.on_day, i.kind, i.account, o.account, i.amount from sums i join sums o on o.on_day = i.on_day "
            "and o.kind = i.kind and o.amount = -i.amount where i.amount > 0 order by i.on_day, i.kind, i.amount desc"
        ).fetchall()
    ]
    assert lines == [tuple(line.split()) for line in POSTED.strip().splitlines()]


def test_every_event_is_posted_twice(con: engine.Connection) -> None:
    """Into one account and out of another, the same amount, from the same row; nowhere else."""
    halves = con.execute(
        "select count(*), count(distinct account), sum(amount) from ledger.postings "
        "group by troop, on_day, kind, item, participant, reference, abs(amount), file_no, sheet, row_no"
    ).fetchall()
    assert {tuple(row) for row in halves} == {(2, 2, Decimal("0.00"))}
    unsourced = con.execute("select distinct kind from ledger.postings where file_no is null").fetchall()
    assert unsourced == [("proceeds",)]


def test_the_organisations_account_is_what_is_owed(con: engine.Connection) -> None:
    """Of 0417 after three weeks, by hand: charged 502.50 less proceeds 56.00 less credits 131.00."""
    balance = con.execute(
        "select -sum(balance) from ledger.balances where starts_with(account, 'organisation_') and troop = '0417' "
        "and as_of = ?", [W3]
    ).fetchall()  # fmt: skip
    charged = Decimal("462.00") + 72 - Decimal("43.50") - 36 + 30 + 12 + 6
    credits = Decimal("30.00") + 12 + 18 + 60 + 5 + 6
    assert balance == [(charged - Decimal("56.00") - credits,)]


def test_the_trial_balance_is_nil_and_each_account_its_measure(con: engine.Connection) -> None:
    """The busy book, at each of its weeks, with the number of balances that were compared."""
    assert faults(con) == []
    assert con.execute("select count(*) from ledger.trial_balance").fetchall()[0][0] > 150
    assert con.execute("select count(*) from ledger.trial_balance where balance <> 0").fetchall()[0][0] > 60


@pytest.mark.publishes
@pytest.mark.parametrize("seed", range(100, 100 + SEASONS))
def test_random_seasons_balance(seed: int, new_trial: Callable[..., Trial]) -> None:
    """Returns, exchanges, refunds, falling dues, overpaid families, unstocked items, troops with nothing: on weeks'
    ends, days between and long after; and the ledger as text is accepted, every balance asserted."""
    made = seasons.make(seed)
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "in", made.tables)
    assert accepted(trial.take_in(trial.folder / "in"))
    days = sorted({*made.weeks, *made.days(6)})
    with computed(trial.book, days) as memory:
        assert faults(memory) == []
        text = ledger_text(Figures(memory, COORDINATOR), days[-1])
    entries, errors, _options = loader.load_string(text)
    assert errors == []
    assert {entry.date for entry in entries if isinstance(entry, Balance)} == {day + timedelta(1) for day in days}


# Statements of account


def lines_of(con: engine.Connection, party: str) -> list[tuple[str, ...]]:
    """A statement of troop 0417's account with the organisation (party empty) or of a family with its troop."""
    done = con.execute(
        "select on_day, kind, charged, credited, balance from ledger.statement_lines "
        "where troop = '0417' and party = ? and on_day <= ? order by on_day, kind, reference", [party, W2]
    ).fetchall()  # fmt: skip
    return [tuple(str(part) for part in row) for row in done]


def test_a_statement_with_the_organisation_adds_up(con: engine.Connection) -> None:
    """Line by line to what is owed at the end of the second week."""
    assert lines_of(con, "") == [
        ("2027-02-06", "opening", "288.00", "0.00", "288.00"),
        ("2027-02-06", "opening", "174.00", "0.00", "462.00"),
        ("2027-02-10", "remote_order", "30.00", "30.00", "462.00"),
        ("2027-02-11", "remote_order", "29.00", "29.00", "462.00"),
        ("2027-02-13", "remote_order", "12.00", "12.00", "462.00"),
        ("2027-02-14", "donation_out", "6.00", "0.00", "468.00"),
        ("2027-02-14", "proceeds", "0.00", "58.80", "409.20"),
        ("2027-02-16", "hand_order", "0.00", "18.00", "391.20"),
        ("2027-02-20", "adjustment", "0.00", "5.00", "386.20"),
        ("2027-02-20", "remittance", "0.00", "100.00", "286.20"),
        ("2027-02-21", "move_out", "-36.00", "0.00", "250.20"),
        ("2027-02-21", "proceeds", "0.00", "-4.20", "254.40"),
    ]
    owed = con.execute("select owed from measures.standing where troop = '0417' and as_of = ?", [W2]).fetchall()
    assert owed == [(Decimal("254.40"),)]


def test_a_familys_statement_adds_up(con: engine.Connection) -> None:
    """Taken, paid, brought back, refunded; an order that pays."""
    assert lines_of(con, "0417-01") == [
        ("2027-02-14", "donation_out", "6.00", "0.00", "6.00"),
        ("2027-02-14", "family_cash", "0.00", "20.00", "-14.00"),
        ("2027-02-14", "hand_out", "60.00", "0.00", "46.00"),
        ("2027-02-16", "hand_order", "0.00", "18.00", "28.00"),
        ("2027-02-21", "bring_back", "-12.00", "0.00", "16.00"),
        ("2027-02-21", "family_cash", "0.00", "-5.00", "21.00"),
    ]
    owes = con.execute(
        "select owes from measures.families where participant = '0417-01' and as_of = ?", [W2]
    ).fetchall()
    assert owes == [(Decimal("21.00"),)]


# Against the world


def seen(con: engine.Connection, troop: str, day: date) -> list[tuple[str, ...]]:
    """What others saw beside ours: about, item, ours, theirs, difference, explanation."""
    done = con.execute(
        "select about, item, ours, theirs, difference, explanation from ledger.against_the_world "
        "where troop = ? and as_of = ? order by about, item", [troop, day]
    ).fetchall()  # fmt: skip
    return [tuple(str(part) for part in row) for row in done]


def test_counts_bank_and_the_organisation_beside_ours(con: engine.Connection) -> None:
    """What agrees needs no explanation; what does not gets the likeliest."""
    assert seen(con, "0417", W2) == [
        ("bank", "", "37.00", "61.50", "24.50", "the account may hold other money"),
        (
            "count",
            "GLA",
            "27.00",
            "20.00",
            "-7.00",
            "not explained yet: count once more, and look for an entry not sent",
        ),
        ("count", "HRB", "20.00", "20.00", "0.00", ""),
    ]
    assert seen(con, "0417", W3)[-1][:5] == ("organisation", "", "315.50", "250.00", "-65.50")


@pytest.mark.publishes
@pytest.mark.parametrize(
    ("tables", "says"),
    [
        ({"organisation_balance": "0417 2027-02-28 375.50"}, "the remittance R-2 of 26 February is not yet known"),
        ({"organisation_balance": "0417 2027-02-28 215.50"}, "they count the remittance R-1 of 19 February"),
        ({"organisation_balance": "0417 2027-02-28 251.90"}, "the supply record D-7 of 24 February is not yet known"),
        ({"cover": "0417 2027-02-28 leader 137.00 2027-02-26"}, "the remittance R-2 of 26 February had not left"),
        ({"stock": "0417 2027-02-28 HRB 0 0 1"}, "as many were counted as there should be cases"),
        ({"stock": "0417 2027-02-28 HRB 8 0 20"}, "the troop received 32, the supply record says 24"),
    ],
)  # fmt: skip
def test_the_likeliest_explanation(tables: dict[str, str], says: str, book: Book, tmp_path: Path) -> None:
    """One difference each, made on purpose."""
    trial = Trial(tmp_path)
    trial.begin_with(book.folder)
    headers = {
        "organisation_balance": "troop on owed", "cover": "troop week_ending prepared_by bank_balance balance_on",
        "stock": "troop week_ending item received damaged on_hand",
    }  # fmt: skip
    assert accepted(trial.send(**{name: f"{headers[name]}\n{rows}" for name, rows in tables.items()}))
    with computed(trial.book, [W3]) as memory:
        told = [row[-1] for row in seen(memory, "0417", W3) if row[0] != "count" or "stock" in tables]
    assert any(line.startswith(says) for line in told), told


# The ledger as text


@pytest.fixture(scope="module")
def text(con: engine.Connection) -> str:
    """The busy book's ledger."""
    return ledger_text(Figures(con, COORDINATOR), W3)


def errors_in(text: str) -> list[str]:
    """What beancount's own loader finds."""
    return [error.message for error in loader.load_string(text)[1]]


def test_the_text_is_accepted(text: str) -> None:
    """Every event is a transaction with its source, every account is asserted at every week's end."""
    entries, errors, options = loader.load_string(text)
    assert errors == []
    assert options["operating_currency"] == ["USD"]
    events = [entry for entry in entries if isinstance(entry, Transaction)]
    worked_out = [event for event in events if "file" not in event.meta]
    assert {event.narration.split(",")[0] for event in worked_out} == {"Proceeds"}
    family = next(event for event in events if event.meta.get("file") == "sent 2/families.csv")
    assert (family.payee, family.narration) == ("0417", "Taken by a family 0417-01: 10 GLA")
    assert (family.meta["sheet"], family.meta["row"]) == ("", Decimal(2))
    asserted = {(entry.account, entry.date) for entry in entries if isinstance(entry, Balance)}
    accounts = {account for account, _day in asserted}
    assert asserted == {(account, day + timedelta(1)) for account in accounts for day in (W1, W2, W3)}
    assert {"Assets:0417:Families:0417-01", "Liabilities:0417:Organisation", "Assets:0031:Stock:GLA"} <= accounts
    assert {entry.tolerance for entry in entries if isinstance(entry, Balance)} == {Decimal("0.00")}


def test_one_wrong_cent_is_caught(text: str) -> None:
    """In one posting, in both postings of an event, in a balance (checks.md, trap T2: only with `~ 0.00`)."""
    event = re.search(r"  Assets:0417:Cash  20\.00 USD\n  Assets:0417:Families:0417-01  -20\.00 USD\n", text)
    assert event
    off = event[0].replace("  20.00", "  20.01")
    assert any("does not balance" in said for said in errors_in(text.replace(event[0], off, 1)))
    both = off.replace("-20.00", "-20.01")
    assert any("Balance failed" in said for said in errors_in(text.replace(event[0], both, 1)))
    balance = re.search(r"balance Assets:0417:Bank  [\d.]+ ~ 0\.00", text)
    assert balance
    cents = re.sub(r"(\d+\.\d\d) ~", lambda amount: f"{Decimal(amount[1]) + Decimal('0.01')} ~", balance[0])
    assert any("Balance failed" in said for said in errors_in(text.replace(balance[0], cents, 1)))
    blind = text.replace(balance[0], cents, 1).replace(" ~ 0.00", "")
    assert not any("Assets:0417:Bank" in said for said in errors_in(blind))


def test_any_troop_and_item_name(new_trial: Callable[..., Trial]) -> None:
    """Codes of every kind, quotation marks and backslashes in titles: each account its own, all accepted."""
    season = SEASON.replace('"A small season"', r'"A \"small\" \\ season"').replace('code = "HRB"', 'code = "h2"')
    trial = new_trial(season)
    troops = ["Älv/7", "älv-7", "a b", "A b", "Code-7", "7:8", 'x"y', "Stock", "\\"]
    rows = ["troop participant registered_on"]
    stock = ["troop week_ending item damaged on_hand"]
    families = ["troop week_ending participant item packages cash"]
    for troop in troops:
        code = troop.replace(" ", "~")
        rows.append(f"{code} {code}.1 2026-10-01")
        stock.append(f"{code} {W1} h2 1 0")
        families += [f"{code} {W1} {code}.1 h2 2 -", f"{code} {W1} {code}.1 - - 7.25", f"{code} {W1} troop GIV 1 -"]
    assert accepted(trial.send(roster="\n".join(rows)))
    assert accepted(trial.send(stock="\n".join(stock), families="\n".join(families)))
    with looking_back.figures(trial.book, COORDINATOR, W1) as figures:
        entries, errors, _options = loader.load_string(ledger_text(figures, W1))
    assert errors == []
    opened = {entry.meta["troop"] for entry in entries if entry.meta.get("troop")}
    assert opened == set(troops)
    assert len({named(troop) for troop in troops}) == len(troops)


def test_names_of_accounts() -> None:
    """A code that may stand in a name stays; any other is written mark by mark, and none can be taken for another."""
    assert [named(code) for code in ("0417-01", "A", "troop", "ä", "-e4-", "Code-x", "")] == [
        "0417-01", "A", "Code-troop", "Code--e4-", "Code--2d-e4-2d-", "Code-Code-2d-x", "Code-",
    ]  # fmt: skip


def test_an_earlier_days_text_does_not_know_of_later_ones(con: engine.Connection, book: Book) -> None:
    """Of the second week: the same, byte for byte, from figures of three weeks and from those of two."""
    with computed(book, [W1, W2]) as memory:
        anew = ledger_text(Figures(memory, COORDINATOR), W2)
    assert ledger_text(Figures(con, COORDINATOR), W2) == anew
    assert not re.search(r"^2027-02-2[3-9]", anew, re.MULTILINE)
