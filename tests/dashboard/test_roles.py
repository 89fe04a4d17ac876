"""One door: what a coordinator, a leader and a viewer get of the same book."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import get_args

import pytest
from canaries import OTHERS, canaries_in, canary_book
from trial import Trial

from pipelines.figures.figures import Evident, Fact, Figures, Relation
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.workflow import looking_back

LEADER = Viewer("our", frozenset({"0417"}))
BOTH = Viewer("both", frozenset({"0417", OTHERS[0]}))
VISITOR = Viewer("visitor", frozenset(), sees_area=True)
NOBODY = Viewer("nobody", frozenset())
AREA = {"area", "item_totals", "outlook_held"}
DAY = date(2027, 2, 21)


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """Troop 0417 and twelve others, all of whose values are canaries."""
    return canary_book(tmp_path_factory.mktemp("roles"))


@contextmanager
def figures(trial: Trial, viewer: Viewer) -> Iterator[Figures]:
    with looking_back.figures(trial.book, viewer) as found:
        yield found


def everything(found: Figures) -> dict[str, list[dict[str, object]]]:
    """Every relation and fact, with and without naming a troop; held files, findings and names."""
    rows = {name: found.rows(name) + found.rows(name, DAY) for name in get_args(Relation)}
    rows |= {f"fact {name}": found.facts(name) for name in get_args(Fact)}
    for code in (OTHERS[3], "0417", "9999"):
        rows |= {f"{name} of {code}": found.rows(name, None, code) for name in get_args(Relation)}
        rows |= {f"fact {name} of {code}": found.facts(name, code) for name in get_args(Fact)}
    rows |= {f"evidence {name}": found.evidence(name, None, DAY).to_pylist() for name in get_args(Evident)}
    rows |= {"names": [*found.files.landings(range(1, 12)).values()], "follow-ups": found.follow_ups()}
    rows |= {
        "stall hours": found.stalls.stall_hours(DAY),
        "places before": found.stalls.places_before(),
        "calendar": found.stalls.calendar(DAY),
        "swaps": found.stalls.swaps(DAY),
        "held": found.files.held(),
        "unread": found.files.unread(),
        "files": found.files.landed(),
        "pace": found.pace(),
    }
    return rows | {f"findings {number}": found.files.findings(number) for number in range(1, 12)}


def test_the_control_the_coordinator_gets_the_canaries(trial: Trial) -> None:
    with figures(trial, COORDINATOR) as found:
        assert len(canaries_in(repr(everything(found)).encode())) > 60


def test_a_leader_gets_rows_of_her_own_troops_only(trial: Trial) -> None:
    with figures(trial, LEADER) as found:
        rows = everything(found)
    assert canaries_in(repr([*rows.values()]).encode()) == set()
    assert {row["troop"] for name, listed in rows.items() for row in listed if "troop" in row} == {"0417"}
    for name in (*AREA, "exceptions", "comparisons", "pace", "files"):
        assert rows[name] == [], name
    assert {row["name"] for row in rows["fact sources"]} == {"a file of the area"}
    assert {row["sender"] for row in rows["fact versions"]} == {""}


def test_a_leader_of_two_troops_gets_both_and_no_third(trial: Trial) -> None:
    with figures(trial, BOTH) as found:
        assert {row["troop"] for row in found.rows("standing")} == {"0417", OTHERS[0]}
        assert {row["troop"] for row in found.facts("roster")} == {"0417", OTHERS[0]}


def test_a_viewer_gets_sums_and_no_troops_rows(trial: Trial) -> None:
    with figures(trial, VISITOR) as found:
        rows = everything(found)
    assert {name for name, listed in rows.items() if listed} <= {
        *AREA, "pace", "names", *(f"{name} of {code}" for name in AREA for code in (OTHERS[3], "0417", "9999"))
    }  # fmt: skip
    assert not [text for text in canaries_in(repr([*rows.values()]).encode()) if b"qzx" in text]


def test_nobody_gets_nothing(trial: Trial) -> None:
    with figures(trial, NOBODY) as found:
        rows = everything(found)
    assert {name for name, listed in rows.items() if listed} == {"names"}
    assert {row["name"] for row in rows["names"]} == {"a file of the area", "season.toml"}


def test_papers_of_a_leader_hold_her_own_only(trial: Trial, tmp_path: Path) -> None:
    from pipelines.reports.csv_tables import table_text

    with figures(trial, LEADER) as found:
        for relation in ("standing", "items", "families"):
            text = table_text(found, relation, DAY)  # type: ignore[arg-type]
            assert canaries_in(text.encode()) == set()
            assert "0417" in text
