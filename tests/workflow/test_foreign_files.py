"""Files from elsewhere: proposed, shown, confirmed, taken in; the figures are those of the same facts in our form."""

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import typed_commands
from exports import COUNTS, DEPOT, EXPORTS, PAYMENTS, SALES, WEB, Export, text
from made_files import written
from shown_screens import shown_of
from streamlit.testing.v1 import AppTest
from trial import W1, W2, W3, Trial, accepted, publishes

from dashboard.data import snapshots
from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import BrokenMapping, Stop
from pipelines.figures.viewer import COORDINATOR
from pipelines.intake.elsewhere.mapping import as_toml, read_mapping
from pipelines.store import engine
from pipelines.tracing.explain import leaves, trace
from pipelines.upkeep.proof import prove
from pipelines.workflow import foreign_files, looking_back, publishing, take_in
from pipelines.workflow.corrections import Corrections, corrected, with_corrections
from pipelines.workflow.foreign_files import Draft
from pipelines.workflow.take_in import Outcome

pytestmark = pytest.mark.publishes()  # what landed is looked at, not the figures; where they are, it is said


def arrive(one: Trial, name: str, payload: bytes) -> Outcome:
    """Takes a file in."""
    path = one.folder / name
    path.write_bytes(payload)
    (outcome,) = one.take_in(path)
    return outcome


def draft(one: Trial, which: str, said: Corrections | None = None) -> Draft:
    """The proposal for a waiting file, corrected."""
    return corrected(
        one.book, foreign_files.chosen(one.book, which), foreign_files.hints(one.book), said or Corrections()
    )


def confirmed(one: Trial, which: str, said: Corrections | None = None) -> Outcome:
    """Confirms a file's mapping; what became of the file."""
    found = draft(one, which, said)
    return next(o for o in foreign_files.confirm(one.book, found, "tests") if o.file_no == found.file.file_no)


def rows(one: Trial, table: str) -> list[dict[str, Any]]:
    """What landed of a table, whichever file and row it came from."""
    with one.book.reading() as con:
        names = ", ".join(f'"{name}"' for name in TABLES[table].names)
        return engine.rows(con, f"select {names} from landed.{table} order by all")  # noqa: S608 - our names


def nothing_is_found(one: Trial) -> bool:
    """Whether the book is proved; every figure is published for that."""
    publish_all(one)
    return not any(proof.found for proof in prove(one.book))


def publish_all(one: Trial) -> None:
    with publishes("everything"), one.book.writing() as con:
        publishing.publish(one.book, con, one.book.season())


def to_mend(outcome: Outcome) -> list[tuple[str, str]]:
    return [(one.cell, one.found) for one in outcome.findings if not one.is_note]


def held_by_headers(outcome: Outcome) -> bool:
    return to_mend(outcome) == [("A1", "headers that are not known")] and outcome.status == "held"


@dataclass
class Both:
    """The same facts in two books: in our own form, and as exports that were confirmed one after another."""

    ours: Trial
    theirs: Trial
    arrived: dict[str, Outcome]
    proposed: dict[str, Draft]
    unconfirmed: dict[str, str] = field(default_factory=dict)  # why it was not, before it was corrected
    done: dict[str, Outcome] = field(default_factory=dict)


