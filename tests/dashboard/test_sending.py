"""A week filled in on the page: kept, judged like a workbook, landed like a workbook, for one's own troop only."""

import json
import threading
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from shown_screens import shown
from trial import W1, W2, Trial

from dashboard.data import actions, readings, snapshots, typed_week
from dashboard.data.send_queue import SendQueue
from dashboard.parts.week_form import found_in_fields, name_of
from pipelines.accounts.accounts import Access
from pipelines.accounts.turns import Turns
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import Share
from pipelines.definitions.season import Season
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store.book import Book
from pipelines.workflow import drafts, looking_back, take_in
from pipelines.workflow.drafts import Draft, Typed, prefilled, sheets_of, workbook
from pipelines.workflow.preview import Change, Preview, changes, preview, totals

LEADER = Viewer("leader", frozenset({"0417"}))
TROOPS = ["0417", "0031", "1282"]


@pytest.fixture
def season(trial: Trial) -> Season:
    return trial.book.season()


@pytest.fixture
def as_leader(trial: Trial) -> Iterator[Trial]:
    """The dashboard's readings on behalf of the leader of 0417."""
    snapshots.open_book(trial.book, lambda: LEADER)
    yield trial
    snapshots.open_book(None)


def week(season: Season, troop: str = "0417", **families: dict[str, str]) -> bytes:
    """A workbook as the page makes it: 20 GLA counted, and what families took and brought."""
    return workbook(sheets_of(typed(season, **families), season, troop, W1))


def typed(season: Season, **families: dict[str, str]) -> Draft:
    draft = prefilled(season, ["0417-01", "0417-02"], {})
    draft.sheets["stock"]["GLA"]["on_hand"] = "20"
    for code, cells in families.items():
        draft.sheets["families"][code.replace("_", "-")] |= cells
    return draft


def test_what_is_typed_lands_as_the_same_rows(trial: Trial, season: Season, tmp_path: Path) -> None:
    path = tmp_path / "week.xlsx"
    path.write_bytes(week(season, **{"0417_01": {"GLA": "4", "cash": "12.50", "note": "=1+1 <b>x</b>"}}))
    [outcome] = trial.take_in(path)
    assert (outcome.status, outcome.what) == ("taken in", "submission")
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        [row] = [row for row in figures.rows("families", W1) if row["participant"] == "0417-01"]
        assert (row["taken"], str(row["paid_cash"])) == (4, "12.50")
        notes = {row["note"] for row in figures.facts("families", "0417")}
        assert "=1+1 <b>x</b>" in notes


def cell(column: str, was: str, now: str, row: str = "0417-01", sheet: str = "families") -> Typed:
    return Typed(sheet, row, column, was, now)


def test_a_draft_is_kept_as_it_was_typed(trial: Trial, season: Season) -> None:
    store = Access(trial.book.folder).store
    begun = typed(season)

    def change(*cells: Typed) -> tuple[Draft, list[Typed]]:
        return drafts.change(store, "0417", W1, cells, begun, "leader")

    draft, others = change(cell("cash", "", "12.3456"), cell("note", "", "naïve ✓ "))
    assert (drafts.kept(store, "0417", W1), others, draft.version) == (draft, [], 1)
    assert draft.sheets["families"]["0417-01"] == {"participant": "0417-01", "cash": "12.3456", "note": "naïve ✓ "}
    assert draft.sheets["stock"] == begun.sheets["stock"]  # what the page showed before the first value is kept too
    with pytest.raises(Stop, match="too long"):
        change(cell("note", "naïve ✓ ", "x" * drafts.MOST_CHARACTERS))
    assert drafts.kept(store, "0417", W1) == draft
    drafts.drop(store, "0417", W1, "leader")
    assert drafts.kept(store, "0417", W1) is None
    assert drafts.version(store, "0417", W1) == 2  # a device that shows the draft learns that it is gone
    assert change(cell("cash", "", "1"))[0].version == 3


def test_a_number_is_emptied_and_stays_empty(trial: Trial, season: Season) -> None:
    store, begun = Access(trial.book.folder).store, typed(season)
    begun.cover = {"bank_balance": "30.50"}
    emptied = [cell("on_hand", "20", "", "GLA", "stock"), cell("bank_balance", "30.50", "", "", "cover")]
    drafts.change(store, "0417", W1, emptied, begun, "leader")
    draft = drafts.kept(store, "0417", W1)
    assert draft
    assert (draft.sheets["stock"]["GLA"], draft.cover) == ({"item": "GLA"}, {})
    [stock] = [one for one in sheets_of(draft, season, "0417", W1) if one.name == "Stock"]
    assert stock.rows
    assert stock.rows[1] == ["GLA", None, None, None]


