"""Who may come in: accounts, codes, sign-ins and links, and what the log keeps."""

import sqlite3
import time
from pathlib import Path

import pytest
from argon2 import Parameters, PasswordHasher, extract_parameters

from pipelines.accounts import account_store, codes, throttle
from pipelines.accounts import accounts as access_module
from pipelines.accounts.accounts import Access, Refused, SignIn
from pipelines.accounts.codes import ALPHABET, CODE_LETTERS
from pipelines.definitions.errors import Stop


@pytest.fixture
def access(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Access:
    """An empty book's accounts; codes hash fast here: what that costs has its own test."""
    fast = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(codes, "HASHER", fast)
    codes.nobody.cache_clear()
    return Access(tmp_path)


def came_in(found: tuple[SignIn, str] | Refused) -> tuple[SignIn, str]:
    assert not isinstance(found, Refused)
    return found


def test_a_code_is_100_random_bits_shown_once_and_kept_as_argon2_only(access: Access) -> None:
    code = access.add("Leader-0417", "leader", ["0417"], by="me")
    assert len(set(ALPHABET)) == 32
    assert CODE_LETTERS * 5 >= 80
    assert len(code.replace("-", "")) == CODE_LETTERS
    whole = b"".join(path.read_bytes() for path in access.store.path.parent.glob("access.sqlite*"))
    assert code.replace("-", "").encode() not in whole
    assert code.encode() not in whole
    assert b"$argon2id$" in whole


def test_a_name_and_its_code_let_in_as_typed(access: Access) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    sign_in, cookie = came_in(access.enter(" Leader-0417 ", code.upper().replace("-", " ")))
    assert (sign_in.name, sign_in.role, sign_in.troops) == ("leader-0417", "leader", ("0417",))
    assert access.signed_in(cookie) == sign_in
    assert access.signed_in(cookie + "x") is None
    assert access.signed_in("") is None


def test_a_wrong_code_an_unknown_name_and_a_withdrawn_one_are_refused_alike(access: Access) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    access.withdraw("leader-0417", by="me")
    access.add("leader-0423", "leader", ["0423"], by="me")
    for name, typed in (("leader-0417", code), ("nobody", code), ("leader-0423", code), ("' or 1=1 --", code)):
        assert access.enter(name, typed) == Refused(0.0)


def test_a_name_that_is_not_known_costs_the_same_hash(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    """The time taken does not tell whether an account exists: each try hashes once, at the same cost."""
    access.add("leader-0417", "leader", ["0417"], by="me")
    asked: list[Parameters] = []
    verify = PasswordHasher.verify

    def counted(hasher: PasswordHasher, hashed: str, code: str) -> bool:
        asked.append(extract_parameters(hashed))
        return verify(hasher, hashed, code)

    monkeypatch.setattr(PasswordHasher, "verify", counted)
    for name in ("leader-0417", "leader-9999"):
        assert isinstance(access.enter(name, "a wrong code"), Refused)
    known, unknown = asked
    assert known == unknown


def test_five_wrong_codes_then_a_wait_of_a_second_then_longer_at_most_30(
    access: Access, monkeypatch: pytest.MonkeyPatch
) -> None:
    access.add("leader-0417", "leader", ["0417"], by="me")
    clock = time.time()
    monkeypatch.setattr(time, "time", lambda: clock)
    waits = []
    for tried in range(12):
        found = access.enter("leader-0417", "wrong", address=f"10.0.0.{tried}")
        assert isinstance(found, Refused)
        waits.append(round(found.wait))
        clock += found.wait + 0.001
    assert waits == [0, 0, 0, 0, 1, 2, 4, 8, 16, 30, 30, 30]


def test_a_name_that_is_not_known_waits_the_same(access: Access) -> None:
    waits = [access.enter("nobody", "wrong", address=f"10.0.0.{tried}") for tried in range(6)]
    assert [isinstance(one, Refused) and one.wait > 0 for one in waits] == [False] * 4 + [True] * 2


def test_a_device_that_was_known_before_does_not_wait_for_a_strangers_failures(access: Access) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    for tried in range(8):
        access.enter("leader-0417", "wrong", address=f"10.0.0.{tried}")
    assert isinstance(access.enter("leader-0417", code, address="10.0.9.9"), Refused)
    came_in(access.enter("leader-0417", code, address="10.0.9.9", device="known"))


def test_an_address_waits_after_many_names(access: Access) -> None:
    for tried in range(throttle.ADDRESS.free):
        access.enter(f"nobody{tried}", "wrong", address="10.0.0.1")
    found = access.enter("somebody", "wrong", address="10.0.0.1")
    assert isinstance(found, Refused)
    assert found.wait > 0
    assert access.enter("somebody", "wrong", address="10.0.0.2") == Refused(0.0)


@pytest.mark.parametrize(
    ("after", "holds"), [(access_module.IDLE_SECONDS - 1, True), (access_module.IDLE_SECONDS + 1, False)]
)
def test_an_idle_sign_in_ends(access: Access, monkeypatch: pytest.MonkeyPatch, after: float, holds: bool) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    _sign_in, cookie = came_in(access.enter("leader-0417", code))
    later = time.time() + after
    monkeypatch.setattr(time, "time", lambda: later)
    assert (access.signed_in(cookie) is not None) == holds


def test_a_sign_in_that_is_used_all_the_time_ends_after_a_week(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    sign_in, cookie = came_in(access.enter("leader-0417", code))
    begun = clock = time.time()
    monkeypatch.setattr(time, "time", lambda: clock)
    while access.holds(sign_in.mark, touch=True):
        clock += 3600
        assert clock - begun < 8 * 24 * 3600
    assert clock - begun == pytest.approx(access_module.LONGEST_SECONDS, abs=3601)
    assert access.signed_in(cookie) is None


def test_withdrawing_renewing_and_signing_out_everywhere_end_every_sign_in(access: Access) -> None:
    for end in (access.withdraw, access.renew, access.sign_out_everywhere):
        code = access.add("leader-0417", "leader", ["0417"], by="me")
        cookies = [came_in(access.enter("leader-0417", code))[1] for _ in range(2)]
        link = access.link("leader-0417", by="me")
        end("leader-0417", by="me")
        assert [access.signed_in(cookie) for cookie in cookies] == [None, None]
        assert isinstance(access.enter_by_link(link), Refused)
        if end != access.withdraw:
            access.withdraw("leader-0417", by="me")


def test_another_role_holds_from_the_next_question_on_and_keeps_the_sign_in(access: Access) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    before, cookie = came_in(access.enter("leader-0417", code))
    access.change("leader-0417", "leader", ["0423", "0417"], by="me")
    after = access.signed_in(cookie)
    assert after is not None
    assert after.troops == ("0417", "0423")
    assert after.version != before.version


def test_a_link_lets_in_once_and_not_for_long(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    name = access.first_coordinator()
    link = access.link(name, by="me")
    assert came_in(access.enter_by_link(link))[0].role == "coordinator"
    assert isinstance(access.enter_by_link(link), Refused)
    late = access.link(name, by="me", seconds=10)
    later = time.time() + 11
    monkeypatch.setattr(time, "time", lambda: later)
    assert isinstance(access.enter_by_link(late), Refused)


def test_nobody_becomes_a_coordinator_by_a_name(access: Access) -> None:
    code = access.add("coordinator", "leader", ["0417"], by="me")
    assert access.first_coordinator() == access.first_coordinator() == "coordinator-2"
    assert came_in(access.enter("coordinator", code))[0].role == "leader"


def test_the_last_coordinator_stays(access: Access) -> None:
    name = access.first_coordinator()
    with pytest.raises(Stop, match="only coordinator"):
        access.withdraw(name, by="me")
    with pytest.raises(Stop, match="only coordinator"):
        access.change(name, "viewer", by="me")
    access.add("second", "coordinator", by="me")
    access.withdraw(name, by="me")


@pytest.mark.parametrize(
    ("name", "role", "troops", "why"),
    [
        ("<b>x</b>", "leader", ["0417"], "letters, digits"),
        ("x" * 81, "leader", ["0417"], "letters, digits"),
        ("x", "leader", [], "which troops"),
        ("x", "viewer", ["0417"], "given no troops"),
        ("x", "owner", [], "no role"),
    ],
)
def test_an_account_that_cannot_be(access: Access, name: str, role: str, troops: list[str], why: str) -> None:
    with pytest.raises(Stop, match=why):
        access.add(name, role, troops, by="me")


def test_the_log_is_append_only_and_holds_no_secret(access: Access) -> None:
    code = access.add("leader-0417", "leader", ["0417"], by="me")
    link = access.link("leader-0417", by="me")
    access.enter("leader-0417", "a-wrong-code", "127.0.0.1")
    _sign_in, cookie = came_in(access.enter("leader-0417", code, "127.0.0.1"))
    access.enter("two\nlines " + "x" * 500, "wrong", "127.0.0.1")
    access.leave(access.signed_in(cookie).mark)  # type: ignore[union-attr]
    told = [(one.who, one.what) for one in access.store.log()]
    assert told == [
        ("leader-0417", "signed out"),
        ("nobody", "sign-in refused"),
        ("leader-0417", "signed in"),
        ("nobody", "sign-in refused"),
        ("me", "one-time link made"),
        ("me", "access added"),
    ]
    whole = " ".join(f"{one.who} {one.what} {one.about} {one.address}" for one in access.store.log())
    assert not [secret for secret in (code, code.replace("-", ""), link, cookie, "a-wrong-code") if secret in whole]
    assert "\n" not in whole
    for altering in ("update log set who = 'x'", "delete from log"):
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            access.store.connection().execute(altering)


def test_the_file_is_for_its_owner_only(access: Access) -> None:
    assert access.store.path.stat().st_mode & 0o077 == 0


def test_tries_while_waiting_are_logged_once_with_a_count(access: Access) -> None:
    access.add("leader-0417", "leader", ["0417"], by="me")
    for _ in range(300):
        access.enter("leader-0417", "wrong", "203.0.113.7")
    told = [(one.what, one.about) for one in access.store.log() if one.who == "nobody"]
    waited = [about for what, about in told if what == "sign-in refused while waiting"]
    tried = sum(what == "sign-in refused" for what, _about in told)
    assert tried < 20
    assert waited == [f"{300 - tried - 1} times more", "as leader-0417"]


def test_wrong_one_time_links_are_throttled_by_address_and_flood_no_log(access: Access) -> None:
    name = access.first_coordinator()
    found = [access.enter_by_link(f"guess {k}", "203.0.113.7") for k in range(300)]
    assert all(isinstance(one, Refused) for one in found)
    assert [one for one in found if isinstance(one, Refused) and one.wait > 0]
    good = access.link(name, by="me")
    assert isinstance(access.enter_by_link(good, "203.0.113.7"), Refused), "who guesses waits, whatever comes next"
    came_in(access.enter_by_link(good, "203.0.113.8"))
    assert sum(one.who == "nobody" for one in access.store.log()) <= 4


def test_the_oldest_entries_of_a_long_log_go_and_no_others(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a log of 600 entries at most, in place of 50,000."""
    with access.store.writing() as con:
        con.execute("drop trigger log_is_not_shortened")
        con.execute(
            "create trigger log_is_not_shortened before delete on log "
            "when old.entry_no > (select max(entry_no) from log) - 600 begin select raise(abort, 'append-only'); end"
        )
    monkeypatch.setattr(account_store, "MOST_LOGGED", 600)
    for k in range(1_500):
        access.store.note("me", f"entry {k}")
    kept = access.store.log(5_000)
    assert (kept[0].what, kept[-1].what) == ("entry 1499", "entry 900")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        access.store.connection().execute("delete from log where entry_no = 1000")


def test_a_coordinators_sign_in_ends_sooner_than_a_leaders(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    codes_ = {"boss": access.add("boss", "coordinator", by="me"), "our": access.add("our", "leader", ["0417"], by="me")}
    cookies = {name: came_in(access.enter(name, code))[1] for name, code in codes_.items()}
    later = time.time() + access_module.IDLE_SECONDS_OF_A_COORDINATOR + 1
    monkeypatch.setattr(time, "time", lambda: later)
    assert access.signed_in(cookies["boss"]) is None
    assert access.signed_in(cookies["our"]) is not None


def test_a_sign_in_is_fresh_for_a_quarter_of_an_hour(access: Access, monkeypatch: pytest.MonkeyPatch) -> None:
    sign_in, _cookie = came_in(access.enter("boss", access.add("boss", "coordinator", by="me")))
    assert access.is_fresh(sign_in.mark)
    assert not access.is_fresh("")
    later = time.time() + access_module.FRESH_SECONDS + 1
    monkeypatch.setattr(time, "time", lambda: later)
    assert access.signed_in(_cookie) is not None
    assert not access.is_fresh(sign_in.mark)
