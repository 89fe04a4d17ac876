"""Growing waits after wrong codes, by account and by address, that shut nobody out for long.

Comes in: who tries (an account or a device that it knows, and an address). Goes out: how long to wait, in seconds.
Codes hold 100 random bits, so that waits are a second line: they bound the work and the noise that somebody can make.

Waits grow 1, 2, 4 ... s after 5 wrong codes for an account, to 30 s at most; after 20 for an address, to 300 s. A
device where the account signed in before counts for itself (a signed mark in a cookie), so that nobody is shut out by
somebody else typing her name.
"""

import time
from dataclasses import dataclass

from pipelines.accounts.account_store import Store

FORGOTTEN_AFTER = 3600.0  # seconds without a failure


@dataclass(frozen=True, slots=True)
class Patience:
    """How many failures are free, and the longest wait, in seconds."""

    free: int
    longest: float

    def wait(self, failures: int) -> float:
        """The wait after so many failures: 0, then 1, 2, 4, ... up to the longest."""
        over = failures - self.free
        return 0.0 if over < 0 else min(2.0 ** min(over, 30), self.longest)


ACCOUNT = Patience(free=5, longest=30.0)  # short: else anybody could shut a leader out by typing her name
ADDRESS = Patience(free=20, longest=300.0)  # a meeting of leaders shares one address


def patience_of(key: str) -> Patience:
    """The patience with an account, a known device or an address."""
    return ADDRESS if key.startswith("address ") else ACCOUNT


def to_wait(store: Store, keys: list[str]) -> float:
    """How many seconds must pass before the next try of any of these; 0: none."""
    marks = ", ".join("?" * len(keys))
    done = store.rows(f"select max(next_at) from waits where who in ({marks})", *keys)  # noqa: S608 - marks only
    return max(0.0, (done[0][0] or 0.0) - time.time())


def failed(store: Store, keys: list[str]) -> None:
    """Counts a failure of each, and forgets those of long ago."""
    at = time.time()
    with store.writing() as con:
        con.execute("delete from waits where failed_at < ?", (at - FORGOTTEN_AFTER,))
        for key in keys:
            found = con.execute("select failures from waits where who = ?", (key,)).fetchone()
            failures = (found[0] if found else 0) + 1
            con.execute(
                "insert into waits (who, failures, failed_at, next_at) values (?, ?, ?, ?) on conflict (who) "
                "do update set failures = excluded.failures, failed_at = excluded.failed_at, "
                "next_at = excluded.next_at",
                (key, failures, at, at + patience_of(key).wait(failures)),
            )


def succeeded(store: Store, keys: list[str]) -> None:
    """Forgets the failures of an account or device; an address keeps its own, or one good code would reset it."""
    with store.writing() as con:
        con.executemany("delete from waits where who = ? and who not like 'address %'", [(key,) for key in keys])
