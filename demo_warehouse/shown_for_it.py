"""What participants have to show for it: promises on paper, goals raised, steps of awards, what came before.

Comes in: the season as it went. Goes out: the same reports with promises, awards and more goals, and the rows behind
the feed of earlier awards. It rolls dice of its own, so that nothing else of the season changes.
"""

from collections import Counter, defaultdict
from datetime import timedelta
from random import Random

from demo_warehouse.area import Participant, Setting
from demo_warehouse.records import OWN_PAGE, AwardRow, Report, Told
from demo_warehouse.season import BADGES, dice

STEPS = {badge.code: badge.steps for badge in BADGES if badge.steps}


def add(setting: Setting, told: Told) -> None:
    """Adds to the reports what their participants promised, aim for and have learned."""
    people = {troop.code: {one.code: one for one in troop.participants} for troop in setting.area}
    rngs = {code: dice(setting.seed, "shown for it", code) for code in people}
    for troop in setting.area:
        for one in troop.participants:
            if troop.level in ("younger", "middle") and rngs[troop.code].random() < 0.35:
                told.awards_before.append((troop.code, one.code, "GROW1"))
    before = {(who, award) for _troop, who, award in told.awards_before}
    taken: defaultdict[str, Counter[str]] = defaultdict(Counter)
    done: Counter[tuple[str, str]] = Counter()
    level = {troop.code: troop.level for troop in setting.area}
    for report in sorted(told.reports, key=lambda report: (report.week, report.troop)):
        rng = rngs[report.troop]
        if report.week == 1:
            report.goals[OWN_PAGE] = 10 * round(3.5 * sum(one.is_active for one in people[report.troop].values())) or 10
        for who, one in people[report.troop].items():
            if one.is_active and one.registered_on <= report.ends:
                _promised(report, who, taken[who], rng)
                _goal(report, who, one, rng)
                if level[report.troop] in ("younger", "middle"):
                    award = "GROW2" if (who, "GROW1") in before else "GROW1"
                    _steps(report, who, award, done, rng)


def _promised(report: Report, who: str, taken: Counter[str], rng: Random) -> None:
    """About half of them write paper orders: what they took, and a few more that are still to be fetched."""
    rows = [row for row in report.families if row.participant == who]
    for row in rows:
        for item, count in row.packages.items():
            taken[item] += count
    mine = {item: max(0, count) for item, count in taken.items()}
    if rows and mine and int(who[-1]) % 2 == 0:
        more = rng.choice(sorted(mine))
        report.promised[who] = {item: count + (rng.choice((0, 0, 1, 3)) if item == more else 0)
                                for item, count in mine.items() if count}  # fmt: skip


def _goal(report: Report, who: str, one: Participant, rng: Random) -> None:
    if one.goal_week and report.week == one.goal_week + 3 and rng.random() < 0.3:
        report.goals[who] = one.goal + rng.choice((5, 10, 20))
    if who in report.goals and rng.random() < 0.04:
        report.elsewhere[who] = rng.randint(2, 9)


def _steps(report: Report, who: str, award: str, done: Counter[tuple[str, str]], rng: Random) -> None:
    """A step in two weeks or so; what is earned is handed over at a later meeting."""
    had, of = done[who, award], STEPS[award]
    if had < of and rng.random() < 0.45:
        done[who, award] += 1
        report.awards.append(AwardRow(who, award, tuple(range(1, had + 2)), None))
    elif had == of and rng.random() < 0.5:
        done[who, award] += 1  # it is in hands
        report.awards.append(AwardRow(who, award, tuple(range(1, of + 1)), report.ends - timedelta(days=3)))
