"""How is this made? Every figure of a troop is given again by the cells it is traced to, read from the landed files.

MUSTERBOOK_SEASONS: how many random seasons are tried (2 unless set).
"""

import csv
import io
import json
import os
import re
import shutil
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import busy
import openpyxl
import pytest
import season_files
import seasons
from trial import FEEDS, W1, W2, W3, Trial, accepted
from typed_commands import Done, typed

from pipelines.definitions.errors import Stop
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.files import HIDDEN_FILE
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store import landed_tables
from pipelines.store.book import Book
from pipelines.tracing.area import AREA_SCOPES, AreaTracer
from pipelines.tracing.explain import PART_OF, Tracer, leaves, measures_of, part_of, trace
from pipelines.tracing.terms import Traced, worked_out
from pipelines.tracing.troop import AreaScope, Scope

SEASONS = int(os.environ.get("MUSTERBOOK_SEASONS", "2"))


@contextmanager
def figures(book: Book, days: list[date], viewer: Viewer = COORDINATOR) -> Iterator[Figures]:
    """The figures of several days, computed in one go."""
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            compute(memory, book.season(), days)
            yield Figures(memory, viewer)
        finally:
            memory.close()


class Files:
    """The landed files of a book, read cell by cell without the tool."""

    def __init__(self, book: Book) -> None:
        with book.writing() as con:
            done = con.execute("select file_no, name, sha256 from landed.files").fetchall()
        self.paths = {no: (name, book.landed_path(sha256)) for no, name, sha256 in done}
        self._read: dict[int, Any] = {}

    def cell(self, file_no: int, sheet: str, cell: str) -> Any:
        """What stands there, as the file has it."""
        name, path = self.paths[file_no]
        if file_no not in self._read:
            if name.endswith(".csv"):
                self._read[file_no] = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
            elif name.endswith(".toml"):
                self._read[file_no] = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
            else:
                self._read[file_no] = openpyxl.load_workbook(io.BytesIO(path.read_bytes()))
        read = self._read[file_no]
        if name.endswith(".toml"):
            for key, place in re.findall(r"(\w+)(?:\[(\d+)\])?", cell):
                read = read[key][int(place) - 1] if place else read[key]
            return read
        if name.endswith(".csv"):
            letters, row = re.fullmatch(r"([A-Z]+)(\d+)", cell).groups()
            column = 0
            for letter in letters:
                column = column * 26 + ord(letter) - 64
            return read[int(row) - 1][column - 1]
        return read[sheet][cell].value


def says(stands: Any, value: Any) -> bool:
    """Whether what stands in a cell is what was counted."""
    if isinstance(value, bool):
        return (str(stands).lower() in {"yes", "y", "true", "1"}) is value
    if isinstance(value, int | Decimal):
        return Decimal(str(stands)) == value
    if isinstance(value, date):
        return str(stands)[:10] == value.isoformat()
    return value in str(stands).replace(":", " ").split()  # a worker may stand with minutes


def is_same(one: Any, other: Any) -> bool:
    """Whether two values agree: fractions to nine places, all else exactly."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) < 1e-9
    return bool(one == other)


def figures_of(shown: Figures, day: date) -> Iterator[tuple[Scope, str, str, Any]]:
    """Every row of a day's traced relations: relation, troop, what tells it from the troop's others, row."""
    for relation in PART_OF:
        for row in shown.rows(relation, day):
            if row["troop"] is not None:  # the area's outlook stands beside the troops'
                yield relation, row["troop"], part_of(relation, row), row


def figures_of_area(shown: Figures, day: date) -> Iterator[tuple[AreaScope, str, str, Any]]:
    """Every figure of the area on a day, all items' apart: relation, measure, item, row."""
    for relation in AREA_SCOPES:
        for row in shown.rows(relation, day):
            for name in measures_of(relation):
                yield relation, name, row.get("item", ""), row