@pytest.fixture(scope="module")
def both(known_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Both:
    """Every export of exports.py, proposed before any is confirmed."""
    ours, theirs = (Trial(tmp_path_factory.mktemp(name)) for name in ("ours", "theirs"))
    for one in (ours, theirs):
        shutil.copytree(known_book, one.book.folder, dirs_exist_ok=True)
    assert accepted(ours.send(**{name: rows for export in EXPORTS for name, rows in export.own.items()}))
    folder = theirs.folder / "exports"
    folder.mkdir()
    for export in EXPORTS:
        (folder / export.name).write_bytes(export.payload)
    arrived = {Path(one.name).name: one for one in theirs.take_in(folder)}
    made = Both(ours, theirs, arrived, {export.name: draft(theirs, export.name) for export in EXPORTS})
    with publishes():
        for export in EXPORTS:
            if export.asked:
                with pytest.raises(Stop) as stopped:
                    confirmed(theirs, export.name)
                made.unconfirmed[export.name] = str(stopped.value)
            made.done[export.name] = confirmed(theirs, export.name, export.said)
    publish_all(theirs)
    return made


@pytest.mark.parametrize("export", EXPORTS, ids=lambda one: one.name)
def test_an_export_is_held_proposed_and_counts_the_same_once_confirmed(both: Both, export: Export) -> None:
    """Nothing of it counts before; after, every landed row is that of the contract's own form, from the right cells."""
    assert held_by_headers(both.arrived[export.name])
    assert "musterbook map" in both.arrived[export.name].findings[0].how
    first = both.proposed[export.name].look()
    fed = {line.column: line.fed_by for line in first.lines}
    assert {column: fed[column] for column in export.proposed} == export.proposed
    assert tuple(dict.fromkeys(q.about for q in first.questions if q.stops)) == export.asked
    assert both.unconfirmed.get(export.name, "").startswith("Not confirmed yet") == bool(export.asked)
    done = both.done[export.name]
    assert (done.status, to_mend(done)) == ("taken in", [])
    for table in export.own:
        assert rows(both.theirs, table) == rows(both.ours, table)
    with both.theirs.book.reading() as con:
        places = engine.rows(con, "select * from landed.cell_places where file_no = ?", [done.file_no])
    for column, letters in export.cells.items():
        assert letters in {row["letters"] for row in places if row["column_name"] == column}


def test_every_figure_is_that_of_our_own_form_and_the_book_is_proved(both: Both) -> None:
    assert both.theirs.figures([W1, W2, W3]) == both.ours.figures([W1, W2, W3])
    assert not any(one.found for one in prove(both.theirs.book))


@pytest.mark.parametrize("export", EXPORTS, ids=lambda one: one.name)
def test_a_mapping_as_toml_says_the_same(both: Both, export: Export) -> None:
    one = with_corrections(both.proposed[export.name], export.said).mapping
    assert read_mapping(as_toml(one), "x.toml") == one


def test_nothing_of_a_foreign_file_counts_before(trial: Trial) -> None:
    before = trial.figures([W1])
    arrive(trial, DEPOT.name, DEPOT.payload)
    assert trial.figures([W1]) == before
    assert rows(trial, "supply") == []


@pytest.mark.parametrize(
    ("export", "troop", "measure", "part", "day", "cells"),
    [
        (DEPOT, "0417", "supplied", "GLA", W1, {("E5", 24)}),
        (DEPOT, "0417", "supplied", "HRB", W1, {("E6", 18)}),
        (DEPOT, "0031", "supplied", "GLA", W2, {("E7", 48), ("E8", 12)}),
        (WEB, "0417", "remote", "HRB", W1, {("I3", 1)}),
        (SALES, "0417", "handed_out", "GLA", W1, {("B7", 5), ("B8", 3)}),
        (SALES, "0417", "handed_out", "HRB", W1, {("C7", 2)}),
    ],
    ids=lambda one: one.name if isinstance(one, Export) else str(len(one)) if isinstance(one, set) else str(one),
)
def test_a_figure_names_the_cells_of_the_foreign_file(
    both: Both, export: Export, troop: str, measure: str, part: str, day: Any, cells: set[tuple[str, int]]
) -> None:
    """By case, by item's column, by part of a cell: the cell as its own spreadsheet names it."""
    with looking_back.figures(both.theirs.book, COORDINATOR, day) as figures:
        traced = trace(figures, "items", measure, day, troop, part)
    mine = [cell for _term, cell in leaves(traced) if cell.file.endswith(export.name)]
    assert {(cell.cell, abs(cell.value)) for cell in mine} == cells


def test_the_next_file_with_these_headers_is_read_by_itself(trial: Trial) -> None:
    """In another order of columns too; and the file with one header more waits again, with the mapping's answers."""
    arrive(trial, PAYMENTS.name, PAYMENTS.payload)
    confirmed(trial, PAYMENTS.name, PAYMENTS.said)
    again = arrive(trial, "april.csv", text("""
Unit no;Payment number;Date paid;Amount paid;Payment status;Status date;Return reason
0417;P9;01/04/2027;5,00;cleared;02/04/2027;
"""))  # fmt: skip
    assert (again.status, again.what) == ("taken in", "feed")
    more = arrive(trial, "may.csv", text("""
Unit no;Payment number;Date paid;Amount paid;Payment status;Status date;Return reason;Clerk
0417;P10;01/04/2027;5,00;cleared;02/04/2027;;Jo
"""))  # fmt: skip
    assert held_by_headers(more)


def test_a_constant_week_is_for_its_file_alone(trial: Trial) -> None:
    """The next count with the same headers must not be taken for the same week's: it waits, and asks for its week."""
    arrive(trial, COUNTS.name, COUNTS.payload)
    confirmed(trial, COUNTS.name, COUNTS.said)
    next_ = arrive(trial, "later.tsv", COUNTS.payload.replace(b"40", b"31"))
    assert held_by_headers(next_)
    found = draft(trial, "later.tsv").look()
    assert [(q.about, q.column) for q in found.questions if q.stops] == [("lacking", "week_ending")]
    done = confirmed(trial, "later.tsv", Corrections(constants={"week_ending": "2027-02-21"}))
    assert done.status == "taken in"
    assert {str(row["week_ending"]) for row in rows(trial, "stock")} == {"2027-02-14", "2027-02-21"}


def test_a_word_that_no_translation_knows_is_held_by_its_cell_and_mended_by_adding_it(trial: Trial) -> None:
    arrive(trial, DEPOT.name, DEPOT.payload)
    some = confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[:2]))
    assert (some.status, to_mend(some)) == ("partly held", [("F8", "BACK")])
    assert len(rows(trial, "supply")) == 3
    done = confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[2:]))
    assert (done.status, len(rows(trial, "supply"))) == ("taken in", 4)
    assert nothing_is_found(trial)


