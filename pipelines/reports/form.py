"""The form: a workbook for one troop and week, prefilled, that says in the sheet when something does not fit.

Comes in: figures at the end of the week before, a troop, a week's end. Goes out: a workbook that `ingest` takes back
without a finding. Columns that help (form_columns.py) stand beside the contract's and are no part of it.
"""

import io
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.form_columns import HELPS, INTO_BANK, MOST_ABOVE
from pipelines.definitions.season import Item
from pipelines.definitions.submissions import BANK_KINDS, COVER
from pipelines.reports import form_drawing as pens
from pipelines.reports import form_people
from pipelines.reports.form_drawing import FormPen
from pipelines.reports.form_facts import Known, known
from pipelines.reports.week import Week, day, short_day

HEAD = (
    2  # the row of the headers on every sheet but the cover, counted from 0: a hint, what goes with each, the headers
)
STALLS, BANKED, MOVES, MORE_FAMILIES = 12, 12, 15, 5  # empty rows
SIX_LINES = (
    "1. Fill in the white cells; grey ones fill themselves in. Every sheet has a drop-down or a check where it helps.",
    "2. Stock: count every item, by two people: packages (27), or cases and loose ones (2c+3). Empty: nobody counted.",
    "3. Families: packages taken this week, not in all; brought back is negative. Then the cash and card handed in.",
    "4. Stalls and Banked: one row for each stall and each deposit. Cash is counted by two adults who are not related.",
    "5. Moves: packages given to or taken from another troop, in both troops' forms. Goals: only what is new.",
    "6. Save it as .xlsx or .ods and send it. A mistake found later? Correct it here and send the whole file again.",
)


def form(before: Week, troop: str, ends: date) -> bytes:
    """The form's bytes: the same each time."""
    known_now = known(before, troop, ends)
    out = io.BytesIO()
    kept = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    workbook = Workbook(out, kept)
    workbook.set_properties({
        "title": f"Troop {troop}, week ending {ends.isoformat()}", "author": "Musterbook",
        "created": datetime.combine(ends, time()),
    })  # fmt: skip
    pen = FormPen(workbook, before.sign)
    names = ["Cover", "Stock", "Families", "Stalls", "Banked", "Moves", "Goals", "Promised"]
    names += ["Awards"] if before.season.awards else []
    sheets = {name: workbook.add_worksheet(name) for name in names}
    _cover(pen, sheets["Cover"], before, known_now)
    _stock(pen, sheets["Stock"], known_now)
    _families(pen, sheets["Families"], known_now)
    _stalls(pen, sheets["Stalls"], known_now)
    _short_sheets(pen, sheets, known_now)
    form_people.goals(pen, sheets["Goals"], HEAD, known_now)
    form_people.promised(pen, sheets["Promised"], HEAD, known_now)
    if before.season.awards:
        form_people.awards(pen, sheets["Awards"], HEAD, known_now, before.season.awards)
    for name, sheet in sheets.items():
        sheet.protect("", {"format_columns": True, "format_rows": True, "sort": True, "select_locked_cells": True})
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.hide_gridlines(2)
        if name != "Cover":
            sheet.freeze_panes(HEAD + 1, 1)
            sheet.repeat_rows(HEAD)
    workbook.close()
    return out.getvalue()


def _cover(pen: FormPen, sheet: Worksheet, before: Week, facts: Known) -> None:
    sheet.set_column(0, 0, 18)
    sheet.set_column(1, 1, 34)
    sheet.set_column(2, 6, 14)
    filled: dict[str, tuple[Any, str]] = {
        "troop": (facts.troop, "fixed"),
        "week_ending": (facts.ends, "fixed date"),
        "prepared_by": (None, "text"),
        "prepared_on": (None, "date"),
        "bank_balance": (None, "money"),
        "balance_on": (None, "date"),
        "note": (None, "text"),
    }
    for row, name in enumerate(COVER.names):
        label = name.replace("_", " ")
        pen.put(sheet, row, 0, label[:1].upper() + label[1:], "label")
        pen.put(sheet, row, 1, *filled[name])
    pens.check_money(sheet, (4, 1, 4, 1))
    pens.check_day(sheet, (5, 1, 5, 1), facts.starts - timedelta(days=7), facts.ends)
    row = len(COVER.names) + 1
    title = f"{before.season.season.title}: week {before.season.week_number(facts.ends)}, to {day(facts.ends)}"
    pen.put(sheet, row, 0, title, "title")
    for line in SIX_LINES:
        row += 1
        sheet.merge_range(row, 0, row, 6, "", pen.formats["plain"])
        pen.put(sheet, row, 0, line, "plain")
    row += 2
    cash, banked = "SUM({0})+SUM({1})", "SUM(Banked!B{0}:B{1})"
    places = _money_places(facts)
    totals = (
        ("Cash this week", f"={cash.format(*places)}"),
        ("Banked this week", f"={banked.format(HEAD + 2, HEAD + 1 + BANKED)}"),
    )
    for text, formula in totals:
        pen.put(sheet, row, 0, text, "help")
        sheet.write_formula(row, 1, formula, pen.formats["help total"], 0)
        row += 1


