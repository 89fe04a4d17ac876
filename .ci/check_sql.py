"""A linter for the project's SQL files; prints what is wrong, one line each, and ends with 1 where anything is.

Each file reads as one statement of the engine's dialect; opens by saying what a row is; names its sources; names no
common table that nothing reads; and unites its branches by name, each with the same columns (save the steps of a
recursion). A general SQL linter was tried: it takes a minute over these files, this takes two seconds.
"""

import re
import sys
from pathlib import Path

import sqlglot
from sqlglot import exp

FOLDER = Path(__file__).parents[1] / "pipelines" / "store" / "sql"

ARE_NO_SELECTS = ("access", "_words")  # another engine's; macros
STAGES = ("3_facts", "4_measures", "5_exceptions", "6_ledger", "7_follow_up")  # whose files say their sources


def faults(path: Path, text: str) -> list[str]:
    """What is wrong with one file."""
    try:
        statements = sqlglot.parse(re.sub(r"\{(\w+)\}", r"\1", text), dialect="duckdb")
    except sqlglot.ParseError as fault:
        return [str(fault).splitlines()[0]]
    found = []
    if path.stem[0] != "_":
        if not re.match(r"-- .*\b[Rr]ows? ", text):
            found.append("does not open by saying what a row is (-- One row ...)")
        if path.parent.name in STAGES and "Sources: " not in text:
            found.append("does not name its sources (-- Sources: ...)")
    for statement in statements:
        for part in statement.find_all(exp.CTE) if statement else ():
            read = {table.name for table in statement.find_all(exp.Table) if not table.db}
            if part.alias not in read:
                found.append(f"{part.alias}: nothing reads it")
        for union in statement.find_all(exp.SetOperation) if statement else ():
            found += _of_union(union)
    return found


def _of_union(union: exp.SetOperation) -> list[str]:
    within = union.find_ancestor(exp.With)
    if within and within.args.get("recursive"):
        return []  # the engine unites the steps of a recursion by place
    one, other = union.left.named_selects, union.right.named_selects
    if not union.args.get("by_name"):
        return [f"{union.key} by place, not by name: {', '.join(one)}"]
    if "*" not in {*one, *other} and sorted(one) != sorted(other):
        return [f"branches of a {union.key} differ: {', '.join(sorted(set(one) ^ set(other)))}"]
    return []


if __name__ == "__main__":
    told = [
        f"{path.relative_to(FOLDER.parents[2])}: {fault}"
        for path in sorted(FOLDER.glob("*/*.sql"))
        if not {path.parent.name, path.stem} & {*ARE_NO_SELECTS}
        for fault in faults(path, path.read_text(encoding="utf-8"))
    ]
    print("\n".join(told) or "SQL files passed")
    sys.exit(bool(told))
