"""Turns: so much of a kind at once for each account and each address, the rest waits, and too many are turned away.

Comes in: whose turn it is. Goes out: a turn, or Full. Nobody's many requests hold up another's.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager

from pipelines.definitions.limits import Share


class Full(Exception):
    """So many are under way, and wait, that no more is taken on."""


class Turns:
    """The turns of one kind of request."""

    def __init__(self, share: Share) -> None:
        self._share = share
        self._of: dict[str, tuple[asyncio.Semaphore, list[int]]] = {}

    @asynccontextmanager
    async def of(self, *whose: str) -> AsyncIterator[None]:
        """A turn of each of these, in order; raises Full."""
        async with AsyncExitStack() as held:
            for one in whose:
                await held.enter_async_context(self._one(one))
            yield

    @asynccontextmanager
    async def _one(self, whose: str) -> AsyncIterator[None]:
        room, here = self._of.setdefault(whose, (asyncio.Semaphore(self._share.at_once), [0]))
        if here[0] >= self._share.at_once + self._share.waiting:
            raise Full
        here[0] += 1
        try:
            async with room:
                yield
        finally:
            here[0] -= 1
            if not here[0]:
                self._of.pop(whose, None)
