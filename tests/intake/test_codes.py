"""Participants' codes: totals, other spellings of a code of the roster, words that are none, and somebody new."""

from datetime import date, datetime, time

import pytest
from trial import FEEDS, W1, W2, Trial

from pipelines.definitions.columns import Column
from pipelines.definitions.season import read_season
from pipelines.definitions.starter_season import starter_season
from pipelines.intake.judging.codes import Codes, is_total
from pipelines.intake.judging.judge import CodeFault, Fault, Known, judge_participant, judge_participants

SEASON = read_season(starter_season())


def of_0417(*codes: str, pattern: str = "") -> Codes:
    return Codes({code: frozenset({"0417"}) for code in codes}, pattern)


ROSTER = of_0417("0417-01", "0417-02", "0417-03", "0417-12", "2154-07", "3-04")
KNOWN = Known(SEASON, codes=ROSTER)


def told_to(troop: str, fault: object, codes: Codes = ROSTER) -> Fault:
    """A fault as a troop reads it."""
    assert isinstance(fault, CodeFault)
    return fault.told_to(codes, troop)


TOTALS = (
    "Total", "TOTALS", "Total troop 9481", "Week total", "9481-05 Total", "Gesamt", "Summe", "Σ", "∑", "Grand total",
    "Sub-total", "T o t a l", "Totaal", "Suma", "Итого", "合計", "المجموع", "סה\"כ", "Total:", "0417-01 total",
)  # fmt: skip


@pytest.mark.parametrize("text", TOTALS)
def test_a_row_of_totals_is_no_person(text: str) -> None:
    assert is_total(text)
    assert isinstance(judge_participant(text, Known(SEASON)), Fault)  # with no roster to learn from either


def test_a_code_of_the_roster_is_never_a_total() -> None:
    assert judge_participant("SUM-01", Known(SEASON, codes=of_0417("SUM-01"))) == "SUM-01"


@pytest.mark.parametrize(
    ("cell", "meant"),
    [
        ("0417\u201303", "0417-03"),  # an en dash
        ("0417\u201403", "0417-03"),
        ("0417\u221203", "0417-03"),
        ("0417-03\u200b", "0417-03"),  # a zero-width space
        ("\ufeff0417-03", "0417-03"),
        ("0417- 03", "0417-03"),
        ("0417 03", "0417-03"),
        ("0417_03", "0417-03"),
        ("041703", "0417-03"),
        ("417-3", "0417-03"),  # zeros lost
        ("417-03", "0417-03"),
        (41703, "0417-03"),
        ("0417-O3", "0417-03"),  # the letter O
        ("\uff10\uff14\uff11\uff17\uff0d\uff10\uff13", "0417-03"),
        (date(2154, 7, 1), "2154-07"),  # days that a spreadsheet made of a code
        (datetime(2154, 7, 1), "2154-07"),  # noqa: DTZ001
        ("Jul-2154", "2154-07"),
        ("2154-07-01", "2154-07"),
        ("7/1/2154", "2154-07"),
        (date(2027, 3, 4), "3-04"),
        (date(2027, 4, 3), "3-04"),
        ("4-Mar", "3-04"),
        ("Mar-04", "3-04"),
    ],
)
def test_what_reads_like_a_code_of_the_roster_is_asked_with_the_code_meant(cell: object, meant: str) -> None:
    assert meant in told_to("0417", judge_participant(cell, KNOWN)).how
    assert isinstance(judge_participants(cell, KNOWN), Fault)


@pytest.mark.parametrize("text", ["0417-77", "0417-99", "1282-01", "0417-101"])
def test_somebody_of_the_rosters_kind_is_taken_in(text: str) -> None:
    assert judge_participant(text, KNOWN) == text


@pytest.mark.parametrize("text", ["Average", "carried forward", "57", "Anna", "see below", "everybody", "?", "#12"])
def test_a_word_that_is_no_code_of_the_rosters_kind_is_held(text: str) -> None:
    told = judge_participant(text, KNOWN)
    expected = told_to("0417", told).expected if isinstance(told, CodeFault) else "everybody"
    assert expected in ("a participant's code such as 0417-01", "everybody")


def test_the_pattern_of_the_season_says_what_a_code_is() -> None:
    known = Known(SEASON, codes=of_0417("0417-01", pattern="[0-9]{4}-[0-9]{2}"))
    assert isinstance(judge_participant("0417-101", known), Fault)
    assert judge_participant("9999-11", known) == "9999-11"
    assert judge_participant("0417-01", Known(SEASON, codes=of_0417("0417-01", pattern="[A-Z]+"))) == "0417-01"


def test_numbers_that_a_spreadsheet_cut() -> None:
    codes = of_0417("12.10", "4E10")
    assert codes.meant(12.1) == ["12.10"]
    assert codes.meant(4e10) == ["4E10"]


@pytest.mark.parametrize("roster", [Codes(), ROSTER])
def test_all_the_girls_who_came_are_no_five_sellers(roster: Codes) -> None:
    assert isinstance(judge_participants("all the girls who came", Known(SEASON, codes=roster)), Fault)
    assert judge_participants("0417-01 troop", Known(SEASON, codes=roster)) == ["0417-01", "troop"]
    assert judge_participants("0417-01, 0417-77;0417-02", Known(SEASON, codes=roster)) == [
        "0417-01", "0417-77", "0417-02"]  # fmt: skip


