"""What an area handed up is what a new computation gives, on any machine; a killed worker changes nothing."""

import json
import shutil
import subprocess
import sys
import types
from pathlib import Path

import areas
import pytest
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.region import engines, proving
from pipelines.reports.rollup import week_of


@pytest.fixture(scope="module")
def region(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two areas, each a book with what it handed up in its out/."""
    place = tmp_path_factory.mktemp("region")
    trial = areas.taken_in(tmp_path_factory.mktemp("area"), 3, troops=2, weeks=1)
    book = trial.book
    day = book.season().first_week_ending
    with week_of(book, day) as week:
        areas.hand_up(week, book.out / day.isoformat())
    for name in ("hill", "vale"):
        shutil.copytree(book.folder, place / f"area={name}")
    return place


def folders(region: Path) -> list[str]:
    return sorted(str(path.parent) for path in region.glob("*/out/*/manifest.json"))


def test_an_area_that_was_altered_after_it_was_made_is_told(region: Path, tmp_path: Path) -> None:
    """Its own manifest agrees with the altered table; the book does not."""
    shutil.copytree(region, tmp_path / "region")
    altered = tmp_path / "region" / "area=vale" / "out"
    (folder,) = altered.iterdir()
    manifest = areas.manifest_of(folder)
    manifest["files"]["tables/region/pace.parquet"] = "0" * 64
    areas.write_manifest(folder, manifest)
    sound, faulty = (proving.prove(one) for one in folders(tmp_path / "region"))
    assert (sound["differs"], sound["reason"]) == ((), "")
    assert (faulty["differs"], faulty["reason"]) == (("pace",), "")


def test_an_area_without_its_book_is_not_said_to_be_proved(region: Path, tmp_path: Path) -> None:
    (folder, *_more) = folders(region)
    shutil.copytree(folder, tmp_path / "area=alone")
    assert "its book does not lie around it" in proving.prove(str(tmp_path / "area=alone"))["reason"]


def test_a_killed_worker_is_replaced_and_the_result_is_the_same(
    region: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engines, "prove", areas.prove_killed_once)
    monkeypatch.setitem(sys.modules, "__main__", types.ModuleType("__main__"))  # a test of a screen left its own there
    told = engines.local(folders(region), str(tmp_path), "")
    assert (tmp_path / areas.KILLED).exists()
    assert [(one["differs"], one["reason"]) for one in told] == [((), ""), ((), "")]
    kept = [json.loads(path.read_text(encoding="utf-8"))["digests"] for path in tmp_path.glob("*.json")]
    assert kept == [told[0]["digests"]] * 2  # the two areas are copies of one


def test_the_program_starts_workers_that_do_not_start_it_again(region: Path) -> None:
    """As it is typed: each worker reads the program's own file anew."""
    asked = [sys.executable, "-m", "pipelines", "region", "prove", str(region)]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, "2 of 2 areas come to what they handed up.", "")


def test_the_command_names_the_engines_and_what_differs(region: Path) -> None:
    wrong = CliRunner().invoke(app, ["region", "prove", str(region), "--on", "abacus"])
    assert wrong.exit_code != 0
    assert "local or spark or dask" in str(wrong.exception)
