"""Sending a roll-up's letters, where the book names a mail server; without mail.toml nothing is ever sent.

Comes in: a book and the letters of a roll-up as they were made. Goes out: mail, and a line in sent.csv for each letter,
so that none goes twice.

This is the only module that speaks to a mail server.
"""

import csv
import email
import hashlib
import io
import json
import os
import smtplib
import ssl
import tomllib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid, parseaddr
from pathlib import Path
from typing import Literal

from filelock import FileLock, Timeout
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipelines.definitions.errors import Busy, Stop
from pipelines.reports.csv_tables import written
from pipelines.reports.week import file_name
from pipelines.store.book import Book, write_whole

PASSWORD = "MUSTERBOOK_MAIL_PASSWORD"  # noqa: S105 - the name of a variable
SENT_COLUMNS = ("sent_at", "week_ending", "troop", "to", "sha256")
HERE = ("localhost", "127.0.0.1", "::1")
WAIT_SECONDS = 30


class Server(BaseModel):
    """mail.toml: the server, how it is spoken to, and who the letters are from."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    server: str = Field(min_length=1)
    port: int = Field(587, ge=1, le=65535)
    security: Literal["starttls", "tls", "none"] = "starttls"
    sender: str = Field(pattern=r".+@.+")
    user: str = ""


@dataclass(frozen=True, slots=True)
class Letter:
    """One letter of a roll-up: its troop, its address ("" where none is known), its bytes as they were made."""

    troop: str
    to: str
    content: bytes

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def mail_server(book: Book) -> Server:
    """The server that mail.toml names; raises Stop where there is none, or naming each fault by its key."""
    path = book.mail
    if not path.is_file():
        raise Stop("This book names no mail server: write a mail.toml, or open the letters in your own mail program.")
    try:
        server = Server.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise Stop(f"mail.toml cannot be read: {fault}.") from fault
    except ValidationError as faults:
        told = "; ".join(f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in faults.errors())
        raise Stop(f"mail.toml needs mending: {told}.") from faults
    if server.security == "none" and server.server not in HERE:
        raise Stop("mail.toml: security: letters leave this machine only by TLS; write starttls or tls.")
    return server


def letters_of(book: Book, as_of: date, troops: Sequence[str] = ()) -> list[Letter]:
    """The letters of a week's roll-up; raises Stop where it is not made, or a troop has none."""
    folder = book.out / as_of.isoformat() / "letters"
    if not folder.parent.is_dir():
        raise Stop(
            f"The roll-up of {as_of.isoformat()} is not made yet: `musterbook rollup --week {as_of.isoformat()}`."
        )
    paths = {path.stem: path for path in sorted(folder.glob("*.eml"))}
    if not paths:
        raise Stop(f"{folder.parent} holds no letters. `musterbook rollup --week {as_of.isoformat()}` makes them.")
    lacking = [troop for troop in troops if file_name(troop) not in paths]
    if lacking:
        raise Stop(f"There is no letter for {', '.join(lacking)} in this roll-up. Nothing was sent.")
    wanted = {troop: file_name(troop) for troop in troops} or {stem: stem for stem in paths}
    made = [(troop, paths[stem].read_bytes()) for troop, stem in wanted.items()]
    return [Letter(troop, _to(content), content) for troop, content in made]


@contextmanager
def alone(book: Book) -> Iterator[None]:
    """Nobody else sends letters of this book meanwhile; raises Busy."""
    try:
        with FileLock(book.folder / ".sending-lock", timeout=0):
            if on_its_way(book) is None:  # written down as gone, and then the sender was broken off
                book.sending.unlink(missing_ok=True)
            yield
    except Timeout:
        raise Busy("Somebody is sending letters of this book now. Look again when that is done.") from None


def unsent(book: Book, letters: Sequence[Letter]) -> list[Letter]:
    """Those of the letters that have an address and did not go out before."""
    gone = {row["sha256"] for row in _sent(book)}
    return [letter for letter in letters if letter.to and letter.sha256 not in gone]


