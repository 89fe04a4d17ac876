"""Who may come in: accounts with a role, personal codes, sign-ins, one-time links.

Comes in: names and codes as typed, cookies. Goes out: a SignIn, or why not. A code is shown once and kept only as
Argon2; cookies and links hold 256 random bits and are kept only as SHA-256. Every question is
answered from the file itself, so that a change works on the next request.

A name and a code, so that waits can be counted by account, and so that the name can be withdrawn. An unknown name takes
one Argon2 hash as well, waits the same, gets the same page. A restored copy of a book has no open sign-ins; codes work
as they did when it was made, so look at `access list`.
"""

import json
import re
import secrets
import sqlite3
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast, get_args

from pipelines.accounts import throttle
from pipelines.accounts.account_store import Store, append
from pipelines.accounts.codes import digest, fits, new_code, nobody, plain_code
from pipelines.definitions.errors import Stop

Role = Literal["coordinator", "leader", "viewer"]
ROLES = get_args(Role)
IDLE_SECONDS = 12 * 3600.0  # a leader signs in once a day at most
IDLE_SECONDS_OF_A_COORDINATOR = 2 * 3600.0  # who sees everything, on a machine that others may come to
FRESH_SECONDS = 15 * 60.0  # since signing in, for what changes accounts
LONGEST_SECONDS = 7 * 24 * 3600.0  # once a week whatever happens
LINK_SECONDS = 30 * 60.0
SEEN_EVERY = 60.0  # seconds between two notes of when somebody was last seen
IS_OPEN = "s.seen_at > iif(p.role = 'coordinator', ?, ?) and s.made_at > ?"  # of a sign-in s of a person p
NAME = re.compile(r"[a-z0-9][a-z0-9._@+-]{0,79}")


@dataclass(frozen=True, slots=True)
class Person:
    """One account."""

    name: str
    role: Role
    troops: tuple[str, ...]
    email: str | None
    has_code: bool
    withdrawn: bool
    sign_ins: int = 0


@dataclass(frozen=True, slots=True)
class SignIn:
    """A sign-in that holds now: its mark (not its cookie), who it is and what they may see."""

    mark: str
    name: str
    role: Role
    troops: tuple[str, ...]
    version: int


@dataclass(frozen=True, slots=True)
class Refused:
    """Why nobody came in; `wait` seconds must pass before the next try."""

    wait: float = 0.0


