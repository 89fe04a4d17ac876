"""Who has which place when: the places, the hours that the area keeps there, and what troops wish for.

Comes in: the area, what came about, the day. Goes out: the tables places, slots and wishes as known then. Most stalls
that were held have their slot; a few stood where none was theirs, a few slots saw no stall. Ahead of the day lie two
weekends: some hours are given, most are free, one is given twice, one place's permission ends, one was given back late.
"""

from collections.abc import Iterator
from datetime import date, timedelta

from demo_warehouse.area import PLACES, Setting
from demo_warehouse.records import Told
from demo_warehouse.season import dice
from demo_warehouse.tables import Table

Rows = list[tuple[object, ...]]
TOWNS = ("Alderford", "Brackwater", "Fennick", "Hartsholm", "Millrace", "Stonely")
PRIME = 4  # the first so many places are those that everybody wants
HOURS = (("09:00", "11:00"), ("11:00", "13:00"), ("13:30", "15:30"))
SLOTS = {"slot": "text", "place": "text", "date": "date", "start": "text", "end": "text", "troop": "text",
         "state": "text", "state_on": "date"}  # fmt: skip


def code_of(place: str) -> str:
    """A place's code."""
    return f"P{PLACES.index(place) + 1:02d}"


def stall_tables(setting: Setting, told: Told, day: date) -> dict[str, Table]:
    """places, slots and wishes as known at the end of a day."""
    rows = [*_held(told, day), *_ahead(setting, day)]
    free = [str(row[0]) for row in rows if row[6] == "open"]
    return {"places": _places(setting, day), "slots": Table(SLOTS, rows), "wishes": _wishes(setting, free)}


def _places(setting: Setting, day: date) -> Table:
    columns = {"place": "text", "title": "text", "town": "text", "from_on": "date", "until_on": "date",
               "prime": "yes/no"}  # fmt: skip
    season = setting.season
    rows: Rows = []
    for place, title in enumerate(PLACES):
        ends = day + timedelta(days=9) if title == PLACES[-1] else season.ends(season.weeks)
        rows.append((code_of(title), title, TOWNS[place % len(TOWNS)], season.ends(1) - timedelta(days=6), ends,
                     place < PRIME))  # fmt: skip
    return Table(columns, rows)


def _held(told: Told, day: date) -> Iterator[tuple[object, ...]]:
    """A slot for each stall with known hours, but for a few; and a few slots of troops whose stall nobody told of."""
    number = 0
    for report in told.reports:
        for stall in report.stalls:
            if not stall.start or stall.on > day:
                continue
            number += 1
            if number % 19:
                since = stall.on - timedelta(days=12)
                hours = (stall.on, stall.start, stall.until)
                yield (f"H{number:03d}", code_of(stall.place), *hours, report.troop, "given", since)
    quiet = [report for report in told.reports if not report.stalls and report.ends <= day]
    for number, report in enumerate(quiet[::29], 1):
        yield (f"Q{number:03d}", "P09", report.ends - timedelta(days=1), "16:00", "17:30", report.troop, "given",
               report.ends - timedelta(days=12))  # fmt: skip


def _ahead(setting: Setting, day: date) -> Iterator[tuple[object, ...]]:
    """The next two Saturdays, once the last week is reported."""
    if day < setting.season.ends(setting.until_week):
        return
    rng, codes, number = dice(setting.seed, "slots"), [troop.code for troop in setting.area], 0
    for week in (1, 2):
        saturday = day - timedelta(days=1) + timedelta(weeks=week)
        if saturday > setting.season.ends(setting.season.weeks):
            return
        for place in PLACES:
            for start, end in HOURS:
                number += 1
                slot = (f"A{saturday:%m%d}-{number:02d}", code_of(place), saturday, start, end)
                is_taken = rng.random() < 0.35
                since = day - timedelta(days=rng.randint(2, 9))
                yield (*slot, rng.choice(codes) if is_taken else "", "given" if is_taken else "open", since)
        given = ("given", day - timedelta(days=3))
        yield (f"X{saturday:%m%d}-1", "P01", saturday, "16:00", "18:00", codes[0], *given)
        yield (f"X{saturday:%m%d}-2", "P01", saturday, "17:00", "18:30", codes[-1], *given)
        yield (f"X{saturday:%m%d}-3", "P14", saturday, "16:00", "18:00", codes[len(codes) // 2], *given)
    back = (f"B{day:%m%d}-1", "P05", day + timedelta(days=1), "16:00", "18:00", codes[len(codes) // 3])
    yield (*back, "given", day - timedelta(days=9))
    yield (*back, "given_back", day)


def _wishes(setting: Setting, free: list[str]) -> Table:
    """About half of the troops wish for up to eight slots, the prime ones more often."""
    rng = dice(setting.seed, "wishes")
    rows: Rows = []
    for troop in setting.area:
        if rng.random() < 0.55 and free:
            wanted = rng.sample(free, min(len(free), rng.randint(2, 8)))
            rows += [(troop.code, rank, slot) for rank, slot in enumerate(wanted, 1)]
    return Table({"troop": "text", "rank": "packages", "slot": "text"}, rows)
