"""A copy of a book in use, a book from a copy, and what is left when participants' rows are purged."""

import tarfile
import threading
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from canaries import canary_book
from trial import SEASON, Trial

from pipelines.accounts.accounts import Access
from pipelines.commands import open_book
from pipelines.definitions.errors import NotABook, Stop
from pipelines.definitions.season import read_season
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up import agreements
from pipelines.reports.csv_tables import table_text
from pipelines.store import engine
from pipelines.store.book import Book
from pipelines.upkeep import retention
from pipelines.upkeep.copies import MANIFEST, backup, restore
from pipelines.upkeep.proof import prove
from pipelines.workflow import closing, drafts, looking_back, take_in

LATE = date(2027, 12, 31)
TABLES = ("standing", "items")


def figures_of(book: Book) -> dict[str, str]:
    """standing.csv and items.csv of every published week."""
    with looking_back.figures(book, COORDINATOR) as figures:
        return {f"{name} {day}": table_text(figures, name, day) for name in TABLES for day in figures.days()}


def found(book: Book) -> list[str]:
    """What a proof of the book finds."""
    return [line for proof in prove(book) for line in proof.found]


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """Two weeks of thirteen troops, with an account, a draft and a paper; nobody writes in it."""
    trial = canary_book(tmp_path_factory.mktemp("full"))
    access = Access(trial.book.folder)
    access.add("leader-0417", "leader", ["0417"], by="tests", email="leader@example.org")
    draft = [drafts.Typed("cover", "", "note", "", "QZX draft")]
    drafts.change(access.store, "0417", date(2027, 2, 28), draft, drafts.Draft(), "leader-0417")
    paper = trial.book.out / "2027-02-21" / "families.csv"
    paper.parent.mkdir(parents=True)
    paper.write_text("QZX01-P1", encoding="utf-8")
    return trial


@pytest.fixture
def full(made_once: Trial, tmp_path: Path) -> Trial:
    """A copy of it to write in."""
    return made_once.copied_to(tmp_path)


