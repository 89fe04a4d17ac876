"""A book whose warehouse is lost or damaged: it is said, and it is made anew with equal figures."""

from collections.abc import Callable
from pathlib import Path

import pytest
from trial import W1, Trial

from pipelines.definitions.errors import Damaged, Stop
from pipelines.follow_up.decisions import Entry, Key, write
from pipelines.reports.rollup import roll_up
from pipelines.store import engine, landed_tables
from pipelines.store.book import Book
from pipelines.upkeep.copies import backup
from pipelines.upkeep.proof import prove
from pipelines.upkeep.rebuilding import rebuild
from pipelines.workflow import take_in
from pipelines.workflow.dismissing import dismiss

BANKED = "troop week_ending date amount slip\n0417 2027-02-14 2027-02-13 80.00 S1"
STOCK = "troop week_ending item on_hand\n0417 2027-02-14 GLA {}"
SUPPLY = "document troop item date packages kind\nD1 0417 GLA 2027-02-08 120 opening"


@pytest.fixture
def kept(trial: Trial) -> Trial:
    """A week taken in twice, a held file that a later feed frees, one that stays held, a note and a promise."""
    trial.send(stock=STOCK.format(100), roster="troop participant registered_on\n0777 0777-01 2026-10-01")
    trial.send(supply=SUPPLY, banked=BANKED)
    trial.send(stock=STOCK.format(90), troops="troop level\n0777 older")
    trial.send(banked="troop week_ending date amount\n0031 2027-02-14 someday 3.00")
    write(trial.book, "Ann", W1, [Entry(Key("no_contact", "0031"), "note", "Asked the leader")])
    return trial


