"""What a participant has to show for it, once more in plain loops: progress, credit, awards, packing, postage.

Comes in: an Oracle, which holds the season and the rows that hold. Goes out: values of a day. It shares no line with
pipelines/; written from the definitions alone.
"""

import hashlib
from collections import Counter, defaultdict
from datetime import date
from fractions import Fraction
from itertools import pairwise

FAR_AHEAD = date(9999, 12, 31)


def workers_of(row):
    """The codes of a stall's row with their minutes (None: not told)."""
    found = {}
    for told in row.get("participants") or ():
        code, _, minutes = told.partition(":")
        if code and code != "troop":
            found[code] = max(found.get(code) or 0, int(minutes)) if minutes else found.get(code)
    return found


class Progress:
    """One season's credit, progress and awards."""

    def __init__(self, oracle):
        self.oracle, self.season, self.rows = oracle, oracle.season, oracle.rows
        self.shares = list(self._shares())

    def _stalls(self):
        stalls = {}
        for row in self.rows["stalls"]:
            key = (row["week_ending"], row["date"], row.get("start"), row.get("place"), row["troop"])
            if row["date"]:
                held = stalls.setdefault(key, [0, {}])
                held[0] += row["packages"] or 0
                for code, minutes in workers_of(row).items():
                    held[1][code] = max(held[1].get(code) or 0, minutes or 0)
        return sorted(stalls.items(), key=lambda one: (
            one[0][0], one[0][1], str(one[0][2] or "00:00:00"), one[0][3] or "", one[0][4]))  # fmt: skip

    def _shares(self):
        """(week, home troop, participant, packages) of every stall that is shared."""
        how = self.season.get("stalls", {}).get("credit", "none")
        had = Counter()
        for (week, on, start, place, troop), (packages, workers) in self._stalls():
            if how == "none" or packages <= 0 or not workers:
                continue
            equal = how == "equal" or not all(workers.values())
            weight = {code: Fraction(1 if equal else minutes) for code, minutes in workers.items()}
            share = {code: packages * one / sum(weight.values()) for code, one in weight.items()}
            given = {code: int(one) for code, one in share.items()}

            def turn(code):
                told = f"{place or ''}|{on.isoformat()}|{str(start)[:5] if start else ''}|{code}"  # noqa: B023
                return given[code] - share[code], had[code], hashlib.sha256(told.encode()).hexdigest()  # noqa: B023

            order = sorted(given, key=turn)
            for code in order[: packages - sum(given.values())]:
                given[code] += 1
                had[code] += 1
            for code, number in given.items():
                yield week, self.oracle.home(code, {"troop": troop, "date": on, "week_ending": week}), code, number

    def credit(self, troop, who, day):
        return sum(number for week, home, code, number in self.shares if home == troop and code == who and week <= day)

    def promised(self, troop, who, day):
        """By item, the newest week's."""
        rows = [row for row in self.rows.get("promised", ()) if row["troop"] == troop and row["participant"] == who
                and row["week_ending"] <= day]  # fmt: skip
        newest = max((row["week_ending"] for row in rows), default=None)
        found = defaultdict(int)
        for row in rows:
            if row["week_ending"] == newest and row["item"]:
                found[row["item"]] += row["packages"] or 0
        return found

    def taken(self, troop, who, day):
        """By item, less what was brought back."""
        found = defaultdict(int)
        for row in self.oracle.of("families", troop, day):
            if row["participant"] == who and row["item"]:
                found[row["item"]] += row["packages"] or 0
        return found

    def progress(self, troop, who, day):
        remote = sum(row["packages"] for row, is_remote in self.oracle.orders(troop, day)
                     if is_remote and (row["participant"] or "troop") == who)  # fmt: skip
        most = max(sum(self.taken(troop, who, day).values()), sum(self.promised(troop, who, day).values()))
        return most + remote + self.credit(troop, who, day)

    def days(self, troop, who, day):
        """Every day up to a day on which anything of a participant can have changed."""
        found = {week for week, home, code, _n in self.shares if home == troop and code == who}
        for name in ("families", "promised", "goals", "awards"):
            found |= {row["week_ending"] for row in self.rows.get(name, ()) if row["troop"] == troop
                      and row["participant"] == who}  # fmt: skip
        for row in self.rows["online_orders"]:
            if row["troop"] == troop and (row["participant"] or "troop") == who:
                found |= {row["placed_on"], row["state_on"]}
        return sorted({one for one in found if one <= day} | {day})

    def goals(self, troop, who, day):
        """The participant's goals in order of their weeks."""
        rows = [row for row in self.rows["goals"] if row["troop"] == troop and row["participant"] == who
                and row["week_ending"] <= day]  # fmt: skip
        return sorted(rows, key=lambda row: row["week_ending"])

    def goal(self, troop, who, day):
        """The goal, how often it was raised, and whether one was ever met."""
        goals = self.goals(troop, who, day)
        raised = sum(0 < one["goal"] < later["goal"] for one, later in pairwise(goals))
        met = False
        for on in self.days(troop, who, day):
            known = [row for row in goals if row["week_ending"] <= on]
            came = self.progress(troop, who, on)
            met = met or bool(known and 0 < known[-1]["goal"] <= came)
            if len(known) > 1 and known[-1]["week_ending"] == on and known[-1]["goal"] > known[-2]["goal"] > 0:
                met = met or came >= known[-2]["goal"]  # by the day on which it is raised
        return (goals[-1]["goal"] if goals else 0), raised, met and who != "troop"

    # Packing

    def to_fetch(self, troop, who, day):
        """Packages by item that are to be fetched."""
        wanted = Counter(self.promised(troop, who, day))
        for row, is_remote in self.oracle.orders(troop, day):
            if not is_remote and (row["participant"] or "troop") == who:
                wanted[row["item"]] += row["packages"]
        taken = self.taken(troop, who, day)
        found = {item: max(0, number - max(0, taken[item])) for item, number in wanted.items()}
        return {item: number for item, number in found.items() if number and item in self.oracle.stocked}

    # Awards

    def steps_done(self, who, award, day):
        rows = [row for row in self.rows.get("awards", ()) if row["participant"] == who and row["award"] == award
                and row["week_ending"] <= day and row["steps"]]  # fmt: skip
        return set(max(rows, key=lambda row: row["week_ending"])["steps"]) if rows else set()

    def awards(self, troop, who, day):
        """{award: (state, what is missing)} of those that are open to a participant."""
        level = self.oracle.of_troop.get(troop, {}).get("level")
        before = {row["award"] for row in self.rows.get("awards_before", ()) if row["participant"] == who}
        earned, found = set(before), {}
        for award in self.season.get("awards", ()):
            code = award["code"]
            if code in before or (award.get("levels") and level not in award["levels"]):
                continue
            if award.get("after") and award["after"] not in earned:
                continue
            if "steps" in award:
                done = self.steps_done(who, code, day)
                missing = [n for n in range(1, award["steps"] + 1) if n not in done]
                is_near, is_begun, told = len(missing) == 1, bool(done), " ".join(map(str, missing))
            else:
                came = self.progress(troop, who, day)
                missing = max(0, award["packages"] - came)
                is_near, is_begun, told = missing <= award.get("near", 5), came > 0, str(missing)
            if not missing:
                earned.add(code)
                found[code] = ("earned", "")
            else:
                found[code] = ("one away" if is_near else "begun" if is_begun else "open", told)
        return found


def postage(tiers, far, packages, *, is_far):
    """What an order costs to send: tiers as (up to, price)."""
    top, price = max(tiers)
    cost = 0
    while packages > top:
        cost, packages = cost + price, packages - top
    cost += min(tier for tier in tiers if tier[0] >= packages)[1]
    return cost + (far if is_far else 0)