@pytest.fixture(scope="module")
def purged_once(made_once: Trial, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """The same, purged; nobody writes in it."""
    trial = made_once.copied_to(tmp_path_factory.mktemp("purged"))
    retention.purge(trial.book, "tests", LATE, early=True)
    return trial


@pytest.fixture
def purged(purged_once: Trial, tmp_path: Path) -> Trial:
    """A copy of it to write in."""
    return purged_once.copied_to(tmp_path)


def test_a_copy_brings_back_the_same_book(full: Trial, tmp_path: Path) -> None:
    before = figures_of(full.book)
    copied = backup(full.book, tmp_path / "copy.tar")
    assert copied.path.stat().st_mode & 0o077 == 0
    restore(copied.path, tmp_path / "again")
    again = Book(tmp_path / "again")
    assert figures_of(again) == before
    assert found(again) == []
    assert (again.out / "2027-02-21" / "families.csv").read_text(encoding="utf-8") == "QZX01-P1"
    assert [one.name for one in Access(again.folder).people()] == ["leader-0417"]


def test_a_copy_made_while_a_week_is_taken_in_is_a_whole_state(full: Trial, tmp_path: Path) -> None:
    """The copy holds the week wholly or not at all, and proves either way."""
    stock = "troop week_ending item on_hand\n0417 2027-02-28 GLA 30"
    writer = threading.Thread(target=lambda: full.send(stock=stock))
    writer.start()
    restore(backup(full.book, tmp_path / "copy.tar").path, tmp_path / "again")
    writer.join()
    again = Book(tmp_path / "again")
    assert found(again) == []
    assert len(figures_of(again)) in (2 * 2, 3 * 2)


def test_sign_ins_do_not_come_back_with_a_copy(full: Trial, tmp_path: Path) -> None:
    access = Access(full.book.folder)
    entered = access.enter_by_link(access.link("leader-0417", by="tests"))
    link = access.link("leader-0417", by="tests")
    assert isinstance(entered, tuple)
    restore(backup(full.book, tmp_path / "copy.tar").path, tmp_path / "again")
    again = Access(tmp_path / "again")
    assert again.signed_in(entered[1]) is None
    assert not isinstance(again.enter_by_link(link), tuple)


def _flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _no_copy(path: Path) -> None:
    path.write_bytes(b"something else")


def _climb(path: Path) -> None:
    with tarfile.open(path, "w") as tar:
        for name in (MANIFEST, "../outside"):
            tar.addfile(tarfile.TarInfo(name))


@pytest.mark.parametrize("harm", [_flip, _cut, _no_copy, _climb])
def test_a_damaged_copy_is_refused_and_leaves_nothing(
    full: Trial, tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    copy = backup(full.book, tmp_path / "copy.tar").path
    harm(copy)
    with pytest.raises(NotABook):
        restore(copy, tmp_path / "again")
    assert not (tmp_path / "again").exists()
    assert not (tmp_path / "outside").exists()


def test_nothing_is_written_over(full: Trial, tmp_path: Path) -> None:
    copy = backup(full.book, tmp_path / "copy.tar").path
    with pytest.raises(Stop, match="there already"):
        backup(full.book, copy)
    with pytest.raises(Stop, match="not empty"):
        restore(copy, full.book.folder)


def test_participants_are_kept_until_the_time_of_season_toml() -> None:
    assert read_season(SEASON).care.keep_days == 180
    assert read_season(SEASON + "\n[care]\nkeep_days = 30\n").care.keep_days == 30


def test_before_its_time_nothing_is_purged(full: Trial) -> None:
    last = full.book.season().season.last_day
    assert retention.keep_until(full.book) == last + timedelta(days=180)
    with pytest.raises(Stop, match="are kept until 2027-09-17"):
        retention.purge(full.book, "tests", date(2027, 9, 17))
    assert found(full.book) == []


def test_nothing_is_purged_while_the_season_is_not_closed(full: Trial) -> None:
    with pytest.raises(Stop, match="The closing is not done: 13 of 13 troops"):
        retention.purge(full.book, "tests", LATE)
    closing.close(full.book, "tests", date(2027, 2, 21), anyway=True)
    closing.confirm(full.book, "tests", "coordinator")
    with pytest.raises(Stop, match="13 of 13 troops are not closed and confirmed by both sides"):
        retention.purge(full.book, "tests", LATE)
    closing.confirm(full.book, "leader-0417", "leader")
    agreements.hand_over(full.book, "tests", "0417", "0417-01", Decimal("1.00"), "asked", date(2027, 2, 21))
    with pytest.raises(Stop, match=r"^1 debts that were handed over are open, 1\.00 in all"):
        retention.purge(full.book, "tests", LATE)
    agreements.answer_debt(full.book, "tests", "take_back", "0417", "0417-01", date(2027, 2, 21))
    retention.purge(full.book, "tests", LATE)
    assert found(full.book) == []


def test_after_a_purge_the_totals_stay_and_no_participant_is_left_in_any_byte(full: Trial) -> None:
    before = figures_of(full.book)
    done = retention.purge(full.book, "tests", LATE, early=True)
    assert figures_of(full.book) == before
    assert done.files == 9
    assert done.rows > 100
    for path in full.book.folder.rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            for gone in (b"QZX01-P1", b"0417-01", b"QZX01 Leader", b"QZX01 Market", b"QZX draft", b"leader@example.org",
                         b"qzx stock"):  # fmt: skip
                assert gone not in content, (path.name, gone)
    with looking_back.figures(full.book, COORDINATOR) as figures:
        assert figures.rows("families") == []
        assert figures.facts("roster") == []
        assert {row["leader"] for row in figures.facts("troops")} == {None}
        assert figures.files.landed()[0]["name"] == "removed"


def test_a_purged_book_says_so_and_takes_nothing_in(purged: Trial) -> None:
    [proof] = prove(purged.book)
    assert proof.found == ()
    assert "were purged" in proof.proved
    assert "cannot be computed again" in proof.proved
    with pytest.raises(Stop, match="season is over"):
        purged.send(stock="troop week_ending item on_hand\n0417 2027-02-28 GLA 30")
    with pytest.raises(Stop, match="season is over"):
        retention.purge(purged.book, "tests", LATE, early=True)
    assert take_in.refresh(purged.book, "tests")
    access = Access(purged.book.folder)
    assert all(one.withdrawn for one in access.people() if one.role == "leader")


def test_a_purged_book_that_was_altered_is_found(purged: Trial) -> None:
    lying = purged.book.landed / "ab" / ("ab" * 32)
    lying.parent.mkdir(exist_ok=True)
    lying.write_bytes(b"0417-01")
    mark = purged.book.purge_mark
    text = mark.read_text(encoding="utf-8")
    digest = retention.purged(purged.book).tables["measures.standing"]  # type: ignore[union-attr]
    mark.write_text(text.replace(digest, "0" * 64), encoding="utf-8")
    [proof] = prove(purged.book)
    assert len(proof.found) == 2


def test_a_purged_book_can_be_copied_and_brought_back(purged: Trial, tmp_path: Path) -> None:
    before = figures_of(purged.book)
    restore(backup(purged.book, tmp_path / "copy.tar").path, tmp_path / "again")
    assert figures_of(Book(tmp_path / "again")) == before
    assert found(Book(tmp_path / "again")) == []


def test_a_purge_that_broke_off_is_finished_by_the_next_command(
    full: Trial, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is taken in meanwhile. What nobody thinks of goes too: half-landed bytes, what was sent, older copies."""
    folder = full.book.folder
    for name in ("sent.csv", "landed/ab/.abcd.77", "before/2027 format 1.duckdb", ".copying/access.sqlite", "note.txt"):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text("QZX01-P1", encoding="utf-8")
    before = figures_of(full.book)
    with monkeypatch.context() as patched:
        patched.setattr(retention, "_remove_files", broken_off)
        with pytest.raises(KeyboardInterrupt):
            retention.purge(full.book, "tests", LATE, early=True)
    with pytest.raises(Stop, match="season is over"):
        full.send(stock="troop week_ending item on_hand\n0417 2027-02-28 GLA 30")
    book = open_book(folder)
    assert "purge that was broken off is finished" in capsys.readouterr().err
    assert figures_of(book) == before
    assert found(book) == []
    assert [path for path in folder.rglob("*") if path.is_file() and b"QZX01-P" in path.read_bytes()] == []


def broken_off(*_given: object, **_named: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("name", ["sent.csv", "out/letter.eml", "before/older.duckdb", ".tmp"])
def test_a_proof_of_a_purged_book_reads_every_file(purged: Trial, name: str) -> None:
    (purged.book.folder / name).parent.mkdir(exist_ok=True)
    (purged.book.folder / name).write_text("0417-01", encoding="utf-8")
    assert found(purged.book) == [f"{name}: a file that should have been purged."]


def test_a_proof_of_a_purged_book_reads_both_warehouses(purged: Trial) -> None:
    with engine.connect(purged.book.warehouse_file) as con:
        con.execute("update landed.files set name = 'Ann.csv' where file_no = 1")
        con.execute("insert into landed.goals (participant) values ('0417-01')")
    assert len(found(purged.book)) == 2
