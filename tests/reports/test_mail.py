"""Letters leave only through a server that the book names, once each; the server here is a real one on loopback."""

import email
import email.policy
import shutil
import smtplib
import socket
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from trial import W1, Trial
from typer.testing import CliRunner, Result

from pipelines.cli import app
from pipelines.definitions.errors import Busy, Stop
from pipelines.reports import mail
from pipelines.reports.mail import mail_server
from pipelines.upkeep import copies

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:aiosmtpd.*")


class Box:
    """What a mail server took; it refuses letters to `refused`."""

    def __init__(self) -> None:
        self.letters: list[tuple[str, list[str], EmailMessage]] = []
        self.refused = ""

    async def handle_RCPT(self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any) -> str:  # noqa: N802
        if address == self.refused:
            return "550 no such box"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - the server's name
        message = email.message_from_bytes(envelope.content, policy=email.policy.default)
        assert isinstance(message, EmailMessage)
        self.letters.append((envelope.mail_from, envelope.rcpt_tos, message))
        return "250 kept"


@pytest.fixture
def box() -> Iterator[tuple[Box, int]]:
    """A mail server on loopback, and its port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    kept = Box()
    server = Controller(kept, hostname="127.0.0.1", port=port)
    server.start()
    yield kept, port
    server.stop()


@pytest.fixture(scope="module")
def rolled_once(known_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A roll-up of a week that two of three troops, with addresses, did not send; nobody writes in it."""
    trial = Trial(tmp_path_factory.mktemp("rolled"))
    trial.begin_with(known_book)
    trial.send(
        troops="""
            troop  level    leader      email
            0417   younger  Ana~Petrova ana@example.org
            0031   older    -           bo@example.org
            1282   older    Cy          -""",
        stock=f"troop week_ending item on_hand\n0417 {W1.isoformat()} GLA 4",
    )
    run(trial, "rollup", "--week", "1")
    return trial


@pytest.fixture
def rolled(rolled_once: Trial, tmp_path: Path) -> Trial:
    """A copy of it to write in."""
    return rolled_once.copied_to(tmp_path)


def run(trial: Trial, command: str, *typed: str) -> Result:
    return CliRunner().invoke(app, [command, "--book", str(trial.book.folder), *typed])


def name_server(trial: Trial, port: int, **more: str) -> None:
    stated = {"server": "127.0.0.1", "security": "none", "sender": "Test area <area@example.org>", **more}
    lines = [f'{key} = "{value}"' for key, value in stated.items()]
    (trial.book.folder / "mail.toml").write_text("\n".join([*lines, f"port = {port}"]), encoding="utf-8")


def test_nothing_is_sent_without_a_mail_server_in_the_book(rolled: Trial, box: tuple[Box, int]) -> None:
    done = run(rolled, "send", "--week", "1", "--yes")
    assert isinstance(done.exception, Stop)
    assert "names no mail server" in str(done.exception)
    assert box[0].letters == []


def test_letters_go_once_each_with_the_statement_and_are_written_down(rolled: Trial, box: tuple[Box, int]) -> None:
    kept, port = box
    name_server(rolled, port)
    done = run(rolled, "send", "--week", "1", "--yes")
    assert done.exit_code == 1  # one troop has no address
    assert done.output == "2 letters sent.\nWithout an address in the troops feed: 1282.\n"
    taken = {to[0]: message for _sender, to, message in kept.letters}
    assert set(taken) == {"ana@example.org", "bo@example.org"}
    ana = taken["ana@example.org"]
    assert (ana["From"], ana["X-Unsent"]) == ("Test area <area@example.org>", None)
    assert ana["Date"]
    assert ana["Message-ID"].endswith("@example.org>")
    statement = rolled.book.out / W1.isoformat() / "statements" / "0417.pdf"
    assert next(ana.iter_attachments()).get_content() == statement.read_bytes()
    assert (rolled.book.folder / "sent.csv").read_text(encoding="utf-8").count("example.org") == 2
    assert run(rolled, "send", "--week", "1", "--yes").output.startswith("0 letters sent, 2 had gone before.")
    assert len(kept.letters) == 2


def test_what_the_server_refuses_can_be_sent_later_and_the_rest_is_not_sent_twice(
    rolled: Trial, box: tuple[Box, int]
) -> None:
    kept, port = box
    name_server(rolled, port)
    kept.refused = "ana@example.org"
    done = run(rolled, "send", "--week", "1", "--yes")
    assert isinstance(done.exception, Stop)
    assert "did not take the letter to ana@example.org" in str(done.exception)
    kept.refused = ""
    run(rolled, "send", "--week", "1", "--yes")
    assert sorted(to[0] for _sender, to, _message in kept.letters) == ["ana@example.org", "bo@example.org"]


def test_a_pipe_must_say_yes(rolled: Trial, box: tuple[Box, int]) -> None:
    name_server(rolled, box[1])
    done = run(rolled, "send", "--week", "1")
    assert "Say --yes" in str(done.exception)
    assert box[0].letters == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('server = "mail.example.org"\nsender = "a@example.org"\nsecurity = "none"', "leave this machine only by TLS"),
        ('server = "mail.example.org"', "sender"),
        ('server = "mail.example.org"\nsender = "a@b.org"\nport = 0', "port"),
        ("server = ", "cannot be read"),
    ],
)
def test_a_mail_toml_that_will_not_do(trial: Trial, text: str, said: str) -> None:
    (trial.book.folder / "mail.toml").write_text(text, encoding="utf-8")
    with pytest.raises(Stop, match=said):
        mail_server(trial.book)


