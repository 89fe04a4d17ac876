"""What is held, accepted and superseded: by unit, by the newest word, and tried again by itself."""

import shutil
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import season_files
from trial import FEEDS, SEASON, W1, W2, Trial, accepted

from pipelines.store.book import now
from pipelines.workflow.take_in import Outcome

WEEK = {"troop": "0417", "week_ending": W1}
COVER = WEEK | {"prepared_by": "leader", "prepared_on": W1, "bank_balance": None, "balance_on": None, "note": None}


def family(item: str | None, packages: int, cash: str | None = None, note: str | None = None) -> dict[str, object]:
    money = {"cash": cash and Decimal(cash), "card": None, "note": note}
    return WEEK | {"participant": "0417-01", "item": item, "packages": packages} | money


def workbook(folder: Path, name: str, families: list[dict[str, object]]) -> Path:
    """Troop 0417's workbook of the first week: 40 gladiolus counted, and its families."""
    sheets: season_files.Tables = {name: [] for name in season_files.SHEETS}
    sheets["cover"], sheets["families"] = [COVER], families
    sheets["stock"] = [WEEK | {"item": "GLA", "received": 48, "damaged": 0, "on_hand": 40}]
    return season_files.write_workbook(folder / name, "0417", W1, sheets)


def told(outcome: Outcome) -> list[tuple[str, str]]:
    """What is to be mended: cell, and what was found there."""
    return [(one.cell, one.found) for one in outcome.findings if not one.is_note]


def noted(outcome: Outcome) -> list[str]:
    return [one.how for one in outcome.findings if one.is_note]


def test_one_bad_order_does_not_stop_the_rest(trial: Trial) -> None:
    """An order is held with all its rows; the totals say what that keeps out of the figures."""
    (one,) = trial.send(
        online_orders="""
        order  troop  participant  placed_on   mode     state   state_on    item  packages  goods_amount
        W1     0417   0417-01      2027-02-10  by_post  placed  2027-02-10  GLA   4         24.00
        W2     0417   0417-01      2027-02-10  by_post  placed  2027-02-10  GLA   5         30.00
        W2     0417   0417-01      2027-02-10  by_post  placed  2027-02-09  HRB   2         14.50"""
    )
    assert (one.status, one.rows, one.rows_held, one.packages_held, one.dollars_held) == (
        "partly held",
        3,
        2,
        7,
        "44.50",
    )
    assert told(one) == [("G4", "2027-02-09")]
    assert trial.standing("0417", W1)["remote"] == "4"


def test_units_of_feeds_and_bulk_tables(trial: Trial) -> None:
    """Documents, references and troop-weeks are held by themselves."""
    outcomes = trial.send(
        supply="""
        document  troop  item  date        packages  kind
        D1        0417   GLA   2027-02-10  12        depot
        D1        0417   HRB   2027-02-10  1.5       depot
        D2        0417   GLA   2027-02-10  24        depot""",
        remittances="""
        reference  troop  date        amount  state    state_on
        R1         0417   2027-02-10  50      pending  2027-02-10
        R1         0417   2027-02-10  50      cleared  soon
        R2         0417   2027-02-10  70      cleared  2027-02-11""",
        stock="""
        troop  week_ending  item  on_hand
        0417   2027-02-14   GLA   20
        0417   2027-02-21   GLA   -1
        0031   2027-02-14   GLA   7""",
    )
    by_name = {one.name.split("/")[1]: one for one in outcomes}
    assert {name: one.rows_held for name, one in by_name.items()} == {
        "supply.csv": 2,
        "remittances.csv": 2,
        "stock.csv": 1,
    }
    line = trial.standing("0417", W1)
    assert (line["available"], line["remitted"], line["submitted"]) == ("24", "70.00", "yes")
    assert trial.standing("0417", W2)["submitted"] == "no"
    assert trial.standing("0031", W1)["on_hand"] == "7"


def test_a_workbook_is_held_as_a_whole(trial: Trial, tmp_path: Path) -> None:
    """One bad cell keeps its right sheets out too, and leaves an earlier workbook in place."""
    trial.take_in(workbook(tmp_path, "first.xlsx", [family("GLA", 3)]))
    (one,) = trial.take_in(workbook(tmp_path, "second.xlsx", [family("GLA", 9), family(None, 0, "-5.00")]))
    assert (one.status, told(one)) == ("held", [("C2", "-5")])
    line = trial.standing("0417", W1)
    assert (line["sold_from_stock"], line["submitted"]) == ("3", "yes")


def test_the_newest_workbook_replaces_every_sheet(trial: Trial, tmp_path: Path) -> None:
    """A sheet left out says that there was nothing; both versions are kept, and the older can still be read."""
    trial.take_in(workbook(tmp_path, "first.xlsx", [family("GLA", 3), family(None, 0, "18.00")]))
    before = now()
    assert accepted(trial.take_in(workbook(tmp_path, "second.xlsx", [])))
    assert trial.table("families", W1) == {}
    assert trial.table("families", W1, before)["0417", "0417-01"]["paid_cash"] == "18.00"
    with trial.book.reading() as con:
        assert con.execute("select count(*) from landed.families").fetchall() == [(2,)]


