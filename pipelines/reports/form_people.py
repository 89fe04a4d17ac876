"""The form's sheets of what participants aim for, promised and have learned: Goals, Promised, Awards.

Comes in: a pen, an empty sheet, what is known. Goes out: the sheet; promises and awards stand in it as they were told
last, so that a week says what holds.
"""

from collections.abc import Sequence

from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.contract import OWN_PAGE
from pipelines.definitions.online_and_awards import Award
from pipelines.reports import form_drawing as pens
from pipelines.reports.form_drawing import FormPen
from pipelines.reports.form_facts import Known

GOALS, MORE_AWARDS, MORE_PEOPLE = 60, 40, 5  # empty rows
NOT_LISTED = "This code is not on the roster. Keep it only if somebody new is selling."


def goals(pen: FormPen, sheet: Worksheet, head: int, facts: Known) -> None:
    """Only what is new; `troop` is the goal of all together."""
    pen.put(sheet, 0, 0, f"Packages somebody means to sell, only where it is new; {OWN_PAGE} = all together.", "plain")
    pen.headers(sheet, head, ("Participant", "Goal", "Made elsewhere"))
    sheet.set_column(0, 2, 16)
    last = head + GOALS
    for row in range(head + 1, last + 1):
        for column, look in enumerate(("text", "number", "number")):
            pen.put(sheet, row, column, None, look)
    pens.check_list(sheet, (head + 1, 0, last, 0), pen.lists("people", facts.participants), NOT_LISTED)
    pens.check_packages(sheet, (head + 1, 1, last, 2))


def promised(pen: FormPen, sheet: Worksheet, head: int, facts: Known) -> None:
    """A row for each participant, with what was promised so far."""
    pen.put(sheet, 0, 0, "Packages promised on paper orders, in all so far: change what has changed.", "plain")
    pen.headers(sheet, head, ["Participant", *(item.code for item in facts.items)])
    sheet.set_column(0, 0, 13)
    sheet.set_column(1, len(facts.items), 9)
    people = [code for code in facts.participants if code != OWN_PAGE]
    last = head + len(people) + MORE_PEOPLE
    for row, code in enumerate([*people, *[None] * MORE_PEOPLE], head + 1):
        pen.put(sheet, row, 0, code if code in facts.promised else None, "text")
        for column, item in enumerate(facts.items, 1):
            pen.put(sheet, row, column, facts.promised.get(code or "", {}).get(item.code), "number")
    pens.check_list(sheet, (head + 1, 0, last, 0), pen.lists("people", facts.participants), NOT_LISTED)
    pens.check_packages(sheet, (head + 1, 1, last, len(facts.items)))


def awards(pen: FormPen, sheet: Worksheet, head: int, facts: Known, listed: Sequence[Award]) -> None:
    """A row for each participant and award of which something was told, then empty ones."""
    pen.put(
        sheet, 0, 0, "Steps done so far, such as 1, 3, 4, wherever they were done; and what was handed over.", "plain"
    )
    pen.headers(sheet, head, ("Participant", "Award", "Steps", "Handed on"))
    sheet.set_column(0, 3, 16)
    rows = [*facts.awards, *[("", "", "", None)] * MORE_AWARDS]
    last = head + len(rows)
    for row, told in enumerate(rows, head + 1):
        for column, (value, look) in enumerate(zip(told, ("text", "text", "text", "date"), strict=True)):
            pen.put(sheet, row, column, value or None, look)
    pens.check_list(sheet, (head + 1, 0, last, 0), pen.lists("people", facts.participants), NOT_LISTED)
    codes = [one.code for one in listed]
    pens.check_list(sheet, (head + 1, 1, last, 1), pen.lists("awards", codes), "Choose the code of an award.")
