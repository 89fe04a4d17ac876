"""Commas, quotes and line ends within quotes, as RFC 4180 section 2 has them, through the whole tool.

Source: Y. Shafranovich, RFC 4180 (2005), section 2, rules 5 to 7; Python's csv module writes and reads the same.
"""

import csv
import io

import pytest
from trial import Trial, accepted

NOTES = ['"so it is", she said', "first line\r\nsecond line", "", "a,b,c", 'one " alone']


@pytest.mark.parametrize("line_end", ["\r\n", "\n"])
def test_quoted_cells(trial: Trial, line_end: str) -> None:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=line_end)
    writer.writerow(["reference", "troop", "participant", "date", "amount", "reason"])
    writer.writerows([f"A{n}", "0417", "", "2027-02-10", "1.00", note] for n, note in enumerate(NOTES))
    path = trial.folder / "adjustments.csv"
    path.write_bytes(out.getvalue().encode())
    assert accepted(trial.take_in(path))
    with trial.book.reading() as con:
        found = con.execute("select coalesce(reason, ''), row_no from landed.adjustments order by reference").fetchall()
    assert [note for note, _row in found] == NOTES
    assert [row for _note, row in found] == [2, 3, 5, 6, 7]  # the line on which each record starts