def test_a_bulk_table_replaces_its_own_sheet_alone(trial: Trial, tmp_path: Path) -> None:
    """For each troop and week in it; a row with nothing but troop and week says that there was nothing."""
    trial.take_in(workbook(tmp_path, "first.xlsx", [family("GLA", 3)]))
    families = "troop week_ending participant item packages cash\n"
    trial.send(families=families + "0417 2027-02-14 0417-01 GLA 5 -\n0031 2027-02-14 0031-01 GLA 2 -")
    assert trial.standing("0417", W1)["sold_from_stock"] == "5"
    assert trial.standing("0417", W1)["on_hand"] == "40"  # the workbook's stock still holds
    assert accepted(trial.send(families=families + "0417 2027-02-14 - - - -"))
    assert trial.standing("0417", W1)["sold_from_stock"] == "0"
    assert trial.standing("0031", W1)["sold_from_stock"] == "2"


def test_stock_that_says_nothing_is_no_submission(trial: Trial) -> None:
    """A week is submitted when rows of stock are accepted; a row that says there was nothing is none."""
    assert accepted(trial.send(stock="troop week_ending item on_hand\n0417 2027-02-14 - -"))
    assert trial.standing("0417", W1)["submitted"] == "no"
    trial.send(stock="troop week_ending item on_hand\n0417 2027-02-14 GLA -")
    assert trial.standing("0417", W1)["submitted"] == "yes"


def test_a_table_that_is_not_known_is_held_and_replaces_nothing(trial: Trial) -> None:
    """A workbook's sheet sent as a table of its own, or a header spelt otherwise: nothing may vanish as a cover."""
    headers = (
        "participant GLA HRB cash card note",
        "participant GLA HRB cash card",
        "date place GLA cash participants note",
        "participant item cash note",
        "date sum note",
    )
    trial.send(cover="troop week_ending bank_balance balance_on\n0417 2027-02-14 120 2027-02-14")
    rows = {f"t{n}": f"troop week_ending {h}\n0417 2027-02-14 {'1 ' * len(h.split())}" for n, h in enumerate(headers)}
    outcomes = trial.send(**rows)
    assert [one.status for one in outcomes] == ["held"] * len(headers)
    assert [told(one) for one in outcomes] == [[("A1", "headers that are not known")]] * len(headers)
    assert trial.standing("0417", W1)["bank"] == "120.00"


def test_feeds_are_cumulative(trial: Trial) -> None:
    """Rows of the same key are replaced, new ones added, missing ones told and kept; states are history."""
    head = "reference troop date amount state state_on\n"
    trial.send(remittances=head + "R1 0417 2027-02-10 50 pending 2027-02-10\nR2 0417 2027-02-10 7 cleared 2027-02-10")
    (one,) = trial.send(
        remittances=head
        + "R1 0417 2027-02-10 50 pending 2027-02-10\nR1 0417 2027-02-10 60 cleared 2027-02-12\n"
        + "R1 0417 2027-02-10 60 returned 2027-02-16"
    )
    assert (one.status, told(one), len(noted(one))) == ("taken in", [], 1)  # R2 is missing: told, and kept
    assert [trial.standing("0417", day)["remitted"] for day in (date(2027, 2, 11), W1, W2)] == ["7.00", "67.00", "7.00"]
    trial.send(remittances=head + "R2 0417 2027-02-10 9 cleared 2027-02-10")
    assert trial.standing("0417", W2)["remitted"] == "9.00"


def test_the_same_bytes_twice(trial: Trial, tmp_path: Path) -> None:
    """Under any name they are known; what was sent stays byte for byte under its hash."""
    path = workbook(tmp_path, "first.xlsx", [family("GLA", 3)])
    trial.take_in(path)
    snapshot = trial.book.current_snapshot()
    again = shutil.copy(path, tmp_path / "other name.xlsx")
    assert [one.status for one in trial.take_in(path, again)] == ["already taken in"] * 2
    assert trial.book.current_snapshot() == snapshot
    kept = [one.read_bytes() for one in trial.book.landed.rglob("*") if one.is_file() and one.suffix != ".jsonl"]
    assert path.read_bytes() in kept
    assert len(kept) == 4  # season.toml, two feeds, and this one


def test_what_is_held_is_tried_again_when_a_feed_comes(new_trial: Callable[..., Trial], tmp_path: Path) -> None:
    """Sent before the area knows the troop: held, then accepted by itself; until then it was not known."""
    trial = new_trial()
    supply = "document troop item date packages kind\nD1 0417 GLA 2027-02-10 48 opening"
    outcomes = [*trial.take_in(workbook(tmp_path, "first.xlsx", [family("GLA", 3)])), *trial.send(supply=supply)]
    assert [(one.status, told(one)) for one in outcomes] == [("held", [("B1", "0417")]), ("held", [("B2", "0417")])]
    before = now()
    trial.send(**FEEDS)
    line = trial.standing("0417", W1)
    assert (line["available"], line["sold_from_stock"], line["missing"]) == ("48", "3", "5")
    assert trial.table("standing", W1, before) == {}