class Access:
    """The accounts of one book."""

    def __init__(self, folder: Path) -> None:
        self.store = Store(folder)

    # accounts

    def people(self) -> list[Person]:
        """Every account, those withdrawn last."""
        open_ = self._open_since()
        found = self.store.rows(
            "select p.*, (select count(*) from sign_ins s "  # noqa: S608 - ours
            "where s.person_no = p.person_no and s.version = p.version "
            f"and {IS_OPEN}) as sign_ins from people p order by withdrawn_at is not null, name",
            *open_,
        )
        return [_person(row) for row in found]

    def person(self, name: str) -> Person | None:
        """One account by its name."""
        return next((one for one in self.people() if one.name == _named(name)), None)

    def add(self, name: str, role: str, troops: Iterable[str] = (), *, by: str, email: str | None = None) -> str:
        """Makes an account, or opens a withdrawn one again; its code, which is shown this once."""
        name, listed = _named(name), _troops(role, troops)
        code, hashed = new_code()
        with self.store.writing() as con:
            known = con.execute("select withdrawn_at from people where name = ?", (name,)).fetchone()
            if known and known[0] is None:
                raise Stop(f"There is an account {name} already. Withdraw it first, or issue it a new code.")
            _refuse_taken(con, email, name)
            con.execute(
                "insert into people (name, role, troops, code_hash, email, made_at) values (?, ?, ?, ?, ?, ?) "
                "on conflict (name) do update set role = excluded.role, troops = excluded.troops, withdrawn_at = null, "
                "code_hash = excluded.code_hash, email = excluded.email, version = version + 1",
                (name, role, json.dumps(listed), hashed, _email(email), time.time()),
            )
            append(con, by, "access added", f"{name}: {role} {', '.join(listed)}")
        return code

    def renew(self, name: str, *, by: str) -> str:
        """A new code in place of the old one, which stops working; every sign-in of the account ends."""
        code, hashed = new_code()
        self._change(name, "code_hash = ?", [hashed], by, "new code issued")
        return code

    def change(self, name: str, role: str, troops: Iterable[str] = (), *, by: str) -> None:
        """Another role or other troops, from the next request on; the code stays, sign-ins stay."""
        listed = _troops(role, troops)
        with self.store.writing() as con:
            row = _must_know(con, _named(name))
            _keep_a_coordinator(con, row, role)
            con.execute(
                "update people set role = ?, troops = ?, version = version + 1 where person_no = ?",
                (role, json.dumps(listed), row["person_no"]),
            )
            con.execute(
                "update sign_ins set version = version + 1 where person_no = ? and version = ?",
                (row["person_no"], row["version"]),
            )
            append(con, by, "access changed", f"{row['name']}: {role} {', '.join(listed)}")

    def withdraw(self, name: str, *, by: str) -> None:
        """Ends an account: its code, its links and its sign-ins stop working at once."""
        with self.store.writing() as con:
            row = _must_know(con, _named(name))
            _keep_a_coordinator(con, row, "")
            con.execute(
                "update people set withdrawn_at = ?, code_hash = null, version = version + 1 where person_no = ?",
                (time.time(), row["person_no"]),
            )
            con.execute("delete from sign_ins where person_no = ?", (row["person_no"],))
            append(con, by, "access withdrawn", row["name"])

    def sign_out_everywhere(self, name: str, *, by: str) -> None:
        """Ends every sign-in and link of an account; its code stays."""
        self._change(name, "code_hash = code_hash", [], by, "signed out everywhere")

    def _change(self, name: str, setting: str, values: list[object], by: str, told: str) -> None:
        with self.store.writing() as con:
            row = _must_know(con, _named(name))
            con.execute(
                f"update people set {setting}, version = version + 1 where person_no = ?",  # noqa: S608 - ours
                [*values, row["person_no"]],
            )
            con.execute("delete from sign_ins where person_no = ?", (row["person_no"],))
            append(con, by, told, row["name"])

    # coming in

    def enter(self, name: str, code: str, address: str = "", device: str = "") -> tuple[SignIn, str] | Refused:
        """A sign-in and its cookie for a name and its code; `device` is a mark that this account left there before.

        Takes as long for a name that is not known as for a wrong code, and waits grow the same way.
        """
        name, address = name.strip().casefold()[:80], address or "unknown"
        account = f"device {device}" if device else f"account {digest(name)}"
        keys = [account, f"address {address}"]
        wait = throttle.to_wait(self.store, keys)
        if wait > 0:
            self.store.note_refused("sign-in refused while waiting", f"as {name}", address)
            return Refused(wait)
        row = self._row(name)
        stand_in = nobody()
        hashed = row["code_hash"] if row and row["code_hash"] else stand_in
        if not fits(hashed, plain_code(code)) or row is None or hashed == stand_in:
            throttle.failed(self.store, keys)
            self.store.note("nobody", "sign-in refused", f"as {name}", address)
            return Refused(throttle.to_wait(self.store, keys))
        throttle.succeeded(self.store, [account])
        return self._open(row, address, "signed in")

    def link(self, name: str, *, by: str, seconds: float = LINK_SECONDS) -> str:
        """The secret of a link that lets an account in once."""
        secret = secrets.token_urlsafe(32)
        with self.store.writing() as con:
            row = _must_know(con, _named(name))
            con.execute("delete from links where ends_at < ?", (time.time(),))
            con.execute(
                "insert into links values (?, ?, ?, ?)",
                (digest(secret), row["person_no"], row["version"], time.time() + seconds),
            )
            append(con, by, "one-time link made", row["name"])
        return secret

    def enter_by_link(self, secret: str, address: str = "") -> tuple[SignIn, str] | Refused:
        """A sign-in for a one-time link, which is used up by it. An address that brings wrong ones waits."""
        address = address or "unknown"
        keys = [f"address {address} by link"]
        wait = throttle.to_wait(self.store, keys)
        if wait > 0:
            self.store.note_refused("one-time link refused while waiting", "", address)
            return Refused(wait)
        with self.store.writing() as con:
            found = con.execute(
                "delete from links where link = ? and ends_at > ? returning person_no, version",
                (digest(secret), time.time()),
            ).fetchall()
            row = (
                found
                and con.execute(
                    "select * from people where person_no = ? and version = ? and withdrawn_at is null", tuple(found[0])
                ).fetchone()
            )
        if not row:
            throttle.failed(self.store, keys)
            self.store.note_refused("one-time link refused", "", address)
            return Refused(throttle.to_wait(self.store, keys))
        return self._open(row, address, "signed in by one-time link")

    def enter_verified(self, email: str, ends_at: float, address: str = "") -> tuple[SignIn, str] | Refused:
        """A sign-in for an address that an organisation's own sign-in has verified, until that one ends."""
        found = self.store.rows("select * from people where email = ? and withdrawn_at is null", email.casefold())
        if not found:
            self.store.note_refused("sign-in refused", f"as {email}", address)
            return Refused()
        return self._open(found[0], address, "signed in by the organisation's sign-in", ends_at)

    def _open(self, row: sqlite3.Row, address: str, told: str, ends_at: float | None = None) -> tuple[SignIn, str]:
        cookie, at = secrets.token_urlsafe(32), time.time()
        with self.store.writing() as con:
            con.execute("delete from sign_ins where seen_at < ? or made_at < ?", self._open_since()[1:])
            con.execute(
                "insert into sign_ins values (?, ?, ?, ?, ?, ?)",
                (digest(cookie), row["person_no"], row["version"], at, at, ends_at),
            )
            append(con, row["name"], told, "", address)
        return _sign_in(digest(cookie), row), cookie

    # being in

    def signed_in(self, cookie: str) -> SignIn | None:
        """Who holds this cookie; None where it is unknown, ended or expired."""
        return self.holds(digest(cookie)) if cookie else None

    def holds(self, mark: str, *, touch: bool = False) -> SignIn | None:
        """The sign-in of a mark as it is now; with `touch` the person was seen doing something."""
        found = self.store.rows(
            "select s.seen_at, p.* from sign_ins s join people p on p.person_no = s.person_no "  # noqa: S608 - ours
            f"where s.sign_in = ? and s.version = p.version and p.withdrawn_at is null and {IS_OPEN} "
            "and (s.ends_at is null or s.ends_at > ?)",
            mark, *self._open_since(), time.time(),
        )  # fmt: skip
        if not found:
            return None
        if touch and found[0]["seen_at"] < time.time() - SEEN_EVERY:
            with self.store.writing() as con:
                con.execute("update sign_ins set seen_at = ? where sign_in = ?", (time.time(), mark))
        return _sign_in(mark, found[0])

    def is_fresh(self, mark: str) -> bool:
        """Whether a sign-in was made just now, as what changes accounts asks for."""
        found = self.store.rows("select made_at from sign_ins where sign_in = ?", mark)
        return bool(found) and found[0]["made_at"] > time.time() - FRESH_SECONDS and self.holds(mark) is not None

    def leave(self, mark: str, address: str = "") -> None:
        """Ends a sign-in."""
        with self.store.writing() as con:
            row = con.execute(
                "select p.name from sign_ins s join people p on p.person_no = s.person_no where sign_in = ?", (mark,)
            ).fetchone()
            con.execute("delete from sign_ins where sign_in = ?", (mark,))
            if row:
                append(con, row["name"], "signed out", "", address)

    def device_secret(self) -> bytes:
        """What signs the mark of a known device; made once a book."""
        with self.store.writing() as con:
            con.execute("insert or ignore into secrets values ('device', ?)", (secrets.token_bytes(32),))
            return cast(bytes, con.execute("select secret from secrets where name = 'device'").fetchone()[0])

    def first_coordinator(self) -> str:
        """The name of a coordinator's account, made without a code where there is none yet."""
        with self.store.writing() as con:
            row = con.execute(
                "select name from people where role = 'coordinator' and withdrawn_at is null order by person_no"
            ).fetchone()
            if row:
                return str(row["name"])
            others = {one["name"] for one in con.execute("select name from people where role <> 'coordinator'")}
            tried = ("coordinator", *(f"coordinator-{number}" for number in range(2, len(others) + 3)))
            name = next(one for one in tried if one not in others)  # nobody else's account becomes a coordinator's
            con.execute(
                "insert into people (name, role, made_at) values (?, 'coordinator', ?) "
                "on conflict (name) do update set withdrawn_at = null, version = version + 1",
                (name, time.time()),
            )
            append(con, "this machine", "access added", f"{name}: coordinator")
            return name

    def _row(self, name: str) -> sqlite3.Row | None:
        found = self.store.rows("select * from people where name = ? and withdrawn_at is null", name)
        return found[0] if found else None

    @staticmethod
    def _open_since() -> tuple[float, float, float]:
        """The values of IS_OPEN: seen since, a coordinator and others; made since."""
        at = time.time()
        return at - IDLE_SECONDS_OF_A_COORDINATOR, at - IDLE_SECONDS, at - LONGEST_SECONDS