def test_a_stale_devices_value_is_told_and_not_put_over_a_newer_one(trial: Trial, season: Season) -> None:
    store, begun = Access(trial.book.folder).store, typed(season)

    def change(*cells: Typed) -> tuple[Draft, list[Typed]]:
        return drafts.change(store, "0417", W1, cells, begun, "leader")

    change(cell("cash", "", "5.00"))
    draft, others = change(cell("cash", "", "7.00"), cell("card", "", "1.00"))  # a device that had not seen the 5.00
    assert draft.sheets["families"]["0417-01"] == {"participant": "0417-01", "cash": "5.00", "card": "1.00"}
    assert others == [cell("cash", "5.00", "7.00")]  # both: what is kept, and what was typed
    version = draft.version
    assert change(cell("card", "", "1.00")) == (draft, [])  # sent twice, since the answer was lost
    assert drafts.version(store, "0417", W1) == version
    drafts.drop(store, "0417", W1, "leader", only=version - 1)  # what was sent was an older state than this
    assert drafts.kept(store, "0417", W1) == draft


def test_an_entry_without_a_value_is_gone_and_a_family_stays(season: Season) -> None:
    draft = typed(season)
    for column, now in (("amount", "30.50"), ("slip", "7"), ("amount", ""), ("slip", "")):
        draft.put(cell(column, "", now, "new 1", "banked"))
    assert draft.sheets["banked"] == {}
    draft.put(cell("cash", "", "2", "0417-09"))
    draft.put(cell("participant", "0417-09", "", "0417-09"))
    assert draft.sheets["families"]["0417-09"] == {"participant": "0417-09", "cash": "2"}  # a value keeps its row
    draft.put(cell("cash", "2", "", "0417-09"))
    draft.put(cell("participant", "0417-09", "", "0417-09"))
    assert "0417-09" not in draft.sheets["families"]


@pytest.mark.parametrize(
    "forged",
    [
        cell("cash", "", "1", sheet="roster"),
        cell("other_troop", "", "0031"),
        cell("participant", "0417-01", "0031-01"),
        cell("on_hand", "", "1", "GIV", "stock"),
        cell("on_hand", "", "1", "XXX", "stock"),
        cell("item", "GLA", "HRB", "GLA", "stock"),
        cell("note", "", "x", "row", "cover"),
        cell("cash", "", "1", "x" * 61),
        cell("cash", "", "1", " "),
    ],
)
def test_what_is_no_field_of_the_form_is_told_back_and_not_kept(as_leader: Trial, forged: Typed) -> None:
    told = typed_week.keep(readings.now(), "0417", W1, [forged, cell("cash", "", "2.00")])
    assert told["others"] == [[forged.sheet, forged.row, forged.column, "", forged.now]]
    assert told["sheets"]["families"]["0417-01"] == {"participant": "0417-01", "cash": "2.00"}


def asked(viewer: Viewer, query: str, body: bytes | None = None) -> tuple[int, dict[str, object]]:
    found = typed_week._answered(viewer, query, body)
    return found.status, json.loads(found.body) if found.status == 200 else {}


def test_a_device_asks_for_its_own_weeks_only(as_leader: Trial) -> None:
    good = typed_week.address("0417", W1).partition("?")[2]
    status, told = asked(LEADER, good)
    assert (status, told["version"], told["isKept"]) == (200, 0, False)
    status, told = asked(LEADER, good, json.dumps([["families", "0417-01", "cash", "", "2\x00\n3"]]).encode())
    assert (status, told["version"], told["isKept"], told["others"]) == (200, 1, True, [])
    assert told["sheets"]["families"]["0417-01"]["cash"] == "2  3"  # type: ignore[index]
    assert asked(LEADER, f"{good}&version=1") == (200, {"version": 1})  # nothing new: nothing is said twice
    for query in ("", "troop=0031&week=2027-02-14", "troop=0417&week=2027-02-15", "troop=0417&week=x",
                  "troop=0417&week=2097-02-10"):  # fmt: skip
        assert asked(LEADER, query)[0] == 404
    for viewer in (COORDINATOR, Viewer("visitor", frozenset(), sees_area=True), Viewer("x", frozenset({"0031"}))):
        assert asked(viewer, good)[0] == 404
        assert asked(viewer, good, b"[]")[0] == 404
    for body in (b"", b"{", b"[1]", b'[["a"]]', b'[["families","0417-01","cash","",5]]', b"[" * 5000, b"\xff",
                 json.dumps([["families", "0417-01", "cash", "", "1"]] * 401).encode()):  # fmt: skip
        assert asked(LEADER, good, body)[0] == 400