def _money_places(facts: Known) -> tuple[str, str]:
    """Where the cash of families and of stalls is typed."""
    families = xl_col_to_name(1 + len(facts.items))
    stalls = xl_col_to_name(3 + len(facts.items))
    last = HEAD + 1 + len(facts.participants) + MORE_FAMILIES
    return (
        f"Families!{families}{HEAD + 2}:{families}{last}",
        f"Stalls!{stalls}{HEAD + 2}:{stalls}{HEAD + 1 + STALLS}",
    )


def _stock(pen: FormPen, sheet: Worksheet, facts: Known) -> None:
    """The count, and beside it what should be there, worked out while one types."""
    stocked = [item for item in facts.items if item.stocked]
    place = {item.code: number for number, item in enumerate(facts.items)}
    hint = "Count at the week's end. On hand can't be more than what should be there, unless a record is missing."
    pen.put(sheet, 0, 0, hint, "plain")
    pen.headers(sheet, HEAD, ("Item", "Received", "Damaged", "On hand"))
    pen.help_headers(sheet, HEAD, 4, HELPS["stock"])
    sheet.set_row(HEAD, 32)
    for column, width in enumerate((9, 11, 11, 11, 32, 9, 9, 12, 11, 11, 11, 11, 26)):
        sheet.set_column(column, column, width)
    first = HEAD + 1
    for row, item in enumerate(stocked, first):
        number, code, was = row + 1, item.code, facts.expected.get(item.code, 0)
        count, of_week = facts.counted.get(code, (None, None))
        pen.put(sheet, row, 0, code, "fixed")
        for column in (1, 2, 3):
            pen.put(sheet, row, column, None, "number")
        pen.put(sheet, row, 4, item.title, "help")
        pen.put(sheet, row, 5, item.price, "help money")
        pen.put(sheet, row, 6, count, "help number")
        pen.put(sheet, row, 7, short_day(of_week) if of_week else None, "help")
        pen.put(sheet, row, 8, was, "help number")
        supplied = facts.supplied.get(code, 0)
        pen.put(sheet, row, 9, supplied, "help number")
        should = f"=I{number}+MAX(N(B{number}),J{number})-N(C{number}){_out(facts, place[code], code)}"
        sheet.write_formula(row, 10, should, pen.formats["help number"], was + supplied)
        counted = _counted(f"D{number}", item.packages_per_case)
        sheet.write_formula(
            row, 11, f'=IF(D{number}="","",IFERROR({counted}-K{number},""))', pen.formats["help number"], ""
        )
        said = (
            f'=IF(L{number}="","not counted",IF(L{number}=0,"agrees",IF(L{number}<0,'
            f'-L{number}&" not accounted for",L{number}&" more than should be there")))'
        )
        sheet.write_formula(row, 12, said, pen.formats["help"], "not counted")
    last = first + len(stocked) - 1
    if stocked:
        pens.check_packages(sheet, (first, 1, last, 2))
        most = "On hand can't be more than what should be there. Is a supply, a move or a return not written down yet?"
        pens.check_count(sheet, (first, 3, last, 3), f"$D{first + 1}", f"$K{first + 1}", most)
        differs = {"type": "formula", "criteria": f'=AND($D{first + 1}<>"",$L{first + 1}<>0)', "format": pen.stands_out}
        sheet.conditional_format(first, 11, last, 12, differs)