def on_its_way(book: Book) -> dict[str, str] | None:
    """The letter of which it is not known whether it went, since its sender was broken off; as in sent.csv."""
    try:
        told: dict[str, str] = json.loads(book.sending.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    if any(row["sha256"] == told["sha256"] for row in _sent(book)):
        return None
    return told


def settle(book: Book, *, went: bool) -> None:
    """What a person says of the letter on its way: it went, or it is to be sent (again)."""
    told = on_its_way(book)
    if told and went:
        _add_line(book, [told[name] for name in SENT_COLUMNS])
    book.sending.unlink(missing_ok=True)


def send(book: Book, as_of: date, letters: Sequence[Letter], tell: Callable[[str, int, int], None]) -> int:
    """Sends letters, each written down before and after; how many went. Raises Stop where the server refuses one."""
    server = mail_server(book)
    with _connected(server) as connection:
        for number, letter in enumerate(letters, 1):
            message = _ready(letter, server)
            at = datetime.now(UTC).isoformat(timespec="seconds")
            line = [at, as_of.isoformat(), letter.troop, letter.to, letter.sha256]
            write_whole(book.sending, json.dumps(dict(zip(SENT_COLUMNS, line, strict=True))))
            try:
                connection.send_message(message)
            except (smtplib.SMTPException, OSError) as fault:
                if isinstance(fault, smtplib.SMTPResponseException | smtplib.SMTPRecipientsRefused):
                    book.sending.unlink()  # it said no: the letter did not go
                raise Stop(
                    f"The mail server did not take the letter to {letter.to}: {fault}. {number - 1} went. {asked(book)}"
                ) from fault
            _add_line(book, line)
            book.sending.unlink()
            tell("Sending letters", number, len(letters))
    return len(letters)


def asked(book: Book) -> str:
    """Which letter may have gone, and what to say about it; nothing where none is on its way."""
    told = on_its_way(book)
    if told is None:
        return ""
    return (
        f"The letter of troop {told['troop']} to {told['to']} (week to {told['week_ending']}) may have gone: sending "
        "was broken off. Ask them or look at the mail server; then say --went, or --again to send it once more."
    )


def _to(content: bytes) -> str:
    message = email.message_from_bytes(content, policy=SMTP)
    return parseaddr(str(message["To"] or ""))[1]


def _ready(letter: Letter, server: Server) -> EmailMessage:
    """The draft as a letter: from somebody, dated, with a number of its own."""
    message = email.message_from_bytes(letter.content, policy=SMTP)
    assert isinstance(message, EmailMessage)  # noqa: S101 - that is what the policy makes
    del message["X-Unsent"]
    message["From"] = server.sender
    message["Date"] = format_datetime(datetime.now(UTC))
    message["Message-ID"] = make_msgid(domain=parseaddr(server.sender)[1].rpartition("@")[2])
    return message


@contextmanager
def _connected(server: Server) -> Iterator[smtplib.SMTP]:
    secure = ssl.create_default_context()
    try:
        if server.security == "tls":
            connection: smtplib.SMTP = smtplib.SMTP_SSL(
                server.server, server.port, timeout=WAIT_SECONDS, context=secure
            )
        else:
            connection = smtplib.SMTP(server.server, server.port, timeout=WAIT_SECONDS)
        if server.security == "starttls":
            connection.starttls(context=secure)
        if server.user:
            connection.login(server.user, os.environ.get(PASSWORD, ""))
    except (smtplib.SMTPException, OSError) as fault:
        raise Stop(f"The mail server {server.server} cannot be used: {fault}. Nothing was sent.") from fault
    with connection:
        yield connection


def _sent(book: Book) -> list[dict[str, str]]:
    path = _written(book)
    if not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row.get("sha256")]


def _add_line(book: Book, line: Sequence[str]) -> None:
    """A line more in sent.csv, certain before anything else is done; one that was broken off before is no line."""
    path = _written(book)
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    if not text:
        writer.writerow(SENT_COLUMNS)
    writer.writerow([written(value) for value in line])
    write_whole(path, text[: text.rfind("\n") + 1] + out.getvalue())


def _written(book: Book) -> Path:
    return book.sent
