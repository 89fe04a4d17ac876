"""The outlook once more, in plain loops and dictionaries, for tests: it shares no line with pipelines/.

Comes in: what each troop sold by week and item, its participants, last season's points. Goes out: means, ranges and
what they rest on. The quantiles are scipy's own.
"""

from itertools import pairwise
from math import log, sqrt

from scipy.stats import nbinom


def quantile(chance, mean, variance):
    """The negative binomial's quantile for a mean and a variance."""
    if mean <= 0:
        return 0
    v = max(variance, 1.0001 * mean + 1e-9)
    return int(nbinom.ppf(chance, mean * mean / (v - mean), mean / v))


def line(points, week):
    """Cumulative packages in a week: straight between the points told, 0 in week 0, level after the last."""
    told = sorted({0: 0, **points}.items())
    if week >= told[-1][0]:
        return told[-1][1]
    for (a, low), (b, high) in pairwise(told):
        if a <= week <= b:
            return low + (high - low) * (week - a) / (b - a)
    raise AssertionError(week)


class PlainOutlook:
    """The outlook as of the end of week `w` of `weeks`.

    `sold`: {(troop, week): {item: packages}} for weeks submitted alone. `last`: {troop: ({week: cumulative}, people)}.
    `takings`: packages of one item that one participant took in a week. `ran_out`: {(troop, week, item)}.
    """

    def __init__(self, weeks, w, items, people, sold, last, takings=(), ran_out=()):
        self.W, self.w, self.items, self.troops = weeks, min(w, weeks), items, sorted(people)
        self.n = {t: max(1, people[t]) for t in people}
        self.last = {t: (c, p) for t, (c, p) in last.items() if p > 0 and c and c[max(c)] > 0}
        self.every = sold  # of troops that closed since too
        self.y = {key: dict(one) for key, one in sold.items() if 1 <= key[1] <= self.w and key[0] in people}
        self.delta, self.gamma = (0.7, 0.05) if self.last else (0.5, 0.0)
        self.k = 2 / weeks
        self.q = self.shape()
        self.m = self.sizes()
        x = [one for one in takings if one > 0]
        self.phi = min(24, max(4, 1.5 * sum(a * a for a in x) / sum(x))) if x else 6
        reported = {key: dict(one) for key, one in self.y.items()}
        if any((t, v) in reported for t, v, _i in ran_out):
            for _ in range(2):
                level, mix = self.levels(self.w), self.mix()
                self.y = {
                    (t, v): {i: max(one.get(i, 0), level[t] * self.q[v] * mix[t][i]) if (t, v, i) in ran_out
                             else one.get(i, 0) for i in items}
                    for (t, v), one in reported.items()
                }  # fmt: skip
        self.known = bool(self.last) or bool(self.y)
        if self.known:
            self.lam, self.p, self.c, self.b2 = self.levels(self.w), self.mix(), self.spread_c(), self.spread_b2()

    def shape(self):
        if not self.last:
            return dict.fromkeys(range(1, self.W + 1), 1 / self.W)
        end = sum(c[max(c)] for c, _p in self.last.values())
        raw = {
            v: max(sum(line(c, v) - line(c, v - 1) for c, _p in self.last.values()) / end, 0.1 / self.W)
            for v in range(1, self.W + 1)
        }
        return {v: raw[v] / sum(raw.values()) for v in raw}

    def sizes(self):
        if not self.last:
            return dict(self.n)
        r = sum(c[max(c)] for c, _p in self.last.values()) / sum(p for _c, p in self.last.values())
        own = {t: c[max(c)] / p for t, (c, p) in self.last.items()}
        return {t: self.n[t] * ((r + own[t]) / 2 if t in own else r) for t in self.troops}

    def week_of(self, t, v):
        """Packages of all items in a week; None where it was not submitted."""
        return sum(self.y[t, v].values()) if (t, v) in self.y else None

    def levels(self, u):
        return self.levels_of(u, self.week_of, self.m, self.gamma, self.troops)

    def levels_of(self, u, week_of, m, gamma, troops):
        seen = {t: [(v, week_of(t, v)) for v in range(1, u + 1) if week_of(t, v) is not None] for t in troops}
        a = {t: sum(self.delta ** (u - v) * y for v, y in seen[t]) for t in troops}
        e = {t: sum(self.delta ** (u - v) * self.q[v] for v, _y in seen[t]) for t in troops}
        below = sum(m[t] * e[t] for t in troops) + gamma * sum(m[t] for t in troops)
        g = max(0, sum(a.values()) + gamma * sum(m[t] for t in troops)) / below if below else 1
        return {t: max(0, (a[t] + self.k * g * m[t]) / (e[t] + self.k)) for t in troops}

    def so_far(self):
        return {t: {i: max(0, sum(one.get(i, 0) for (who, _v), one in self.y.items() if who == t)) for i in self.items}
                for t in self.troops}  # fmt: skip

    def mix(self):
        a = self.so_far()
        of_item = {i: sum(a[t][i] for t in self.troops) for i in self.items}
        p = {i: (of_item[i] + 1) / (sum(of_item.values()) + len(self.items)) for i in self.items}
        return {t: {i: (a[t][i] + 100 * p[i]) / (sum(a[t].values()) + 100) for i in self.items} for t in self.troops}

    def tries(self, pairs):
        """The spreads that would just have reached what went, of (actual, expected) by troop."""
        if sum(f for _a, f in pairs) == 0:
            return []
        factor = max(sum(a for a, _f in pairs), 1) / max(sum(f for _a, f in pairs), 1)
        found = []
        for a, f in pairs:
            fitted = factor * f
            if fitted >= 10:
                found.append(sqrt(max(0, ((a - fitted) / 1.28155) ** 2 - self.phi * fitted)) / fitted)
        return found

    def asked_again(self, u):
        """(actual, expected) by troop in the weeks after an earlier one that were submitted."""
        level = self.levels(u)
        pairs = []
        for t in self.troops:
            later = [v for v in range(u + 1, self.w + 1) if (t, v) in self.y]
            pairs.append((sum(self.week_of(t, v) for v in later), level[t] * sum(self.q[v] for v in later)))
        return pairs

    def spread_c(self):
        found = [one for u in range(1, self.w) for one in self.tries(self.asked_again(u))]
        weekly = {t: {v: line(c, v) - line(c, v - 1) for v in range(1, self.W + 1)} for t, (c, _p) in self.last.items()}
        people = {t: p for t, (_c, p) in self.last.items()}
        for u in range(1, self.W) if self.last else ():
            level = self.levels_of(u, lambda t, v: weekly[t][v], people, 0, list(weekly))
            rest = sum(self.q[v] for v in range(u + 1, self.W + 1))
            found += self.tries(
                [(sum(weekly[t][v] for v in range(u + 1, self.W + 1)), level[t] * rest) for t in weekly]
            )
        if not found:
            return 0.5
        ranked, at = sorted(found), 0.8 * (len(found) - 1)
        low = ranked[int(at)]
        q80 = low + (ranked[min(int(at) + 1, len(found) - 1)] - low) * (at - int(at))
        return (30 * 0.5 + len(found) * q80) / (30 + len(found))

    def h(self, u):
        return sum(0.7**j for j in range(u)) ** 2 / sum(0.7 ** (2 * j) for j in range(u)) if u else 1

    def spread_b2(self):
        if self.w >= self.W:
            return 0
        if not self.last:
            return 0.55**2
        top, count = 3 * 0.30**2, 3
        for u in range(1, self.w):
            pairs = self.asked_again(u)
            if sum(f for _a, f in pairs):
                f = max(sum(a for a, _f in pairs), 1) / max(sum(f for _a, f in pairs), 1)
                top += log(f) ** 2 / (1 / self.h(u) + 1 / (self.w - u))
                count += 1
        return top / count * (1 / self.h(self.w) + 1 / (self.W - self.w))

    def rows(self, first=None, last=None):
        """{(troop or None, item or None): (mean, variance)} for weeks first..last, unless said all to come."""
        part = sum(self.q[v] for v in range(first or self.w + 1, (last or self.W) + 1))
        m = {t: self.lam[t] * part for t in self.troops}
        mi = {(t, i): m[t] * self.p[t][i] for t in self.troops for i in self.items}
        spread, a = self.c**2 + self.b2, self.so_far()
        found = {(t, None): (m[t], self.phi * m[t] + spread * m[t] ** 2) for t in self.troops}
        found |= {key: (x, self.phi * x + spread * x * x) for key, x in mi.items()}
        total = sum(m.values())
        found[None, None] = (
            total, self.phi * total + self.c**2 * sum(x * x for x in m.values()) + self.b2 * total**2
        )  # fmt: skip
        for i in self.items:
            x = sum(mi[t, i] for t in self.troops)
            b2 = self.b2 + self.phi / max(sum(a[t][i] for t in self.troops), 1)
            found[None, i] = (x, self.phi * x + self.c**2 * sum(mi[t, i] ** 2 for t in self.troops) + b2 * x * x)
        return found


