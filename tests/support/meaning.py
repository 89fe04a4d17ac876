"""Correct weeks and the edits that people make to them, each with how a careful person reads the result.

Comes in: dice. Goes out: files as they would be sent together, and their Meaning; None where only the sender can say
what is meant. A file that is read otherwise, with nothing asked, is a silent wrong.
"""

import csv
import io
import re
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import season_files
from older_kinds import as_ods, as_xls
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.styles import Font

WEEK = date(2027, 2, 14)
PEOPLE = [f"0417-{n:02}" for n in range(1, 9)]
ITEMS = ("GLA", "HRB")
NOON = datetime(2027, 2, 15, 12, tzinfo=UTC)
Rows = list[list[Any]]
Meaning = dict[str, Any]


@dataclass
class File:
    """One file as it would be sent: a workbook's sheets, or the text of a table."""

    name: str
    sheets: dict[str, Rows] = field(default_factory=dict)
    text: str = ""
    looks: dict[tuple[str, int, int], dict[str, Any]] = field(default_factory=dict)  # sheet, row, column from 0
    saved: datetime = NOON

    def write(self, folder: Path) -> Path:
        path = folder / self.name
        if self.text:
            path.write_bytes(self.text.encode())
            return path
        if write := {".xls": as_xls, ".ods": as_ods}.get(path.suffix):
            path.write_bytes(write(self.sheets, self.looks))
            return path
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in self.sheets.items():
            sheet = book.create_sheet(name)
            for r, row in enumerate(rows, 1):
                for c, cell in enumerate(row, 1):
                    if cell is not None:
                        sheet.cell(r, c, cell)
        for (name, r, c), look in self.looks.items():
            cell = book[name].cell(r + 1, c + 1)
            cell.number_format = look.get("format", cell.number_format)
            if look.get("struck"):
                cell.font = Font(strike=True)
        book.save(path)
        season_files.stamp(path, self.saved)
        return path


def week(dice: Random) -> File:
    """A correct workbook of troop 0417."""
    people = dice.sample(PEOPLE, dice.randint(3, 7))
    families: Rows = [["participant", *ITEMS, "cash", "card", "note"]]
    families += [[one, dice.randint(1, 30), dice.randint(1, 9), dice.randint(1, 90), dice.randint(0, 40) / 4, None]
                 for one in people]  # fmt: skip
    stalls: Rows = [["date", "start", "place", *ITEMS, "cash", "card", "participants", "note"]]
    stalls += [[WEEK - timedelta(dice.randint(0, 5)), None, place, dice.randint(1, 40), dice.randint(1, 20),
                dice.randint(1, 300), dice.randint(0, 99), " ".join(dice.sample(people, 2)), None]
               for place in dice.sample(["Mill", "Market", "Library"], 2)]  # fmt: skip
    banked: Rows = [["date", "amount", "slip", "note"]]
    banked += [[WEEK - timedelta(n), dice.randint(10, 900) + 0.25 * n, f"S{n}", None] for n in range(1, 4)]
    stock: Rows = [["item", "received", "damaged", "on hand"]]
    stock += [[item, dice.randint(0, 96), dice.randint(0, 2), dice.randint(3, 80)] for item in ITEMS]
    cover: Rows = [["troop", "0417"], ["week ending", WEEK], ["bank balance", dice.randint(50, 900)],
                   ["balance on", WEEK]]  # fmt: skip
    goals: Rows = [["participant", "goal"], *([one, dice.randint(20, 90)] for one in people)]
    sheets = {"Cover": cover, "Stock": stock, "Families": families, "Stalls": stalls, "Banked": banked, "Goals": goals}
    return File("0417 week 1.xlsx", sheets)


