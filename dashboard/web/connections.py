"""Connections that do not hold the house up: one that does not finish its request in time is closed.

Comes in: uvicorn's own protocol. Goes out: the same, with a bound on connections that stand half-open, of all and of
each address. Where there are too many, the oldest half-open one goes: whoever finishes a request is served.
"""

import asyncio
from collections import Counter
from typing import Any, ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

from pipelines.definitions.limits import HALF_OPEN_AT_ONCE, HALF_OPEN_OF_AN_ADDRESS, HEADER_SECONDS


class PatientProtocol(H11Protocol):
    """HTTP/1.1 with an end to patience."""

    half_open: ClassVar[dict["PatientProtocol", str]] = {}  # in the order in which they began to wait → address

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._is_handed_over = False
        self._waits_for_headers()
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        self._is_done_waiting()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.is_half_open():
            self._waits_for_headers()
        else:
            self._is_done_waiting()

    def handle_websocket_upgrade(self, event: Any) -> None:
        self._is_handed_over = True  # a web socket stands open for as long as it is asked anew by the gate
        self._is_done_waiting()
        super().handle_websocket_upgrade(event)

    def on_response_complete(self) -> None:
        self._is_done_waiting()  # what stands idle from now on has its own time (timeout_keep_alive)
        super().on_response_complete()

    def is_half_open(self) -> bool:
        """Whether a request has begun to arrive and is not whole yet, or none has come at all."""
        cycle: Any = self.cycle
        if cycle is None or cycle.response_complete:
            return True
        return bool(cycle.more_body)

    def _waits_for_headers(self) -> None:
        if self._is_handed_over or self in self.half_open or self.transport.is_closing():
            return
        self.half_open[self] = self.client[0] if self.client else ""
        self._patience = self.loop.call_later(HEADER_SECONDS, self._give_up)

    def _is_done_waiting(self) -> None:
        if self.half_open.pop(self, None) is not None:
            self._patience.cancel()

    def _give_up(self) -> None:
        """The headers have not come in time; a body has its own (requests.in_time)."""
        cycle: Any = self.cycle
        if cycle is None or cycle.response_complete:
            self._close()

    def _close(self) -> None:
        self._is_done_waiting()
        self.transport.abort()

    def _make_room(self) -> None:
        counted = Counter(self.half_open.values())
        mine = self.half_open.get(self, "")
        if counted[mine] > HALF_OPEN_OF_AN_ADDRESS:
            next(one for one, address in self.half_open.items() if address == mine)._close()
        elif len(self.half_open) > HALF_OPEN_AT_ONCE:
            next(iter(self.half_open))._close()
