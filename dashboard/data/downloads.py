"""What may be fetched, made at the moment it is asked for, on behalf of whoever asks.

Comes in: a sign-in and an address: /fetch/<what>?week=6&troop=0417. Goes out: the file, or that there is nothing. Every
figure comes through the same door as the screens'; there is no link that works by itself.
"""

import asyncio
import re
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from urllib.parse import parse_qs, quote

from dashboard.data import actions, readings, snapshots
from dashboard.data.answer import CSV, Answer
from dashboard.data.care import copied
from dashboard.data.viewers import viewer_of
from pipelines.accounts.accounts import SignIn
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import DOWNLOADS_OF_ALL
from pipelines.figures.figures import Relation
from pipelines.figures.viewer import Viewer
from pipelines.reports import before_season, looking_ahead, shown_for_it
from pipelines.reports.count_sheet import count_sheet
from pipelines.reports.csv_tables import table_text
from pipelines.reports.debts import debts_text
from pipelines.reports.findings_returned import of_landed, with_sheets
from pipelines.reports.form import form
from pipelines.reports.packing import packing_list
from pipelines.reports.rollup import week_of
from pipelines.reports.settlement import settlement
from pipelines.reports.stall_calendar import stalls_of
from pipelines.reports.statement import statement
from pipelines.reports.week import Week
from pipelines.reports.whole_folder import MARK
from pipelines.reports.zipped import folder_zipped, forms_zipped
from pipelines.workflow import looking_back

MAKING = ThreadPoolExecutor(DOWNLOADS_OF_ALL.at_once, "papers")
NOTHING = Answer(404, b"There is nothing here that you may fetch.")
COPY = "marked-up.xlsx"
LANDED = "landed"
BOOK = "book.tar"
FORMS = "forms.zip"
STALLS = "stalls.ics"
ICS = "text/calendar; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
TABLES: tuple[Relation, ...] = ("standing", "items", "families")
TABLE_PAPER = re.compile(rf"({'|'.join(TABLES)})\.csv")
AHEAD = {name: module for module in (looking_ahead, before_season) for name in module.PAPERS}
TROOP_PAPERS: dict[str, tuple[str, Callable[[Week, str], bytes], str]] = {
    STALLS: ("Stalls of troop {troop}.ics", stalls_of, ICS),
    "settlement.pdf": ("Settlement of troop {troop}, week {week}.pdf", settlement, "application/pdf"),
    "debts.csv": (
        "Debts handed over by troop {troop}, week {week}.csv",
        lambda week, troop: debts_text(week, troop).encode(),
        CSV,
    ),
    "statement.pdf": ("Statement of troop {troop}, week {week}.pdf", statement, "application/pdf"),
    "form.xlsx": (
        "Troop {troop}, week {next}.xlsx",
        lambda week, troop: form(week, troop, week.season.week_ending(week.week_no + 1)),
        XLSX,
    ),
    "count.pdf": ("Count sheet of troop {troop}, week {next}.pdf", count_sheet, "application/pdf"),
    "packing.pdf": ("Packing list of troop {troop}, week {week}.pdf", packing_list, "application/pdf"),
    "packing.csv": (
        "Packing list of troop {troop}, week {week}.csv",
        lambda week, troop: shown_for_it.table_text(week, "packing", troop).encode(),
        CSV,
    ),
}
ROLLED = re.compile(r"rollup/(\d{4}-\d{2}-\d{2}(?:-for-organisation)?)(?:/([\w./() -]+)|\.zip)")


def address(what: str, week: int, troop: str = "") -> str:
    """Where something is fetched."""
    return f"/fetch/{what}?week={week}" + (f"&troop={quote(troop)}" if troop else "")


def copy_address(file_no: int, unit: str) -> str:
    """Where the marked-up copy of a file that came in is fetched."""
    return f"/fetch/{COPY}?file={file_no}" + (f"&unit={quote(unit)}" if unit else "")


def landed_address(file_no: int) -> str:
    """Where a file is fetched as it came in."""
    return f"/fetch/{LANDED}?file={file_no}"


async def fetch(who: SignIn, path: str, query: str, asked_from: str) -> Answer:
    """The answer to somebody signed in; raises nothing: what they may not have is not there."""
    stated = {name: values[0] for name, values in parse_qs(query).items()}
    what = path.removeprefix("/fetch/")
    try:
        is_fresh = what == BOOK and snapshots.SHELF.access().is_fresh(who.mark)
        make = {COPY: _copy, LANDED: _landed, BOOK: _book if is_fresh else _nothing}.get(what, _made)
        loop = asyncio.get_running_loop()
        found = await loop.run_in_executor(MAKING, make, viewer_of(who), what, stated)
    except Stop:
        found = None
    if found is None:
        actions.note_refused(who.name, "download refused", what, asked_from)
        return NOTHING
    name, body, kind = found
    actions.note_of(who.name, "downloaded", name, asked_from)
    disposition = f"attachment; filename*=UTF-8''{quote(name)}"
    return Answer(200, body, kind, (("content-disposition", disposition), ("content-security-policy", "sandbox")))