def meaning(file: File) -> Meaning:
    """What a correct workbook says."""
    sheets = file.sheets
    taken, sold = sheets["Families"][1:], sheets["Stalls"][1:]
    return {
        "families": sum(row[1] + row[2] for row in taken),
        "families money": sum((Decimal(str(row[3])) + Decimal(str(row[4])) for row in taken), Decimal()),
        "stalls": sum(row[3] + row[4] for row in sold),
        "stalls money": sum((Decimal(str(row[5])) + Decimal(str(row[6])) for row in sold), Decimal()),
        "banked": sum((Decimal(str(row[1])) for row in sheets["Banked"][1:]), Decimal()),
        "on hand": sum(row[3] for row in sheets["Stock"][1:]),
        "balance": Decimal(sheets["Cover"][2][1]),
        "goals": sum(row[1] for row in sheets["Goals"][1:]),
        "people": {row[0] for row in taken} | {one for row in sold for one in row[7].split()},
    }


Edited = tuple[list[File], Meaning | None]
Edit = Callable[[File, Random], Edited]
EDITS: dict[str, Edit] = {}


def edit(name: str) -> Callable[[Edit], Edit]:
    def keep(make: Edit) -> Edit:
        EDITS[name] = make
        return make

    return keep


def as_meant(name: str) -> Callable[[Callable[[File, Random], None]], Callable[[File, Random], None]]:
    """An edit within one workbook that changes nothing of what is meant."""

    def keep(make: Callable[[File, Random], None]) -> Callable[[File, Random], None]:
        def run(file: File, dice: Random) -> Edited:
            said = meaning(file)
            make(file, dice)
            return [file], said

        EDITS[name] = run
        return make

    return keep


def unclear(name: str) -> Callable[[Callable[[File, Random], None]], Callable[[File, Random], None]]:
    """An edit within one workbook of which only the sender can say what is meant."""

    def keep(make: Callable[[File, Random], None]) -> Callable[[File, Random], None]:
        def run(file: File, dice: Random) -> Edited:
            make(file, dice)
            return [file], None

        EDITS[name] = run
        return make

    return keep


def a_row(file: File, sheet: str, dice: Random) -> int:
    return dice.randrange(1, len(file.sheets[sheet]))


MORE_NAMES = ("corrected", "(2)", "- Copy", "FINAL", "-v2", "v10", "new")


@edit("a corrected copy, saved later")
def corrected(file: File, dice: Random) -> Edited:
    newer = deepcopy(file)
    newer.name, newer.saved = f"0417 week 1 {dice.choice(MORE_NAMES)}.xlsx", NOON + timedelta(hours=dice.randint(1, 9))
    newer.sheets["Families"][a_row(newer, "Families", dice)][1] += 1
    files = [file, newer]
    dice.shuffle(files)
    return files, meaning(newer)


@edit("two copies of one moment that differ")
def same_moment(file: File, dice: Random) -> Edited:
    other = deepcopy(file)
    other.name, other.saved = f"0417 week 1 {dice.choice(MORE_NAMES)}.xlsx", NOON + timedelta(seconds=20)
    other.sheets["Banked"][a_row(other, "Banked", dice)][1] += 5
    return [file, other], None


@as_meant("a copy whose name alone was changed")
def renamed(file: File, dice: Random) -> None:
    file.name = dice.choice(["Week (1).xlsx", "from mum.xlsx", "0031 week 2.xlsx", "FINAL final.xlsx"])


TOTALS = ("Total", "TOTAL:", "Week total", "Total troop 0417", "0417-05 Total", "Gesamt", "Σ", "Summe", "Grand total",
          "Suma", "Itogo: всего", "Average", "All together")  # fmt: skip


@as_meant("a line of totals below Families")
def family_total(file: File, dice: Random) -> None:
    rows = file.sheets["Families"]
    rows.append([dice.choice(TOTALS), *(sum(row[k] for row in rows[1:]) for k in range(1, 5)), None])


@as_meant("a line of totals below another sheet")
def other_total(file: File, dice: Random) -> None:
    sheet, at = dice.choice([("Stock", 3), ("Banked", 1), ("Goals", 1), ("Stalls", 3)])
    rows = file.sheets[sheet]
    row: list[Any] = [dice.choice(TOTALS), *[None] * (len(rows[0]) - 1)]
    row[at] = sum(one[at] for one in rows[1:])
    rows.append(row)