def test_what_is_held_is_tried_again_when_the_season_changes(trial: Trial) -> None:
    """An item that the season comes to know."""
    (one,) = trial.send(supply="document troop item date packages kind\nD1 0417 TUL 2027-02-10 48 opening")
    assert told(one) == [("C2", "TUL")]
    more = '\n[[items]]\ncode = "TUL"\ntitle = "Tulip bulbs"\nprice = "5.00"\n'
    trial.book.season_file.write_text(SEASON + more, encoding="utf-8")
    trial.send(collections="troop on amount announced_on\n0417 2027-03-12 5 2027-03-01")
    assert trial.standing("0417", W1)["available_value"] == "240.00"


def test_a_newer_word_holds_also_when_an_older_is_accepted_later(new_trial: Callable[..., Trial]) -> None:
    """Where two files say different things of a key, the one landed later holds, whenever each was accepted."""
    trial = new_trial()
    trial.send(troops="troop level\n0031 older")
    head = "document troop item date packages kind\n"
    trial.send(supply=head + "D1 0417 GLA 2027-02-10 48 opening")
    trial.send(supply=head + "D1 0417 GLA 2027-02-10 36 opening")
    trial.send(troops="troop level\n0417 older")
    assert trial.standing("0417", W1)["available"] == "36"


def test_feeds_go_first_within_one_go(new_trial: Callable[..., Trial], tmp_path: Path) -> None:
    """Whatever the paths are: a workbook that comes before the list of troops is not held."""
    trial = new_trial()
    (tmp_path / "in").mkdir()
    workbook(tmp_path / "in", "a.xlsx", [family("GLA", 3)])
    (tmp_path / "in/z.csv").write_text("troop,level\n0417,older\n", encoding="utf-8")
    assert accepted(trial.take_in(tmp_path / "in"))


def test_417_is_taken_for_0417_and_never_the_other_way(trial: Trial) -> None:
    """Where exactly one troop fits, and it says so; a list of troops brings its codes as they are."""
    (one,) = trial.send(supply="document troop item date packages kind\nD1 417 GLA 2027-02-10 48 opening")
    assert (one.status, noted(one)) == ("taken in", ["417 was taken for 0417, the only troop it fits."])
    assert trial.standing("0417", W1)["available"] == "48"
    trial.send(troops="troop level\n00031 older")
    (one,) = trial.send(supply="document troop item date packages kind\nD2 31 GLA 2027-02-10 48 opening")
    assert (one.status, told(one)) == ("held", [("B2", "31")])
    assert set(trial.table("standing", W1)) == {(troop, str(W1)) for troop in ("0031", "00031", "0417", "1282")}


def test_one_code_in_two_troops_at_once(trial: Trial) -> None:
    """Held until one of the two says when the participant left; one after the other is right."""
    head = "troop participant registered_on left_on contact_on_file\n"
    (one,) = trial.send(roster=head + "1282 0417-01 2027-02-20 - yes\n1282 1282-01 2027-02-20 - yes")
    assert (one.rows_held, [cell for cell, _found in told(one)]) == (1, ["B2"])
    assert trial.standing("1282", W2)["registered"] == "1"
    trial.send(roster=head + "0417 0417-01 2026-10-01 2027-02-20 yes")
    assert [trial.standing(troop, W2)["registered"] for troop in ("1282", "0417")] == ["2", "1"]
    both = head + "0417 X-1 2026-10-01 - yes\n1282 X-1 2026-10-01 - yes\n1282 X-2 2026-10-01 - yes"
    (one,) = trial.send(roster=both)
    assert [cell for cell, _found in told(one)] == ["B2", "B3"]


def test_somebody_who_is_not_registered_counts(trial: Trial) -> None:
    """An unknown participant is accepted: sold without being registered."""
    families = "troop week_ending participant item packages\n0417 2027-02-14 0417-88 GLA 5"
    assert accepted(trial.send(families=families))
    line = trial.standing("0417", W1)
    assert (line["taking_part"], line["registered"], line["share"]) == ("1", "2", "0.000000")


def test_every_row_says_where_it_came_from(trial: Trial, tmp_path: Path) -> None:
    """File, sheet and row of each stored row; a row of a wide sheet is one row for each item."""
    trial.take_in(workbook(tmp_path, "first.xlsx", [family("GLA", 3), family("HRB", 2), family(None, 0, "18.00")]))
    with trial.book.reading() as con:
        found = con.execute(
            "select f.name, sheet, row_no, item, packages from landed.families "
            "join landed.files f using (file_no) where packages > 0 order by item"
        ).fetchall()
    assert found == [("first.xlsx", "Families", 2, "GLA", 3), ("first.xlsx", "Families", 2, "HRB", 2)]


def test_two_deposits_alike_are_two(trial: Trial) -> None:
    """A deposit has no key; that it may stand twice is asked about, see deposit_twice."""
    trial.send(banked="troop week_ending date amount\n" + "0417 2027-02-14 2027-02-14 20.00\n" * 2)
    assert trial.standing("0417", W1)["in_bank"] == "40.00"