def _made(viewer: Viewer, what: str, stated: Mapping[str, str]) -> tuple[str, bytes, str] | None:
    """A file's name, bytes and kind; None where there is none that this viewer may have."""
    week, troop = stated.get("week", ""), stated.get("troop", "")
    if viewer.troops is None and what == FORMS:
        return _forms(viewer, week)
    if viewer.troops is None and (rolled := ROLLED.fullmatch(what)):
        return _rolled(rolled[1], rolled[2] or "")
    as_of = _day(viewer, week)
    if as_of is None:
        return None
    with week_of(snapshots.book(), as_of, viewer=viewer) as paper:
        if table := TABLE_PAPER.fullmatch(what):
            return _table(paper, viewer, table[1])  # type: ignore[arg-type]
        if what in AHEAD:
            return _ahead(paper, viewer, what)
        return _of_troop(paper, what, troop)


def _of_troop(paper: Week, what: str, troop: str) -> tuple[str, bytes, str] | None:
    """A paper of one troop, or the calendar of all of them."""
    if what == STALLS and not troop and paper.figures.viewer.troops is None:
        return "Stalls.ics", stalls_of(paper), ICS
    if what not in TROOP_PAPERS or troop not in paper.standing:
        return None
    name, make, kind = TROOP_PAPERS[what]
    return name.format(troop=troop, week=paper.week_no, next=paper.week_no + 1), make(paper, troop), kind


def _forms(viewer: Viewer, number: str) -> tuple[str, bytes, str] | None:
    """Every troop's form of any week of the season, the first one too."""
    season = readings.season()
    if not number.isdecimal() or not 1 <= int(number) <= len(season.week_endings):
        return None
    with week_of(snapshots.book(), season.week_ending(int(number) - 1), viewer=viewer) as before:
        return f"Forms of week {int(number)}.zip", forms_zipped(before), "application/zip"


def _copy(viewer: Viewer, _what: str, stated: Mapping[str, str]) -> tuple[str, bytes, str] | None:
    """The marked-up copy of a landed file, made anew from its bytes by the guarded reader."""
    file_no, unit = _file_no(stated), stated.get("unit", "")
    with looking_back.figures(snapshots.book(), viewer) as figures:
        back, file = of_landed(figures, file_no, unit), figures.files.one(file_no, unit)
    if back is None or file is None:
        return None
    back = with_sheets(back, snapshots.book(), file["sha256"])
    return back.copy_name, back.copy(), XLSX


def _landed(viewer: Viewer, _what: str, stated: Mapping[str, str]) -> tuple[str, bytes, str] | None:
    """A file byte for byte as it landed, for who may see every troop that it tells of."""
    with looking_back.figures(snapshots.book(), viewer) as figures:
        file = figures.files.one(_file_no(stated))
    path = snapshots.book().landed_path(file["sha256"]) if file else None
    if file is None or path is None or not path.is_file():
        return None
    return file["name"].rpartition("/")[2], path.read_bytes(), "application/octet-stream"


def _nothing(_viewer: Viewer, _what: str, _stated: Mapping[str, str]) -> None:
    """What is not to be had."""


def _book(viewer: Viewer, _what: str, _stated: Mapping[str, str]) -> tuple[str, bytes, str] | None:
    """The whole book as one file, for the coordinator."""
    return copied() if viewer.troops is None else None


def _file_no(stated: Mapping[str, str]) -> int:
    """The file asked for; 0, which no file is, where none is named."""
    number = stated.get("file", "")
    return int(number) if number.isascii() and number.isdecimal() and len(number) < 10 else 0


def _table(paper: Week, viewer: Viewer, relation: Relation) -> tuple[str, bytes, str] | None:
    if viewer.troops is not None and not viewer.troops:
        return None
    text = table_text(paper.figures, relation, paper.as_of)
    return f"{relation} week {paper.week_no}.csv", text.encode(), CSV


def _ahead(paper: Week, viewer: Viewer, what: str) -> tuple[str, bytes, str] | None:
    """The outlook, a part of the plan or of the day of delivery, for the coordinator; None where there is none."""
    if viewer.troops is not None:
        return None
    module = AHEAD[what]
    made = module.one_paper(paper, what)
    ending = what.rpartition(".")[2]
    kind = {"pdf": "application/pdf", "csv": CSV}[ending]
    return (f"{module.PAPERS[what]}, week {paper.week_no}.{ending}", made, kind) if made else None


def _day(viewer: Viewer, week: str) -> date | None:
    """The published day of a week's number; the latest where none is named."""
    read = readings.reading_for(viewer)
    if not week:
        return read.as_of
    first: date = read.rules()["first_week_ending"]
    return next((day for day in read.days() if str((day - first).days // 7 + 1) == week), None)


def _rolled(week_ending: str, path: str) -> tuple[str, bytes, str] | None:
    """A file of a roll-up that was made, or the whole of it as a zip."""
    folder = (snapshots.book().out / week_ending).resolve()
    file = (folder / path).resolve()
    if not file.is_relative_to(folder) or folder.parent != snapshots.book().out.resolve():
        return None
    if not path and (folder / MARK).is_file():
        return f"Roll-up {week_ending}.zip", folder_zipped(folder), "application/zip"
    if not file.is_file():
        return None
    return file.name, file.read_bytes(), "application/octet-stream"