def test_a_week_sent_a_then_b_then_a_again_counts_as_a(as_leader: Trial, season: Season) -> None:
    """Compared each time with what has come in, though no figures are published in between."""
    a, b = (week(season, **{"0417_01": {"GLA": many, "cash": "1.00"}}) for many in ("4", "7"))
    holds = preview_of(as_leader, a), preview_of(as_leader, b)
    told = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(take_in, "refresh", lambda _book, _sender: False)
        for payload, found in ((a, holds[0]), (b, holds[1]), (a, holds[0]), (a, holds[0])):
            told.append(
                (
                    len(changes(readings.sent("0417", W1), found.rows)),
                    actions.send_week(payload, "week.xlsx", "0417", W1, found).status,
                )
            )
        assert actions.follows("0417", W1)
        # the form shows what has come in, too
        assert actions.draft("0417", W1).sheets["families"]["0417-01"]["GLA"] == "4"
    assert told == [(3, "taken in"), (1, "taken in"), (1, "taken in"), (0, "already taken in")]
    assert take_in.refresh(as_leader.book, "tests")
    assert [row["packages"] for row in readings.now().facts("families", "0417") if row["item"] == "GLA"] == [4]
    assert [row["status"] for row in readings.now().facts("versions", "0417")] == ["counts", "superseded", "superseded"]


def test_likely_slips_are_asked_beside_what_has_landed_though_it_is_not_published(
    as_leader: Trial, season: Season
) -> None:
    """A deposit that the week before listed already; and no more once that week was sent again without it."""

    def with_deposit(slip: str) -> Draft:
        draft = typed(season)
        draft.sheets["banked"]["one"] = {"date": "2027-02-12", "amount": "30.50", "slip": slip}
        draft.sheets["promised"]["0417-01"] = {"participant": "0417-01", "GLA": "14"}
        return draft

    def asked() -> list[str]:
        sheets = sheets_of(with_deposit("7"), season, "0417", W2)
        return [one.asked for one in actions.look_over(sheets, "week 2.xlsx").questions]

    def send(draft: Draft) -> None:
        payload = workbook(sheets_of(draft, season, "0417", W1))
        assert actions.send_week(payload, "week.xlsx", "0417", W1, preview_of(as_leader, payload)).status == "taken in"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(take_in, "refresh", lambda _book, _sender: False)
        assert asked() == []
        assert actions.draft("0417", W2).sheets["promised"] == {}
        send(with_deposit("7"))
        assert actions.follows("0417", W1), "not published"
        (question,) = asked()
        assert "$30.50" in question
        assert actions.draft("0417", W2).sheets["promised"]["0417-01"]["GLA"] == "14", "and the form goes on from it"
        send(with_deposit("8"))
        assert asked() == []


