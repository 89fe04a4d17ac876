"""The Papers screen: it makes the roll-up, shows a paper as it will look, and gives it to who may have it."""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterator

import pytest
from shown_screens import shown
from streamlit.testing.v1 import AppTest
from trial import W1, Trial

from dashboard.data import downloads, snapshots
from pipelines.figures.viewer import COORDINATOR, Viewer

LEADER = Viewer("Ada", frozenset({"0417"}))


@pytest.fixture
def papers(trial: Trial) -> Iterator[Callable[[], AppTest]]:
    """Opens the screen of a book of one week."""
    trial.send(stock=f"troop week_ending item on_hand\n0417 {W1.isoformat()} GLA 4")
    snapshots.open_book(trial.book, lambda: COORDINATOR)

    def show() -> AppTest:
        return shown("papers", week="1")

    yield show
    snapshots.open_book(None)


def said(at: AppTest) -> str:
    assert not at.exception, [one.value for one in at.exception]
    return re.sub(r"\\([^\w\s])", r"\1", "\n".join(one.value for kind in (at.markdown, at.caption) for one in kind))


def test_the_roll_up_is_made_and_can_be_fetched(papers: Callable[[], AppTest], trial: Trial) -> None:
    at = papers()
    assert "The roll-up of week 1 is not made yet." in said(at)
    at.button(key="make_rollup").click().run()
    assert re.search(r"The roll-up of week 1 was made on .*: \d+ papers\.", said(at))
    assert (trial.book.out / W1.isoformat() / "statements" / "0417.pdf").is_file()
    links = re.findall(r"\((/fetch/rollup/[^)\s]+)\)", said(at))
    assert links
    for link in links:
        found = downloads._made(COORDINATOR, link.removeprefix("/fetch/"), {})
        assert found is not None, link
        assert found[1]


def test_what_came_in_since_is_told(papers: Callable[[], AppTest], trial: Trial) -> None:
    papers().button(key="make_rollup").click().run()
    trial.send(banked=f"troop week_ending date amount\n0417 {W1.isoformat()} 2027-02-12 10.00")
    assert "More has come in since" in said(papers())


def test_a_statement_is_shown_as_it_will_look(papers: Callable[[], AppTest]) -> None:
    at = papers()
    at.selectbox(key="paper_of").select("0417").run()
    assert "/fetch/statement.pdf?week=1&troop=0417" in said(at)
    shown = [one.proto.body for one in at.get("html")]
    assert sum(body.startswith('<img src="data:image/png;base64,iVBOR') for body in shown) == 2  # its two pages


def test_the_zips_hold_every_paper_and_every_form(papers: Callable[[], AppTest]) -> None:
    papers().button(key="make_rollup").click().run()
    whole = downloads._made(COORDINATOR, f"rollup/{W1.isoformat()}.zip", {})
    forms = downloads._made(COORDINATOR, "forms.zip", {"week": "2"})
    assert whole is not None
    assert forms is not None
    with zipfile.ZipFile(io.BytesIO(whole[1])) as made:
        assert {"standing.csv", "manifest.json", "statements/0417.pdf"} <= set(made.namelist())
        assert len(list(csv.DictReader(io.StringIO(made.read("standing.csv").decode())))) == 3
    with zipfile.ZipFile(io.BytesIO(forms[1])) as made:
        assert made.namelist() == [f"{troop} week 2027-02-21.xlsx" for troop in ("0031", "0417", "1282")]


@pytest.mark.parametrize("what", [f"rollup/{W1.isoformat()}.zip", f"rollup/{W1.isoformat()}/area.pdf", "forms.zip"])
def test_nobody_else_gets_what_holds_other_troops(papers: Callable[[], AppTest], what: str) -> None:
    papers().button(key="make_rollup").click().run()
    assert downloads._made(LEADER, what, {"week": "1", "troop": "0417"}) is None


@pytest.mark.parametrize(
    "path", ["../season.toml", "rollup/2027-02-14/../../season.toml", "rollup/2027-02-14/..", "rollup/.zip"]
)
def test_a_path_leads_nowhere_else(papers: Callable[[], AppTest], path: str) -> None:
    papers().button(key="make_rollup").click().run()
    assert downloads._made(COORDINATOR, path, {"week": "1"}) is None
