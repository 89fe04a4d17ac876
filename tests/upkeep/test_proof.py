"""`musterbook verify`: a book proves itself, and whatever is tampered with is named."""

import json
import shutil
from pathlib import Path

import busy
import pytest
from trial import FEEDS, Trial, accepted
from typed_commands import typed

from pipelines.store import engine, landed_tables, relations
from pipelines.store.book import Book
from pipelines.upkeep import proof
from pipelines.workflow import publishing

NAMES = ["Landed files", "Rows", "Published", "Figures", "Where every dollar is", "Double entry", "Who may come in"]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The busy book, with one unit held and one held once and accepted since."""
    trial = Trial(tmp_path_factory.mktemp("sound"))
    trial.send(**FEEDS)
    late = "troop week_ending item damaged on_hand\n0555 2027-02-14 GLA 0 3\n0666 2027-02-14 GLA 0 3"
    busy.fill(trial)
    assert not accepted(trial.send(stock=late))
    trial.send(roster="troop participant registered_on\n0555 0555-01 2026-10-01")
    return trial.book.folder


@pytest.fixture
def book(sound: Path, tmp_path: Path) -> Book:
    """A copy of it to tamper with."""
    return Book(shutil.copytree(sound, tmp_path / "book"))


def found(book: Book) -> dict[str, tuple[str, ...]]:
    """What each proof found, where it found something."""
    return {one.name: one.found for one in proof.prove(book) if one.found}


def landed_as(book: Book, what: str) -> Path:
    """Where the bytes of the newest file of a kind lie."""
    with book.writing() as con:
        done = con.execute("select max_by(sha256, file_no) from landed.files where what = ?", [what]).fetchall()
    return book.landed_path(done[0][0])


def alter(monkeypatch: pytest.MonkeyPatch, relation: str, text: str, other: str) -> None:
    """Lets one relation be computed from another text."""
    altered = dict(relations.ordered_relations())
    assert text in altered[relation]
    altered[relation] = altered[relation].replace(text, other)
    monkeypatch.setattr(relations, "ordered_relations", lambda: tuple(altered.items()))


def test_a_sound_book_is_proved(book: Book) -> None:
    """Every proof is given, and says how much it went through."""
    proofs = proof.prove(book)
    assert [one.name for one in proofs] == NAMES
    assert [one.found for one in proofs] == [()] * len(NAMES)
    said = {one.name: one.proved for one in proofs}
    assert "1 held" in said["Rows"], said["Rows"]
    assert "4 troops, 3 days" in said["Where every dollar is"]


def test_a_large_book_is_made_in_its_file(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """As small ones are in memory: table for table what follows from the rows. One that fails leaves what was there."""
    monkeypatch.setattr(engine, "MANY_UNITS", 0)
    monkeypatch.setattr(landed_tables, "write_out", None)
    before = book.current_snapshot()
    with book.writing() as con:
        publishing.publish(book, con, book.season())
    made = book.current_snapshot()
    assert made != before
    assert found(book) == {}
    alter(monkeypatch, "measures.families", "select", "selekt")
    with book.writing() as con, pytest.raises(engine.Fault, match="families"):
        publishing.publish(book, con, book.season())
    assert book.current_snapshot() == made
    monkeypatch.undo()
    assert found(book) == {}


def test_a_changed_byte(book: Book) -> None:
    """A landed file that somebody edited."""
    path = landed_as(book, "bulk")
    path.write_bytes(path.read_bytes().replace(b"3", b"4", 1))
    (line,) = found(book)["Landed files"]
    assert "not those that landed" in line
    assert "stock.csv" in line


def test_a_lost_file(book: Book) -> None:
    """A landed file that is gone; the rows cannot be read again until it is back."""
    landed_as(book, "feed").unlink()
    assert "not in landed/" in found(book)["Landed files"][0]
    assert "Not gone through" in proof.prove(book)[1].proved


def test_a_stray_file_is_told_and_holds_nothing(book: Book) -> None:
    """Bytes that landed while a writer was stopped: no figure rests on them."""
    book.land(b"never written down")
    proofs = proof.prove(book)
    assert "listed nowhere" in proofs[0].told[0]
    assert not any(one.found for one in proofs)


def test_stored_rows_that_the_files_do_not_hold(book: Book) -> None:
    """The warehouse edited by hand: a cent, a row gone, a row twice, a verdict, a count, a place."""
    changes = {
        "update landed.families set cash = cash + 0.01 where cash = 20.00": "1 rows of families are stored",
        "delete from landed.stalls where cash = 20.00": "0 rows of stalls are stored that its bytes do not",
        "insert into landed.banked select * from landed.banked where slip = 'S1'": "1 rows of banked are stored",
        "update landed.units set accepted_at = null where unit like '0417%02-28'": "stock.csv (file",
        "update landed.units set rows_read = 9 where unit = 'OP-1'": "supply.csv (file",
        "update landed.moves set row_no = 9 where direction = 'out'": "1 rows of moves are stored",
    }
    with book.writing() as con:
        for change in changes:
            con.execute(change)
    lines = found(book)
    for says in changes.values():
        assert any(says in line for line in lines["Rows"]), (says, lines["Rows"])
    assert len(lines["Published"]) == 5


def test_published_figures_that_do_not_follow(book: Book) -> None:
    """A published state edited by hand: a cent more in one measure, a family less, a row that measures come from."""
    with book.holding() as snapshot:
        con = engine.connect(snapshot)
        con.execute("update measures.standing set owed = owed + 0.01 where troop = '0417'")
        con.execute("delete from measures.families where participant = '0417-02'")
        con.execute("update landed.banked set amount = amount + 0.01 where slip = 'S1'")
        con.close()
    lines = found(book)
    assert lines["Published"] == ("banked: the published state is not the newest. `musterbook ingest` publishes anew.",)
    apart = {line.split(":")[0] for line in lines["Figures"]}
    assert {"measures.standing", "measures.families", "accepted.banked"} <= apart
    assert "Rows" not in lines


def test_a_measure_that_loses_a_dollar(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """One wrong sign in one measure: its dollars are left over, and its account holds something else."""
    alter(
        monkeypatch,
        "measures.troop_sums",
        "coalesce(cash, 0) - coalesce(banked, 0)",
        "coalesce(cash, 0) + coalesce(banked, 0)",
    )
    lines = found(book)
    assert "0417, 2027-02-14: -50.00 in money" in lines["Where every dollar is"][0]
    assert "cash" in lines["Double entry"][0]


def test_an_event_without_accounts(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind of event that nobody gave a place: its amount is found in no account."""
    alter(monkeypatch, "ledger.kinds", "('deposit',", "('deposited',")
    assert any("no account" in line for line in found(book)["Double entry"])


def test_the_command(book: Book) -> None:
    """What it proved, line by line; for machines; and exit status 1 where something was found."""
    command = ["verify", "--book", str(book.folder)]
    done = typed(*command)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Nothing found: the book is proved." in done.stdout
    assert all(f"proved  {name}. " in done.stdout for name in NAMES)
    landed_as(book, "feed").unlink()
    done = typed(*command, "--json")
    assert done.returncode == 1
    told = json.loads(done.stdout)
    assert not told["is_proved"]
    assert told["proofs"][0]["found"]