def _counted(cell: str, packages_per_case: int) -> str:
    """A count in packages, as part of a formula: a number, or cases and loose ones such as 2c+3."""
    cases = f'VALUE(LEFT({cell},FIND("c",LOWER({cell}))-1))'
    loose = f'IFERROR(VALUE(MID({cell},FIND("+",{cell})+1,9)),0)'
    return f"IF(ISNUMBER({cell}),{cell},{cases}*{packages_per_case}+{loose})"


def _out(facts: Known, place: int, code: str) -> str:
    """What left and what moved, as a formula over the other sheets."""
    families, stalls = xl_col_to_name(1 + place), xl_col_to_name(3 + place)
    last = HEAD + 1 + len(facts.participants) + MORE_FAMILIES
    end = HEAD + 1 + MOVES

    def moved(way: str) -> str:
        return (
            f"SUMIFS(Moves!$C${HEAD + 2}:$C${end},Moves!$B${HEAD + 2}:$B${end},\"{code}\","
            f"Moves!$D${HEAD + 2}:$D${end},\"{way}\")"
        )  # fmt: skip

    return (
        f"-SUM(Families!{families}${HEAD + 2}:{families}${last})"
        f"-SUM(Stalls!{stalls}${HEAD + 2}:{stalls}${HEAD + 1 + STALLS})+{moved('in')}-{moved('out')}"
    )


def _families(pen: FormPen, sheet: Worksheet, facts: Known) -> None:
    """One row for each participant; beside it what the week comes to and what is owed after it."""
    items, first = facts.items, HEAD + 1
    pen.put(
        sheet, 0, 0, "Packages taken this week (brought back: negative), then what was handed in this week.", "plain"
    )
    names = ["Participant", *(item.code for item in items), "Cash", "Card", "Note"]
    pen.headers(sheet, HEAD, names, [*_above_items(items, 1), "", INTO_BANK])
    sheet.set_row(HEAD - 1, 48)
    sheet.set_column(0, 0, 13)
    sheet.set_column(1, len(items), 9)
    sheet.set_column(len(items) + 1, len(items) + 2, 11)
    sheet.set_column(len(items) + 3, len(items) + 3, 26)
    beside = len(names)
    sheet.set_column(beside, beside + 2, 12)
    pen.help_headers(sheet, HEAD, beside, HELPS["families"])
    cash, card, owed, worth = (xl_col_to_name(c) for c in (beside - 3, beside - 2, beside, beside + 1))
    last = first + len(facts.participants) + MORE_FAMILIES - 1
    for row in range(first, last + 1):
        is_known = row - first < len(facts.participants)
        code = facts.participants[row - first] if is_known else None
        pen.put(sheet, row, 0, code, "fixed" if is_known else "text")
        for column in range(1, len(items) + 1):
            pen.put(sheet, row, column, None, "number")
        for column, look in ((-3, "money"), (-2, "money"), (-1, "text")):
            pen.put(sheet, row, beside + column, None, look)
        number, before = row + 1, facts.owed.get(code or "", Decimal(0))
        pen.put(sheet, row, beside, before, "help money")
        value = "+".join(f"{item.price:f}*N({xl_col_to_name(1 + k)}{number})" for k, item in enumerate(items))
        sheet.write_formula(row, beside + 1, f"={value}", pen.formats["help money"], 0)
        now = f"={owed}{number}+{worth}{number}-N({cash}{number})-N({card}{number})"
        sheet.write_formula(row, beside + 2, now, pen.formats["help money"], float(before))
    pens.check_list(
        sheet, (first, 0, last, 0), pen.lists("participants", facts.participants),
        "This code is not on the roster. Keep it only if somebody new is selling.",
    )  # fmt: skip
    back = "Type the packages taken this week, such as 12, or -3 for brought back."
    pens.check_packages(sheet, (first, 1, last, len(items)), -pens.MOST, back)
    pens.check_money(sheet, (first, beside - 3, last, beside - 2))


def _above_items(items: Sequence[Item], first: int) -> list[str]:
    return [""] * first + [f"{item.title[:MOST_ABOVE]}" for item in items]