def test_a_server_that_is_not_there(rolled: Trial) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, but nobody listens
        name_server(rolled, taken.getsockname()[1])
        done = run(rolled, "send", "--week", "1", "--yes")
    assert "cannot be used" in str(done.exception)
    assert not Path(rolled.book.folder / "sent.csv").exists()


def test_a_letter_that_may_have_gone_is_asked_about(rolled: Trial, box: tuple[Box, int]) -> None:
    """The sender was broken off after the server had the letter and before it was written down."""
    kept, port = box
    name_server(rolled, port)
    letters = mail.letters_of(rolled.book, W1, ["0031"])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(mail, "_add_line", broken_off)
        with pytest.raises(KeyboardInterrupt):
            mail.send(rolled.book, W1, letters, lambda *_told: None)
    assert len(kept.letters) == 1
    asked = run(rolled, "send", "--week", "1", "--yes")
    assert "The letter of troop 0031 to bo@example.org (week to 2027-02-14) may have gone" in str(asked.exception)
    assert len(kept.letters) == 1
    run(rolled, "send", "--week", "1", "--yes", "--went")
    assert [to[0] for _sender, to, _message in kept.letters] == ["bo@example.org", "ana@example.org"]


def broken_off(*_told: object) -> None:
    raise KeyboardInterrupt


def test_a_letter_whose_server_went_away_may_go_again(rolled: Trial, box: tuple[Box, int]) -> None:
    kept, port = box
    name_server(rolled, port)
    letters = mail.letters_of(rolled.book, W1, ["0031"])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(smtplib.SMTP, "send_message", went_away)
        with pytest.raises(Stop, match=r"0 went\. The letter of troop 0031 .* may have gone"):
            mail.send(rolled.book, W1, letters, lambda *_told: None)
    run(rolled, "send", "--week", "1", "--yes", "--again")
    assert sorted(to[0] for _sender, to, _message in kept.letters) == ["ana@example.org", "bo@example.org"]


def went_away(*_given: object) -> None:
    raise smtplib.SMTPServerDisconnected("Connection unexpectedly closed")


def test_two_do_not_send_at_once(rolled: Trial, box: tuple[Box, int]) -> None:
    name_server(rolled, box[1])
    with mail.alone(rolled.book):
        done = run(rolled, "send", "--week", "1", "--yes")
    assert isinstance(done.exception, Busy)
    assert box[0].letters == []


def test_a_copy_knows_which_letters_went(rolled: Trial, box: tuple[Box, int]) -> None:
    """Brought back, it sends none of them a second time."""
    kept, port = box
    name_server(rolled, port)
    run(rolled, "send", "--week", "1", "--yes")
    copies.restore(copies.backup(rolled.book, rolled.folder / "copy.tar").path, rolled.folder / "back")
    done = CliRunner().invoke(app, ["send", "--week", "1", "--yes", "--book", str(rolled.folder / "back")])
    assert done.output.startswith("0 letters sent, 2 had gone before.")
    assert len(kept.letters) == 2


def test_a_copy_knows_which_letter_may_have_gone(rolled: Trial, box: tuple[Box, int]) -> None:
    """Brought back, it asks about it as the book does."""
    name_server(rolled, box[1])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(mail, "_add_line", broken_off)
        with pytest.raises(KeyboardInterrupt):
            mail.send(rolled.book, W1, mail.letters_of(rolled.book, W1, ["0031"]), lambda *_told: None)
    copies.restore(copies.backup(rolled.book, rolled.folder / "copy.tar").path, rolled.folder / "back")
    done = CliRunner().invoke(app, ["send", "--week", "1", "--yes", "--book", str(rolled.folder / "back")])
    assert "The letter of troop 0031 to bo@example.org (week to 2027-02-14) may have gone" in str(done.exception)
    assert len(box[0].letters) == 1


def test_a_line_that_was_broken_off_is_no_line(rolled: Trial, box: tuple[Box, int]) -> None:
    name_server(rolled, box[1])
    rolled.book.sent.write_text(",".join(mail.SENT_COLUMNS) + "\n2027-02-15T08:00", encoding="utf-8")
    run(rolled, "send", "--week", "1", "--yes")
    assert len(mail._sent(rolled.book)) == 2


def test_a_roll_up_without_letters_says_so(rolled: Trial, box: tuple[Box, int]) -> None:
    name_server(rolled, box[1])
    shutil.rmtree(rolled.book.out / W1.isoformat() / "letters")
    assert "holds no letters" in str(run(rolled, "send", "--week", "1", "--yes").exception)


def test_what_a_person_put_beside_the_papers_stays(rolled: Trial) -> None:
    """A new roll-up replaces its own papers and nothing else."""
    folder = rolled.book.out / W1.isoformat()
    own = folder / "letters" / "my notes.txt"
    own.write_text("call Bo", encoding="utf-8")
    (folder / "letters" / "0417.eml").write_text("altered", encoding="utf-8")
    run(rolled, "rollup", "--week", "1")
    assert own.read_text(encoding="utf-8") == "call Bo"
    assert (folder / "letters" / "0417.eml").read_text(encoding="utf-8") != "altered"


def test_no_text_of_what_was_sent_is_run_by_a_spreadsheet(trial: Trial) -> None:
    mail._add_line(trial.book, ("2027-02-15", "2027-02-14", "=1+1", "+49@example.org", "abc"))
    line = trial.book.sent.read_text(encoding="utf-8").splitlines()[1]
    assert line == "2027-02-15,2027-02-14,'=1+1,'+49@example.org,abc"
