"""What goes back to whoever sent a file: a text in plain words, and a marked-up copy of the file.

Comes in: a file that landed (held or not) or one that was only looked over, its findings, the questions it raises.
Goes out: Returned. Nothing is sent from here: the text is there to be copied, changed and sent.

Of a landed file the findings come through the readers' door (`of_landed`), of one looked over from its preview
(`of_preview`). The copy is made anew for whoever may see every troop that the file tells of.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import PurePosixPath

from pipelines.definitions.errors import Stop
from pipelines.definitions.records import Finding, Sheet
from pipelines.figures.figures import Figures
from pipelines.intake.files.readers import Reader
from pipelines.messages.finding_lines import Line, Question, lines
from pipelines.reports.marked_up import marked_up
from pipelines.reports.week import one_line
from pipelines.store.book import Book
from pipelines.workflow.preview import Preview
from pipelines.workflow.slip_questions import questions

MOST_SAID = 12  # things that one text tells; the copy lists them all
SEND_AGAIN = (
    "Please mend this and send the whole workbook again: it takes the place of this one. Nothing is lost meanwhile; "
    "what you sent is kept, it only does not count yet."
)
COPY = "The copy that comes with this has each of these cells coloured, with a note on it."
CODES = "Please use codes in it, never names of children or buyers, in notes too."
NO_REPROACH = "A slip in typing happens to all of us: these are questions, and no reproach."
THANKS = "Thank you for all you do for the troop."


@dataclass(frozen=True)
class Returned:
    """One file as it goes back. `troop` and `week_ending` are None where the file does not say them plainly."""

    name: str
    findings: Sequence[Finding]
    questions: Sequence[Question] = ()
    troop: str | None = None
    week_ending: date | None = None
    leader: str = ""
    came_on: date | None = None
    sheets: list[Sheet] = field(default_factory=list)

    @property
    def lines(self) -> list[Line]:
        """The findings grouped, what is to mend first."""
        return lines(self.findings)

    @property
    def file_name(self) -> str:
        """The last part of the file's name."""
        return PurePosixPath(self.name).name

    def copy(self) -> bytes:
        """The marked-up copy, as an .xlsx workbook."""
        return marked_up(self.file_name, self.sheets, self.findings, self.questions)

    @property
    def copy_name(self) -> str:
        """What the copy is called."""
        return f"{PurePosixPath(self.file_name).stem or 'file'}, to mend.xlsx"

    def text(self) -> str:
        """A text to send back, kind and in plain words: what came, what to mend cell by cell, what is asked."""
        mend = [line for line in self.lines if not line.is_note]
        parts = [f"Hello{f' {one_line(self.leader)}' if self.leader else ''},", self._opening(len(mend))]
        parts += [_numbered([f"{_place(line)}{_sentence(line)}" for line in mend])] if mend else []
        if self.questions:
            parts.append("One question:" if len(self.questions) == 1 else "Some questions:")
            asked = [f"{q.asked}{f' ({q.where})' if q.where else ''}" for q in self.questions]
            parts += [_numbered(asked), NO_REPROACH]
        know = [f"{_place(line)}{_sentence(line)}" for line in self.lines if line.is_note]
        if know:
            parts.append("Good to know, with nothing to do:\n" + "\n".join(f"  - {said}" for said in know[:MOST_SAID]))
        parts += [f"{SEND_AGAIN} {COPY} {CODES}"] if mend else []
        return "\n\n".join([*parts, THANKS]) + "\n"

    def _opening(self, to_mend: int) -> str:
        week = f" for the week to {_day(self.week_ending)}" if self.week_ending else ""
        troop = f" of troop {self.troop}" if self.troop else ""
        came = f"; it came in on {_day(self.came_on)}" if self.came_on else ""
        thanks = f"thank you for the workbook{troop}{week} ({one_line(self.file_name)}{came})."
        if not to_mend:
            return f"{thanks} It reads well, and nothing needs mending."
        things = "One thing needs" if to_mend == 1 else f"{to_mend:,} things need"
        return f"{thanks} {things} mending before it can count:"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"


def _place(line: Line) -> str:
    return f"{line.where}: " if line.where else ""


def _sentence(line: Line) -> str:
    if line.is_note:
        return line.how
    return f"{'here stands' if line.cells else 'found'} {line.found}; expected is {line.expected}. {line.how}"


def _numbered(said: Sequence[str]) -> str:
    listed = [f"  {number}. {one_line(one)}" for number, one in enumerate(said[:MOST_SAID], 1)]
    more = len(said) - MOST_SAID
    return "\n".join([*listed, *([f"  and {more:,} more, which the copy lists."] if more > 0 else [])])


def of_preview(name: str, found: Preview, leader: str = "") -> Returned:
    """A workbook that was looked over and has not landed."""
    return Returned(name, found.findings, found.questions, found.troop, found.week_ending, leader, None, found.sheets)


def of_landed(figures: Figures, file_no: int, unit: str = "") -> Returned | None:
    """A file that landed, without its sheets; None where the viewer may not see all that it tells of."""
    file = figures.files.one(file_no, unit)
    if file is None:
        return None
    troop, week_ending = file["troop"], file["week_ending"]
    leader = next((row["leader"] or "" for row in figures.facts("troops", troop)), "") if troop else ""
    asked = questions(figures.rows("exceptions", week_ending, troop), file["name"]) if troop and week_ending else []
    names = ("sheet", "cell", "found", "expected", "how", "is_note")
    findings = [Finding(**{name: row[name] for name in names}) for row in figures.files.findings(file_no, unit)]
    return Returned(file["name"], findings, asked, troop, week_ending, leader, file["landed_at"].date())


def with_sheets(returned: Returned, book: Book, sha256: str) -> Returned:
    """The same with the cells of the landed file, read again by the guarded reader; raises Stop where it is gone."""
    path = book.landed_path(sha256)
    if not path.is_file():
        raise Stop("The file that came in is not kept any more.")
    with Reader() as reader:
        sheets = reader.read(path, returned.name).sheets
    return replace(returned, sheets=sheets)
