"""Small files that ask for much: each is held with a sentence that says which limit it is over, or read within them."""

import resource
from collections.abc import Iterator
from pathlib import Path

import pytest
from blown_up import CASES
from trial import Trial

from pipelines.definitions.limits import MOST_FINDINGS_OF_A_WEEK
from pipelines.definitions.records import Finding
from pipelines.definitions.season import Season
from pipelines.messages.finding_lines import lines
from pipelines.workflow.guarded_preview import TOO_LONG, TOO_MUCH, LookOvers

TROOPS = ["0417", "0031", "1282"]
SECONDS = 60.0  # of computing for all of them together where the coordinator takes them in; a demo's inbox takes 5


@pytest.fixture(scope="module")
def look_overs() -> Iterator[LookOvers]:
    looking = LookOvers()
    yield looking
    looking.close()


@pytest.fixture
def season(trial: Trial) -> Season:
    return trial.book.season()


def says(findings: list[Finding], told: str) -> bool:
    return any(part in f"{one.found}; {one.expected}" for one in findings for part in told.split("|"))


@pytest.mark.parametrize("name", CASES)
def test_a_leaders_file_is_told_which_limit_it_is_over_or_read(
    look_overs: LookOvers, season: Season, tmp_path: Path, name: str
) -> None:
    case = CASES[name]
    path = tmp_path / case.name
    path.write_bytes(case.payload())
    assert path.stat().st_size < 1_000_000, "small files are what this is about"
    found = look_overs.look_over("leader", season, TROOPS, path, case.name, None)
    assert TOO_LONG not in found.findings
    assert TOO_MUCH not in found.findings
    assert len(found.findings) <= 2 * (MOST_FINDINGS_OF_A_WEEK + 1)
    assert all(len(one.found) < 500 and one.how for one in found.findings)
    assert len(lines(found.findings)) <= len(found.findings)
    if case.told:
        assert found.is_held
        assert says(found.findings, case.told), found.findings[:3]
    else:
        assert found.what in ("submission", "foreign")


def test_the_same_files_sent_by_mail_are_taken_in_or_held(trial: Trial, tmp_path: Path) -> None:
    """All at once, in the coordinator's own process: the work stays bounded there too."""
    inbox = tmp_path / "inbox"
    for name, case in CASES.items():
        (inbox / name).mkdir(parents=True)
        (inbox / name / case.name).write_bytes(case.payload())
    before = resource.getrusage(resource.RUSAGE_SELF)
    outcomes = {Path(one.name).parent.name: one for one in trial.take_in(inbox)}
    after = resource.getrusage(resource.RUSAGE_SELF)
    assert set(outcomes) == set(CASES)
    for name, case in CASES.items():
        if case.told:
            assert outcomes[name].status == "held", name
            assert says(outcomes[name].findings, case.told), (name, outcomes[name].findings[:3])
    assert after.ru_utime - before.ru_utime < SECONDS