def test_a_changed_mapping_leaves_what_was_taken_in_as_it_was(trial: Trial) -> None:
    """Accepted rows stay and are told; only what is held is read by the new mapping; the past stays as it was known."""
    arrive(trial, DEPOT.name, DEPOT.payload)
    confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[:2]))
    before, known_on = rows(trial, "supply"), _last_landed(trial)
    figures = trial.figures([W1])
    done = confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[2:], by_case=False, decimals=("comma",)))
    kept = [row for row in rows(trial, "supply") if row["document"] != "R-3"]
    assert kept == before
    assert [row["packages"] for row in rows(trial, "supply") if row["document"] == "R-3"] == [1]
    assert any("an earlier mapping read otherwise" in one.found for one in done.findings if one.is_note)
    assert trial.figures([W1], known_on) == figures
    assert nothing_is_found(trial)


def test_a_row_that_would_join_a_unit_taken_in_without_it_is_told_not_lost(trial: Trial) -> None:
    """Read as R-4 first and held; read as R-1 later, which is closed: it is held by itself."""
    payload = text("""
Receipt no,Unit,Item,Shipped,Qty,Type
R-1/a,0417,GLA,2027-02-14,12,depot
R-4/R-1,0417,GLA,2027-02-15,6,sent
""")
    arrive(trial, "x.csv", payload)
    first = confirmed(trial, "x.csv", Corrections(forms={"document": "{}/*"}))
    assert (first.status, to_mend(first)) == ("partly held", [("F3", "sent")])
    text_ = next(trial.book.mappings.glob("*.toml")).read_text().replace('form = "{}/*"', 'form = "*{}*"')
    with pytest.raises(BrokenMapping, match="something must stand between"):
        take_in.keep_mapping(trial.book, "supply-x.toml", text_, "tests")
    text_ = text_.replace('form = "*{}*"', 'split = "/"').replace(
        "[columns.document]", '[values.document]\nR-4 = "R-1"\n\n[columns.document]'
    )
    text_ = text_ + '\n[values.kind]\nsent = "depot"\n'
    (done,) = take_in.keep_mapping(trial.book, "supply-x.toml", text_, "tests")
    assert to_mend(done) == [("A3", "a row that an earlier mapping read otherwise")]
    assert [row["packages"] for row in rows(trial, "supply")] == [12]


def _last_landed(one: Trial) -> Any:
    with one.book.reading() as con:
        return con.execute("select max(landed_at) from landed.files").fetchall()[0][0]


def test_a_mapping_is_landed_at_every_change_and_when_it_is_taken_out(trial: Trial) -> None:
    arrive(trial, DEPOT.name, DEPOT.payload)
    confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[:1]))
    path = next(trial.book.mappings.glob("*.toml"))
    path.write_text(path.read_text() + 'START = "opening"\n')
    assert take_in.refresh(trial.book, "tests")
    assert {row["document"] for row in rows(trial, "supply")} == {"R-1", "R-2"}
    path.unlink()
    take_in.refresh(trial.book, "tests")
    take_in.refresh(trial.book, "tests")
    with trial.book.reading() as con:
        landed = con.execute("select name from landed.files where what = 'mapping'").fetchall()
    assert landed == [(path.name,)] * 3
    assert nothing_is_found(trial)


def test_a_file_of_the_contract_goes_by_a_mapping_that_was_confirmed_for_its_headers(trial: Trial) -> None:
    """Our own headers with decimal commas: held as they come, read once that is confirmed."""
    payload = text("""
reference;troop;date;amount;state;state_on
P1;0417;2027-03-02;1.234,50;cleared;2027-03-04
P2;0417;2027-03-02;12;cleared;2027-03-04
""")
    outcome = arrive(trial, "ours.csv", payload)
    assert (outcome.status, to_mend(outcome)) == ("partly held", [("D2", "1.234,50")])
    assert confirmed(trial, "ours.csv", Corrections(decimals=("comma",))).status == "taken in"
    assert [str(row["amount"]) for row in rows(trial, "remittances")] == ["1234.50", "12.00"]
    later = arrive(trial, "later.csv", payload.replace(b"P", b"Q").replace(b"1.234,50", b"12.50"))
    assert to_mend(later) == [("D2", "12.50")]  # speaks against the decimal comma