def outlook_of(plain, last_season, weeks, day):
    """The outlook of a random season at a week's end: `plain` is its oracle, `weeks` the ends of its weeks."""
    gone = {code for code, row in plain.of_troop.items() if row.get("closed_on") and row["closed_on"] <= day}
    people = {
        troop: sum(
            row["registered_on"] <= day and not (row["left_on"] and row["left_on"] <= day)
            for row in plain.rows["roster"] if row["troop"] == troop
        )
        for troop in plain.troops if troop not in gone
    }  # fmt: skip
    items = [code for code in plain.items if code in plain.stocked]
    sold = {(troop, weeks.index(week) + 1): dict.fromkeys(items, 0) for troop, week in plain.reported if week <= day}
    for table in ("families", "stalls"):
        for row in plain.rows[table]:
            key = (row["troop"], weeks.index(row["week_ending"]) + 1)
            if key in sold and row["item"] in items:
                sold[key][row["item"]] += row["packages"] or 0
    takings = [
        row["packages"] for row in plain.rows["families"] if (row["packages"] or 0) > 0 and row["week_ending"] <= day
    ]
    last = {}
    for row in sorted(last_season, key=lambda row: row["week_no"]):
        points = last.get(row["troop"], ({}, 0))[0]
        last[row["troop"]] = ({**points, row["week_no"]: row["packages"]}, row["participants"])
    out = {
        (troop, week, one["item"])
        for troop, week in sold for one in plain.stock(troop, weeks[week - 1])
        if one["item"] in items and one["_on_hand_or_expected"] <= 0
    }  # fmt: skip
    frame = plain.season["season"]
    all_weeks = -(-((frame["last_day"] - frame["first_day"]).days + 1) // 7)
    return PlainOutlook(all_weeks, weeks.index(day) + 1, items, people, sold, last, takings, out)


def held_of(plains, items):
    """How often ranges held by the last of these outlooks: {(week, span, level): [tried, held, above, below]}."""
    last, found = plains[-1], {}
    for plain in plains:
        if not plain.known or not 0 < plain.w < plain.W:
            continue
        for span, end in (("the coming week", plain.w + 1), ("the rest of the season", plain.W)):
            weeks = range(plain.w + 1, end + 1)
            if end > last.w:
                continue
            for (troop, item), told in plain.rows(plain.w + 1, end).items():
                who = [troop] if troop else plain.troops
                if any((t, v) not in last.every for t in who for v in weeks):
                    continue
                sold = sum(last.every[t, v].get(i, 0) for t in who for v in weeks for i in ([item] if item else items))
                low, high = (quantile(chance, *told) for chance in (0.1, 0.9))
                level = ("troop" if troop else "area") + (", item" if item else "")
                one = found.setdefault((plain.w, span, level), [0, 0, 0, 0])
                one[0] += 1
                one[1 if low <= sold <= high else 2 if sold > high else 3] += 1
    return found
