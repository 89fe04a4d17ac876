"""Slots, what is odd about them, which places pay; wishes, a kept draw, swaps; the calendar read by another library."""

from pathlib import Path

import pytest
import vobject
from trial import FEEDS, W1, Trial, accepted

from pipelines.definitions.errors import Stop
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.follow_up import stalls
from pipelines.reports.rollup import week_of
from pipelines.reports.stall_calendar import papers

LEE, OTHER = Viewer("lee", frozenset({"0417"})), Viewer("oz", frozenset({"0031"}))
SOLD = "\n".join(
    f"0417 2027-02-14 2027-02-{day:02} {start} {end} {place} {item} {packages} {cash} -"
    for day, start, end, place, packages, takings in (
        (8, "09:00", "11:00", "garden~gate", 10, 60),
        (9, "09:00", "13:00", "GATE", 40, 240),
        (10, "10:00", "12:00", "Gate", 12, 80),
        (11, "18:00", "19:00", "GATE", 3, 18),
        (12, "09:00", "10:00", "Elsewhere", 2, 12),
    )
    for item, packages, cash in (("GLA", packages, "-"), ("-", "-", f"{takings}.00"))
)
TABLES = FEEDS | {
    "places": "place title town from_on until_on prime\nGATE Garden~gate Fennick 2027-02-01 2027-02-25 yes\n"
    "MILL Mill - - - no",
    "slots": """
        slot  place  date        start  end    troop  state       state_on
        S1    GATE   2027-02-09  09:00  13:00  0417   given       2027-02-01
        S2    GATE   2027-02-20  09:00  11:00  0417   given       2027-02-01
        S3    GATE   2027-02-20  10:00  12:00  0031   given       2027-02-01
        S4    GATE   2027-02-27  09:00  11:00  0031   given       2027-02-01
        S5    MILL   2027-02-20  10:30  12:00  0417   given       2027-02-01
        S6    MILL   2027-02-13  09:00  11:00  1282   given       2027-02-01
        S6    MILL   2027-02-13  09:00  11:00  1282   given_back  2027-02-11
        S7    MILL   2027-02-13  12:00  14:00  0031   given       2027-02-01
        F1    GATE   2027-02-21  09:00  11:00  -      open        2027-02-01
        F2    MILL   2027-02-21  09:00  11:00  -      open        2027-02-01
        F3    MILL   2027-02-22  09:00  11:00  -      open        2027-02-01""",
    "stalls": f"troop week_ending date start end place item packages cash card\n{SOLD}",
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 1\n0031 2027-02-14 GLA 1",
    "supply": "document troop item date packages kind\nD-1 0417 GLA 2027-02-06 68 opening\n"
    "D-2 0031 GLA 2027-02-06 1 opening",
    "wishes": "troop rank slot\n0417 1 F1\n0417 2 F2\n0031 1 F1\n0031 2 F2\n1282 1 F2",
}


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    trial = Trial(tmp_path_factory.mktemp("stalls"))
    assert accepted(trial.send(**TABLES))
    assert trial.book
    return trial


@pytest.fixture
def trial(published: Trial, tmp_path: Path) -> Trial:
    return published.copied_to(tmp_path / "copy")


def held(trial: Trial, viewer: Viewer = COORDINATOR) -> dict[str, tuple[str | None, str]]:
    with trial.book.reading() as con:
        return {row["slot"]: (row["troop"], row["state"]) for row in Figures(con, viewer).stalls.calendar(W1)}


def test_what_is_odd_is_told(published: Trial) -> None:
    with published.book.reading() as con:
        rows = Figures(con, COORDINATOR).rows("exceptions", W1)
    told = {(row["rule"], row["troop"], row["subject"]): row["what"] for row in rows if "slot" in row["rule"]}
    assert told == {
        (
            "slot_twice",
            "0031",
            "S3",
        ): "Slot S3 at Garden gate on 20 February overlaps slot S2, which another troop has.",
        ("slot_twice", "0417", "S5"): "On 20 February the troop has Mill and Garden gate at the same time.",
        ("slot_without_permission", "0031", "S4"): "The permission for Garden gate ends on 25 February; slot S4 is on "
        "27 February.",
        ("slot_given_back_late", "1282", "S6"): "Slot S6 at Mill on 13 February was given back on 11 February.",
        (
            "slot_nothing_reported",
            "0031",
            "S7",
        ): "The troop had Mill on 13 February; its week tells of no stall that day.",
    }


def test_a_stall_that_no_slot_tells_of(trial: Trial) -> None:
    """At the mill on the 13th, where S6 was given back and S7 is another troop's."""
    trial.send(
        stalls="troop week_ending date start end place item packages cash card\n"
        "1282 2027-02-14 2027-02-13 09:00 11:00 mill GLA 1 - -\n1282 2027-02-14 2027-02-13 09:00 11:00 mill - - 6.00 -",
        stock="troop week_ending item on_hand\n1282 2027-02-14 GLA 0",
    )
    with trial.book.reading() as con:
        rows = [row for row in Figures(con, COORDINATOR).rows("exceptions", W1) if row["rule"] == "stall_without_slot"]
    assert [(row["troop"], row["subject"], row["severity"]) for row in rows] == [
        ("1282", "2027-02-13 09:00 MILL", "watch")
    ]
    assert rows[0]["evidence"][0]["cell"] == "F2"