BAD = {
    "a header that is not there": (Corrections(columns={"document": "Receipt"}), '"Receipt" is none of the headers'),
    "a column that is not there": (Corrections(columns={"documents": "Unit"}), "no column of supply"),
    "fed twice": (Corrections(columns={"kind": "Unit"}, constants={"kind": "depot"}), "Say one of them"),
    "a meaning that is none": (Corrections(values=(("OUT", "gift"),)), "gift is none of opening, depot"),
    "a decimal sign against the values": (Corrections(decimals=("point",)), "speak against point"),
    "an order against the values": (Corrections(dates=("month-first",)), "speak against month-first"),
    "an order that is none": (Corrections(dates=("backwards",)), "dates: Input should be"),
    "a form without the part": (Corrections(forms={"troop": "a * b"}), "holds {} once"),
    "a table that is none": (Corrections(table="suppply"), "is none of"),
    "an item twice": (Corrections(items={"Unit": "GLA", "Product": "gla"}), "GLA is fed by two headers"),
}  # fmt: skip


@pytest.fixture(scope="module")
def waiting(known_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A book in which the depot's export waits; nothing changes in it."""
    one = Trial(tmp_path_factory.mktemp("waiting"))
    shutil.copytree(known_book, one.book.folder, dirs_exist_ok=True)
    arrive(one, DEPOT.name, DEPOT.payload)
    return one


@pytest.mark.parametrize(("said", "why"), BAD.values(), ids=BAD.keys())
def test_what_makes_no_sense_is_refused_and_nothing_changes(waiting: Trial, said: Corrections, why: str) -> None:
    with pytest.raises(Stop) as stopped:
        confirmed(waiting, DEPOT.name, said)
    foreign_files.drop(waiting.book, foreign_files.chosen(waiting.book, DEPOT.name))
    assert why in str(stopped.value)
    assert list(waiting.book.mappings.glob("*.toml")) == []
    assert rows(waiting, "supply") == []


GOOD = """
table = "supply"
headers = ["Doc", "Unit", "What", "Day", "Qty", "Kind"]
[columns]
document = "Doc"
troop = "Unit"
item = "What"
date = "Day"
packages = "Qty"
kind = "Kind"
"""

FAULTS = {
    'columns.kind: "Kinds" is none': GOOD.replace('"Kind"\n', '"Kinds"\n'),
    "columns.kind: is fed by nothing": GOOD.replace('kind = "Kind"\n', ""),
    "columns.kinds: no column of supply": GOOD.replace("kind =", "kinds ="),
    "colour: this key is not known": 'colour = "red"\n' + GOOD,
    "table: suply is none of": GOOD.replace("supply", "suply"),
    "decimals: Input should be": 'decimals = "dot"\n' + GOOD,
    "constants.kind: it is fed by a header too": GOOD + '[constants]\nkind = "depot"\n',
    "constants.troop: the next file": GOOD.replace('troop = "Unit"\n', "") + '[constants]\ntroop = "0417"\n',
    'values.kind."OUT": outward is none of': GOOD + '[values.kind]\nOUT = "outward"\n',
    'values.kind: "out" stands twice': GOOD + '[values.kind]\nOUT = "depot"\nout = "opening"\n',
    "columns.troop: split or form, not both": GOOD.replace('"Unit"\n', '{header="Unit", split="/", form="{} *"}\n'),
    "columns.troop: give it a header, or a cell": GOOD.replace('"Unit"\nitem', '{split="/"}\nitem'),
    "columns.date.dates: Input should be": GOOD.replace('"Day"\npack', '{header="Day", dates="latest"}\npack'),
    "item: the columns of items give it already": GOOD + '[items]\nQty = "GLA"\n',
    "is not valid TOML": GOOD + "[columns]\n",
}  # fmt: skip


@pytest.mark.parametrize(("why", "text_"), FAULTS.items(), ids=FAULTS.keys())
def test_each_fault_of_a_mapping_is_named_by_its_key_and_stops_the_start(trial: Trial, why: str, text_: str) -> None:
    assert read_mapping(GOOD, "x.toml") is not None
    trial.book.mappings.mkdir(exist_ok=True)
    (trial.book.mappings / "x.toml").write_text(text_)
    with pytest.raises(BrokenMapping) as broken:
        trial.send(goals="troop week_ending participant goal\n0417 2027-02-14 0417-01 5")
    assert "x.toml" in str(broken.value)
    assert why in str(broken.value)


def test_two_mappings_of_the_same_headers_stop_the_start(trial: Trial) -> None:
    trial.book.mappings.mkdir(exist_ok=True)
    for name in ("a.toml", "b.toml"):
        (trial.book.mappings / name).write_text(GOOD)
    with pytest.raises(BrokenMapping, match=r"a\.toml and b\.toml are for the same headers"):
        take_in.refresh(trial.book, "tests")


def test_days_are_never_guessed_where_both_readings_are_possible(trial: Trial) -> None:
    """The same file with one day above 12 is proposed; without, it asks."""
    arrive(trial, "open.csv", PAYMENTS.payload)
    open_ = draft(trial, "open.csv").look()
    asked = {q.column: q.choices for q in open_.questions if q.about == "dates"}
    assert asked["date"] == {"day-first": "2027-03-02", "month-first": "2027-02-03"}
    assert open_.mapping.dates is None
    arrive(trial, "told.csv", PAYMENTS.payload.replace(b"03/03/2027", b"23/02/2027").replace(b"05/03", b"25/02"))
    assert draft(trial, "told.csv").look().mapping.dates == "day-first"


def test_dates_beside_texts_may_be_swapped_and_are_held(trial: Trial) -> None:
    """A program that took 03/04/2027 for its own date and left 14/02/2027 as text has swapped day and month."""
    payload = written(
        {
            "S": [
                ["Payment number", "Unit no", "Date paid", "Amount paid", "Payment status", "Status date"],
                ["P1", "0417", date(2027, 4, 3), 5, "cleared", "14/03/2027"],
                ["P2", "0417", "14/02/2027", 5, "cleared", "14/03/2027"],
            ]
        }
    )
    arrive(trial, "mixed.xlsx", payload)
    assert [q.about for q in draft(trial, "mixed.xlsx").look().questions] == ["mixed"]
    done = confirmed(trial, "mixed.xlsx")
    assert [cell for cell, _found in to_mend(done)] == ["C2"]
    assert [row["reference"] for row in rows(trial, "remittances")] == ["P2"]


def test_several_sheets_of_one_table_are_one(trial: Trial) -> None:
    """A document that goes on over two sheets is whole; the row that goes wrong on the second holds it."""
    head = ["document", "troop", "item", "date", "packages", "kind"]
    payload = written(
        {
            "one": [head, ["D1", "0417", "GLA", "2027-02-10", 12, "depot"]],
            "two": [
                head,
                ["D1", "0417", "HRB", "2027-02-10", 6, "depot"],
                ["D2", "0417", "HRB", "2027-02-10", "x", "depot"],
            ],
        }
    )
    outcome = arrive(trial, "two sheets.xlsx", payload)
    assert (outcome.status, outcome.rows, to_mend(outcome)) == ("partly held", 3, [("E3", "x")])
    assert [row["packages"] for row in rows(trial, "supply")] == [12, 6]


def test_the_command_lists_shows_asks_and_confirms(trial: Trial) -> None:
    """As typed: the list (1), what cannot be confirmed yet (2), a correction, which is kept (1), confirmed (0)."""
    arrive(trial, PAYMENTS.name, PAYMENTS.payload)

    def typed(*words: str) -> tuple[int, str, str]:
        done = typed_commands.typed("map", *words, "--book", str(trial.book.folder))
        return done.returncode, done.stdout, done.stderr

    status, said, _aside = typed()
    assert status == 1
    assert "amount     ← Amount paid:  1.234,50 → 1234.50; 20,00 → 20.00; 7,10 → 7.10" in said
    assert "day-first = 2027-03-02; month-first = 2027-02-03" in said
    status, _said, aside = typed(PAYMENTS.name, "--confirm")
    assert (status, "which day is 02/03/2027" in aside) == (2, True)
    status, said, _aside = typed(PAYMENTS.name, "--dates", "day-first", "--json")
    found = json.loads(said)
    assert (status, found["may_be_confirmed"], found["mapping"]["dates"]) == (1, True, "day-first")
    assert rows(trial, "remittances") == []
    assert typed(PAYMENTS.name, "--column", "amount=Sum", "--confirm")[0] == 2
    assert typed(PAYMENTS.name, "--column", "amount=Unit no", "--column", "amount=Date paid")[0] == 2
    assert typed("nothing.csv")[0] == 2
    status, said, _aside = typed(PAYMENTS.name)
    assert "Right so? `musterbook map 4 --confirm`" in said
    status, said, _aside = typed("4", "--confirm")
    assert (status, len(rows(trial, "remittances"))) == (0, 3)
    assert f"{PAYMENTS.name}: taken in, 3 rows" in said
    assert typed() == (0, "No file waits for a mapping.\n", "")


@pytest.fixture
def screen(trial: Trial) -> Iterator[Callable[[], AppTest]]:
    """Opens Submissions as the coordinator."""

    def show() -> AppTest:
        return shown_of(trial.book, "submissions")

    yield show
    snapshots.open_book(None)


@pytest.mark.publishes("everything")
def test_the_screen_asks_shows_and_confirms(trial: Trial, screen: Callable[[], AppTest]) -> None:
    """Nothing may be confirmed until the day is told; what is confirmed is taken in and said."""
    arrive(trial, PAYMENTS.name, PAYMENTS.payload)
    at = screen()
    assert not at.exception
    (confirm,) = [one for one in at.button if one.label == "Confirm"]
    assert confirm.disabled
    (days,) = [one for one in at.radio if one.label == "How its days are written"]
    assert days.value is None
    assert [option.replace("\\", "") for option in days.options] == [
        "the day first: Tuesday 2 March 2027",
        "the month first: Wednesday 3 February 2027",
    ]
    days.set_value("day-first").run()
    (confirm,) = [one for one in at.button if one.label == "Confirm"]
    assert not confirm.disabled
    confirm.click().run()
    assert not at.exception
    assert any("taken in" in one.value for one in at.info)
    assert len(rows(trial, "remittances")) == 3
    assert not any(one.label == "Confirm" for one in at.button)


@pytest.mark.publishes("everything")
def test_the_screen_takes_edits_of_columns_and_words(trial: Trial, screen: Callable[[], AppTest]) -> None:
    """Words, one after another; what was said outlives the page, and is dropped when that is asked for."""
    arrive(trial, DEPOT.name, DEPOT.payload)
    at = screen()
    for word, meaning in {"BACK means": "returned", "OUT means": "depot"}.items():
        next(one for one in at.selectbox if one.label == word).set_value(meaning).run()
        assert not at.exception
    again = screen()
    assert [one.label for one in again.selectbox if one.label.endswith(" means")] == ["START means"]
    next(one for one in again.selectbox if one.label == "START means").set_value("opening").run()
    next(one for one in again.button if one.label == "Confirm").click().run()
    assert not again.exception
    assert sorted(row["kind"] for row in rows(trial, "supply")) == ["depot", "depot", "opening", "returned"]
    next(one for one in again.button if one.label == "Take back").click().run()
    assert any("stays and counts" in one.value for one in again.info)
    assert list(trial.book.mappings.glob("*.toml")) == []


@pytest.mark.publishes("everything")
def test_what_was_corrected_is_kept_and_begun_anew_when_asked(trial: Trial, screen: Callable[[], AppTest]) -> None:
    """By the command, seen on the screen; dropped there, gone for the command."""
    arrive(trial, DEPOT.name, DEPOT.payload)
    draft(trial, DEPOT.name, Corrections(columns={"kind": "Product"}))
    assert draft(trial, DEPOT.name).stated["columns"]["kind"] == {"header": "Product"}
    at = screen()
    assert next(one for one in at.selectbox if one.label == "kind").value == "Product"
    draft(trial, DEPOT.name, Corrections(columns={"kind": "Unit"}))
    assert next(one for one in at.run().selectbox if one.label == "kind").value == "Unit"
    next(one for one in at.button if one.label == "Begin anew").click().run()
    assert next(one for one in at.selectbox if one.label == "kind").value == "Movement type"
    assert not draft(trial, DEPOT.name).is_kept


def test_the_command_that_is_suggested_does_what_was_shown(trial: Trial) -> None:
    """A correction, and a header that is left out: typed as suggested, the corrected mapping is the one in use."""
    from pipelines.commands.map import _next_step

    arrive(trial, "units.csv", text("Unit no,Band,Manager\n0417,younger,x"))
    said = draft(trial, "units.csv", Corrections(table="troops", columns={"level": "Band"}))
    suggested = _next_step(said, said.forecast()).partition("`")[2].rstrip("`")
    assert suggested == "musterbook map 4 --leave-out Manager --confirm"
    assert confirmed(trial, "units.csv", Corrections(left_out=("Manager",))).status == "taken in"
    mapping = foreign_files.hints(trial.book).mappings.named["troops-units.toml"]
    assert (mapping.columns["level"].header, mapping.left_out) == ("Band", ("Manager",))


def test_the_forecast_is_what_taking_in_does(trial: Trial) -> None:
    """A key twice with other values: the forecast holds it and names sheet and cell, first; no other row is."""
    arrive(trial, "x.xlsx", written({"Paid": [
        ["Payment number", "Unit no", "Date paid", "Amount paid", "Payment status", "Status date"],
        ["P1", "0417", date(2027, 3, 2), 5, "cleared", date(2027, 3, 4)],
        ["P1", "0417", date(2027, 3, 2), 6, "cleared", date(2027, 3, 4)],
        ["P2", "0417", date(2027, 3, 2), 6, "cleared", date(2027, 3, 4)],
    ]}))  # fmt: skip
    found = draft(trial, "x.xlsx").forecast()
    done = confirmed(trial, "x.xlsx")
    assert (found.rows_read, found.rows_held) == (done.rows, done.rows_held) == (3, 2)
    assert [(one.sheet, one.cell, one.is_note) for one in found.findings[:1]] == [("Paid", "F3", False)]
    assert [one.found for one in found.findings] == [one.found for one in done.findings]


PASSED = """
Unit no,Item,Shipped,Qty,Receipt no,Type
0417,GLA,2027-02-14,12,R-1,depot
0031,GLA,2027-02-14,6,R-2,depot
Total,,,18,,
0417 and 0031 only,,,,,
"""


def test_rows_to_pass_over_are_named_whole_or_by_place_and_lose_nothing(trial: Trial) -> None:
    """Last week's closing line takes no row of next week; what a text would take of it holds the file."""
    arrive(trial, "one.csv", text(PASSED))
    found = draft(trial, "one.csv")
    assert (found.stated["pass_over"], found.stated["pass_over_rows"]) == (["Total"], [-1])
    assert confirmed(trial, "one.csv").status == "taken in"
    more = text(PASSED.replace("R-", "S-").partition("Total")[0] + "0417,HRB,2027-02-15,3,S-3,depot")
    assert (arrive(trial, "two.csv", more).status, len(rows(trial, "supply"))) == ("taken in", 5)
    with pytest.raises(Stop, match="the whole text"):
        draft(trial, _waiting(trial), Corrections(pass_over=("04*",)))
    name = "supply-one.toml"
    text_ = (trial.book.mappings / name).read_text().replace('"Total"', '"Total", "0417"')
    take_in.keep_mapping(trial.book, name, text_, "tests")
    next_ = arrive(trial, "three.csv", more.replace(b"S-", b"T-"))
    assert (next_.status, to_mend(next_)) == ("held", [("A2", "rows that look like any other: 2, 4")])


def _waiting(one: Trial) -> str:
    arrive(one, "waits.csv", text(PASSED.replace("Type", "Type of it")))
    return "waits.csv"


@pytest.mark.parametrize("number", ["12.505", "100.000", '"40,000"'])
def test_a_number_that_may_be_thousands_or_decimals_is_asked_by_file(trial: Trial, number: str) -> None:
    header = "Payment number;Unit no;Date paid;Amount paid;Payment status;Status date"
    arrive(trial, "x.csv", text(f"{header}\nP1;0417;2027-03-02;{number};cleared;2027-03-04"))
    found = draft(trial, "x.csv")
    assert [q.about for q in found.look().questions if q.stops] == ["decimals"]
    with pytest.raises(Stop, match="which number is"):
        confirmed(trial, "x.csv")


@pytest.mark.parametrize(
    ("zork", "asked"),
    [
        (('"1.234,50"', '"20,00"'), []),  # read in one way only
        (('"1.234,50"', '"40,000"'), []),  # the first tells of the second
        (('"40,000"', "7"), ["which number is 40,000"]),
        (('"1.234,50"', '"1,234.50"'), ["not all written one way"]),
    ],
)
def test_a_column_chosen_by_hand_is_asked_about_only_where_more_than_one_reading_fits(
    trial: Trial, zork: tuple[str, str], asked: list[str]
) -> None:
    header = "Payment number,Unit no,Date paid,Zork,Payment status,Status date"
    lines = [f"P{k},0417,2027-03-0{k},{zork[k - 1]},cleared,2027-03-04" for k in (1, 2)]
    arrive(trial, "x.csv", text("\n".join((header, *lines))))
    found = draft(trial, "x.csv", Corrections(columns={"amount": "Zork"}))
    said = [q.said for q in found.look().questions if q.stops]
    assert len(said) == len(asked)
    assert all(part in one for part, one in zip(asked, said, strict=True))
    if not asked:
        assert found.mapping.columns["amount"].decimals == "comma"
        assert confirmed(trial, "x.csv").status == "taken in"
        assert str(rows(trial, "remittances")[0]["amount"]) == "1234.50"


def test_a_mapping_that_is_taken_back_reads_no_more_files_and_what_came_in_stays(trial: Trial) -> None:
    arrive(trial, DEPOT.name, DEPOT.payload)
    confirmed(trial, DEPOT.name, Corrections(values=DEPOT.said.values[:2]))
    before = rows(trial, "supply")
    (name,) = foreign_files.in_use(trial.book)
    done = foreign_files.take_back(trial.book, name.removesuffix(".toml"), "tests")
    assert (done.stays, rows(trial, "supply")) == ((DEPOT.name,), before)
    with trial.book.reading() as con:
        held = con.execute("select count(*) from landed.units where accepted_at is null").fetchall()
    assert held == [(1,)]  # its row with a word that nobody knew waits as it did
    assert held_by_headers(arrive(trial, "next.csv", DEPOT.payload.replace(b"R-", b"Q-")))
    assert nothing_is_found(trial)
    with pytest.raises(Stop, match="There are: none"):
        foreign_files.take_back(trial.book, name, "tests")


LEADERS = [
    ["Week of 14 Feb 2027"],
    ["Unit", "Seller", "GLA", "HRB", "Cash", "Card"],
    ["0417", "0417-01", 5, 2, 20.5, 6],
    ["0417", "0417-02", 3, None, None, 18.25],
    [],
    ["Unit", "Product", "Stock count"],
    ["0417", "GLA", 40],
    ["0417", "HRB", 7],
]


@pytest.mark.parametrize("closing", ["Left in the garage:,,,12,4,,", "0417,2027-02-14,Left in the garage:,12,4,,"])
def test_a_closing_line_is_no_participant(trial: Trial, closing: str) -> None:
    """Wherever on the line it stands: it is passed over or held, and nobody of that name has packages."""
    told = f"""Unit,Week ending,Seller,GLA,HRB,Cash,Card
0417,2027-02-14,0417-01,5,2,20.50,6.00
0417,2027-02-14,0417-02,3,,,18.25
{closing}
"""
    arrive(trial, "leader sheet.csv", told.encode())
    assert not draft(trial, "leader sheet.csv").forecast().may_be_confirmed, "which table it is, is a question"
    done = confirmed(trial, "leader sheet.csv", Corrections(table="families"))
    with trial.asked("families", days=[W1]) as figures:
        people = {row["participant"] for row in figures.rows("families", W1)}
    assert people == {"0417-01", "0417-02"} or (not people and to_mend(done)), to_mend(done)


def test_two_tables_of_one_sheet_are_read_as_two_and_the_next_weeks_too(trial: Trial) -> None:
    """Its first and last row are pointed at; what nothing reads holds the file; the week is in the file's name."""
    arrive(trial, "leader 2027-02-14.xlsx", written({"S": LEADERS}))
    week = Corrections(names={"week_ending": "file"}, forms={"week_ending": "leader {}"})
    said = Corrections(table="families", sheet="S", rows=(2, 4))
    assert draft(trial, "leader 2027-02-14.xlsx", said).stated["until"] == "blank"
    first = confirmed(trial, "leader 2027-02-14.xlsx", week)
    assert (first.status, to_mend(first)) == ("held", [("A6", "filled rows that nothing reads: 6, 7, 8")])
    assert foreign_files.chosen(trial.book, "leader 2027-02-14.xlsx").is_read is False
    draft(trial, "leader 2027-02-14.xlsx", Corrections(table="stock", sheet="S", rows=(6, 8)))
    done = confirmed(trial, "leader 2027-02-14.xlsx", week)
    assert (done.status, to_mend(done)) == ("taken in", [])
    assert [row["on_hand"] for row in rows(trial, "stock")] == [40, 7]
    more = [LEADERS[0], *LEADERS[1:4], ["0417", "0417-01", 1, 1, 2, None], *LEADERS[4:]]
    more[4] = ["0417", "0417-03", 1, 1, 2, None]
    next_ = arrive(trial, "leader 2027-02-21.xlsx", written({"S": more}))
    assert (next_.status, to_mend(next_)) == ("taken in", [])
    assert len([row for row in rows(trial, "stock") if row["week_ending"] == W2]) == 2
    assert {row["participant"] for row in rows(trial, "families") if row["week_ending"] == W2} >= {"0417-03"}
    gap = [*more[:3], [], *more[3:]]
    torn = arrive(trial, "leader 2027-02-28.xlsx", written({"S": gap}))
    assert (torn.status, to_mend(torn)) == ("held", [("A5", "filled rows that nothing reads: 5, 6")])
