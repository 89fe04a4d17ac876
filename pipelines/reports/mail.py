"""Sending a roll-up's letters, where the book names a mail server; without mail.toml nothing is ever sent.

Comes in: a book and the letters of a roll-up as they were made. Goes out: mail, and a line in sent.csv for each letter,
so that none goes twice.

This is the only module that speaks to a mail server.
"""

import csv
import email
import hashlib
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

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipelines.definitions.errors import Stop
from pipelines.reports.week import file_name
from pipelines.store.book import Book

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
    path = book.folder / "mail.toml"
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
    lacking = [troop for troop in troops if file_name(troop) not in paths]
    if lacking:
        raise Stop(f"There is no letter for {', '.join(lacking)} in this roll-up. Nothing was sent.")
    wanted = {troop: file_name(troop) for troop in troops} or {stem: stem for stem in paths}
    made = [(troop, paths[stem].read_bytes()) for troop, stem in wanted.items()]
    return [Letter(troop, _to(content), content) for troop, content in made]


def unsent(book: Book, letters: Sequence[Letter]) -> list[Letter]:
    """Those of the letters that have an address and did not go out before."""
    gone = {row["sha256"] for row in _sent(book)}
    return [letter for letter in letters if letter.to and letter.sha256 not in gone]


def send(book: Book, as_of: date, letters: Sequence[Letter], tell: Callable[[str, int, int], None]) -> int:
    """Sends letters, each written down as soon as the server has it; how many went. Raises Stop where it refuses."""
    server = mail_server(book)
    with _connected(server) as connection:
        for number, letter in enumerate(letters, 1):
            message = _ready(letter, server)
            try:
                connection.send_message(message)
            except (smtplib.SMTPException, OSError) as fault:
                raise Stop(
                    f"The mail server did not take the letter to {letter.to}: {fault}. {number - 1} went."
                ) from fault
            _write_down(book, as_of, letter)
            tell("Sending letters", number, len(letters))
    return len(letters)


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
        return list(csv.DictReader(lines))


def _write_down(book: Book, as_of: date, letter: Letter) -> None:
    path = _written(book)
    is_new = not path.exists()
    with path.open("a", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        if is_new:
            writer.writerow(SENT_COLUMNS)
        at = datetime.now(UTC).isoformat(timespec="seconds")
        writer.writerow([at, as_of.isoformat(), letter.troop, letter.to, letter.sha256])


def _written(book: Book) -> Path:
    return book.folder / "sent.csv"
