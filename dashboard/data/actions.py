"""What the app does on behalf of whoever is signed in: taking in, writing down, drafts, sending, accounts.

Comes in: what was asked for on a screen. Goes out: what became of it. Each asks anew who the viewer is and raises Stop
where it is not theirs to do.
"""

import tempfile
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from dashboard.data import typed_week
from dashboard.data.readings import now, reading_for
from dashboard.data.snapshots import SHELF, book, viewer
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.records import Sheet
from pipelines.figures.figures import Fact
from pipelines.figures.viewer import Viewer
from pipelines.follow_up import decisions
from pipelines.follow_up.decisions import Entry
from pipelines.messages.finding_lines import lines
from pipelines.workflow import bank_statements, dismissing, drafts, foreign_files, take_in
from pipelines.workflow.bank_statements import Line
from pipelines.workflow.corrections import Corrections, corrected
from pipelines.workflow.drafts import Draft
from pipelines.workflow.foreign_files import Draft as ForeignDraft
from pipelines.workflow.foreign_files import Waiting
from pipelines.workflow.preview import Preview
from pipelines.workflow.take_in import Outcome

MAPPINGS_ARE = "How files from elsewhere are read is the coordinator's to say."
FACTS_OF_TROOPS: tuple[Fact, ...] = ("troops", "roster")


def take_files_in(paths: list[Any]) -> list[Outcome]:
    """Takes files in on behalf of the viewer, while others read and write; the next run shows what they changed.

    Raises Busy where another writer does not let go in time.
    """
    who = coordinator(
        "Files of any kind are taken in by the coordinator. Send your own troop's week on its own screen."
    )
    note("files sent", ", ".join(Path(path).name for path in paths))
    return take_in.ingest(book(), paths, who)


def answer(file_no: int, word: str) -> list[Outcome]:
    """Keeps an answer to what is asked about a held file, on behalf of the coordinator; raises Stop."""
    who = coordinator(MAPPINGS_ARE)
    note("answered", f"file {file_no}: {word}")
    return take_in.answer(book(), file_no, word, who)


def dismiss(file_no: int) -> None:
    """A file that nobody can read is asked about no more, on behalf of the coordinator; raises Stop."""
    who = coordinator(MAPPINGS_ARE)
    note("dismissed", f"file {file_no}")
    dismissing.dismiss(book(), file_no, who)


def waiting_files() -> list[Waiting]:
    """The files that wait for a mapping; raises Stop for anybody but the coordinator."""
    coordinator(MAPPINGS_ARE)
    return [one for one in foreign_files.waiting(book()) if not one.is_read]


def foreign_draft(file: Waiting) -> ForeignDraft | None:
    """The draft for a waiting file, or the mapping proposed, read once for each published state and kept draft."""
    coordinator(MAPPINGS_ARE)
    return _drafted(book().current_snapshot(), file, foreign_files.kept_as(book(), file))


@lru_cache(16)
def _drafted(_snapshot: Path, file: Waiting, _kept_as: str) -> ForeignDraft | None:
    return foreign_files.drafted(book(), file, foreign_files.hints(book()))


def said_of(file: Waiting, said: Corrections) -> None:
    """Keeps what the coordinator said of how a file is read, until it is confirmed or dropped; raises Stop."""
    coordinator(MAPPINGS_ARE)
    corrected(book(), file, foreign_files.hints(book()), said)


def drop_foreign_draft(file: Waiting) -> None:
    """Throws away what was said of how a file is read."""
    coordinator(MAPPINGS_ARE)
    foreign_files.drop(book(), file)


def kept_as(file: Waiting) -> str:
    """By what the draft that is kept for a file is told from any other of its drafts."""
    coordinator(MAPPINGS_ARE)
    return foreign_files.kept_as(book(), file)


def confirmed_mappings() -> dict[str, str]:
    """The mappings that are in use, by name, each with its table."""
    coordinator(MAPPINGS_ARE)
    return foreign_files.in_use(book())


def take_mapping_back(name: str) -> tuple[str, ...]:
    """Uses a mapping for no more files; what became of it, in sentences; raises Stop."""
    who = coordinator(MAPPINGS_ARE)
    note("mapping taken back", name)
    return foreign_files.take_back(book(), name, who).said


def confirm_mapping(draft: ForeignDraft) -> list[Outcome]:
    """Keeps a mapping on behalf of the coordinator and tries again what is held; raises Stop."""
    who = coordinator(MAPPINGS_ARE)
    note("mapping confirmed", f"{draft.name} for {draft.file.name}")
    return foreign_files.confirm(book(), draft, who)


def coordinator(refused: str) -> str:
    """The name of whoever asks, where it is the coordinator; raises Stop with what is said to anybody else."""
    who = viewer()
    if who.troops is not None:
        raise Stop(refused)
    return who.name


def bank_lines(payload: bytes, name: str, troop: str) -> list[Line]:
    """The lines of a bank's statement as they are shown before any is kept; raises Stop where they are another's."""
    who = viewer()
    _troop_of(who, [troop] if troop else [])
    with tempfile.TemporaryDirectory(prefix="musterbook-statement-") as folder:
        path = Path(folder) / "statement"
        path.write_bytes(payload)
        return bank_statements.lines_of(book(), path, name, troop=troop, own=who.troops)[0]