def _person(row: sqlite3.Row) -> Person:
    troops = tuple(json.loads(row["troops"]))
    gone = row["withdrawn_at"] is not None
    return Person(row["name"], row["role"], troops, row["email"], bool(row["code_hash"]), gone, row["sign_ins"])


def _sign_in(mark: str, row: sqlite3.Row) -> SignIn:
    return SignIn(mark, row["name"], row["role"], tuple(json.loads(row["troops"])), row["version"])


def _named(name: str) -> str:
    named = name.strip().casefold()
    if not NAME.fullmatch(named):
        raise Stop("An account's name has letters, digits and . _ @ + - only, such as leader-0417.")
    return named


def _email(email: str | None) -> str | None:
    return email.strip().casefold() if email and email.strip() else None


def _troops(role: str, troops: Iterable[str]) -> list[str]:
    listed = sorted({troop.strip() for troop in troops if troop.strip()})
    if role not in ROLES:
        raise Stop(f"{role} is no role: choose coordinator, leader or viewer.")
    if role == "leader" and not listed:
        raise Stop("Say which troops the leader leads.")
    if role != "leader" and listed:
        raise Stop(f"A {role} is given no troops: a coordinator sees all, a viewer the area's sums.")
    return listed


def _must_know(con: sqlite3.Connection, name: str) -> sqlite3.Row:
    row = con.execute("select * from people where name = ? and withdrawn_at is null", (name,)).fetchone()
    if row is None:
        raise Stop(f"There is no account {name}.")
    return cast(sqlite3.Row, row)


def _refuse_taken(con: sqlite3.Connection, email: str | None, name: str) -> None:
    found = con.execute("select name from people where email = ? and name <> ?", (_email(email), name)).fetchone()
    if found:
        raise Stop(f"{email} belongs to the account {found[0]} already.")


def _keep_a_coordinator(con: sqlite3.Connection, row: sqlite3.Row, role: str) -> None:
    """Refuses a change that would leave nobody to let others in."""
    if row["role"] != "coordinator" or role == "coordinator":
        return
    others = con.execute(
        "select count(*) from people where role = 'coordinator' and withdrawn_at is null and person_no <> ?",
        (row["person_no"],),
    ).fetchone()[0]
    if not others:
        raise Stop(f"{row['name']} is the only coordinator. Add another first.")