def test_an_account_has_a_few_screens_made_at_once_and_another_does_not_wait(
    as_leader: Trial, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = "Many pages of yours are being made already. Wait for them, then load this one again."
    monkeypatch.setattr(snapshots.SHELF, "runs", Turns(Share(at_once=1, waiting=0)))
    with snapshots.SHELF.runs.of(LEADER.name):
        assert [one.value for one in shown("our_standing").warning] == [many]
        snapshots.open_book(as_leader.book, lambda: Viewer("other", frozenset({"0031"})))
        assert many not in [one.value for one in shown("our_standing").warning]
    snapshots.open_book(as_leader.book, lambda: LEADER)
    assert many not in [one.value for one in shown("our_standing").warning]


def preview_of(trial: Trial, payload: bytes) -> Preview:
    path = trial.folder / "preview.xlsx"
    path.write_bytes(payload)
    return preview(trial.book.season(), TROOPS, path, "week.xlsx")


def test_what_is_to_mend_is_named_as_the_form_names_it(season: Season) -> None:
    draft = typed(season, **{"0417_01": {"GLA": "2.5", "cash": "x"}})
    draft.sheets["banked"]["new 1"] = {"amount": "1.234"}
    draft.cover = {"bank_balance": "much"}
    found = preview(season, TROOPS, sheets_of(draft, season, "0417", W1), "week")
    where = {one.where for one in found_in_fields(found, season)[0]}
    assert where >= {"Families, 0417-01, Gladiolus bulbs", "Families, 0417-01, Cash and cheques", "Banked, 1, Amount",
                     "Bank and note, Bank balance, if somebody looked"}  # fmt: skip


def test_what_would_be_sent_is_told_in_all(season: Season) -> None:
    draft = typed(season, **{"0417_01": {"GLA": "4", "cash": "12.50"}, "0417_02": {"HRB": "3", "cash": "2.00"}})
    after = preview(season, TROOPS, sheets_of(draft, season, "0417", W1), "after").rows
    assert totals({}, after) == [
        Change("stock", "", "on_hand", None, 20),
        Change("families", "", "packages", None, 7),
        Change("families", "", "cash", None, Decimal("14.50")),
    ]


def test_what_was_sent_fills_the_next_draft_in(trial: Trial, season: Season, tmp_path: Path) -> None:
    """Sent, read back and made into a workbook again: the same rows, so that a correction loses nothing."""
    path = tmp_path / "week.xlsx"
    draft = typed(season, **{"0417_01": {"GLA": "4", "cash": "12.50"}, "troop": {"HRB": "2"}})
    stall = {"date": "2027-02-13", "start": "10:00", "place": "Market", "GLA": "3", "cash": "18"}
    draft.sheets["stalls"]["one"] = stall | {"participants": "0417-01 0417-02"}
    draft.sheets["banked"]["one"] = {"date": "2027-02-14", "amount": "30.50", "slip": "7"}
    draft.sheets["moves"]["one"] = {"date": "2027-02-12", "item": "GLA", "packages": "2", "direction": "out",
                                    "other_troop": "0031"}  # fmt: skip
    draft.sheets["goals"]["0417-01"] = {"participant": "0417-01", "goal": "50"}
    draft.cover = {"bank_balance": "30.50", "balance_on": "2027-02-14", "note": "all well"}
    path.write_bytes(workbook(sheets_of(draft, season, "0417", W1)))
    assert trial.take_in(path)[0].status == "taken in"
    snapshots.open_book(trial.book, lambda: LEADER)
    sent = readings.sent("0417", W1)
    again = preview(season, TROOPS, sheets_of(actions.draft("0417", W1), season, "0417", W1), "again")
    snapshots.open_book(None)
    assert not again.is_held
    assert changes(sent, again.rows) == []


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ({"cash": "12.345"}, "at most two decimals"),
        ({"GLA": "2.5"}, "whole"),
        ({"GLA": "nan"}, "whole"),
        ({"cash": "1e999"}, "amount"),
        ({"cash": "-5.00"}, "note"),
        ({"GLA": "999999999999"}, "100,000"),
    ],
)
def test_forged_values_meet_the_same_checks_as_a_workbooks_cells(
    season: Season, tmp_path: Path, cells: dict[str, str], expected: str
) -> None:
    sheets = sheets_of(typed(season, **{"0417_01": cells}), season, "0417", W1)
    path = tmp_path / "week.xlsx"
    path.write_bytes(workbook(sheets))
    shown, landed = (preview(season, TROOPS, given, "week.xlsx") for given in (sheets, path))
    assert shown.is_held
    assert shown.findings == landed.findings
    assert expected in " ".join(f"{one.found} {one.expected} {one.how}" for one in shown.findings)


def test_what_would_change_is_told_before_it_is_sent(season: Season) -> None:
    before = preview(season, TROOPS, sheets_of(typed(season), season, "0417", W1), "before").rows
    draft = typed(season, **{"0417_02": {"GLA": "3"}})
    draft.sheets["stock"]["GLA"]["on_hand"] = "18"
    after = preview(season, TROOPS, sheets_of(draft, season, "0417", W1), "after").rows
    assert changes(before, after) == [
        Change("stock", "GLA", "on_hand", 20, 18),
        Change("families", "0417-02 GLA", "packages", None, 3),
    ]


@pytest.mark.parametrize("troop", ["0031", "9999", "", "=0417", "0417 0031"])
def test_another_troops_week_is_refused_as_nobodys_is(as_leader: Trial, season: Season, troop: str) -> None:
    sheets = sheets_of(typed(season), season, troop, W1)
    with pytest.raises(Stop) as stop:
        actions.look_over(sheets, "week.xlsx")
    assert str(stop.value) == "This workbook's Cover does not name a troop of yours. Look at the code beside Troop."
    with pytest.raises(Stop, match="no troop of yours"):
        actions.draft("0031", W1)
    with pytest.raises(Stop, match="no troop of yours"):
        typed_week.keep(readings.now(), "9999", W1, [])
    with pytest.raises(Stop, match="no troop of yours"):
        actions.drop_draft("0031", W1)


