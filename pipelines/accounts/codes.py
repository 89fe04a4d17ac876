"""Personal codes and what is kept of them.

Comes in: nothing, or a code as typed. Goes out: a new code with its Argon2 hash, or whether a code fits a hash. Long
random secrets (cookies, links) are kept as SHA-256: there is nothing in them to guess.
"""

import hashlib
import secrets
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

ALPHABET = "23456789abcdefghijkmnpqrstuvwxyz"  # 32 that are told apart at a glance: no 0, 1, l, o
CODE_LETTERS = 20  # 5 bits each: 100 random bits
MOST_TYPED = 200
HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)  # 19 MiB: 200 leaders sign in on 2 cores


def digest(secret: str) -> str:
    """The SHA-256 of a secret, in hexadecimal digits."""
    return hashlib.sha256(secret.encode()).hexdigest()


def new_code() -> tuple[str, str]:
    """A code as it is shown, in groups of five letters, and its Argon2 hash."""
    letters = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LETTERS))
    return "-".join(letters[at : at + 5] for at in range(0, CODE_LETTERS, 5)), HASHER.hash(letters)


def plain_code(typed: str) -> str:
    """A code as it was hashed: without spaces, hyphens and capitals."""
    return "".join(typed[:MOST_TYPED].split()).replace("-", "").casefold()


def fits(hashed: str, code: str) -> bool:
    """Whether a plain code is the one that was hashed."""
    try:
        return HASHER.verify(hashed, code)
    except VerificationError:
        return False


@cache
def nobody() -> str:
    """A hash that no code fits: what a name that is not known is held against, so that it takes as long."""
    return HASHER.hash(secrets.token_hex())
