"""The book looked after on the screen: a copy to bring back, a proof in words, forms of any week, a purge."""

import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from shown_screens import sound, text
from streamlit.testing.v1 import AppTest
from trial import FEEDS, Trial

from dashboard.data import care, downloads, snapshots
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store.book import Book
from pipelines.upkeep import copies

Open = Callable[..., AppTest]


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    trial = Trial(tmp_path_factory.mktemp("care"))
    trial.send(**FEEDS, supply="document troop item date packages kind\nOP-1 0417 GLA 2027-02-06 48 opening")
    return trial


def fresh(book: Book) -> None:
    snapshots.open_book(book, lambda: COORDINATOR, lambda: True)


def test_the_copy_that_is_fetched_can_be_brought_back(trial: Trial, tmp_path: Path) -> None:
    fresh(trial.book)
    made = downloads._book(COORDINATOR, downloads.BOOK, {})
    assert made
    (tmp_path / "copy.tar").write_bytes(made[1])
    again = copies.restore(tmp_path / "copy.tar", tmp_path / "again").path
    assert (again / "season.toml").read_bytes() == trial.book.season_file.read_bytes()
    assert downloads._book(Viewer("hers", frozenset({"0417"})), downloads.BOOK, {}) is None
    snapshots.open_book(None)


def test_forms_of_the_first_week_and_of_no_week(trial: Trial) -> None:
    """Before anything was sent there are forms for week 1; a week that the season has not has none."""
    fresh(trial.book)
    made = downloads._made(COORDINATOR, downloads.FORMS, {"week": "1"})
    assert made
    names = zipfile.ZipFile(io.BytesIO(made[1])).namelist()
    assert sorted(names) == [f"{troop} week 2027-02-14.xlsx" for troop in ("0031", "0417", "1282")]
    assert downloads._made(COORDINATOR, downloads.FORMS, {"week": "99"}) is None
    assert downloads._made(Viewer("hers", frozenset({"0417"})), downloads.FORMS, {"week": "1"}) is None
    snapshots.open_book(None)


def test_the_proof_is_told_in_words_and_a_purge_asks_for_the_area(trial: Trial, tmp_path: Path) -> None:
    book = trial.copied_to(tmp_path).book
    fresh(book)
    at = AppTest.from_file(str(Path(downloads.__file__).parents[1] / "app.py"), default_timeout=60)
    at.switch_page("screens/kept.py")
    sound(at.run())
    next(one for one in at.button if one.label.startswith("Go through")).click().run()
    assert "Nothing is wrong" in text(sound(at))
    at.text_input[0].set_value("Another area")
    next(one for one in at.button if one.label == "Remove for good").click().run()
    assert "Nothing was removed" in text(sound(at))
    assert not care.is_purged()
    at.text_input[0].set_value(book.season().season.area)
    at.checkbox[0].check()
    next(one for one in at.button if one.label == "Remove for good").click().run()
    assert "are gone" in text(sound(at))
    assert care.is_purged()
    snapshots.open_book(None)
