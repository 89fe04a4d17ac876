"""A few troops' weeks make a snapshot out of the one before: equal, table for table, to one made anew of all.

Random seasons, their last week and then corrected weeks sent one at a time in a random order, a troop closed between;
each chain of snapshots is held against a computation from the rows. MUSTERBOOK_SEASONS: how many seasons are tried (2
unless set).
"""

import os
import random
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import season_files
import seasons
from trial import Trial

from pipelines.store import touched
from pipelines.upkeep.proof import prove
from pipelines.workflow import closing, publishing

SEEDS = range(40, 40 + int(os.environ.get("MUSTERBOOK_SEASONS", "2")))
Week = tuple[str, date]


@pytest.fixture
def made_of_the_one_before(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Of each publishing whether its snapshot was made of the one before, and not of all after all."""
    told: list[bool] = []
    make = publishing._make_touched

    def listened(*asked: object) -> bool:
        told.append(make(*asked))  # type: ignore[arg-type]
        return told[-1]

    monkeypatch.setattr(publishing, "_make_touched", listened)
    return told


@pytest.fixture
def publishings(monkeypatch: pytest.MonkeyPatch) -> list[touched.Touched | None]:
    """What each publishing found to be touched; a book of any size counts as large."""
    told: list[touched.Touched | None] = []
    few = touched.few

    def listened(*asked: object) -> touched.Touched | None:
        told.append(few(*asked))  # type: ignore[arg-type]
        return told[-1]

    monkeypatch.setattr(touched, "MANY", 1)
    monkeypatch.setattr(touched, "SHARE", 1)
    monkeypatch.setattr(publishing.touched, "few", listened)
    return told


def differs(trial: Trial) -> list[str]:
    return [line for proof in prove(trial.book) for line in proof.found]


def corrected(tables: season_files.Tables, dice: random.Random) -> season_files.Tables:
    """A week as its leader mends it: one count higher, one family's row left out, a move to another troop told."""
    mended = {name: [dict(row) for row in rows] for name, rows in tables.items()}
    for row in mended["stock"][:1]:
        row["on_hand"] = (row["on_hand"] or 0) + 1
    if mended["families"]:
        mended["families"].pop(dice.randrange(len(mended["families"])))
    if mended["moves"]:
        mended["moves"].pop()
    return mended


@pytest.mark.parametrize("seed", SEEDS)
def test_one_week_after_another_equals_all_at_once(
    seed: int,
    tmp_path: Path,
    new_trial: Callable[..., Trial],
    publishings: list[touched.Touched | None],
    made_of_the_one_before: list[bool],
) -> None:
    dice = random.Random(seed)  # noqa: S311 - dice for a test
    made = seasons.make(seed, troops=7, weeks=3)
    trial = new_trial(made.text)
    weeks = season_files.by_week(made.sheets)
    last = {week: tables for week, tables in weeks.items() if week[1] == made.weeks[-1]}
    late = dict(dice.sample(sorted(last.items(), key=str), min(3, len(last))))
    season_files.write_csvs(tmp_path / "feeds", made.feeds)
    for (troop, week), tables in weeks.items():
        if (troop, week) not in late:
            season_files.write_workbook(tmp_path / "feeds" / f"{troop} {week}.xlsx", troop, week, tables)
    trial.take_in(tmp_path / "feeds")
    assert trial.book.has_snapshot()
    sent = [*late.items(), *((week, corrected(weeks[week], dice)) for week in dice.sample(sorted(weeks), 4))]
    publishings.clear()
    made_of_the_one_before.clear()
    for number, ((troop, week), tables) in enumerate(sent):
        if number == len(late):  # its rows stay as they are, whatever its partners and it itself say
            closing.close(trial.book, "Ann", made.weeks[-1], (troop,), anyway=True)
        path = season_files.write_workbook(tmp_path / f"{number} {troop}.xlsx", troop, week, tables)
        trial.take_in(path)
    few = [one for one in publishings if one]
    assert len(few) >= 4, publishings
    assert any(len(one.troops) > 1 for one in few)
    assert sum(made_of_the_one_before) == len(few), "of a fault in its making nothing would be seen but the time"
    assert differs(trial) == []


@pytest.mark.parametrize("name", ["troops", "supply"])
def test_a_feed_touches_all(name: str, new_trial: Callable[..., Trial], publishings: list[object]) -> None:
    feeds = {
        "troops": "troop level\n0417 younger\n0031 older",
        "supply": "document troop item date packages kind\nD1 0417 GLA 2027-02-08 120 opening",
    }
    trial = new_trial()
    trial.send(**feeds)
    assert trial.book.has_snapshot()
    trial.send(**{name: feeds[name].replace("younger", "older").replace("120", "60")})
    assert publishings[-1] is None
    assert differs(trial) == []


def test_whoever_gives_and_whose_participants_are_seen_elsewhere_is_touched_too(
    new_trial: Callable[..., Trial], publishings: list[touched.Touched | None]
) -> None:
    """The other troop of a move and the troop of somebody who helped at a stall; not a troop that neither meets."""
    trial = new_trial()
    trial.send(
        troops="troop level\n0417 younger\n0031 older\n1282 older\n2754 older",
        roster="troop participant registered_on\n0417 0417-01 2026-10-01\n0031 0031-01 2026-10-01\n"
        "1282 1282-01 2026-10-01\n2754 2754-01 2026-10-01",
        stock="troop week_ending item on_hand\n2754 2027-02-14 GLA 4\n0031 2027-02-14 GLA 9",
    )
    assert trial.book.has_snapshot()
    landed = trial.send(
        moves="troop week_ending date item packages direction other_troop\n0417 2027-02-14 2027-02-10 GLA 12 out 0031",
        stalls="troop week_ending date start place item packages participants\n"
        "0417 2027-02-14 2027-02-13 10:00 Market GLA 8 1282-01:90",
    )
    assert [one.status for one in landed] == ["taken in"] * 2, landed
    assert publishings[-1] is not None
    assert publishings[-1].troops == ["0031", "0417", "1282"]
    assert differs(trial) == []