def figures(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Every published table but the marks of when it was made."""
    with book.reading() as con:
        names = con.execute(
            "select schema_name || '.' || table_name from duckdb_tables() where not internal order by 1"
        ).fetchall()
        found = {name: con.execute(f"select t::varchar from {name} t").fetchall() for (name,) in names}  # noqa: S608
    return {name: sorted(rows) for name, rows in found.items()}


def found(book: Book) -> list[str]:
    """What a proof of the book finds."""
    return [line for proof in prove(book) for line in proof.found]


def lose(path: Path) -> None:
    path.unlink()


def flip(path: Path) -> None:
    held = bytearray(path.read_bytes())
    held[:200] = bytes(len(held[:200]))
    path.write_bytes(held)


@pytest.mark.parametrize("harm", [lose, flip])
def test_a_warehouse_made_anew_gives_the_same_figures(kept: Trial, harm: Callable[[Path], None]) -> None:
    """It is told first, by whoever would write and by a proof; the published figures stay readable meanwhile."""
    before = figures(kept.book)
    harm(kept.book.warehouse_file)
    with pytest.raises(Damaged, match="musterbook rebuild"):
        kept.send(banked=BANKED)
    assert any("musterbook rebuild" in line for line in found(kept.book))
    assert figures(kept.book) == before

    done = rebuild(kept.book)
    assert (done.files, done.follow_ups) == (10, len(before["landed.follow_ups"]))
    assert figures(kept.book) == before
    assert found(kept.book) == []
    assert (done.kept is None) == (harm is lose)


def test_a_book_of_before_the_journal_is_made_anew_from_what_is_published(kept: Trial) -> None:
    """The published figures say which files landed, and when."""
    before = figures(kept.book)
    kept.book.journal.unlink()
    lose(kept.book.warehouse_file)
    rebuild(kept.book)
    assert figures(kept.book) == before


def test_where_landed_bytes_are_lost_too_the_published_rows_are_taken(kept: Trial) -> None:
    """The lost file is named; sent again it is mended."""
    before = figures(kept.book)
    lose(kept.book.warehouse_file)
    [deposits] = [path for path in kept.book.landed.glob("*/*") if path.read_bytes().endswith(b"80.00,S1\r\n")]
    text = deposits.read_bytes()
    deposits.unlink()
    with pytest.raises(Damaged, match=r"banked\.csv: not in .*--from-snapshot"):
        rebuild(kept.book)
    rebuild(kept.book, from_snapshot=True)
    assert figures(kept.book) == before
    assert len(found(kept.book)) == 1
    again = kept.folder / "again.csv"
    again.write_bytes(text)
    assert [one.status for one in kept.take_in(again)] == ["already taken in"]
    assert found(kept.book) == []


def test_a_landed_file_that_was_altered_is_mended_by_the_same_file(trial: Trial) -> None:
    trial.send(banked=BANKED)
    [path] = [path for path in trial.book.landed.glob("*/*") if path.read_bytes().endswith(b"80.00,S1\r\n")]
    text = path.read_bytes()
    path.write_bytes(text.replace(b"80.00", b"90.00"))
    assert ["Take the same file in again" in line for line in found(trial.book)] == [True]
    assert backup(trial.book, trial.folder / "copy.tar").altered == 1  # which is said: an older copy is worth more
    (trial.folder / "banked.csv").write_bytes(text)
    trial.take_in(trial.folder / "banked.csv")
    assert path.read_bytes() == text


def test_published_figures_that_are_damaged_are_told_and_made_anew(trial: Trial) -> None:
    """By the next that takes something in; nothing rests on them."""
    before = figures(trial.book)
    flip(trial.book.current_snapshot())
    with pytest.raises(Damaged, match="musterbook rebuild"), trial.book.reading():
        pass
    assert len(found(trial.book)) == 1
    assert take_in.refresh(trial.book, "tests")
    assert figures(trial.book) == before
    assert found(trial.book) == []


def test_a_pointer_that_is_damaged_is_made_anew(trial: Trial) -> None:
    before = figures(trial.book)
    (trial.book.published / "current").write_bytes(b"\xff\0x")
    assert not trial.book.has_snapshot()
    assert ["Nothing is published" in line for line in found(trial.book)] == [True]
    assert take_in.refresh(trial.book, "tests")
    assert figures(trial.book) == before


def test_an_older_warehouse_put_in_place_is_told(trial: Trial) -> None:
    """It knows less than what has landed."""
    before = trial.book.warehouse_file.read_bytes()
    trial.send(banked=BANKED)
    trial.book.warehouse_file.write_bytes(before)
    with pytest.raises(Damaged, match="knows less"):
        take_in.refresh(trial.book, "tests")
    rebuild(trial.book)
    assert found(trial.book) == []


def test_a_journal_broken_off_or_altered_is_written_anew(trial: Trial) -> None:
    """All that it says stands in the warehouse too."""
    trial.send(banked=BANKED)
    whole = trial.book.journal.read_bytes()
    lines = sorted(whole.splitlines())
    for harmed in (whole[:-7], whole.replace(b"{", b"(", 1), b""):
        trial.book.journal.write_bytes(harmed)
        take_in.refresh(trial.book, "tests")
        assert sorted(trial.book.journal.read_bytes().splitlines()) == lines


def test_a_damaged_file_of_accounts_is_told(trial: Trial) -> None:
    (trial.book.folder / "access.sqlite").write_bytes(b"not a database, whatever its name says" * 99)
    assert ["access.sqlite is damaged" in line for line in found(trial.book)] == [True]
    with pytest.raises(Damaged, match=r"access\.sqlite is damaged"):
        backup(trial.book, trial.folder / "copy.tar")


def test_every_landed_table_is_read_again_or_told_in_the_journal() -> None:
    """A table that neither bytes nor journal give back would be lost with the warehouse."""
    from pipelines.definitions.contract import TABLES
    from pipelines.store.journal import TOLD

    judged = {"units", "findings", "cell_places"}
    assert set(landed_tables.LANDED) == judged | TOLD.keys() | TABLES.keys()


def test_a_fault_in_sql_names_its_file(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever of the relations that are made at once it falls in."""
    from pipelines.store import relations

    no_cache = relations._resting_on.__wrapped__
    for name, file in (("facts.troops", "sql/3_facts/troops.sql"), ("measures.dues", "sql/4_measures/dues.sql")):
        broken = tuple(
            (one, select.replace("select", "select no_such_column,", 1) if one == name else select)
            for one, select in relations.ordered_relations()
        )
        monkeypatch.setattr(relations, "ordered_relations", lambda broken=broken: broken)
        monkeypatch.setattr(relations, "_resting_on", no_cache)
        with engine.connect() as con:
            landed_tables.prepare_landed(con)
            with pytest.raises(engine.Fault, match=f"^{file}: (.|\n)*no_such_column"):
                relations.compute(con, trial.book.season(), [W1], only=frozenset({name}))
        monkeypatch.undo()


def test_a_photo_that_was_dismissed_stays_kept_and_is_asked_about_no_more(trial: Trial) -> None:
    """Also after the warehouse is made anew; a file of a troop cannot be dismissed."""
    photo = trial.folder / "stall.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0 a photo")
    trial.take_in(photo)
    trial.send(banked=BANKED.replace("80.00", "eighty"))
    deposits = "sent 2/banked.csv"
    assert roll_up(trial.book, W1).held == ("stall.jpg", deposits)
    with pytest.raises(Stop, match=f"No file {deposits} waits unread"):
        dismiss(trial.book, deposits, "Ann")
    assert dismiss(trial.book, "stall.jpg", "Ann") == 1
    with pytest.raises(Stop):
        dismiss(trial.book, "stall.jpg", "Ann")
    assert roll_up(trial.book, W1).held == (deposits,)
    trial.book.warehouse_file.unlink()
    rebuild(trial.book)
    with trial.book.reading() as con:
        assert con.execute("select written_by from landed.dismissals").fetchall() == [("Ann",)]
    assert photo.read_bytes() in {path.read_bytes() for path in trial.book.landed.glob("*/*")}
