"""Exports as offices and volunteers write their headers: how far each is read by itself; none goes in wrong unasked."""

from pathlib import Path

import pytest
from office_exports import OFFICES, Office
from trial import FEEDS, Trial

from pipelines.workflow import foreign_files
from pipelines.workflow.foreign_files import Draft

ASKED = {
    "leader sheet.csv",
    "roster spring.csv",
    "credits.csv",
    "debits.csv",
    "abbuchungen.csv",
    "einzahlungen.csv",
    "cobros.csv",
}


@pytest.fixture(scope="module")
def drafts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Draft]:
    one = Trial(tmp_path_factory.mktemp("offices"))
    one.send(**FEEDS)
    folder = one.folder / "exports"
    folder.mkdir()
    for office in OFFICES:
        (folder / office.name).write_bytes(office.payload)
    one.take_in(folder)
    known = foreign_files.hints(one.book)
    found = [foreign_files.drafted(one.book, file, known) for file in foreign_files.waiting(one.book)]
    return {Path(draft.file.name).name: draft for draft in found if draft}


@pytest.mark.parametrize("office", OFFICES, ids=lambda one: one.name)
def test_an_export_is_read_right_or_asked_about(drafts: dict[str, Draft], office: Office) -> None:
    """What may be confirmed without a word feeds every figure from the right header; the others ask."""
    found = drafts[office.name].forecast()
    fed = {line.column: line.fed_by for line in found.lines}
    is_right = found.mapping.table == office.table and all(fed[name] == of for name, of in office.feeds.items())
    assert is_right or not found.may_be_confirmed
    assert found.may_be_confirmed == (office.name not in ASKED)
    assert not (found.may_be_confirmed and found.rows_held)