@pytest.mark.parametrize("seed", range(SEASONS))
def test_every_figure_is_given_again_by_its_cells(seed: int, new_trial: Callable[..., Trial]) -> None:
    """Random seasons as CSV feeds and workbooks: each figure, worked out anew from cells that say what is counted."""
    made = seasons.make(seed)
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "in/feeds", made.feeds)
    season_files.write_workbooks(trial.folder / "in/weeks", made.sheets)
    assert accepted(trial.take_in(trial.folder / "in"))
    files, seen, counted = Files(trial.book), set(), 0
    days = sorted({made.weeks[1], made.weeks[-1], made.days()[-1]})
    with figures(trial.book, days) as shown:
        areas = {(day, whole): AreaTracer(shown, day, whole=whole) for day in days for whole in (True, False)}
        for day in days:
            tracers = {
                troop: Tracer(shown, troop, day) for troop in {row["troop"] for row in shown.rows("standing", day)}
            }
            for relation, troop, part, row in figures_of(shown, day):
                for name in measures_of(relation):
                    if name not in row:
                        continue  # a term that SQL keeps to itself
                    traced = tracers[troop].of(relation, name, part)
                    assert is_same(worked_out(traced), row[name]), (day, troop, relation, name, part)
                    assert is_same(traced.value, row[name])
                    counted += 1
                    seen |= {cell for _term, cell in leaves(traced)}
            for relation, name, item, row in figures_of_area(shown, day):
                deep, seen_too = (areas[day, whole].of(relation, name, item) for whole in (True, False))
                assert is_same(worked_out(deep), row[name]), (day, relation, name, item)
                assert is_same(worked_out(seen_too), row[name]), (day, relation, name, item)
                seen |= {cell for _term, cell in leaves(deep)}
    prices = {Decimal(1)} | {item.price for item in trial.book.season().items}
    for cell in seen:
        assert says(files.cell(cell.file_no, cell.sheet, cell.cell), cell.value), cell
        assert abs(cell.factor) in prices, cell
    assert counted > 1000
    assert len(seen) > 200


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Figures]:
    """The busy book on its three weeks' ends."""
    trial = Trial(tmp_path_factory.mktemp("busy"))
    trial.send(**FEEDS)
    busy.fill(trial)
    with figures(trial.book, [W1, W2, W3]) as made:
        yield made


def terms(traced: Traced) -> list[tuple[str, int, str]]:
    """A figure's own terms: label, sign, value."""
    return [(term.label, sign, str(term.value)) for sign, term in traced.terms]


def cells(traced: Traced) -> list[tuple[str, str, str]]:
    """All cells of a figure: file without its folder, cell, what it adds."""
    return [(cell.file.rpartition("/")[2], cell.cell, str(cell.counted)) for _term, cell in leaves(traced)]


def test_owed_is_charged_less_proceeds_less_credits(shown: Figures) -> None:
    """48 at 6.00 and 24 at 7.25, 6 of them moved out; donations 6.00 and 12.00, posted 30.00, and 29.00 withdrawn only
    later: 78 packages at 0.70."""
    traced = trace(shown, "standing", "owed", W2, "0417")
    assert terms(traced) == [("Charged", 1, "503.00"), ("Proceeds", -1, "54.60"), ("Credited", -1, "194.00")]
    assert traced.value == Decimal("254.40")
    assert "what is credited" in traced.meaning


def test_not_banked_is_cash_less_deposits(shown: Figures) -> None:
    """The refund counts against the cash, and each cell is named."""
    traced = trace(shown, "standing", "not_banked", W2, "0417")
    assert terms(traced) == [("Cash in", 1, "125.00"), ("Banked", -1, "125.00")]
    assert ("families.csv", "F8", "-5.00") in cells(traced)
    assert ("stalls.csv", "H3", "20.00") in cells(traced)


def test_missing_is_what_should_be_there_less_the_count(shown: Figures) -> None:
    """48 - 3 damaged - 10 - 4 = 31 gladiolus, 30 counted; the herb kits were not counted."""
    traced = trace(shown, "standing", "missing", W1, "0417")
    assert traced.value == 1
    assert terms(traced) == [("Should be on hand, of items counted", 1, "31"), ("Counted", -1, "30")]
    item = trace(shown, "items", "missing", W1, "0417", "HRB")
    assert item.value is None
    assert "not counted" in item.note