def test_a_stall_with_one_odd_code_names_it() -> None:
    told = told_to("0417", judge_participants("0417-01 0417\u201302", KNOWN))
    assert told.how.startswith("0417\u201302: It reads like 0417-02")


def test_no_code_of_another_troop_is_named() -> None:
    """A leader is told of the own roster alone: what reads like somebody else's is told as what reads like nobody's."""
    for cell in ("0417\u201303", "417-3", "Anna"):
        told = told_to("0031", judge_participant(cell, KNOWN))
        assert told == told_to("0031", judge_participant("Anna", KNOWN))
        assert "0417" not in f"{told.expected} {told.how}"
        assert "0417" not in told_to("", judge_participants(f"0031-01 {cell}", KNOWN)).how.replace(cell, "")


def test_what_is_held_names_its_own_troops_codes_alone(trial: Trial) -> None:
    families = "troop week_ending participant item packages\n"
    trial.send(roster="troop participant registered_on\n0417 0417-01 2026-10-01\n0031 0031-01 2026-10-01")
    own, other = trial.send(a=f"{families}0417 2027-02-14 0417-1 GLA 5", b=f"{families}0417 2027-02-14 0031-1 GLA 5")
    assert "0417-01" in own.findings[0].how
    assert other.status == "held"
    assert "0031-01" not in f"{other.findings[0].how} {other.findings[0].expected}"


@pytest.mark.parametrize(
    ("cell", "landed"),
    [
        ("0417-03:90", ["0417-03:90"]),
        ("0417-01:90, 0417-02", ["0417-01:90", "0417-02"]),
        ("0417-77:005;troop:5", ["0417-77:5", "troop:5"]),
        ("0417-01:1440", ["0417-01:1440"]),
    ],
)
def test_a_code_may_carry_its_minutes(cell: str, landed: list[str]) -> None:
    assert judge_participants(cell, KNOWN) == landed


@pytest.mark.parametrize(
    "cell",
    ["0417-01:0", "0417-01:1441", "0417-01:", "0417-01:1h", "0417-01:90 0417-01:30", "0417-01 0417-01:30", "Anna:90",
     "0417\u201303:90", "0417-01:-5", time(4, 30)],
)  # fmt: skip
def test_minutes_that_are_none_are_asked_about(cell: object) -> None:
    assert isinstance(judge_participants(cell, KNOWN), Fault)


def test_a_code_that_ends_like_minutes_is_kept_apart_from_them() -> None:
    known = Known(SEASON, codes=of_0417("4:30", "4:31"))
    assert judge_participants("4:30 4:31:15", known) == ["4:30:", "4:31:15"]


def test_minutes_land_as_they_are_and_a_worker_of_another_troop_is_that_troops(trial: Trial) -> None:
    """0031-01 worked at 0417's stall: she takes part in 0031; 0417-88 is on no roster: whose stall it was answers."""
    trial.send(**FEEDS)
    stalls = """
        troop week_ending date       start place item packages cash participants
        0417  2027-02-14  2027-02-13 09:00 Mill  GLA  20       -    0417-01:90;0031-01:45
        0417  2027-02-14  2027-02-13 09:00 Mill  -    -        120  0417-01:90;0031-01:45;0417-88"""
    (one,) = trial.send(stalls=stalls)
    assert one.status == "taken in"
    with trial.asked("standing", "exceptions", days=[W1]) as figures:
        of_0031 = figures.evidence("stall_work", "0031", W1).to_pylist()
        of_0417 = figures.evidence("stall_work", "0417", W1).to_pylist()
        taking_part = {row["troop"]: row["taking_part"] for row in figures.rows("standing", W1)}
        unknown = [row["subject"] for row in figures.rows("exceptions", W1) if row["rule"] == "unregistered_seller"]
    assert [(row["at_troop"], row["participant"], row["minutes"]) for row in of_0031] == [("0417", "0031-01", 45)]
    assert [(row["participant"], row["minutes"], row["row_no"]) for row in of_0417] == [
        ("0417-01", 90, 2), ("0417-88", None, 3)]  # fmt: skip
    assert taking_part == {"0417": 2, "0031": 1, "1282": 0}
    assert unknown == ["0417-88"]


def test_nobody_is_asked_of_the_roster_itself() -> None:
    known = Known(SEASON, defines_troops=True, codes=ROSTER)
    assert judge_participant("0417\u201303", known) == "0417\u201303"
    assert Column("participant", "participant", "").kind == "participant"


def test_a_new_roster_answers_what_was_asked(trial: Trial) -> None:
    """Held while it reads like somebody else; taken in by itself once the roster has it; an unknown one is raised."""
    families = "troop week_ending participant item packages\n0417 2027-02-14 {} GLA 5"
    (one,) = trial.send(families=families.format("0417-1"))
    assert (one.status, [f.cell for f in one.findings]) == ("held", ["C2"])
    trial.send(roster="troop participant registered_on\n0417 0417-1 2026-10-01")
    assert trial.standing("0417", W1)["taking_part"] == "1"
    (one,) = trial.send(families=families.format("0417-88").replace(str(W1), str(W2)))
    assert one.status == "taken in"
