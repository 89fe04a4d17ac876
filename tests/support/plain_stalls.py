"""The rules on slots, moves agreed and deliveries once more, in plain loops over rows.

Comes in: the rows of a random calendar. Goes out: which exceptions a day has. It shares no line with pipelines/; the
thresholds are the defaults, written out.
"""

from datetime import date, timedelta

RANK = ("open", "given", "given_back", "not_held")


def week_of(day, first):
    """The end of the week that a day lies in."""
    while first < day:
        first += timedelta(7)
    return first


class PlainStalls:
    """The exceptions of one calendar: tables by name, dates as date, times as HH:MM; `written`: what was agreed."""

    def __init__(self, tables, first, price, written):
        self.tables, self.first, self.price, self.written = tables, first, price, written
        self.places = {row["place"]: row for row in tables["places"]}
        self.names = {}
        for row in sorted(tables["places"], key=lambda row: row["place"], reverse=True):
            self.names[row["place"].lower()] = self.names[row["title"].lower()] = row["place"]
        self.sent = {(row["troop"], row["week_ending"]) for row in tables["stock"]}

    def calendar(self, day):
        """Of each slot the row that holds on a day; one given to nobody is open."""
        held = {}
        for row in self.tables["slots"]:
            if row["state_on"] > day:
                continue
            best = held.get(row["slot"])
            rank = (row["state_on"], RANK.index(row["state"]))
            if best is None or rank > (best["state_on"], RANK.index(best["state"])):
                held[row["slot"]] = row
        return [
            row | {"state": "open" if row["state"] == "given" and not row["troop"] else row["state"],
                   "troop": None if row["state"] == "open" else row["troop"]}
            for row in held.values()
        ]  # fmt: skip

    def exceptions(self, day):
        """{(rule, troop, subject): severity}."""
        slots = self.calendar(day)
        given = [row for row in slots if row["state"] == "given"]
        ahead = [row for row in given if row["date"] > day]
        found = {}
        for row in ahead:
            place = self.places[row["place"]]
            if row["date"] < (place["from_on"] or row["date"]) or row["date"] > (place["until_on"] or row["date"]):
                found["slot_without_permission", row["troop"], row["slot"]] = "act now"
            for other in ahead:
                if (other["date"] != row["date"] or other["slot"] >= row["slot"] or other["start"] >= row["end"]
                        or row["start"] >= other["end"]):  # fmt: skip
                    continue
                same_place, same_troop = other["place"] == row["place"], other["troop"] == row["troop"]
                if same_place != same_troop:
                    key = "slot_twice", row["troop"], row["slot"]
                    found[key] = "act now" if same_place or found.get(key) == "act now" else "watch"
        for row in slots:
            if (row["state"] == "given_back" and row["troop"] and (row["date"] - row["state_on"]).days < 3
                    and day < row["date"] + timedelta(7)):  # fmt: skip
                found["slot_given_back_late", row["troop"], row["slot"]] = "watch"
        stood = {(row["troop"], row["date"]) for row in self.tables["stalls"]}
        for row in given:
            week = week_of(row["date"], self.first)
            if week <= day and (row["troop"], week) in self.sent and (row["troop"], row["date"]) not in stood:
                found["slot_nothing_reported", row["troop"], row["slot"]] = "ask"
        for stall in self.tables["stalls"]:
            place = self.names.get(stall["place"].lower(), stall["place"])
            here = [row for row in slots if (row["place"], row["date"]) == (place, stall["date"])]
            his = [row for row in here if row["state"] == "given" and row["troop"] == stall["troop"]]
            if stall["week_ending"] <= day and here and not his:
                subject = f"{stall['date']} {stall['start']} {place}"
                found["stall_without_slot", stall["troop"], subject] = "watch"
        return found | self.agreed(day) | self.delivered(day)

    def agreed(self, day):
        """Moves that were agreed and that its two sides have not both reported; written: (day, kind, move, number)."""
        found, newest = {}, {}
        for on, kind, move, number in self.written:
            if kind == "agree" and on <= day:
                newest[move] = (on, number)
        for (giver, receiver, item), (on, _number) in newest.items():
            told = {"out": 0, "in": 0}
            for row in self.tables["moves"]:
                sides = (row["troop"], row["other_troop"])
                right = (giver, receiver) if row["direction"] == "out" else (receiver, giver)
                if row["item"] == item and sides == right and row["date"] > on and row["week_ending"] <= day:
                    told[row["direction"]] += row["packages"]
            if not all(told.values()):
                for troop in (giver, receiver):
                    subject = f"{giver} → {receiver} {item}"
                    found["move_agreed", troop, subject] = "ask" if day >= on + timedelta(14) else "watch"
        return found

    def delivered(self, day):
        """Where other packages came than were to come, by the newest word."""
        came = {about: number for on, kind, about, number in self.written if kind == "received" and on <= day}
        found = {}
        for (troop, item), number in came.items():
            ordered = sum(
                row["packages"] for row in self.tables["supply"]
                if (row["troop"], row["item"], row["kind"]) == (troop, item, "opening")
            )  # fmt: skip
            if number != ordered:
                found["delivery_differs", troop, item] = "ask"
        return found


def as_date(text):
    """A day, None where there is none."""
    return date.fromisoformat(text) if text else None
