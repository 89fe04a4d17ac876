"""Somebody at the dashboard without a browser: requests and web sockets as an attacker would write them.

Comes in: a server's address and a cookie. Goes out: statuses and the bytes of every answer.
"""

import collections
import contextlib
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import httpx
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from streamlit.util import calc_hash
from websockets.sync.client import ClientConnection, connect

WIDGET = re.compile(rb"\$\$(?:ID|WIDGET_ID|GENERATED_WIDGET_ID)-[\w-]+(?: [\w-]+)*")


@contextlib.contextmanager
def running(book: Path, *more: str) -> Iterator[str]:
    """A server of a book, its address; ended at the end."""
    command = [sys.executable, "-m", "pipelines", "serve", "--book", str(book), "--port", "0", *more]
    command[1:3] = ["-c", "from pipelines.cli import main; main()"]
    environment = os.environ | {"PYTHONUNBUFFERED": "1", "PYTHONWARNINGS": "default"}
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    running.pid = server.pid  # type: ignore[attr-defined]
    try:
        assert server.stdout is not None
        line = server.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line
        # What the server prints is read away: a pipe that is full would hold it up.
        reading_away = threading.Thread(target=collections.deque, args=(server.stdout, 0), daemon=True)
        reading_away.start()
        for _tried in range(200):
            with contextlib.suppress(httpx.TransportError):
                if httpx.get(f"{found[0]}/health").status_code == 200:
                    break
        yield found[0]
    finally:
        server.terminate()
        try:
            server.wait(timeout=60)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
            raise
        reading_away.join(10)
        server.stdout.close()


class Session:
    """One web socket of somebody: runs of the app, and the bytes they brought."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket = socket
        self.session_id, self.patience, self.is_broken = "", 120.0, False
        self.widgets: set[str] = set()
        self.media: set[str] = set()

    def run(self, page: str = "", query: str = "", widgets: list[WidgetState] | None = None, **asked: Any) -> bytes:
        """One run of a page: every message until the script has finished."""
        message = BackMsg()
        state = message.rerun_script
        state.query_string, state.page_name = query, page
        state.page_script_hash = asked.get("page_script_hash", calc_hash(page) if page else "")
        for widget in widgets or ():
            state.widget_states.widgets.append(widget)
        self._socket.send(message.SerializeToString())
        return self.finished()

    def finished(self) -> bytes:
        """Everything up to the end of a run; a run that a forged state broke off ends with `patience`."""
        told = b""
        while True:
            try:
                payload = self._socket.recv(timeout=self.patience)
            except TimeoutError:
                self.is_broken = True
                return told
            assert isinstance(payload, bytes)
            told += payload
            found = ForwardMsg.FromString(payload)
            kind = found.WhichOneof("type")
            if kind == "new_session":
                self.session_id = found.new_session.initialize.session_id or self.session_id
            self.widgets |= {one.decode() for one in WIDGET.findall(payload)}
            self.media |= {one.decode() for one in re.findall(rb"/media/[0-9a-f]+(?:\.\w+)?", payload)}
            if kind == "script_finished" and found.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN:
                return told


class Somebody:
    """A cookie (or none) and what can be asked with it."""

    opened: ClassVar[list["Somebody"]] = []

    def __init__(self, at: str, cookie: str = "") -> None:
        self.opened.append(self)
        self.at, self.cookie = at, cookie
        cookies = {"musterbook": cookie} if cookie else {}
        self.http = httpx.Client(base_url=at, cookies=cookies, timeout=60, follow_redirects=False)

    def get(self, path: str, **headers: str) -> httpx.Response:
        """One request."""
        return self.http.get(path, headers=headers)

    def xsrf(self) -> str:
        """The app's own token against foreign forms, as its page fetches it."""
        self.get("/_stcore/health")
        return str(self.http.cookies.get("_streamlit_xsrf") or "")

    @contextlib.contextmanager
    def session(
        self, *, origin: str | None = "", subprotocols: list[str] | None = None, **headers: str
    ) -> Iterator[Session]:
        """A web socket, its origin the server's own unless another is given (None: none)."""
        told = {"Cookie": f"musterbook={self.cookie}"} if self.cookie else {}
        with connect(
            self.at.replace("http", "ws") + "/_stcore/stream",
            origin=(self.at if origin == "" else origin),  # type: ignore[arg-type]
            additional_headers=told | headers,
            subprotocols=subprotocols or ["streamlit"],  # type: ignore[arg-type]
            max_size=None,
            proxy=None,
            close_timeout=1,
        ) as socket:
            yield Session(socket)
