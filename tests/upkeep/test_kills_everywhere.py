"""Every command killed before every one of its file operations: the next command finishes it or it is as never begun.

Then the same command again, then `verify`; what is there is what an undisturbed run leaves. A few of the kills here;
all of them with MUSTERBOOK_KILLS=10000 (some 350, half an hour).
"""

import csv
import os
import shutil
import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from kills import Runner, runner
from statements import Booked, ofx_1
from trial import FEEDS, W1, Trial
from typed_commands import Done
from typed_commands import typed as run_typed

from pipelines.accounts.accounts import Access
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import table_text
from pipelines.store.book import Book
from pipelines.workflow import looking_back

BANKED = "troop week_ending date amount slip\n0417 2027-02-14 2027-02-13 80.00 S1"
STOCK = "troop week_ending item on_hand\n0417 2027-02-14 GLA {}"
RECEIPTS = """
Receipt no;Unit;Product;Shipped on;Pieces;Movement type
R1;0417;GLA;2027-02-09;24;depot
R2;0031;GLA;2027-02-09;12;depot
"""
TWICE = "item troop week_ending on_hand\nGLA 0031 2027-02-14 7\nGLA 0031 2027-02-14 7"
STALLS = {
    "places": "place title prime\nGATE Garden~gate yes",
    "slots": "slot place date start end troop state state_on\nF1 GATE 2027-02-27 09:00 11:00 - open 2027-02-01",
    "wishes": "troop rank slot\n0417 1 F1\n0031 1 F1",
}
SUPPLY = "document troop item date packages kind\nD1 0417 GLA 2027-02-08 120 opening"
NOT_COMPARED = (".duckdb", ".reading")  # named by the time they were made
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:aiosmtpd.*")

KILLS = int(os.environ.get("MUSTERBOOK_KILLS", "8"))  # of all commands together


@dataclass(frozen=True)
class Command:
    """What is typed, and how it may end when it is typed again after a kill: it may have been done already."""

    typed: tuple[str, ...]
    again: tuple[tuple[str, ...], ...] = ()
    done_already: str = "\0"  # said where it was done before the kill
    before: tuple[tuple[str, ...], ...] = field(default=())  # commands run first, undisturbed
    then: tuple[str, ...] = ()  # the next command on the book that it makes


CLOSE = ("close", "0417", "--freeze", "--anyway", "--week", "1")
COMMANDS = {
    "new": Command(("new", "{folder}/fresh"), done_already="is not empty"),
    "ingest": Command(("ingest", "--book", "{book}", "{folder}/more")),
    "follow-up": Command(("follow-up", "no_contact/0031", "--promise", "2027-03-01", "--book", "{book}")),
    "rollup": Command(("rollup", "--week", "1", "--book", "{book}")),
    "backup": Command(("backup", "{folder}/copy.tar", "--book", "{book}"), done_already="there already"),
    "restore": Command(
        ("restore", "{folder}/copy.tar", "{folder}/back"),
        done_already="is not empty",
        before=(("backup", "{folder}/copy.tar", "--book", "{book}"),),
        then=("verify", "--book", "{folder}/back"),
    ),
    "rebuild": Command(("rebuild", "--book", "{book}")),
    "purge": Command(("purge", "--early", "--yes", "--book", "{book}"), done_already="season is over"),
    "map": Command(
        ("map", "receipts.csv", "--table", "supply", "--confirm", "--book", "{book}"), done_already="no file"
    ),
    "answer": Command(("answer", "{doubled}", "once", "--book", "{book}"), done_already="waits for nothing"),
    "dismiss": Command(("dismiss", "stall.jpg", "--book", "{book}"), done_already="No file stall.jpg waits"),
    "bank": Command(
        ("bank", "{folder}/march.ofx", "--keep", "1", "--troop", "0417", "--book", "{book}"),
        done_already="No line is chosen",
    ),
    "form": Command(("form", "--week", "2", "--book", "{book}")),
    "access": Command(
        ("access", "add", "Ana", "--role", "leader", "--troop", "0417", "--book", "{book}"), done_already="already"
    ),
    "close": Command((*CLOSE, "--book", "{book}")),
    "carry": Command(("carry", "{folder}/next", "--people", "bea", "--book", "{book}"), done_already="is not empty"),
    "stalls": Command(
        ("stalls", "--draw", "7", "--keep", "--week", "1", "--book", "{book}"), done_already="nothing to give"
    ),
    "region rollup": Command(
        ("region", "rollup", "{book}/out", "--out", "{folder}/region"),
        before=(("rollup", "--week", "1", "--book", "{book}"),),
    ),
    "send": Command(
        ("send", "--week", "1", "--yes", "--book", "{book}"),
        again=(("send", "--week", "1", "--yes", "--again", "--book", "{book}"),),
        before=(("rollup", "--week", "1", "--book", "{book}"),),
    ),
}


