"""Days at the edges of ISO 8601 weeks, and days as workbooks store them, through the whole tool.

Sources: ISO 8601-1:2019 (week 1 is the one with the year's first Thursday). ECMA-376 part 1: serial dates of the 1900
and 1904 systems (clause not looked up); the two serials are what XlsxWriter and openpyxl agree on.
"""

from datetime import date
from pathlib import Path

import duckdb
import pytest
import xlsxwriter
from trial import SEASON, Trial, accepted

from pipelines.definitions.season import read_season

EDGES = {
    "2004-W53-6": "2005-01-01", "2009-W01-1": "2008-12-29", "2009-W53-7": "2010-01-03", "2020-W53-4": "2020-12-31",
    "2020-W53-7": "2021-01-03", "2026-W53-1": "2026-12-28", "2026-W53-7": "2027-01-03", "2027-W01-1": "2027-01-04",
}  # fmt: skip
LONG_YEARS = [2004, 2009, 2015, 2020, 2026, 2032, 2037]
OVER_NEW_YEAR = SEASON.replace("2027-02-08", "2026-12-07").replace("2027-03-21", "2027-01-24").split("[[dues]]")[0]


@pytest.mark.parametrize("week", EDGES)
def test_week_dates(week: str) -> None:
    """The warehouse and Python agree with the standard's examples."""
    assert duckdb.execute("select strftime(?::date, '%G-W%V-%u')", [EDGES[week]]).fetchall() == [(week,)]
    assert date.fromisoformat(week).isoformat() == EDGES[week]


def test_years_of_53_weeks() -> None:
    found = [year for year in range(2000, 2041) if date(year, 12, 28).isocalendar().week == 53]
    assert found == LONG_YEARS
    assert sum(date(year, 12, 28).isocalendar().week == 53 for year in range(2000, 2400)) == 71


def test_a_season_counts_its_own_weeks_over_new_year() -> None:
    """Week 4 of this season ends in the year after week 3, and is ISO week 53 of the year before."""
    season = read_season(OVER_NEW_YEAR)
    ends = season.week_endings
    assert [str(end) for end in ends[:5]] == ["2026-12-13", "2026-12-20", "2026-12-27", "2027-01-03", "2027-01-10"]
    assert [season.week_number(end) for end in ends] == [1, 2, 3, 4, 5, 6, 7]
    assert [end.isocalendar().week for end in ends[2:5]] == [52, 53, 1]
    assert season.week_number(date(2026, 12, 28)) == 4


def test_a_week_that_ends_in_the_next_year(tmp_path: Path) -> None:
    """Written as ISO 8601 text in three ways, and as a workbook's day in both date systems: one day, 2027-01-03."""
    trial = Trial(tmp_path, OVER_NEW_YEAR)
    trial.send(
        troops="troop level\nA x\nB x\nC x\nD x\nE x",
        stock="troop week_ending item on_hand\nA 2027-01-03 GLA 1\nB 20270103 GLA 2\nC 2026-W53-7 GLA 3",
    )
    for troop, is_1904, serial in (("D", False, 46390), ("E", True, 44928)):
        book = xlsxwriter.Workbook(tmp_path / f"{troop}.xlsx", {"date_1904": is_1904})
        sheet, day = book.add_worksheet("stock"), book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.write_row(0, 0, ["troop", "week ending", "item", "on hand"])
        sheet.write_row(1, 0, [troop, None, "GLA", 4])
        sheet.write_number(1, 1, serial, day)
        book.close()
    assert accepted(trial.take_in(tmp_path / "D.xlsx", tmp_path / "E.xlsx"))
    lines = trial.table("standing", date(2027, 1, 3))
    assert [lines[troop, "2027-01-03"]["submitted"] for troop in "ABCDE"] == ["yes"] * 5
