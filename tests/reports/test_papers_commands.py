"""`musterbook rollup`, `standing` and `form` as they are typed: what they say, what they leave, how they end."""

import json
from pathlib import Path

import pytest
from trial import W1, W2, Trial, as_rows
from typer.testing import CliRunner, Result

from pipelines.cli import app
from pipelines.definitions.errors import Stop

WEEK = f"""
    troop  week_ending  item  on_hand
    0417   {W1.isoformat()}  GLA  20"""
SUPPLY = """
    document  troop  item  date        packages  kind
    D1        0417   GLA   2027-02-08  24        opening"""


@pytest.fixture
def reported(trial: Trial) -> Trial:
    """A book in which troop 0417 has reported the first week."""
    trial.send(stock=WEEK, supply=SUPPLY)
    return trial


def run(trial: Trial, *typed: str) -> Result:
    command, *rest = typed
    return CliRunner().invoke(app, [command, "--book", str(trial.book.folder), *rest])


def test_a_roll_up_says_where_it_is_and_ends_with_0(reported: Trial) -> None:
    done = run(reported, "rollup", "--week", "1")
    folder = reported.book.out / W1.isoformat()
    count = sum(path.is_file() for path in folder.rglob("*"))
    assert (done.exit_code, done.output) == (0, f"{count} files in {folder}.\n")


def test_without_a_week_it_is_the_latest_that_was_reported(reported: Trial) -> None:
    told = json.loads(run(reported, "rollup", "--json").output)
    assert told["as_of"] == W1.isoformat()
    assert "standing.csv" in told["files"]


def test_a_file_that_is_held_ends_it_with_1_until_it_is_mended(reported: Trial) -> None:
    reported.send(banked=f"troop week_ending date amount\n0417 {W1.isoformat()} 2027-02-12 ten")
    done = run(reported, "rollup", "--week", "1")
    assert done.exit_code == 1
    assert "banked.csv: not, or not wholly, in these figures" in done.output
    reported.send(banked=f"troop week_ending date amount\n0417 {W1.isoformat()} 2027-02-12 10.00")
    assert run(reported, "rollup", "--week", "1").exit_code == 0


def test_what_is_held_of_a_later_week_is_no_matter_of_this_one(reported: Trial) -> None:
    reported.send(banked=f"troop week_ending date amount\n0417 {W2.isoformat()} 2027-02-18 ten")
    assert run(reported, "rollup", "--week", "1").exit_code == 0
    assert run(reported, "rollup", "--week", "2").exit_code == 1


def test_statements_can_go_without_families(reported: Trial, tmp_path: Path) -> None:
    sizes = []
    for name, choice in (("with", "--families"), ("without", "--no-families")):
        run(reported, "rollup", "--week", "1", choice, "--out", str(tmp_path / name))
        sizes.append((tmp_path / name / "statements" / "0417.pdf").read_bytes())
    assert sizes[0] != sizes[1]


def test_the_standing_of_all_in_a_pipe(reported: Trial) -> None:
    title, header, *lines = run(reported, "standing").output.splitlines()
    assert title == "A small season, week 1, as of Sunday 2027-02-14"
    assert header.split()[:2] == ["Troop", "Submitted"]
    assert [line.split()[:2] for line in lines] == [["0031", "no"], ["0417", "yes"], ["1282", "no"]]
    assert "$127.20" in lines[1]  # 24 at $6.00, less proceeds of 24 at $0.70
    assert "not counted" in lines[0]


def test_the_standing_of_one_says_every_figure(reported: Trial) -> None:
    said = " ".join(run(reported, "standing", "0417", "--week", "1").output.split())
    assert "Troop 0417: where every dollar is" in said
    assert "Packages on hand $120.00" in said
    assert "Packages not accounted for $24.00" in said


def test_the_standing_for_machines_is_that_of_the_table(reported: Trial) -> None:
    told = json.loads(run(reported, "standing", "--json").output)
    run(reported, "rollup", "--week", "1")
    table = as_rows((reported.book.out / W1.isoformat() / "standing.csv").read_text(encoding="utf-8"))
    assert [row["owed"] for row in told] == [row["owed"] for row in table]
    assert list(told[0]) == list(table[0])


@pytest.mark.parametrize(
    "typed",
    [
        ("standing", "9999"), ("form", "9999", "--week", "1"), ("outlook", "9999"), ("close", "9999"),
        ("stalls", "9999"), ("stalls", "9999", "--draw", "7"), ("bank", "--troop", "9999"),
        ("findings", "--troop", "9999"),
    ],
)  # fmt: skip
def test_a_troop_that_is_not_there_is_said_so(reported: Trial, typed: tuple[str, ...]) -> None:
    done = run(reported, *typed)
    assert isinstance(done.exception, Stop)
    assert "There is no troop 9999 in this book." in str(done.exception)
    assert not (reported.book.out / "forms").exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("on_hand", "--item", "XXX"), "There is no item XXX. There are: GLA"),
        (("owes", "--participant", "0031-01"), "There is no participant 0031-01 in troop 0417"),
    ],
)
def test_what_is_not_there_has_no_figure(reported: Trial, typed: tuple[str, ...], said: str) -> None:
    done = run(reported, "trace", "0417", *typed)
    assert isinstance(done.exception, Stop)
    assert said in str(done.exception)


def test_forms_for_every_troop_or_for_some(reported: Trial, tmp_path: Path) -> None:
    assert run(reported, "form", "--week", "2").exit_code == 0
    names = sorted(path.name for path in (reported.book.out / "forms" / W2.isoformat()).iterdir())
    assert names == [f"{troop} week {W2.isoformat()}.xlsx" for troop in ("0031", "0417", "1282")]
    told = run(reported, "form", "0417", "--week", "2027-02-18", "--out", str(tmp_path / "some"), "--json")
    assert json.loads(told.output) == [str(tmp_path / "some" / f"0417 week {W2.isoformat()}.xlsx")]
