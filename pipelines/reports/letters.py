"""Letters to the troops: drafts that the coordinator opens, changes and sends from their own mail program.

Comes in: a Week. Goes out: letters/<troop>.eml with the statement attached, addressed from the troops feed; where
something is held, with the list of cells to mend and the marked-up copy. Nothing is sent from here; date and message id
are left to the program that sends.

Where there is something to act on or to ask the letter asks (rules of severity watch alone ask nothing), what the
figures alone show included: not submitted, past due, a near due date that may not be covered, packages or stalls short.
A troop in order gets a short thank-you.
"""

import re
from collections.abc import Iterator
from datetime import timedelta
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP

from pipelines.reports.held_copies import held_copies
from pipelines.reports.next_steps import missing_weeks, needs_a_letter, next_steps, number_word, promised, well_done
from pipelines.reports.statement import lead, statement
from pipelines.reports.statement_tables import cut
from pipelines.reports.week import Week, day, file_name, one_line, short_day

PLAIN_ADDRESS = re.compile(r"[^@\s,;<>\"()\[\]\\]+@[^@\s,;<>\"()\[\]\\]+\.[^@\s,;<>\"()\[\]\\]+")
COMES_LATE = True  # as the statements that go with them do
XLSX = "vnd.openxmlformats-officedocument.spreadsheetml.sheet"
ASKED = 5  # things that one letter asks for at most


def expected(week: Week) -> int:
    """How many letters there will be."""
    return sum(_gets_one(week, troop) for troop in week.standing)


def _gets_one(week: Week, troop: str) -> bool:
    """Whether there is anything to ask of a troop or to thank it for."""
    row = week.standing[troop]
    return needs_a_letter(week, troop) or row["registered"] > 0 or row["available"] != 0


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """letters/<troop>.eml, one a troop that is there."""
    for troop in week.standing:
        if _gets_one(week, troop):
            yield f"letters/{file_name(troop)}.eml", letter(week, troop)


def letter(week: Week, troop: str) -> bytes:
    """One troop's letter as a draft: the same bytes each time."""
    message = EmailMessage(policy=SMTP)
    message["X-Unsent"] = "1"  # a mail program opens it for writing, not for reading
    message["Subject"] = one_line(subject(week, troop))
    to = address(week.troops[troop]["leader"] or "", week.troops[troop]["email"] or "")
    if to:
        message["To"] = to
    message.set_content(text(week, troop), cte="quoted-printable")
    message.add_attachment(
        statement(week, troop), maintype="application", subtype="pdf",
        filename=f"statement-{file_name(troop)}-week-{week.week_no}.pdf",
    )  # fmt: skip
    for copy in held_copies(week, troop):
        if copy.content:
            message.add_attachment(copy.content, maintype="application", subtype=XLSX, filename=one_line(copy.name))
        told = f"{one_line(copy.name).rsplit('.', 1)[0]}.txt"
        message.add_attachment(copy.told, subtype="plain", filename=told, cte="quoted-printable")
    message.set_boundary(f"=_musterbook_{file_name(troop).encode('ascii', 'ignore').decode()}_{week.as_of:%Y%m%d}_=")
    return message.as_bytes()


def subject(week: Week, troop: str) -> str:
    """What the letter is about, in its subject: Troop 0448, week 6: four things before 30 March."""
    about = f"Troop {troop}, week {week.week_no}"
    if not needs_a_letter(week, troop):
        return f"{about}: all in order, thank you"
    asked = _asked(week, troop)
    things = "one thing" if len(asked) == 1 else f"{number_word(len(asked))} things"
    row, next_form = week.standing[troop], week.begins_after + timedelta(days=14)
    near = row["next_due"] and row["next_due_on"] - week.as_of <= timedelta(days=14)
    return f"{about}: {things} before {short_day(row['next_due_on'] if near else next_form)}"


def _asked(week: Week, troop: str) -> list[str]:
    """What a letter asks for: the most pressing things, and the next form last."""
    steps = next_steps(week, troop)
    return steps if len(steps) <= ASKED else [*steps[: ASKED - 1], steps[-1]]


def text(week: Week, troop: str) -> str:
    """The letter's words."""
    leader = one_line(week.troops[troop]["leader"] or "")
    dear = f"Dear {leader}," if leader else f"Dear leader of troop {troop},"
    promises = [promised(week, row) for row in week.promises(troop)]
    body = _thanks(week, troop) if not needs_a_letter(week, troop) else _help(week, troop)
    return "\n".join([dear, "", *body, *([*promises, ""] if promises else []), *_signed(week), ""])


def _thanks(week: Week, troop: str) -> list[str]:
    """The few lines of a troop that is in order."""
    return [
        f"Your week {week.week_no} is in and there is nothing to ask. {well_done(week, troop)}", "",
        "The attached statement shows how you stand and what comes next.", "",
    ]  # fmt: skip


def _help(week: Week, troop: str) -> list[str]:
    """How the troop stands and what it is asked for."""
    asked, missing = _asked(week, troop), missing_weeks(week, troop)
    first = []
    if missing:
        named = " and ".join(f"week {week.season.week_number(end)}" for end in missing[-2:])
        forms = f"the form of {named} is" if len(missing) == 1 else f"forms of {named} are"
        first = [f"Please read these figures with care: {forms} not in yet.", ""]
    copies = ["What is held is listed cell by cell in what comes with this.", ""] if _is_held(week, troop) else []
    return [
        f"Here is where your sale stands at the end of week {week.week_no}, {day(week.as_of, weekday=True)}. "
        f"{well_done(week, troop)}",
        "",
        *first,
        lead(week, troop),
        "",
        "Could you help me with this?" if len(asked) > 1 else "One thing:",
        *(f"  {number}. {step}" for number, step in enumerate(asked, 1)),
        "",
        *copies,
        "The attached statement shows where every figure comes from. If one of them differs from your own notes, "
        "please tell me: one of the two is missing something, and we will find it together. An amount that is open is "
        "no reproach.",
        "",
    ]


def _is_held(week: Week, troop: str) -> bool:
    return any(row["rule"] == "submission_held" for row in week.exceptions.get(troop, []))


def _signed(week: Week) -> list[str]:
    """Who signs, and the number to call."""
    frame = week.season.season
    name, phone = one_line(frame.coordinator), one_line(frame.phone)
    call = [f"Easier to talk it over? Call {name or 'me'} on {phone}.", ""] if phone else []
    return [*call, "Thank you for all you do,", *([name] if name else []), one_line(frame.area)]


def address(leader: str, email: str) -> Address | None:
    """Whom the letter goes to; None where the feed gives nothing that is plainly one address."""
    if not PLAIN_ADDRESS.fullmatch(email.strip()):
        return None
    try:
        return Address(display_name=cut(one_line(leader)), addr_spec=email.strip())
    except (MessageError, ValueError, IndexError):
        return None
