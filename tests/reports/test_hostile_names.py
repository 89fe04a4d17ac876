"""Papers for names of any script and length, that look like formulas, markup or headers; for no and many families."""

import csv
import email
import email.policy
import io
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import openpyxl
import pypdf
import pytest
from trial import SEASON, W1, W2, Trial

from pipelines.definitions.errors import Stop
from pipelines.reports.letters import address
from pipelines.reports.rollup import roll_up, week_of
from pipelines.reports.statement import statement
from pipelines.reports.week import one_line

pytestmark = pytest.mark.filterwarnings("ignore:.*extension is not supported")  # openpyxl and data bars of 2010

LEADERS = {
    "0417": "Анна Петрова",
    "0031": "山田花子 김민수",
    "1282": "עדה לוי عائشة بنت أحمد",
    "2754": "=HYPERLINK(\"http://example.org\",\"x\") *bold* #image(\"x\") $1",
    "3912": "Maximiliane " * 20,
    "7850": "Ana\nBcc: everybody@example.org",
    "9301": "<script>alert(1)</script> & Söhne",
}  # fmt: skip


Tables = dict[str, list[dict[str, str]]]


def send_rows(trial: Trial, tables: Tables) -> None:
    """Tables as CSV files, whatever their texts hold, taken in together."""
    folder = trial.folder / "rows"
    folder.mkdir()
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    trial.take_in(folder)


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """Troops whose leaders' names are hard, one of them without families, one with 60, one with 200."""
    title = "=1+1 " + "Gladiolus " * 25
    trial = Trial(tmp_path_factory.mktemp("hostile"), SEASON.replace("Gladiolus bulbs", title))
    people = [("0417", n) for n in range(1, 61)] + [("0031", n) for n in range(1, 201)] + [("1282", 1)]
    codes = [(troop, f"{troop}-{n:03}") for troop, n in people]
    week = {"week_ending": W1.isoformat()}
    send_rows(trial, {
        "troops": [
            {"troop": code, "level": "=2+2", "leader": name, "email": f"leader.{code}@example.org"}
            for code, name in LEADERS.items()
        ],
        "roster": [{"troop": t, "participant": c, "registered_on": "2026-10-01"} for t, c in codes],
        "families": [{"troop": t, **week, "participant": c, "item": "GLA", "packages": "3"} for t, c in codes],
        "stock": [{"troop": t, **week, "item": "GLA", "on_hand": "0"} for t in ("0417", "0031")],
    })  # fmt: skip
    return trial


def test_names_in_any_script_are_drawn_and_can_be_read_out(hostile: Trial) -> None:
    with week_of(hostile.book, W1) as week:
        said = {troop: pages_of(statement(week, troop))[0] for troop in week.standing}
    assert LEADERS["0417"] in said["0417"]
    assert LEADERS["0031"] in said["0031"]
    assert all(word in said["1282"] or word[::-1] in said["1282"] for word in ("עדה", "לוי"))
    assert '=HYPERLINK("http://example.org","x") *bold* #image("x") $1' in said["2754"]
    assert "Maximiliane Maximiliane" in said["3912"]


@pytest.mark.parametrize(("troop", "families"), [("9301", 0), ("1282", 1), ("0417", 60), ("0031", 200)])
def test_a_statement_has_two_pages_and_all_its_families_or_says_how_many_more(
    hostile: Trial, troop: str, families: int
) -> None:
    with week_of(hostile.book, W2) as week:
        assert len(week.families.get(troop, [])) == families
        pages = pages_of(statement(week, troop))
    assert len(pages) == 2
    listed = sum(f"{troop}-{number:03}" in pages[1] for number in range(1, 201))
    more = f"{families - listed} more with less owing" in pages[1]
    assert listed == families or (listed == 66 and more)
    if families == 0:
        assert "No family has taken packages" in pages[1]


