"""How what a participant has to show for it is worked out from cells: promises, stalls, progress, goals met.

Comes in: a TroopTrace, a day, a participant. Goes out: Traced trees.
"""

from datetime import date

from pipelines.definitions.contract import OWN_PAGE
from pipelines.tracing.terms import Traced, combined, of_cells, stated, total
from pipelines.tracing.troop import TroopTrace

CHANGES = ("families", "promised", "goals", "stall_credit")


def promised(troop: TroopTrace, day: date, who: str) -> Traced:
    """The newest row of what was promised on paper."""
    rows = [row for row in troop.evidence.rows("promised") if row["participant"] == who and row["week_ending"] <= day]
    newest = max((row["week_ending"] for row in rows), default=None)
    cells = [
        troop.evidence.cell(row, "promised", "packages", row["packages"], note=f"{row['week_ending']} {row['item']}")
        for row in rows
        if row["week_ending"] == newest and row["packages"]
    ]
    return of_cells("Promised on paper", "packages", cells)


def stall_credit(troop: TroopTrace, day: date, who: str) -> Traced:
    """The participant's part of each stall, beside the cell that says who worked it."""
    terms = []
    for row in troop.evidence.rows("stall_credit"):
        if row["participant"] == who and row["week_ending"] <= day:
            cell = troop.evidence.cell(row, "stalls", "participants", who, note=f"{row['date']} stall")
            named = f"Stall of {row['date']}{', ' + row['place'] if row['place'] else ''}"
            how = f"of {row['of_stall']} packages among {row['workers']}{', ' + row['why'] if row['why'] else ''}"
            terms.append((1, stated(f"{named}: {how}", "packages", row["packages"], [cell])))
    return total("From stalls", "packages", *terms)


def progress(troop: TroopTrace, day: date, who: str) -> Traced:
    """Taken or promised, whichever is more, with what was posted, donated and credited."""
    taken, back, told, remote, credit = (
        troop.of("families", name, day, who) for name in ("taken", "brought_back", "promised", "remote", "stall_credit")
    )
    net = total("Taken, less brought back", "packages", (1, taken), (-1, back))
    return total("Progress", "packages", (1, combined("greatest", "Taken or promised", "packages", net, told)),
                 (1, remote), (1, credit))  # fmt: skip


def met(troop: TroopTrace, day: date, who: str) -> list[Traced]:
    """The goal that was met first, and the progress by which it was; empty where none was met by the day."""
    goals = [row for row in troop.evidence.rows("goals") if row["participant"] == who and row["week_ending"] <= day]
    if who == OWN_PAGE or not goals:
        return []
    goals.sort(key=lambda row: row["week_ending"])
    for on in _days(troop, day, who):
        known = [row for row in goals if row["week_ending"] <= on]
        wanted = known[-1:]
        if len(known) > 1 and known[-1]["week_ending"] == on and 0 < known[-2]["goal"] < known[-1]["goal"]:
            wanted = known[-2:]  # raised on the day: the one before may be met by it
        came = troop.of("families", "progress", on, who)
        for row in wanted:
            if 0 < row["goal"] <= came.value:
                return [of_cells("Goal", "packages", [troop.evidence.cell(row, "goals", "goal", row["goal"])]), came]
    return []


def _days(troop: TroopTrace, day: date, who: str) -> list[date]:
    """Every day up to a day on which a goal may have been met first."""
    found = {row["week_ending"] for name in CHANGES for row in troop.evidence.rows(name) if row["participant"] == who}  # type: ignore[arg-type]
    found |= {row["on_day"] for row in troop.evidence.entries if row["participant"] == who}
    return sorted(one for one in found if one <= day)