@as_meant("totals without a word")
def bare_total(file: File, dice: Random) -> None:
    rows = file.sheets["Families"]
    rows.append([None, *(sum(row[k] for row in rows[1:]) for k in range(1, 5)), None])


@as_meant("a sheet renamed")
def sheet_renamed(file: File, dice: Random) -> None:
    old, new = dice.choice([("Banked", "Baked"), ("Families", "Family"), ("Families", "Families (2)"),
                            ("Stalls", "Stall sales"), ("Banked", "Banking"), ("Goals", "Goals 2027"),
                            ("Families", "FAMILIES "), ("Stalls", "Sheet3"), ("Families", "Tabelle1")])  # fmt: skip
    file.sheets = {new if name == old else name: rows for name, rows in file.sheets.items()}


@as_meant("a sheet split over two")
def second_sheet(file: File, dice: Random) -> None:
    old = dice.choice(["Families", "Stalls", "Banked"])
    rows = file.sheets[old]
    file.sheets[f"{old} (2)"] = [rows[0], *rows[2:]]
    file.sheets[old] = rows[:2]


@as_meant("a second block beside the first")
def second_block(file: File, dice: Random) -> None:
    name = dice.choice(["Stock", "Families", "Banked", "Goals"])
    rows = file.sheets[name]
    first, last = rows[:-1], rows[-1]
    width = len(rows[0])
    file.sheets[name] = [[*row, *[None] * (width - len(row))] for row in first]
    file.sheets[name][0] += [None, *rows[0]]
    file.sheets[name][1] += [None, *last]


@as_meant("the cover's labels across")
def across(file: File, dice: Random) -> None:
    rows = file.sheets["Cover"]
    if dice.random() < 0.5:
        file.sheets["Cover"] = [[row[0] for row in rows], [row[1] for row in rows]]
    else:
        file.sheets["Cover"] = [[*rows[0], *rows[1]], [*rows[2], *rows[3]]]


@as_meant("another word on the cover")
def label(file: File, dice: Random) -> None:
    file.sheets["Cover"][2][0] = dice.choice(
        ["Account balance", "Bank balanc", "bank_balance", "Balance", "BANK BALANCE:"]
    )


@as_meant("a code written otherwise")
def code_otherwise(file: File, dice: Random) -> None:
    turn = dice.choice([
        lambda one: one.replace("-", "\u2013"), lambda one: one.replace("-", "\u2212"), lambda one: one + "\u200b",
        lambda one: one.lstrip("0"), lambda one: one.replace("-0", "-"), lambda one: one.replace("-", " - "),
        lambda one: int(one.replace("-", "")), lambda one: one.replace("0", "O", 1), lambda one: f" {one}\u00a0",
        lambda one: one.replace("-", ""),
    ])  # fmt: skip
    if dice.random() < 0.7:
        row = file.sheets["Families"][a_row(file, "Families", dice)]
        row[0] = turn(row[0])
    else:
        row = file.sheets["Stalls"][a_row(file, "Stalls", dice)]
        first, *rest = row[7].split()
        row[7] = " ".join([str(turn(first)), *rest])


@unclear("words for those who came")
def everybody(file: File, dice: Random) -> None:
    words = ["all the girls who came", "everybody", "all of them", "Anna and Bea", "alle", "the whole troop"]
    file.sheets["Stalls"][a_row(file, "Stalls", dice)][7] = dice.choice(words)


@edit("a number struck through and written anew")
def struck(file: File, dice: Random) -> Edited:
    said = meaning(file)
    sheet, at = dice.choice([("Families", 1), ("Banked", 1), ("Stock", 3), ("Stalls", 5)])
    row = file.sheets[sheet][a_row(file, sheet, dice)]
    row[at] = CellRichText(TextBlock(InlineFont(strike=True), str(dice.randint(1, 9))), str(row[at]))
    return [file], said


@edit("a whole row struck through")
def row_struck(file: File, dice: Random) -> Edited:
    sheet = dice.choice(["Families", "Banked", "Goals"])
    at = a_row(file, sheet, dice)
    for column in range(len(file.sheets[sheet][at])):
        file.looks[sheet, at, column] = {"struck": True}
    without = deepcopy(file)
    del without.sheets[sheet][at]
    return [file], meaning(without)