def test_a_move_is_traced_to_the_givers_row(shown: Figures) -> None:
    """Both report it and differ: 6 on the giver's word."""
    assert cells(trace(shown, "items", "moved_in", W2, "0031", "GLA")) == [("moves.csv", "E2", "6")]


def test_a_remittance_that_came_back(shown: Figures) -> None:
    """Cleared and returned: both days stand in the trace, and it comes to the second payment alone."""
    traced = trace(shown, "standing", "remitted", W3, "0417")
    assert cells(traced) == [
        ("remittances.csv", "D3", "100.00"),
        ("remittances.csv", "D3", "-100.00"),
        ("remittances.csv", "D5", "60.00"),
    ]
    assert traced.value == Decimal("60.00")


def test_an_order_that_is_sent_on_counts_once(shown: Figures) -> None:
    """Placed, then sent: its effect began when it was placed."""
    traced = trace(shown, "families", "remote", W3, "0417", "0417-01")
    assert cells(traced) == [("online_orders.csv", "I2", "5")]


def test_people_are_traced_one_by_one(shown: Figures) -> None:
    """0417-02 took packages and worked the stall."""
    traced = trace(shown, "standing", "taking_part", W1, "0417")
    assert terms(traced) == [("0417-01", 1, "1"), ("0417-02", 1, "1")]
    assert "stalls.csv" in {cell.file.rpartition("/")[2] for _term, cell in leaves(traced)}


def test_every_measure_of_the_glossary_is_traced(shown: Figures) -> None:
    """None is left without a trace, whatever the troop has or lacks."""
    for day in (W1, W3):
        for relation, troop, part, _row in figures_of(shown, day):
            tracer = Tracer(shown, troop, day)
            for name in measures_of(relation):
                assert tracer.of(relation, name, part).label


def test_every_figure_of_the_area_is_traced(shown: Figures) -> None:
    """Every column of the area and of its items but those that name a row; and its terms are the troops'."""
    names = {"as_of", "week_no", "item", "item_no", "title", "price", "is_stocked", "packages_per_case"}
    for scope in AREA_SCOPES:
        assert set(shown.frame(scope, W2).schema.names) - names == set(measures_of(scope))
    owed = AreaTracer(shown, W2).of("area", "owed")
    standing = {row["troop"]: str(row["owed"]) for row in shown.rows("standing", W2)}
    assert terms(owed) == [(troop, 1, amount) for troop, amount in standing.items() if Decimal(amount)]
    share = AreaTracer(shown, W2).of("area", "share")
    assert [term.label for _sign, term in share.terms] == ["Registered and taking part", "Registered"]
    assert [term[0] for term in terms(share.terms[1][1])] == ["0031", "0417"]
    past = AreaTracer(shown, W3).of("area", "troops_past_due")
    assert [label for label, _sign, _value in terms(past)] == [
        row["troop"] for row in shown.rows("standing", W3) if row["past_due"] > 0
    ]


def test_a_due_date_is_traced(shown: Figures) -> None:
    """A collection that was announced, with the cell; one to come has no amount yet."""
    rows = {str(row["due_on"]): row for row in shown.rows("dues", W3) if row["troop"] == "0417"}
    assert any(row["is_reached"] for row in rows.values())
    for day, row in rows.items():
        unpaid = trace(shown, "dues", "unpaid", W3, "0417", day)
        assert unpaid.value == row["unpaid"]
        amount = trace(shown, "dues", "amount", W3, "0417", day)
        assert [cell[0] for cell in cells(amount)] == ([] if row["is_estimate"] else ["collections.csv"])