def _stalls(pen: FormPen, sheet: Worksheet, facts: Known) -> None:
    items, first, last = facts.items, HEAD + 1, HEAD + STALLS
    pen.put(sheet, 0, 0, "One row for each stall: packages sold there, and its takings without the float.", "plain")
    names = ["Date", "Start", "Place", *(item.code for item in items), "Cash", "Card", "Participants", "Note"]
    names += ["Gift", "End"]  # money given without taking packages, and when the stall closed
    pen.headers(sheet, HEAD, names, [*_above_items(items, 3), "", INTO_BANK])
    sheet.set_row(HEAD - 1, 48)
    beside, money = len(names), 3 + len(items)
    pen.help_headers(sheet, HEAD, beside, HELPS["stalls"])
    for column, width in ((0, 12), (1, 8), (2, 22), (money + 2, 22), (money + 3, 22), (beside, 12), (beside + 1, 12)):
        sheet.set_column(column, column, width)
    cash, card, worth = (xl_col_to_name(c) for c in (money, money + 1, beside))
    looks = ["date", "time", "text", *(["number"] * len(items)), "money", "money", "text", "text", "money", "time"]
    for row in range(first, last + 1):
        number = row + 1
        for column, look in enumerate(looks):
            pen.put(sheet, row, column, None, look)
        value = "+".join(f"{item.price:f}*N({xl_col_to_name(3 + k)}{number})" for k, item in enumerate(items))
        sheet.write_formula(row, beside, f"={value}", pen.formats["help money"], 0)
        over = f"=N({cash}{number})+N({card}{number})-{worth}{number}"
        sheet.write_formula(row, beside + 1, over, pen.formats["help money"], 0)
    pens.check_day(sheet, (first, 0, last, 0), facts.starts, facts.ends)
    pens.check_packages(sheet, (first, 3, last, 2 + len(items)))
    pens.check_money(sheet, (first, money, last, money + 1))
    pens.check_money(sheet, (first, money + 4, last, money + 4))
    differs = {"type": "cell", "criteria": "!=", "value": 0, "format": pen.stands_out}
    sheet.conditional_format(first, beside + 1, last, beside + 1, differs)


def _short_sheets(pen: FormPen, sheets: dict[str, Worksheet], facts: Known) -> None:
    first = HEAD + 1
    banked, moves = sheets["Banked"], sheets["Moves"]
    told = "One row for each deposit, fee, returned cheque (both negative) or float of the bank; no kind = a deposit."
    pen.put(banked, 0, 0, told, "plain")
    rows = ("Date", "Amount", "Slip", "Note", "Kind", "Participant")
    _empty_rows(pen, banked, rows, ("date", "money", "text", "text", "text", "text"), BANKED)
    pens.check_list(banked, (first, 4, HEAD + BANKED, 4), pen.lists("kinds", BANK_KINDS), "Choose what it is.")
    pens.check_day(banked, (first, 0, HEAD + BANKED, 0), facts.starts, facts.ends)
    pens.check_money(banked, (first, 1, HEAD + BANKED, 1))
    pen.put(moves, 0, 0, "Packages between troops: in = to you, out = from you; outside = another area.", "plain")
    names = ("Date", "Item", "Packages", "Direction", "Other troop")
    _empty_rows(pen, moves, names, ("date", "text", "number", "text", "text"), MOVES)
    last = HEAD + MOVES
    stocked = [item.code for item in facts.items if item.stocked]
    pens.check_day(moves, (first, 0, last, 0), facts.starts, facts.ends)
    pens.check_list(moves, (first, 1, last, 1), pen.lists("items", stocked), "Choose the code of an item.")
    pens.check_packages(moves, (first, 2, last, 2))
    pens.check_list(moves, (first, 3, last, 3), pen.lists("ways", ("in", "out")), "Choose in or out.")
    pens.check_list(moves, (first, 4, last, 4), pen.lists("troops", facts.other_troops), "Choose the other troop.")


def _empty_rows(pen: FormPen, sheet: Worksheet, names: Sequence[str], looks: Sequence[str], rows: int) -> None:
    pen.headers(sheet, HEAD, names)
    sheet.set_column(0, len(names) - 1, 16)
    for row in range(HEAD + 1, HEAD + 1 + rows):
        for column, look in enumerate(looks):
            pen.put(sheet, row, column, None, look)
