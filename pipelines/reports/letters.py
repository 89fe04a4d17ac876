"""Letters to troops that need one: drafts that the coordinator opens, changes and sends from their own mail program.

Comes in: a Week. Goes out: letters/<troop>.eml with the statement attached, addressed from the troops feed. Nothing is
sent from here; date and message id are left to the program that sends.

A troop gets one where there is something to act on or to ask (rules of severity watch alone make none), what the
figures alone show included: not submitted, past due, a near due date that may not be covered, packages or stalls short.
"""

import re
from collections.abc import Iterator
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP

from pipelines.reports.next_steps import needs_a_letter, next_steps, questions, well_done
from pipelines.reports.statement import cut, lead, statement
from pipelines.reports.week import Week, day, file_name, lowest_cover

PLAIN_ADDRESS = re.compile(r"[^@\s,;<>\"()\[\]\\]+@[^@\s,;<>\"()\[\]\\]+\.[^@\s,;<>\"()\[\]\\]+")
COMES_LATE = True  # as the statements that go with them do
ASKED = 5  # things that one letter asks for at most


def expected(week: Week) -> int:
    """How many letters there will be."""
    return sum(needs_a_letter(week, troop) for troop in week.standing)


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """letters/<troop>.eml, one for each troop that needs one."""
    for troop in week.standing:
        if needs_a_letter(week, troop):
            yield f"letters/{file_name(troop)}.eml", letter(week, troop)


def letter(week: Week, troop: str) -> bytes:
    """One troop's letter as a draft: the same bytes each time."""
    message = EmailMessage(policy=SMTP)
    message["X-Unsent"] = "1"  # a mail program opens it for writing, not for reading
    message["Subject"] = one_line(f"Troop {troop}, week {week.week_no}: {_subject(week, troop)}")
    to = address(week.troops[troop]["leader"] or "", week.troops[troop]["email"] or "")
    if to:
        message["To"] = to
    message.set_content(text(week, troop), cte="quoted-printable")
    message.add_attachment(
        statement(week, troop), maintype="application", subtype="pdf",
        filename=f"statement-{file_name(troop)}-week-{week.week_no}.pdf",
    )  # fmt: skip
    message.set_boundary(f"=_musterbook_{file_name(troop).encode('ascii', 'ignore').decode()}_{week.as_of:%Y%m%d}_=")
    return message.as_bytes()


def text(week: Week, troop: str) -> str:
    """The letter's words."""
    leader = one_line(week.troops[troop]["leader"] or "")
    asked = questions(week, troop)[: ASKED - 1]
    steps = next_steps(week, troop)
    asked = [*asked, steps[-1]] if asked else [*steps[: ASKED - 1], *steps[ASKED - 1 :][-1:]]
    lines = [
        f"Dear {leader}," if leader else f"Dear leader of troop {troop},",
        "",
        f"Here is where your sale stands at the end of week {week.week_no}, {day(week.as_of, weekday=True)}. "
        f"{well_done(week, troop)}",
        "",
        lead(week, troop),
        "",
        "Could you help me with this?" if len(asked) > 1 else "One thing:",
        *(f"  {number}. {step}" for number, step in enumerate(asked, 1)),
        "",
        "The attached statement shows where every figure comes from. If one of them differs from your own notes, "
        "please tell me: one of the two is missing something, and we will find it together. An amount that is open is "
        "no reproach.",
        "",
        "Thank you for all you do,",
        one_line(week.season.season.area),
        "",
    ]
    return "\n".join(lines)


def address(leader: str, email: str) -> Address | None:
    """Whom the letter goes to; None where the feed gives nothing that is plainly one address."""
    if not PLAIN_ADDRESS.fullmatch(email.strip()):
        return None
    try:
        return Address(display_name=cut(one_line(leader)), addr_spec=email.strip())
    except (MessageError, ValueError, IndexError):
        return None


def one_line(said: str) -> str:
    """A text on one line: a line break in a name must not start a header of its own."""
    return " ".join("".join(mark if mark.isprintable() else " " for mark in said).split())


def _subject(week: Week, troop: str) -> str:
    row = week.standing[troop]
    if row["past_due"] > 0:
        return f"{week.money(row['past_due'])} past due, and how you stand"
    if not row["submitted"]:
        return "this week's form, and how you stand"
    if lowest_cover(row) < 0 and row["next_due"]:
        return "before the next due date"
    return "how you stand"