@as_meant("a raised figure of a footnote")
def footnote(file: File, dice: Random) -> None:
    sheet, at = dice.choice([("Families", 1), ("Stock", 3), ("Goals", 1)])
    row = file.sheets[sheet][a_row(file, sheet, dice)]
    row[at] = CellRichText(str(row[at]), TextBlock(InlineFont(vertAlign="superscript"), "1"))


@unclear("a number format that says something else")
def unit(file: File, dice: Random) -> None:
    sheet, at, code = dice.choice([
        ("Families", 1, '0" cases"'), ("Stock", 3, '0 "cases"'), ("Banked", 1, "[$€-407]#,##0.00"),
        ("Families", 3, '"£"0.00'), ("Stalls", 5, '#,##0.00 "€"'), ("Banked", 1, '0.00" CHF"'), ("Goals", 1, "0%"),
    ])  # fmt: skip
    file.looks[sheet, a_row(file, sheet, dice), at] = {"format": code}


@as_meant("a number format that says the same")
def same_format(file: File, dice: Random) -> None:
    code = dice.choice(["#,##0.00", '"$"#,##0.00', "_-* #,##0.00_-", "0", "[Red]0.00", "(0.00)"])
    file.looks["Banked", a_row(file, "Banked", dice), 1] = {"format": code}


IN_ANY_KIND = (  # edits whose traces another kind of workbook must carry too
    "a line of totals below Families", "totals without a word", "a sheet renamed", "a code written otherwise",
    "a number struck through and written anew", "a whole row struck through", "a raised figure of a footnote",
    "a number format that says something else", "a number format that says the same", "a row that stands twice",
    "a deposit that is listed twice", "days written otherwise", "a second block beside the first",
)  # fmt: skip


@edit("an .xls or .ods workbook, as it is or edited")
def another_kind(file: File, dice: Random) -> Edited:
    files, said = EDITS[dice.choice(IN_ANY_KIND)](file, dice) if dice.random() < 0.8 else ([file], meaning(file))
    (one,) = files
    one.name = f"{Path(one.name).stem}.{dice.choice(['xls', 'ods'])}"
    return [one], said


@unclear("a deposit that is listed twice")
def deposit_twice(file: File, dice: Random) -> None:
    rows = file.sheets["Banked"]
    row = list(rows[a_row(file, "Banked", dice)])
    row[3] = dice.choice([None, None, "second page"])
    rows.append(row)


@unclear("an amount in another currency")
def currency(file: File, dice: Random) -> None:
    row = file.sheets["Banked"][a_row(file, "Banked", dice)]
    row[1] = dice.choice(["€{}", "£ {}", "{} €", "EUR {}"]).format(row[1])


@unclear("a row that stands twice")
def repeated(file: File, dice: Random) -> None:
    sheet = dice.choice(["Families", "Stock", "Stalls"])
    rows = file.sheets[sheet]
    rows.append(list(rows[a_row(file, sheet, dice)]))


@as_meant("an amount written another way")
def amount(file: File, dice: Random) -> None:
    row = file.sheets["Banked"][a_row(file, "Banked", dice)]
    plain = f"{row[1]:.2f}"
    row[1] = dice.choice([
        plain, plain.replace(".", ","), f"${plain}", f"{plain} $", f"{plain}-"[:-1], f"USD {plain}", f"  {plain} ",
        f"{row[1]:,.2f}", plain.replace(".", "\u066b"),
    ])  # fmt: skip


@edit("packages brought back, with another minus")
def back(file: File, dice: Random) -> Edited:
    row = file.sheets["Families"][a_row(file, "Families", dice)]
    row[1] = -3
    said = meaning(file)
    row[1] = dice.choice(["-3", "\u22123", "\u20133", "(3)", "3-", "- 3", "3 back", "minus 3"])
    return [file], said


@as_meant("lines above, between and below")
def lines_between(file: File, dice: Random) -> None:
    name = dice.choice(["Families", "Stock", "Banked"])
    rows = file.sheets[name]
    match dice.randrange(4):
        case 0:
            rows.insert(0, [f"{name} of our troop"])
        case 1:
            rows.insert(2, [None])
        case 2:
            rows.append(["Thank you!"])
        case _:
            rows.append([None, None, "see next page"])


