"""Who changed troops, and who worked at another troop's stall: one participant, one call, in her own troop."""

from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, W2, W3, Trial, accepted

from pipelines.figures.figures import Figures, Relation
from pipelines.figures.viewer import COORDINATOR
from pipelines.tracing.area import AreaTracer
from pipelines.tracing.explain import Tracer
from pipelines.workflow import looking_back

STAYED, LEFT = "0417-02      2026-10-01     -      ", "0417-02      2026-10-01     2027-02-15"
MOVED = FEEDS["roster"].replace(STAYED, LEFT) + "\n        0031   0417-02      2027-02-15     -        yes"
TAKEN = """
    troop  week_ending  participant  item  packages  cash
    0417   2027-02-14   0417-01      GLA   4         -
    0417   2027-02-14   0417-02      GLA   10        -
    0417   2027-02-14   0417-02      -     -         {before}
    0031   2027-02-21   0417-02      GLA   6         -
    0031   2027-02-21   0417-02      -     -         {now}
"""
RULES = ("leaver_with_debt", "family_behind", "family_overpaid")


def made(folder: Path, **tables: str) -> Trial:
    trial = Trial(folder)
    assert accepted(trial.send(troops=FEEDS["troops"], roster=MOVED))
    assert accepted(trial.send(**tables))
    return trial


def rows(figures: Figures, relation: Relation, day: Any, troop: str = "") -> list[dict[str, Any]]:
    return [row for row in figures.rows(relation, day) if not troop or row["troop"] == troop]


def test_who_changed_troops_is_one_participant_of_the_area(tmp_path: Path) -> None:
    goals = "troop week_ending participant goal\n0417 2027-02-14 0417-02 30\n0031 2027-02-21 0417-02 20"
    goals += "\n0417 2027-02-14 0417-01 4\n0417 2027-02-21 0417-01 9"  # met, then raised
    trial = made(tmp_path, families=TAKEN.format(before="-", now="-"), goals=goals)
    with looking_back.figures(trial.book, COORDINATOR, W2) as figures:
        assert [row["taking_part"] for row in rows(figures, "standing", W2)] == [1, 2, 0]
        area = rows(figures, "area", W2)[0]
        told = {name: area[name] for name in ("taking_part", "goal", "goal_packages", "top_tenth_packages")}
        assert told == {"taking_part": 2, "goal": 29, "goal_packages": 20, "top_tenth_packages": 16}
        assert area["average_per_active"] == 10
        assert area["median_per_active"] == 10
        people = {row["participant"]: row["is_goal_met"] for row in rows(figures, "participants", W2, "0417")}
        assert people["0417-01"] is True
        for whole in (False, True):
            tracer = AreaTracer(figures, W2, whole=whole)
            for name, value in (*told.items(), ("median_per_active", 10)):
                assert tracer.of("area", name).value == value, name


def test_who_worked_at_another_troops_stall_takes_part_in_her_own(tmp_path: Path) -> None:
    stalls = """
        troop  week_ending  date        place   item  packages  participants
        0417   2027-02-14   2027-02-13  Market  GLA   3         0031-01;0417-01;0417-99"""
    trial = made(tmp_path, stalls=stalls)
    with looking_back.figures(trial.book, COORDINATOR, W3) as figures:
        part = {row["troop"]: row["taking_part"] for row in rows(figures, "standing", W3)}
        assert part == {"0031": 1, "0417": 2, "1282": 0}
        unknown = {row["subject"] for row in rows(figures, "exceptions", W3) if row["rule"] == "unregistered_seller"}
        assert unknown == {"0417-99"}
        assert Tracer(figures, "0031", W3).of("standing", "taking_part").value == 1


@pytest.mark.parametrize(
    ("before", "now", "called"),
    [
        ("-", "36.00", [("leaver_with_debt", "0417")]),
        ("-", "96.00", [("family_overpaid", "0031")]),  # all of it, in the other troop: the money is there
        ("-", "106.00", [("family_overpaid", "0031")]),
        ("-", "86.00", [("leaver_with_debt", "0417")]),
        ("60.00", "36.00", []),
    ],
)
def test_who_changed_troops_is_one_call(tmp_path: Path, before: str, now: str, called: list[tuple[str, str]]) -> None:
    trial = made(tmp_path, families=TAKEN.format(before=before, now=now))
    with trial.asked("exceptions", days=[W3]) as figures:
        found = [(row["rule"], row["troop"]) for row in rows(figures, "exceptions", W3) if row["rule"] in RULES]
        assert found == called


GOALS = "troop week_ending participant goal\n0417 2027-02-14 0417-01 {first}\n0417 2027-02-28 0417-01 {then}"


@pytest.mark.parametrize(
    ("first", "then", "is_met"),
    [(10, 50, True), (11, 50, False), (50, 10, True), (9, 0, True), (10, 0, True), (0, 50, False)],
)
def test_a_goal_once_met_stays_met_when_it_is_raised(tmp_path: Path, first: int, then: int, is_met: bool) -> None:
    families = "troop week_ending participant item packages\n0417 2027-02-14 0417-01 GLA 10"
    trial = made(tmp_path, families=families, goals=GOALS.format(first=first, then=then))
    with trial.asked("participants", days=[W3]) as figures:
        row = next(one for one in rows(figures, "participants", W3) if one["participant"] == "0417-01")
        assert row["is_goal_met"] is is_met


def test_a_goal_whose_packages_came_back_later_was_met_all_the_same(tmp_path: Path) -> None:
    families = """
        troop  week_ending  participant  item  packages
        0417   2027-02-14   0417-01      GLA   10
        0417   2027-02-28   0417-01      GLA   -2"""
    trial = made(tmp_path, families=families, goals=GOALS.format(first=10, then=50))
    with trial.asked("participants", days=[W3]) as figures:
        row = next(one for one in rows(figures, "participants", W3) if one["participant"] == "0417-01")
        assert row["is_goal_met"] is True
