"""A book of an older program moves on by itself when it is next opened; one of a newer program is left alone."""

import lzma
import shutil
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest
from trial import W1, W2, Trial, accepted

from pipelines.commands import open_book
from pipelines.definitions.errors import NewerBook
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.rollup import roll_up
from pipelines.store import engine, migrations
from pipelines.store.book import Book
from pipelines.upkeep import copies
from pipelines.upkeep.proof import prove
from pipelines.workflow import looking_back, take_in

COPIES = sorted((Path(__file__).parents[1] / "fixtures" / "older_book").glob("*.tar.xz"))
WEEK_2 = {
    "stock": "troop week_ending item on_hand\n0417 2027-02-21 GLA 90\n0417 2027-02-21 HRB 20",
    "families": "troop week_ending participant item packages cash\n0417 2027-02-21 0417-02 GLA 10 -\n"
    "0417 2027-02-21 0417-01 - - 69.00",
    "banked": "troop week_ending date amount slip\n0417 2027-02-21 2027-02-20 69.00 S2",
}


@pytest.fixture(params=COPIES, ids=lambda path: path.name.partition(".")[0])
def copy(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A copy that a program of an earlier format made of its book."""
    made = tmp_path / "older.book.tar"
    made.write_bytes(lzma.decompress(request.param.read_bytes()))
    return made


@pytest.fixture
def older(copy: Path, tmp_path: Path, new_trial: Callable[..., Trial]) -> Trial:
    """The book itself, as that program left it."""
    trial = new_trial()
    shutil.rmtree(trial.book.folder)
    with tarfile.open(copy) as tar:
        tar.extractall(trial.book.folder, filter="data")
    return trial


def test_a_week_is_closed_in_an_older_book(older: Trial, capsys: pytest.CaptureFixture[str]) -> None:
    """It is said once that it moved on and where it is kept as it was; no figure of before is another."""
    before = older.book.warehouse_file.read_bytes()
    book = open_book(older.book.folder)
    said = capsys.readouterr().err
    [kept] = book.before.iterdir()
    assert str(kept) in said
    assert kept.read_bytes() == before
    standing = older.standing("0417", W1)
    assert (standing["sold_from_stock"], standing["families_owe"]) == ("24", "69.00")
    with looking_back.figures(book, COORDINATOR) as figures:
        written = {(row["kind"], row["words"]) for row in figures.follow_ups() if row["written_by"] == "Ann"}
    assert written == {("promise", "By Friday"), ("note", "Asked the leader")}

    assert accepted(older.send(**WEEK_2))
    assert older.standing("0417", W2)["sold_from_stock"] == "34"
    assert roll_up(book, W2).files
    assert [line for proof in prove(book) for line in proof.found] == []
    open_book(older.book.folder)
    assert capsys.readouterr().err == ""
    assert [*book.before.iterdir()] == [kept]


def test_an_older_copy_is_brought_back(copy: Path, tmp_path: Path) -> None:
    """It moves on as it is opened, and is proved."""
    folder = tmp_path / "back"
    copies.restore(copy, folder)
    assert [line for proof in prove(open_book(folder)) for line in proof.found] == []


def test_tables_and_columns_that_the_contract_gained_are_added(trial: Trial) -> None:
    """Rows of before stand in the columns they were in, wherever the new one came."""
    trial.send(banked=WEEK_2["banked"])
    with trial.book.writing() as con:
        before = con.execute("from landed.banked").fetchall()
        con.execute("drop table landed.goals")
        con.execute("alter table landed.banked drop amount")
        con.execute("alter table landed.files drop sender")
        con.execute("alter table landed.files add sender varchar default 'x'")
    with trial.book.writing() as con:
        assert migrations.shape(con) == migrations._wanted()
        [found], [was] = con.execute("from landed.banked").fetchall(), before
        assert [a for a, b in zip(found, was, strict=True) if a != b] == [None]
        assert con.execute("select distinct sender from landed.files").fetchall() == [("x",)]
    assert len([*trial.book.before.iterdir()]) == 1


def test_moving_on_that_breaks_off_leaves_the_older_book(older: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next command moves it on."""
    monkeypatch.setattr(migrations, "_note_format", lambda _con: 1 / 0)
    with pytest.raises(ZeroDivisionError), older.book.writing():
        pass
    monkeypatch.undo()
    with engine.connect(older.book.warehouse_file) as con:
        assert "formats" not in migrations.shape(con)
    with older.book.writing() as con:
        assert migrations.shape(con) == migrations._wanted()


@pytest.mark.parametrize("done", ["insert into landed.formats values (99, now())", "create table landed.rain (mm int)"])
def test_a_book_of_a_newer_program_is_left_alone(trial: Trial, done: str) -> None:
    """A plain sentence, and nothing changed."""
    with engine.connect(trial.book.warehouse_file) as con:
        con.execute(done)
    before = trial.book.warehouse_file.read_bytes()
    with pytest.raises(NewerBook, match="newer Musterbook"):
        take_in.refresh(trial.book, "tests")
    assert trial.book.warehouse_file.read_bytes() == before
    assert not trial.book.before.exists()


def test_figures_of_another_program_are_made_anew_before_they_are_read(trial: Trial) -> None:
    """They may lack what this program reads."""
    snapshot = trial.book.current_snapshot()
    other = snapshot.with_name("20270101T000000000000-0123456789.duckdb")
    snapshot.rename(other)
    (trial.book.published / "current").write_text(other.name, encoding="utf-8")
    assert not Book(trial.book.folder).is_published_by_this_program()
    assert open_book(trial.book.folder).is_published_by_this_program()


def test_a_book_of_format_2_moves_on(trial: Trial) -> None:
    """Where columns stand had the name that places of stalls have now; pages told of pictures in other words."""
    with engine.connect(trial.book.warehouse_file) as con:
        kept = con.execute("select count(*) from landed.cell_places").fetchall()
        con.execute("drop table landed.places")
        con.execute("alter table landed.cell_places rename to places")
        con.execute("alter table landed.pages drop column own_picture")
        con.execute("alter table landed.pages add column picture varchar")
        con.execute("alter table landed.pages add column steps_reached integer")
        con.execute("insert into landed.pages by name select 0 unit_no, 1 file_no, '' sheet, 2 row_no, '0417' troop, "
                    "'0417-01' participant, date '2027-02-10' as \"on\", true page_open, 'photo' picture")  # fmt: skip
        con.execute("update landed.formats set format_no = 2")
    with trial.book.writing() as con:
        assert migrations.shape(con) == migrations._wanted()
        assert con.execute("select count(*) from landed.cell_places").fetchall() == kept
        assert con.execute("select count(*) from landed.places").fetchall() == [(0,)]
        assert con.execute("select own_picture from landed.pages").fetchall() == [("still",)]