def keep_bank_lines(chosen: list[Line]) -> int:
    """Takes the chosen lines in on behalf of the viewer; how many. Raises Stop where one is of another's account."""
    who = viewer()
    _troop_of(who, [one.troop for one in chosen])
    kept = bank_statements.keep(book(), chosen, who.name)
    note("lines of a bank kept", ", ".join(sorted({one.troop for one in chosen})))
    return kept.rows


def _troop_of(who: Viewer, troops: list[str]) -> None:
    """Raises Stop where somebody speaks of a troop that is not theirs, or sees sums of the area alone."""
    if who.sees_area and not who.troops:
        raise Stop("Lines of a bank are kept by the coordinator and the troop's leader.")
    if who.troops is not None and not set(troops) <= who.troops:
        raise Stop("This is not the account of a troop of yours.")


def write_down(entries: list[Entry]) -> int:
    """Writes down what was said about exceptions, as of the week chosen; how many entries were new.

    Raises Stop where an entry lacks something, or for anybody but the coordinator.
    """
    who = coordinator("Notes and promises are written down by the coordinator.")
    if now().known_on:
        raise Stop("You are looking back. Notes and promises belong to the newest figures: go back to them first.")
    note("followed up", ", ".join(sorted({str(one.key) for one in entries})))
    return decisions.write(book(), who, now().as_of, entries)


def access() -> Access:
    """The accounts of the book, for the coordinator's screen; raises Stop for anybody else."""
    coordinator("Who may sign in is the coordinator's to say.")
    return SHELF.access()


def may_change_accounts() -> bool:
    """Whether the coordinator has signed in so lately that accounts may be changed."""
    return SHELF.is_fresh()


def note(what: str, about: str = "") -> None:
    """Writes down in the log what the person signed in does."""
    SHELF.access().store.note(viewer().name, what, about)


def note_of(name: str, what: str, about: str = "", address: str = "") -> None:
    """Writes down in the log what somebody does outside of the app's own runs."""
    SHELF.access().store.note(name, what, about, address)


def note_refused(who: str, what: str, about: str, address: str) -> None:
    """Writes down a refusal; those alike that follow are counted."""
    SHELF.access().store.note_refused(what, about, address, who=who)


def _own(troop: str) -> str:
    """The name of whoever asks, where the troop is theirs; raises Stop where it is not, whether or not it exists."""
    who = viewer()
    if who.troops is None or troop not in who.troops:
        raise Stop("This is no troop of yours.")
    return who.name


def draft(troop: str, week_ending: date) -> Draft:
    """The week that a troop is filling in: its draft, else what was sent, else empty rows for all that is known."""
    return typed_week.draft(now(), troop, week_ending)[0]


def is_kept(troop: str, week_ending: date) -> bool:
    """Whether there is a draft of a troop's week."""
    return typed_week.draft(now(), troop, week_ending)[1]


def drop_draft(troop: str, week_ending: date, *, only: int | None = None) -> None:
    """Throws a draft away, or `only` where it is of this version; what was sent stays."""
    drafts.drop(SHELF.access().store, troop, week_ending, _own(troop), only=only)


def look_over(given: Path | list[Sheet], name: str) -> Preview:
    """A workbook judged before it is sent. Raises Stop where it is not a week of a troop of the viewer's.

    The same is said whether it is another troop's, or nobody's: it tells nothing of troops that are not the viewer's.
    """
    who = viewer()
    landed = SHELF.send_queue().lately(who.troops or frozenset())  # before what is published: nothing falls between
    with book().holding() as snapshot:
        found = SHELF.look_overs().look_over(who.name, book().season(), _known_troops(), given, name, snapshot, landed)
    if found.what == "unknown" and found.is_held:
        raise Stop(f"This file cannot be used: {lines(found.findings)[0].told()}")
    if found.what != "submission":
        raise Stop(
            "This file is no workbook of a troop's week. Fetch this week's form under Our papers and fill it in."
        )
    if who.troops is None or found.troop not in who.troops:
        raise Stop("This workbook's Cover does not name a troop of yours. Look at the code beside Troop.")
    return found


def send_week(payload: bytes, name: str, troop: str, week_ending: date, found: Preview | None = None) -> Outcome:
    """Takes a troop's workbook in on behalf of its leader; raises Stop where it speaks of another troop.

    It is certain by then; the figures with it follow, see `follows`. `found`: what the workbook says, as it was judged;
    until the figures are there, a correction is compared with it.
    """
    who = viewer()
    if not who.troops:
        raise Stop("Only a troop's leader sends its week here.")
    outcome = SHELF.send_queue().send(payload, name, who.name, who.troops, (troop, week_ending), found)
    note("week sent", f"{name}: {outcome.status}")
    return outcome


def follows(troop: str, week_ending: date) -> bool:
    """Whether a troop's week has come in, and the figures with it are still being made."""
    _own(troop)
    return SHELF.send_queue().follows((troop, week_ending))


def _known_troops() -> list[str]:
    """The codes of all troops, which a file is judged by; never shown."""
    everybody = reading_for(Viewer("judging"))
    return sorted({row["troop"] for fact in FACTS_OF_TROOPS for row in everybody.facts(fact)})
