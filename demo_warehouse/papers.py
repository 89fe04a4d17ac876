"""How what happened gets onto paper: the mistakes leaders make, and which workbook comes in when.

Comes in: honest reports and the troubles. Goes out: the same reports with their mistakes, and the filings in the order
in which they land: late ones with the next week's, wrong ones followed by better ones, missing ones not at all.
"""

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from demo_warehouse.records import FamilyRow, Report
from demo_warehouse.season import CENTS, PER_CASE
from demo_warehouse.troubles import Plan


@dataclass(frozen=True, slots=True)
class Filing:
    """One workbook as it comes in: `landed_week` is the folder it lies in, `suffix` ends its name."""

    report: Report
    landed_week: int
    troop_as_typed: str
    suffix: str = ""
    is_faulty: bool = False
    is_superseded: bool = False

    @property
    def is_accepted(self) -> bool:
        """Whether its figures count in the end."""
        return not self.is_faulty and not self.is_superseded

    @property
    def name(self) -> str:
        """The file's name as a volunteer would give it."""
        return f"{self.troop_as_typed} week {self.report.ends}{self.suffix}.xlsx"

    @property
    def saved_at(self) -> datetime:
        """When the leader saved it: on the week's last evening, a corrected one on the next."""
        return datetime.combine(self.report.ends, time(20)) + timedelta(days=bool(self.suffix))


def make_mistakes(reports: list[Report], plan: Plan) -> None:
    """Changes in place what leaders write though it is not so."""
    for report in reports:
        if plan.at("cases_typed", report.troop, report.week):
            _count_in_cases(report)
        if plan.at("not_counted", report.troop, report.week):
            for item in list(report.stock)[2:5]:
                report.stock[item].on_hand = None
        report.moves = [
            move
            for move in report.moves
            if move.direction == "out" or not _is_untold(plan, move.other, report.troop, report.week)
        ]


def _count_in_cases(report: Report) -> None:
    """Of the items that lie there in whole cases, the one with most."""
    whole = [(line.on_hand, item) for item, line in report.stock.items() if line.on_hand]
    whole = [(on_hand, item) for on_hand, item in whole if on_hand % PER_CASE[item] == 0]
    if whole:
        on_hand, item = max(whole)
        report.stock[item].on_hand = on_hand // PER_CASE[item]


def _is_untold(plan: Plan, giver: str, taker: str, week: int) -> bool:
    trouble = plan.at("one_sided_move", giver, week)
    return trouble is not None and trouble.other == taker


def filings(reports: list[Report], plan: Plan, until_week: int) -> list[Filing]:
    """The workbooks in the order in which they land."""
    found: list[Filing] = []
    for report in reports:
        code, week = report.troop, report.week
        landed = week + 1 if plan.at("late", code, week) else week
        if plan.at("missing", code, week) or landed > until_week:
            continue
        typed = code.lstrip("0") if plan.since("lost_zero", code, week) else code
        if plan.at("held", code, week):
            found.append(Filing(report, landed, typed, is_faulty=True))
            continue
        draft = _first_draft(report, plan)
        again = min(landed + 1, until_week)
        if plan.at("held_then_mended", code, week):
            found.append(Filing(report, landed, typed, is_faulty=True, is_superseded=True))
            found.append(Filing(report, landed, typed, "_mended"))
        elif draft:
            found.append(Filing(draft, landed, typed, is_superseded=True))
            found.append(Filing(report, again, typed, "_corrected"))
        else:
            found.append(Filing(report, landed, typed))
    return sorted(found, key=lambda filing: (filing.landed_week, filing.name))


def _first_draft(report: Report, plan: Plan) -> Report | None:
    """The workbook sent before the right one: a family's packages and money too high."""
    trouble = plan.at("resubmitted_lower", report.troop, report.week)
    if trouble is None or not report.families:
        return None
    right = report.families[0]
    packages = {**right.packages, "GLA": right.packages.get("GLA", 0) + trouble.number}
    wrong = FamilyRow(right.participant, packages, right.cash + trouble.number * CENTS["GLA"], right.card, right.note)
    return replace(report, families=[wrong, *report.families[1:]])