def test_which_places_pay(published: Trial) -> None:
    """By hand: 5, 10 and 6 packages an hour in the morning, $30, $60 and $40; one evening alone says nothing."""
    with published.book.reading() as con:
        found = {(r["place"], r["part_of_day"]): r for r in Figures(con, COORDINATOR).rows("place_yields", W1)}
        assert not Figures(con, LEE).rows("place_yields", W1)
        assert Figures(con, COORDINATOR).stalls.stall_hours(W1)
        assert not Figures(con, Viewer("visitor", frozenset(), sees_area=True)).stalls.stall_hours(W1)
    morning, evening, whole = (found["GATE", part] for part in ("morning", "evening", ""))
    assert (morning["stalls"], morning["packages_an_hour"], morning["takings_an_hour"]) == (3, 6, 40)
    assert (morning["low"], morning["high"]) == (35, 50)
    assert (evening["stalls"], evening["packages_an_hour"], evening["takings_an_hour"]) == (1, None, None)
    assert (whole["stalls"], whole["takings"]) == (4, 70)
    assert found["Elsewhere", "morning"]["takings"] is None


def test_a_stall_without_hours_is_in_no_part_of_the_day(trial: Trial) -> None:
    trial.send(
        stalls="troop week_ending date place item packages cash card\n"
        "1282 2027-02-14 2027-02-13 gate GLA 1 - -\n1282 2027-02-14 2027-02-13 gate - - 6.00 -",
        stock="troop week_ending item on_hand\n1282 2027-02-14 GLA 0",
    )
    with trial.book.reading() as con:
        found = Figures(con, COORDINATOR).rows("place_yields", W1)
    stalls = {row["part_of_day"]: row["stalls"] for row in found if row["place"] == "GATE"}
    assert stalls == {"morning": 3, "evening": 1, "": 5}


def test_a_leader_sees_that_a_slot_is_taken_and_not_by_whom(published: Trial) -> None:
    assert held(published, LEE)["S3"] == (None, "given")
    assert held(published, LEE)["S2"] == ("0417", "given")
    assert held(published, Viewer("area", frozenset(), sees_area=True))["S2"] == (None, "given")


def test_a_draw_that_is_kept_is_the_calendar(trial: Trial) -> None:
    with trial.book.reading() as con:
        shown = stalls.drawn(Figures(con, COORDINATOR), W1, 7)
    assert held(trial)["F1"] == (None, "open")
    kept = stalls.keep_draw(trial.book, "me", 7, W1)
    assert kept == shown
    assert {one.slot: one.troop for one in kept.given} == {code: held(trial)[code][0] for code in ("F1", "F2")}
    assert held(trial)["F3"] == (None, "open")
    with pytest.raises(Stop, match="nothing to give"):
        stalls.keep_draw(trial.book, "me", 7, W1)


def test_what_a_leader_types_takes_the_place_of_the_file(trial: Trial) -> None:
    with pytest.raises(Stop, match="F9: no such slot"):
        stalls.wish(trial.book, "lee", "leader", "0417", ["F9"], W1)
    stalls.wish(trial.book, "lee", "leader", "0417", ["F3", "F3", "F1"], W1)
    with trial.book.reading() as con:
        wishes = stalls.wishes_of(Figures(con, COORDINATOR))
    assert wishes == {"0031": ["F1", "F2"], "0417": ["F3", "F1"], "1282": ["F2"]}
    stalls.wish(trial.book, "lee", "leader", "0417", [], W1)
    with trial.book.reading() as con:
        assert "0417" not in stalls.wishes_of(Figures(con, COORDINATOR))


def test_a_swap_holds_once_both_have_said_yes(trial: Trial) -> None:
    book = trial.book
    with pytest.raises(Stop, match="S3 is not your"):
        stalls.ask_swap(book, "lee", "0417", "S3", "S4", W1)
    with pytest.raises(Stop, match="F1 is no other troop's"):
        stalls.ask_swap(book, "lee", "0417", "S2", "F1", W1)
    stalls.ask_swap(book, "lee", "0417", "S2", "S4", W1)
    assert held(trial)["S2"] == ("0417", "given")
    with book.reading() as con:
        (asked,) = Figures(con, OTHER).stalls.swaps(W1)
        (mine,) = Figures(con, LEE).stalls.swaps(W1)
        assert not Figures(con, Viewer("x", frozenset({"1282"}))).stalls.swaps(W1)
    assert (asked["asker"], asked["asked"], mine["asker"], mine["asked"]) == (None, "0031", "0417", None)
    with pytest.raises(Stop, match="not asked of a troop of yours"):
        stalls.answer_swap(book, "lee", frozenset({"0417"}), asked["entry_no"], W1, yes=True)
    stalls.answer_swap(book, "oz", frozenset({"0031"}), asked["entry_no"], W1, yes=True)
    assert (held(trial)["S2"], held(trial)["S4"]) == (("0031", "given"), ("0417", "given"))
    with pytest.raises(Stop, match="any more"):
        stalls.answer_swap(book, "oz", frozenset({"0031"}), asked["entry_no"], W1, yes=True)


def test_the_calendar_is_read_by_another_library(published: Trial) -> None:
    with week_of(published.book, W1) as week:
        made = dict(papers(week))
        assert dict(papers(week)) == made
    area = vobject.readOne(made["stalls.ics"].decode())
    assert len(area.vevent_list) == 10
    ours = vobject.readOne(made["stalls/0417.ics"].decode())
    told = {one.uid.value.partition("-")[0]: one for one in ours.vevent_list}
    assert sorted(told) == ["S1", "S2", "S5"]
    assert (told["S2"].dtstart.value.isoformat(), told["S2"].dtend.value.isoformat()) == (
        "2027-02-20T09:00:00", "2027-02-20T11:00:00",
    )  # fmt: skip
    assert told["S2"].location.value == "Garden gate, Fennick"
    assert b"0417-0" not in made["stalls.ics"]
    assert made["stalls.csv"].decode().splitlines() == [
        "place,part_of_day,stalls,packages_an_hour,takings_an_hour", "GATE,morning,3,6.000000,40.000000",
    ]  # fmt: skip