class Box:
    """A mail server that counts."""

    def __init__(self) -> None:
        self.taken: list[str] = []

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - the server's name
        self.taken += envelope.rcpt_tos
        return "250 kept"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Runner, Path, Box]]:
    """A book of one week, files that may come next, a mail server; what runs commands on copies of it."""
    folder = tmp_path_factory.mktemp("kills")
    trial = Trial(folder)
    mails = "troop level email\n0417 younger ana@example.org\n0031 older bo@example.org"
    trial.send(**FEEDS | STALLS | {"troops": mails}, supply=SUPPLY, stock=STOCK.format(100))
    photo, receipts = folder / "stall.jpg", folder / "receipts.csv"
    photo.write_bytes(b"\xff\xd8\xff\xe0 a picture")
    receipts.write_text(RECEIPTS.lstrip(), encoding="utf-8")
    trial.take_in(photo, receipts)
    (doubled,) = trial.send(stock=TWICE)
    assert doubled.status == "held"
    base = folder / "base"
    base.mkdir()
    Access(trial.book.folder).add("bea", "coordinator", by="tests")
    trial.book.folder.rename(base / "book")
    (base / "doubled").write_text(str(doubled.file_no), encoding="utf-8")
    (base / "march.ofx").write_bytes(ofx_1([Booked("b1", "2027-02-13", "80.00", "COUNTER")]))
    more = base / "more"
    more.mkdir()
    for name, text in (("banked", BANKED), ("stock", STOCK.format(90))):
        (more / f"{name}.csv").write_text(text.replace(" ", ","), encoding="utf-8")
    box = Box()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = Controller(box, hostname="127.0.0.1", port=port)
    server.start()
    (base / "book" / "mail.toml").write_text(
        f'server = "127.0.0.1"\nport = {port}\nsecurity = "none"\nsender = "a@example.org"\n', encoding="utf-8"
    )
    with runner(folder / "at-work-here") as runs:
        yield runs, base, box
    server.stop()


def begin(place: tuple[Runner, Path, Box], command: Command) -> Callable[[tuple[str, ...]], tuple[str, ...]]:
    """A fresh copy of the book, the commands before run; how what is typed reads in it."""
    runs, base, box = place
    shutil.rmtree(runs.folder, ignore_errors=True)
    began = base.with_name("-".join(["base", *(words[0] for words in command.before)]))
    shutil.copytree(began if began.is_dir() else base, runs.folder)
    box.taken.clear()

    def typed(words: tuple[str, ...]) -> tuple[str, ...]:
        doubled = (base / "doubled").read_text(encoding="utf-8")
        return tuple(word.format(book=runs.folder / "book", folder=runs.folder, doubled=doubled) for word in words)

    if not began.is_dir():
        for words in command.before:
            assert runs.run(typed(words)).status in (0, 1)
        shutil.copytree(runs.folder, began)
    return typed


def state(folder: Path) -> dict[str, Any]:
    """What a run leaves, but for times and names made of them."""
    book = Book(folder / "book")
    with looking_back.figures(book, COORDINATOR, W1) as figures:
        tables = {name: table_text(figures, name, W1) for name in ("standing", "items", "families")}
    with book.reading() as con:
        tables["files"] = sorted(con.execute("select name, sha256, what from landed.files").fetchall())
        tables["written"] = sorted(con.execute("select rule, troop, subject, kind from landed.follow_ups").fetchall())
        tables["agreed"] = sorted(
            con.execute("select kind, troop, about, words from landed.agreements").fetchall(), key=str
        )
    left = {
        path.relative_to(folder).parts[:3]
        for path in folder.rglob("*")
        if path.is_file() and path.suffix not in NOT_COMPARED and not path.name.startswith("access.sqlite-")
    }
    sent = [*csv.DictReader(book.sent.read_text(encoding="utf-8").splitlines())] if book.sent.is_file() else []
    for one in (book, Book(folder / "next")):
        people = Access(one.folder).people() if (one.folder / "access.sqlite").is_file() else []
        tables[f"accounts of {one.folder.name}"] = sorted((p.name, p.role, p.troops, p.withdrawn) for p in people)
    return tables | {"left": sorted(left), "sent": sorted(row["to"] for row in sent)}


def verified(book: Path) -> Done:
    """The book proved, by this process: its guarded readers stay, and nothing is killed here."""
    return run_typed("verify", "--book", str(book), "--json")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_killed_command_is_finished_or_undone(place: tuple[Runner, Path, Box], name: str) -> None:
    runs, _base, box = place
    command = COMMANDS[name]
    typed = begin(place, command)
    whole = runs.run(typed(command.typed))
    assert whole.status in (0, 1), whole.said
    if command.then:
        assert runs.run(typed(command.then)).status == 0
    left = state(runs.folder)
    many = max(1, KILLS // len(COMMANDS))
    step = max(1, whole.operations // many)
    for kill_at in range(1 + step // 2 if step > 1 else 1, whole.operations + 1, step):
        typed = begin(place, command)
        killed = runs.run(typed(command.typed), kill_at)
        assert killed.status == -9, (name, kill_at, killed.said)
        again = runs.run(typed(command.typed))
        for words in command.again:
            if "may have gone" in again.said:
                assert again.status == 2
                again = runs.run(typed(words))
        assert again.status == whole.status or command.done_already in again.said, (name, kill_at, again.said)
        proved = verified(runs.folder / "book")
        assert proved.returncode == 0, (name, kill_at, proved.stdout, proved.stderr)
        if command.then:
            assert runs.run(typed(command.then)).status == 0, (name, kill_at)
        assert state(runs.folder) == left, (name, kill_at)
        if name == "send":  # only the letter that was asked about may have gone twice
            assert len(box.taken) <= len(left["sent"]) + 1