@as_meant("columns in another order, headers written otherwise")
def headers(file: File, dice: Random) -> None:
    rows = file.sheets["Families"]
    order = list(range(6))
    dice.shuffle(order)
    file.sheets["Families"] = [[row[k] for k in order] for row in rows]
    head = file.sheets["Families"][0]
    at = dice.randrange(6)
    head[at] = dice.choice([str(head[at]).upper(), f" {head[at]} ", f"{head[at]}:", f"{head[at]}s"])


@as_meant("a column more")
def more_columns(file: File, dice: Random) -> None:
    name = dice.choice(["Families", "Banked", "Stock", "Goals"])
    rows = file.sheets[name]
    title = dice.choice(["Total", "Remarks", "Paid?", None])
    rows[0].append(title)
    for row in rows[1:]:
        row.append(dice.randint(1, 50))


@as_meant("days written otherwise")
def days(file: File, dice: Random) -> None:
    row = file.sheets["Banked"][a_row(file, "Banked", dice)]
    row[0] = f"{row[0]:{dice.choice(['%d.%m.%Y', '%m/%d/%Y', '%Y-%m-%d', '%d %B %Y', '%Y/%m/%d'])}}"


@as_meant("numbers written as words or text")
def words(file: File, dice: Random) -> None:
    row = file.sheets["Families"][a_row(file, "Families", dice)]
    row[1] = dice.choice([str(row[1]), f"{row[1]} pkgs", f"{row[1]}.0", f"ca. {row[1]}", f"'{row[1]}", f"{row[1]}x"])


@as_meant("a formula that was never worked out")
def formula(file: File, dice: Random) -> None:
    row = file.sheets["Families"][a_row(file, "Families", dice)]
    row[1] = f"={row[1] - 1}+1"


def as_text(rows: Rows, separator: str) -> str:
    held = io.StringIO(newline="")
    csv.writer(held, delimiter=separator, lineterminator="\n").writerows(rows)
    return held.getvalue()


def only(said: Meaning, *names: str) -> Meaning:
    return {name: said[name] for name in names}


def deposits(file: File) -> Rows:
    rows = file.sheets["Banked"]
    head = ["troop", "week_ending", *rows[0]]
    return [head, *(["0417", WEEK, row[0], f"{row[1]:.2f}", row[2], row[3]] for row in rows[1:])]


@edit("a table in two files")
def in_two(file: File, dice: Random) -> Edited:
    rows = deposits(file)
    files = [File("a.csv", text=as_text(rows[:2], ",")), File("b.csv", text=as_text([rows[0], *rows[2:]], ","))]
    return files, only(meaning(file), "banked")


@edit("a table with another decimal sign or separator")
def decimal_sign(file: File, dice: Random) -> Edited:
    said = only(meaning(file), "banked")
    rows = deposits(file)
    match dice.randrange(4):
        case 0:
            text = as_text([rows[0], *([*r[:3], r[3].replace(".", ","), *r[4:]] for r in rows[1:])], ";")
        case 1:  # without quotes: a cell too many
            text = re.sub(r",([0-9]+)\.([0-9]{2}),", r",\1,\2,", as_text(rows, ","))
        case 2:
            text = as_text(rows, dice.choice([";", "\t", ","]))
        case _:
            text, said = as_text([rows[0], [*rows[1][:3], "40,000", *rows[1][4:]]], ";"), None
    return [File("banked.csv", text=text)], said


@edit("a table whose row stands twice, or twice with another line's number")
def bulk_twice(file: File, dice: Random) -> Edited:
    head = ["line", "document", "troop", "item", "date", "packages", "kind"]
    row = ["D1", "0417", "GLA", "2027-02-10", dice.randint(1, 60), "depot"]
    numbers = dice.choice([(1, 2), ("", "")])
    return [File("supply.csv", text=as_text([head, *([n, *row] for n in numbers)], ","))], None