def test_feeds_tables_and_zips_are_not_a_leaders_to_send(as_leader: Trial, tmp_path: Path) -> None:
    path = tmp_path / "troops.csv"
    path.write_text("troop,level\n0417,older\n", encoding="utf-8")
    with pytest.raises(Stop, match="no workbook of a troop's week"):
        actions.look_over(path, path.name)
    with pytest.raises(Stop, match="coordinator"):
        actions.take_files_in([path])
    with pytest.raises(Stop, match="coordinator"):
        actions.access()


def test_a_week_past_the_looking_over_is_still_refused_at_the_landing(as_leader: Trial, season: Season) -> None:
    """Whoever sends another troop's bytes without having them looked over stops at the writer, and nothing lands."""
    before = len(_files(as_leader))
    with pytest.raises(Stop, match="not a workbook of a troop of yours"):
        actions.send_week(week(season, "0031"), "week.xlsx", "0417", W1)
    assert len(_files(as_leader)) == before


def test_many_weeks_sent_at_once_all_land_each_under_its_sender(trial: Trial, season: Season) -> None:
    """One of them astray: it alone is refused."""
    before = len(_files(trial))
    box = SendQueue(trial.book)
    troops = ["0417", "0031", "1282", "0417", "0031"]
    told: dict[int, str] = {}

    def send(place: int, troop: str) -> None:
        own = frozenset({"1282"}) if place == 4 else frozenset({troop})
        try:
            told[place] = box.send(
                week(season, troop), f"Troop {troop}.xlsx", f"leader {place}", own, (troop, W1)
            ).status
        except Stop as stop:
            told[place] = str(stop)

    threads = [threading.Thread(target=send, args=pair) for pair in enumerate(troops)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    box.close()
    assert [told[place] for place in range(4)] == ["taken in"] * 4
    assert told[4] == "This is not a workbook of a troop of yours."
    files = _files(trial)[before:]
    assert sorted(row["sender"] for row in files) == ["leader 0", "leader 1", "leader 2", "leader 3"]
    with pytest.raises(Stop, match="being stopped"):
        box.send(week(season), "late.xlsx", "late", frozenset({"0417"}), ("0417", W1))


def test_a_week_is_certain_before_its_figures_are_made(
    trial: Trial, season: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer does not wait for them; they follow when nothing holds them up, and at the latest at the end."""
    may_publish, asked, publish = threading.Event(), threading.Event(), take_in.refresh

    def held_up(book: Book, sender: str) -> bool:
        asked.set()
        return may_publish.wait(10) and publish(book, sender)

    monkeypatch.setattr(take_in, "refresh", held_up)
    box = SendQueue(trial.book)
    assert box.send(week(season), "week.xlsx", "leader", frozenset({"0417"}), ("0417", W1)).status == "taken in"
    assert asked.wait(10)
    assert (box.follows(("0417", W1)), box.follows(("0031", W1))) == (True, False)
    assert "week.xlsx" not in {row["name"] for row in _files(trial)}
    may_publish.set()
    box.close()
    assert not box.follows(("0417", W1))
    assert "week.xlsx" in {row["name"] for row in _files(trial)}


def test_what_was_not_published_in_time_is_published_by_the_next_start(trial: Trial, season: Season) -> None:
    path = trial.book.folder.parent / "week.xlsx"
    path.write_bytes(week(season))
    [outcome] = take_in.ingest(trial.book, [path], "leader", publishes=False)
    assert outcome.status == "taken in"
    assert "week.xlsx" not in {row["name"] for row in _files(trial)}
    assert take_in.refresh(trial.book, "dashboard")
    assert "week.xlsx" in {row["name"] for row in _files(trial)}


def _files(trial: Trial) -> list[dict[str, str]]:
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        return figures.facts("versions")


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../x.xlsx", "x.xlsx"),
        ("C:\\troop\\week 6.xlsx", "week 6.xlsx"),
        ("<img src=x onerror=alert(1)>.xlsx", "_img src_x onerror_alert(1)_.xlsx"),
        ("a\x00b\n.xlsx", "a_b_.xlsx"),
        ("..", "workbook.xlsx"),
        ("x" * 300 + ".xlsx", "x" * 95 + ".xlsx"),
    ],
)
def test_a_files_name_is_no_path_and_no_markup(given: str, kept: str) -> None:
    assert name_of(given) == kept
