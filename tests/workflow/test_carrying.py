"""The next season's book: what comes along, and what does not."""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, SEASON, W1, W2, Trial, accepted

from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import read_season
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store import engine
from pipelines.store.engine import Connection
from pipelines.tracing.area import AreaTracer
from pipelines.workflow.carrying import carry, moved_on

YEAR = timedelta(weeks=52)
AWARD = '\n[[awards]]\ncode = "GROW1"\ntitle = "Grower"\nsteps = 3\n'
NOTE = "a-note-that-stays"
STALLS = "\n".join(
    f"0417 2027-02-14 2027-02-{day:02} 09:00 11:00 GATE {item} {packages} {cash} -"
    for day, takings in ((8, 60), (9, 90), (10, 72))
    for item, packages, cash in (("GLA", takings // 6, "-"), ("-", "-", f"{takings}.00"))
)
TABLES = FEEDS | {
    "troops": "troop level town leader\n0417 younger Fennick Our~Leader\n0031 older - -\n1282 older - -",
    "supply": "document troop item date packages kind\nD-1 0417 GLA 2027-02-06 90 opening",
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 40\n0417 2027-02-21 GLA 30",
    "families": "troop week_ending participant item packages cash card note\n"
    f"0417 2027-02-14 0417-01 GLA 7 - - -\n0417 2027-02-14 0417-01 - - 12.34 - {NOTE}\n"
    "0417 2027-02-21 0417-02 GLA 10 - - -",
    "stalls": f"troop week_ending date start end place item packages cash card\n{STALLS}",
    "places": "place title town from_on until_on prime\nGATE Garden~gate Fennick 2027-02-01 2027-02-25 yes",
    "slots": "slot place date start end troop state state_on\nF1 GATE 2027-02-27 09:00 11:00 - open 2027-02-01",
    "awards_before": "troop participant award\n0417 0417-01 GROW1",
}


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    made = Trial(
        tmp_path_factory.mktemp("carry"), SEASON + '\n[[awards]]\ncode = "GROW1"\ntitle = "Grower"\nsteps = 3\n'
    )
    assert accepted(made.send(**TABLES))
    access = Access(made.book.folder)
    access.add("lee", "leader", ["0417"], by="tests")
    access.add("ann", "coordinator", by="tests")
    return made


def test_what_comes_along(trial: Trial, tmp_path: Path) -> None:
    done = carry(trial.book, tmp_path / "next", "tests", ["ann"])
    with trial.book.reading() as old, done.book.reading() as new:
        then, now = Figures(old, COORDINATOR), Figures(new, COORDINATOR)
        before = {(row["troop"], row["week_no"], row["item"] or ""): row for row in rows_of_last_season(new)}
        for day, week_no in ((W1, 1), (W2, 2)):
            for row in then.rows("standing", day):
                assert before[row["troop"], week_no, ""]["packages"] == row["packages_sold"]
                assert before[row["troop"], week_no, ""]["participants"] == row["registered"]
            for row in then.rows("items", day):
                sold = row["handed_out"] + row["stall"] + row["remote"]
                assert before[row["troop"], week_no, row["item"]]["packages"] == sold
        assert before["0417", 1, ""]["packages"] == 44
        (area,) = now.rows("area", now.days()[0])
        sold = sum(row["packages_sold"] for row in then.rows("standing", W1))
        assert (area["last_season"], area["matched_then"], area["matched_troops"]) == (sold, sold, 3)
        traced = AreaTracer(now, now.days()[0]).of("area", "last_season", "")
        assert traced.value == sold, "rows of single items are part of those of all items"
        (place,) = now.stalls.places()
        assert (place["title"], place["from_on"], place["prime"]) == ("Garden gate", date(2027, 2, 1) + YEAR, True)
        (did,) = now.stalls.places_before()
        assert (did["stalls"], did["middle_takings"], did["middle_takings_an_hour"]) == (3, Decimal(72), Decimal(36))
        assert [(row["participant"], row["award"]) for row in now.facts("awards_before")] == [("0417-01", "GROW1")]
        assert {row["troop"]: row["town"] for row in now.facts("troops")} == {
            "0031": None,
            "0417": "Fennick",
            "1282": None,
        }
    assert done.season.season.first_day == date(2027, 2, 8) + YEAR
    assert done.season.first_week_ending == W1 + YEAR
    assert [one.name for one in Access(done.book.folder).people()] == ["ann"]
    kept = b"".join(path.read_bytes() for path in done.book.folder.rglob("*") if path.is_file())
    for gone in (NOTE, "12.34", "Our Leader"):
        assert gone.encode() not in kept


def rows_of_last_season(con: Connection) -> list[dict[str, Any]]:
    return engine.rows(con, "from accepted.last_season")


def test_nobody_unknown_is_let_in(trial: Trial, tmp_path: Path) -> None:
    with pytest.raises(Stop, match="eve: no account"):
        carry(trial.book, tmp_path / "next", "tests", ["eve"])
    assert not (tmp_path / "next").exists()


def test_days_move_by_52_weeks_and_remarks_stay() -> None:
    text = SEASON.replace('title = "A small season"', 'title = "Spring 2027"  # the third') + "# until 2027-04-01\n"
    moved = moved_on(text)
    before, after = read_season(text), read_season(moved)
    assert after.season.title == "Spring 2028"
    assert "# the third" in moved
    assert "# until 2028-03-30" in moved
    assert [one.on - YEAR for one in after.dues] == [one.on for one in before.dues]
    assert after.season.first_day.weekday() == before.season.first_day.weekday()
