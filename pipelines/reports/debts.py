"""debts/<troop>.csv: what the book knows of each debt that a troop handed over, for the organisation that takes it on.

Comes in: a Week and a troop. Goes out: text (UTF-8, LF), a line each thing that a family was charged or paid, with the
file and row it stands in; what was asked, promised and written down, and when; then how the debt stands. The lines of
packages and money add up to what the family owes.
"""

import csv
import io
from collections.abc import Iterator

from pipelines.reports.csv_tables import written
from pipelines.reports.week import Row, Week, file_name

COLUMNS = (
    "troop", "participant", "day", "what", "item", "packages", "amount", "file", "sheet", "row", "by", "words",
)  # fmt: skip
ASKED = {
    "note": "Written down", "promise": "Promised", "settle": "Settled otherwise", "set_aside": "Set aside",
    "opened": "Found by the book to be behind",
}  # fmt: skip


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """debts/<troop>.csv, of each troop that has handed one over."""
    if week.with_families:
        for troop in sorted({row["troop"] for row in week.figures.rows("debts", week.as_of)}):
            yield f"debts/{file_name(troop)}.csv", debts_text(week, troop).encode()


def debts_text(week: Week, troop: str) -> str:
    """A troop's debts and their evidence as CSV; nothing but its head where none was handed over."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    account = _account(week, troop)
    for debt in week.figures.rows("debts", week.as_of, troop):
        told = [row for row in account if row["participant"] == debt["participant"]]
        for row in [*told, *_asked(week, debt), *_stands(week, debt)]:
            whole = {"troop": troop, "participant": debt["participant"]} | row
            writer.writerow({name: written(whole.get(name)) for name in COLUMNS})
    return out.getvalue()


def _account(week: Week, troop: str) -> list[Row]:
    """What families were charged (positive) and paid, with where it stands."""
    told = week.figures.evidence("postings", troop, week.as_of).to_pylist()
    rows: list[Row] = [row for row in told if row["account"] == "families"]
    kinds = {row["kind"]: row["what"] for row in week.figures.kinds()}
    names = week.figures.files.names({row["file_no"] for row in rows})
    for row in rows:
        row |= {"day": row["on_day"], "what": kinds[row["kind"]], "row": row["row_no"]}
        row["file"] = names.get(row["file_no"])
    return rows


def _asked(week: Week, debt: Row) -> list[Row]:
    """What was asked and promised, as it was written down about the family."""
    return [
        {"day": row["as_of"], "what": ASKED[row["kind"]], "amount": row["amount"], "by": row["written_by"],
         "words": " ".join(str(part) for part in (row["words"], row["on_day"] and f"by {row['on_day']}") if part)}
        for row in week.figures.follow_ups(debt["troop"])
        if row["subject"] == debt["participant"] and row["kind"] in ASKED and row["as_of"] <= week.as_of
    ]  # fmt: skip


def _stands(week: Week, debt: Row) -> Iterator[Row]:
    """When it was handed over and with which words, what became of it."""
    yield {"day": debt["handed_on"], "what": "Handed over", "amount": debt["amount"], "by": debt["written_by"],
           "words": debt["words"]}  # fmt: skip
    for name, what in (("accepted_on", "Accepted by the organisation"), ("taken_back_on", "The troop's again")):
        if debt[name]:
            yield {"day": debt[name], "what": what}
    if debt["came_in"]:
        yield {"day": week.as_of, "what": "Came in to the organisation since", "amount": -debt["came_in"]}