def test_a_season_of_thirty_items_still_fits_on_two_pages(new_trial: Callable[..., Trial]) -> None:
    more = "".join(
        f'\n[[items]]\ncode = "X{n}"\ntitle = "Another bulb with a long name {n}"\nprice = "5.00"\n' for n in range(30)
    )
    trial = new_trial(SEASON.replace("[[proceeds.tiers]]", f"{more}\n[[proceeds.tiers]]", 1))
    supply = [
        {"document": f"D{n}", "troop": "0417", "item": f"X{n}", "date": "2027-02-08", "packages": f"{24 + n}",
         "kind": "opening"} for n in range(30)
    ]  # fmt: skip
    troops = [{"troop": "0417", "level": "older", "leader": "Ada"}]
    send_rows(trial, {"troops": troops, "supply": supply})
    with week_of(trial.book, W1) as week:
        pages = pages_of(statement(week, "0417"))
    assert len(pages) == 2
    assert "more items not listed" in pages[1]


def test_no_text_becomes_a_formula_or_a_link(hostile: Trial, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(roll_up(hostile.book, W1, out=tmp_path / "out").folder / "rollup.xlsx")
    texts = set()
    for sheet in workbook.worksheets:
        assert not sheet._hyperlinks
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert str(cell.value).startswith(("=SUBTOTAL(109,", "=SUM(", "=COUNTIF("))
                elif cell.data_type == "s":
                    texts.add(str(cell.value))
    assert {LEADERS["2754"], "=2+2"} <= texts


def test_a_name_cannot_write_a_header_of_the_letter(hostile: Trial, tmp_path: Path) -> None:
    out = roll_up(hostile.book, W2, out=tmp_path / "out").folder / "letters"
    message = email.message_from_bytes((out / "7850.eml").read_bytes(), policy=email.policy.default)
    assert message["Bcc"] is None
    assert message["To"].addresses[0].addr_spec == "leader.7850@example.org"
    assert message["To"].addresses[0].display_name == "Ana Bcc: everybody@example.org"
    cyrillic = email.message_from_bytes((out / "0417.eml").read_bytes(), policy=email.policy.default)
    assert cyrillic["To"].addresses[0].display_name == LEADERS["0417"]


@pytest.mark.parametrize(
    "given", ["", "nobody", "a@b", "a@example.org, b@example.org", "x@example.org\nBcc: y@example.org", "<a@b.org>"]
)
def test_what_is_not_plainly_one_address_is_left_to_the_coordinator(given: str) -> None:
    assert address("Ada", given) is None


def test_one_line_has_no_breaks_and_no_controls() -> None:
    assert one_line("a\r\nb\x00c\u2028d  e") == "a b c d e"


# A folder that appears whole or not at all


def test_a_folder_that_is_no_roll_up_is_not_touched(hostile: Trial, tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "letter.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(Stop, match="is not a roll-up"):
        roll_up(hostile.book, W1, out=tmp_path / "own")
    assert [path.name for path in tmp_path.iterdir()] == ["own"]  # nothing left beside it
    assert (tmp_path / "own" / "letter.txt").read_text(encoding="utf-8") == "mine"


def test_a_newer_roll_up_takes_the_whole_place_of_the_older(hostile: Trial, tmp_path: Path) -> None:
    out = roll_up(hostile.book, W1, out=tmp_path / "out").folder
    made = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    made["files"]["letters/left-over.eml"] = ""  # a paper of the older roll-up that the newer has not
    (out / "manifest.json").write_text(json.dumps(made), encoding="utf-8")
    for name in ("left-over.eml", "own.txt"):
        (out / "letters").mkdir(exist_ok=True)
        (out / "letters" / name).write_text("of an earlier week", encoding="utf-8")
    roll_up(hostile.book, date(2027, 2, 28), out=out)
    assert not (out / "letters" / "left-over.eml").exists()
    assert (out / "letters" / "own.txt").exists()  # somebody's own file is kept
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
