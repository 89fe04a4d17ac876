"""Findings as people are told them: grouped, where, and what to type instead."""

import pytest

from pipelines.definitions.records import Finding
from pipelines.intake.files.wire import column_letters
from pipelines.intake.judging.judge import AMOUNT, CLOCK_TIME, DAY, PACKAGES, PACKAGES_BACK, Fault
from pipelines.messages.finding_lines import column_number, count_said, lines, span
from pipelines.messages.suggestions import meant


def fault(sheet: str, cell: str, found: str, of: Fault = PACKAGES) -> Finding:
    return Finding(sheet, cell, found, of.expected, of.how)


def test_the_same_fault_in_twelve_cells_is_one_line() -> None:
    found = [fault("Stock", f"E{row}", "many") for row in range(4, 16)]
    (line,) = lines(found)
    assert line.where == "Stock, E4 to E15"
    assert line.sentence() == (
        "found many; expected a whole number of packages, 0 or more. Type the number of packages, such as 12."
    )
    assert len(line.cells) == 12


def test_different_faults_and_sheets_stay_apart_and_what_is_to_mend_comes_first() -> None:
    note = Finding("Cover", "B1", "417", "417", "417 was taken for 0417, the only troop it fits.", is_note=True)
    listed = lines(
        [note, fault("Stock", "E4", "many"), fault("Families", "B4", "many"), fault("Stock", "F4", "x", AMOUNT)]
    )
    assert [(line.where, line.is_note) for line in listed] == [
        ("Stock, E4", False), ("Stock, F4", False), ("Families, B4", False), ("Cover, B1", True),
    ]  # fmt: skip
    assert listed[-1].sentence() == "found 417. 417 was taken for 0417, the only troop it fits."
    assert count_said(listed) == "3 things to mend, 1 to know"


def test_many_values_are_quoted_as_a_few() -> None:
    (line,) = lines([fault("Stock", f"E{row}", f"about {word}") for row, word in enumerate("abcde", 2)])
    assert line.found == "about a, about b, about c and 2 others"


def test_a_fault_of_the_file_as_a_whole_names_no_place() -> None:
    (line,) = lines([Finding("", "", "no sheet named Stock", "a sheet Stock", "Add the sheet Stock.")])
    assert (line.where, line.cells) == ("", ())


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ([], ""),
        (["E4"], "E4"),
        (["E15", "E4", "E5"], "E4 to E5 and E15"),
        (["B3", "D9", "D7", "D8"], "B3 and D7 to D9"),
        (["B4", "C4", "D4"], "B4 to D4"),
        (["B4", "C4", "B5", "C5"], "B4 to C5"),
        (["Z9", "AA9"], "Z9 to AA9"),
        ([f"B{row}" for row in range(2, 20, 2)], "B2, B4, B6, B8, B10, B12 and 3 more cells"),
        (["row 7"], "row 7"),
    ],
)
def test_cells_as_a_person_names_them(cells: list[str], said: str) -> None:
    assert span(cells) == said


def test_letters_and_places_of_columns() -> None:
    assert [column_letters(n) for n in (0, 25, 26, 701, 702, 16383)] == ["A", "Z", "AA", "ZZ", "AAA", "XFD"]
    assert all(column_number(column_letters(n)) == n for n in range(2000))


@pytest.mark.parametrize(
    ("found", "of", "said"),
    [
        ("12 pkgs", PACKAGES, "In place of 12 pkgs type 12."),
        ("~ 1,200", PACKAGES, "In place of ~ 1,200 type 1200."),
        ("two", PACKAGES, "In place of two type 2."),
        ("none", PACKAGES, "In place of none type 0."),
        ("O", PACKAGES, "In place of O type 0."),
        ("3 cases", PACKAGES, "In place of 3 cases type their packages: the cases times the packages in one."),
        ("3.5", PACKAGES, ""),
        ("-3", PACKAGES, "What number -3 stands for only you can tell."),
        ("3 or 4", PACKAGES, ""),
        ("-3 pkgs", PACKAGES_BACK, "In place of -3 pkgs type -3."),
        # A sign, brackets or a word beside a number may change what it says: advice never does.
        ("\u22123", PACKAGES, "What number \u22123 stands for only you can tell."),
        ("\u22123", PACKAGES_BACK, "In place of \u22123 type -3."),
        ("\u20133", PACKAGES_BACK, "In place of \u20133 type -3."),
        ("3 back", PACKAGES_BACK, "What number 3 back stands for only you can tell."),
        ("(3)", PACKAGES_BACK, "What number (3) stands for only you can tell."),
        ("3-", PACKAGES_BACK, "What number 3- stands for only you can tell."),
        ("minus 3", PACKAGES_BACK, "What number minus 3 stands for only you can tell."),
        ("2 dozen", PACKAGES, "What number 2 dozen stands for only you can tell."),
        ("2½", PACKAGES, "What number 2½ stands for only you can tell."),
        ("5²", PACKAGES, ""),
        ("(40.00)", AMOUNT, "What number (40.00) stands for only you can tell."),
        ("\u221240.00", AMOUNT, "In place of \u221240.00 type -40.00."),
        ("-1.234,50", AMOUNT, "In place of -1.234,50 type -1234.50."),
        ("40.00 CR", AMOUNT, "What number 40.00 CR stands for only you can tell."),
        ("40.00-", AMOUNT, "What number 40.00- stands for only you can tell."),
        ("40 refund", AMOUNT, "What number 40 refund stands for only you can tell."),
        ("$ 40 in cash", AMOUNT, "In place of $ 40 in cash type 40."),
        ("9.30 evening", CLOCK_TIME, ""),
        ("1.234,50", AMOUNT, "In place of 1.234,50 type 1234.50."),
        ("5,50", AMOUNT, "In place of 5,50 type 5.50."),
        ("12.50 dollars", AMOUNT, "In place of 12.50 dollars type 12.50."),
        ("12.345", AMOUNT, ""),
        ("some", AMOUNT, ""),
        ("14.3.2027", DAY, "In place of 14.3.2027 type 2027-03-14."),
        ("3/14/27", DAY, "In place of 3/14/27 type 2027-03-14."),
        ("3/3/2027", DAY, "In place of 3/3/2027 type 2027-03-03."),
        (
            "3/4/2027",
            DAY,
            "In place of 3/4/2027 type 2027-03-04 if 4 March is meant, or 2027-04-03 if 3 April is meant.",
        ),
        ("14 Mar 2027", DAY, "In place of 14 Mar 2027 type 2027-03-14."),
        ("March 14, 2027", DAY, "In place of March 14, 2027 type 2027-03-14."),
        ("2027/03/14", DAY, "In place of 2027/03/14 type 2027-03-14."),
        ("31/31/2027", DAY, ""),
        ("9.30", CLOCK_TIME, "In place of 9.30 type 09:30."),
        ("0930", CLOCK_TIME, "In place of 0930 type 09:30."),
        ("25:00", CLOCK_TIME, ""),
    ],
)
def test_what_to_type_instead(found: str, of: Fault, said: str) -> None:
    assert meant(found, of.expected, of.how) == said


def test_a_code_close_to_one_of_the_season() -> None:
    how = "Type one of GLA, HRB, SUN."
    assert meant("GLAD", "an item's code of this season", how) == "In place of GLAD type GLA."
    assert meant("XQZ", "an item's code of this season", how) == ""


def test_the_end_of_the_week_that_a_day_lies_in() -> None:
    how = "Type the day on which the week ended."
    assert meant("2027-03-20", "a Sunday", how) == "If the week that 2027-03-20 lies in is meant, type 2027-03-21."
