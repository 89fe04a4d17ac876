"""The outlook and the plan as sentences, the same on the terminal, on screens and in lists.

Comes in: rows of measures.outlook, plan and plan_cells. Goes out: plain text.
"""

from collections.abc import Sequence
from typing import Any

Row = dict[str, Any]


def count(number: float, one: str) -> str:
    """`1 case`, `1,204 cases`."""
    return f"{number:,.0f} {one}{'' if round(number) == 1 else 's'}"


def outlook_sentence(row: Row, last_day: str, who: str = "") -> str:
    """One row of the outlook; `who`: in place of the troop's code."""
    of = f" of {row['item']}" if row["item"] else ""
    who = who or (f"Troop {row['troop']}" if row["troop"] else "The area")
    said = f"{who} will probably sell about {row['mean']:,.0f} more packages{of} by {last_day}"
    if row["low"] is not None:
        said += f": in 8 of 10 such cases between {row['low']:,.0f} and {row['high']:,.0f}"
    return f"{said}. It has {row['on_hand']:,} on hand: {row['word']}."


def plan_sentence(rows: Sequence[Row], short: int | None = None) -> str:
    """All of the plan in one sentence; `short`: how many packages lack in all."""
    moves, fetched, back = (of_kind(rows, kind) for kind in ("move", "fetch", "hand back"))
    if not rows:
        return "Nothing needs to be moved or fetched."
    parts = []
    if moves:
        packages = sum(row["packages"] for row in moves)
        of = f"cover {packages:,} of {short:,} packages that are short" if short else f"bring {packages:,} packages"
        drives = count(len({row["drive"] for row in moves}), "drive")
        is_one = len(moves) == 1
        parts.append(f"{count(len(moves), 'move')} on {drives} {of.replace(' ', 's ', 1) if is_one else of}")
    for listed, verb in ((fetched, "to be fetched"), (back, "to go back to the depot")):
        if listed:
            parts.append(f"{_cases(listed)} {verb}")
    proven = "Proven best" if all(row["is_proven"] for row in rows) else "Good, not proven best"
    return f"{'; then '.join(parts)}. {proven}."


def _cases(rows: Sequence[Row]) -> str:
    by_item: dict[str, int] = {}
    for row in rows:
        by_item[row["item"]] = by_item.get(row["item"], 0) + abs(row["cases"])
    listed = ", ".join(f"{cases} {item}" for item, cases in sorted(by_item.items(), key=lambda one: (-one[1], one[0])))
    total = sum(by_item.values())
    return f"{count(total, 'case')} ({listed}) {'is' if total == 1 else 'are'}"


def plan_lines(rows: Sequence[Row], short: int | None = None) -> list[str]:
    """The plan in one sentence, then a line a move and a fetch."""
    if not rows:
        return [plan_sentence(rows)]
    return [
        f"{plan_sentence(rows, short)} A proposal: both leaders agree to a move, and both report it.",
        *(f"{row['giver']} -> {row['receiver']}: {row['packages']} {row['item']}. {row['reason']}"
          for row in of_kind(rows, "move")),
        *(f"{row['troop']}: fetch {count(row['cases'], 'case')} {row['item']}. {row['reason']}"
          for row in of_kind(rows, "fetch")),
        *(f"{row['troop']}: hand back {count(-row['cases'], 'case')} {row['item']}. {row['reason']}"
          for row in of_kind(rows, "hand back")),
    ]  # fmt: skip


def of_kind(rows: Sequence[Row], kind: str) -> list[Row]:
    """The plan's rows of one kind: move, fetch, hand back."""
    return [row for row in rows if row["kind"] == kind]


def drives(rows: Sequence[Row]) -> list[list[Row]]:
    """The moves, drive by drive."""
    found: dict[int, list[Row]] = {}
    for row in of_kind(rows, "move"):
        found.setdefault(row["drive"], []).append(row)
    return list(found.values())


def drive_title(moves: Sequence[Row], towns: dict[str, str]) -> str:
    """Who gives what to whom on one drive: `02 Ash → 03 Ash: 2 GLA, 4 SUN`; both ways where both give."""
    ways: dict[tuple[str, str], list[str]] = {}
    for row in moves:
        ways.setdefault((row["giver"], row["receiver"]), []).append(f"{row['packages']} {row['item']}")
    return "; ".join(
        f"{_at(giver, towns)} → {_at(receiver, towns)}: {', '.join(what)}" for (giver, receiver), what in ways.items()
    )


def _at(troop: str, towns: dict[str, str]) -> str:
    return f"{troop} {towns.get(troop) or ''}".strip()


def to_leaders(moves: Sequence[Row], titles: dict[str, str], season: str) -> str:
    """What both leaders of a drive are asked, alike."""
    both = sorted({code for row in moves for code in (row["giver"], row["receiver"])})
    what = "\n".join(
        f"- troop {row['giver']} gives troop {row['receiver']} {count(row['packages'], 'package')} of "
        f"{titles.get(row['item'], row['item'])}"
        for row in moves
    )
    return (
        f"Hello troops {' and '.join(both)},\n\nthis is about {season}. One of you may have packages to spare that the "
        f"other could use. Would this suit you both?\n\n{what}\n\nIt is a proposal: nothing changes until you both "
        "agree and the packages have changed hands. Count them together, and both of you write them under Moves in "
        "that week's report. If it does not suit, just say so. Thank you both!"
    )