def test_what_is_not_there_is_said(shown: Figures) -> None:
    """An unknown measure, an unknown troop, a troop that the viewer may not see."""
    with pytest.raises(Stop, match="no measure owned"):
        trace(shown, "standing", "owned", W1, "0417")
    with pytest.raises(Stop, match="no troop 0999"):
        trace(shown, "standing", "owed", W1, "0999")
    leader = Figures(shown._con, Viewer("leader", frozenset({"0031"})))
    with pytest.raises(Stop, match="no troop 0417"):
        trace(leader, "standing", "owed", W1, "0417")
    for viewer in (leader.viewer, Viewer("viewer", frozenset(), sees_area=True)):
        with pytest.raises(Stop, match="coordinator"):
            AreaTracer(Figures(shown._con, viewer), W1)
    with pytest.raises(Stop, match="no measure owned of the area"):
        AreaTracer(shown, W1).of("area", "owned")
    with pytest.raises(Stop, match="no item XYZ"):
        AreaTracer(shown, W1).of("item_totals", "available", "XYZ")


def test_a_leader_is_told_no_name_of_another_troops_file(shown: Figures) -> None:
    """A bulk file holds other troops' rows: its cells are told, its name is not."""
    leader = Figures(shown._con, Viewer("leader", frozenset({"0031"})))
    named = {cell.file for _term, cell in leaves(trace(leader, "standing", "available", W2, "0031"))}
    assert named == {HIDDEN_FILE}


def test_the_command(tmp_path: Path) -> None:
    """Definition, terms and cells; for machines also the landed files to fetch."""
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    busy.fill(trial)
    options = ["--week", "2", "--book", str(trial.book.folder)]
    done = typed("trace", "0417", "not_banked", *options)
    assert done.returncode == 0
    assert done.stdout.startswith(
        "Not banked of 0417, as of 2027-02-21: 0.00\nCash and cheques taken in that no deposit"
    )
    assert "  Cash in: 125.00" in done.stdout
    assert " less Banked: 125.00" in done.stdout
    assert "sent 2/families.csv F8: -5.00  (2027-02-21 family cash 0417-01)" in done.stdout
    shutil.rmtree(tmp_path / "sent 2")
    told = typed("trace", "0417", "handed_out", "--item", "GLA", *options, "--json")
    made = json.loads(told.stdout)
    assert made["traced"]["value"] == "8"
    told_of = {term["label"]: [cell["value"] for cell in term["cells"]] for _sign, term in made["traced"]["terms"]}
    assert told_of == {"Taken by a family": [10], "Brought back by a family": [-2]}
    assert Path(made["landed"][0]["path"]).read_text(encoding="utf-8").startswith("troop,week_ending,participant")
    none = typed("trace", "0417", "owned", *options)
    assert (none.returncode, none.stdout) == (2, "")
    assert none.stderr.startswith("There is no measure owned.")


def test_the_command_of_the_area_and_of_a_due_date(tmp_path: Path) -> None:
    """The troops' figures behind the area's, and with --all their cells; a due date by its day."""
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    busy.fill(trial)

    def told(*words: str) -> Done:
        return typed("trace", *words, "--book", str(trial.book.folder))

    lines = told("area", "owed", "--week", "2").stdout.splitlines()
    assert lines[0].startswith("Owed of area, as of 2027-02-21: ")
    assert "  0417: 254.40" in lines
    assert lines[-1].startswith("Each troop's figure has cells of its own")
    whole = told("area", "supplied", "--item", "GLA", "--week", "2", "--all").stdout
    assert "supply.csv" in whole
    assert "Each troop's figure" not in whole
    day = json.loads(told("0417", "unpaid", "--due", "2027-03-12", "--week", "5", "--json").stdout)
    assert day["traced"]["label"] == "Unpaid"
    assert told("0417", "step_goal", "--week", "2").stdout.startswith("Goal set of 0417")
    none = told("0417", "unpaid", "--due", "2027-03-13")
    assert (none.returncode, none.stderr) == (
        2, "There is no due date 2027-03-13. There are: 2027-02-26, 2027-03-12, 2027-03-26.\n"
    )  # fmt: skip
