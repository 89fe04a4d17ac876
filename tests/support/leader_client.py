"""Somebody at the dashboard without a browser: requests and web sockets as an attacker would write them.

Comes in: a server's address and a cookie. Goes out: statuses and the bytes of every answer.
"""

import contextlib
import re
from collections.abc import Iterator
from typing import Any, ClassVar

import httpx
from streamlit.components.v2.bidi_component.main import _make_trigger_id
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Common_pb2 import FileUploaderState
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from streamlit.util import calc_hash
from websockets.sync.client import ClientConnection, connect

WIDGET = re.compile(rb"\$\$(?:ID|WIDGET_ID|GENERATED_WIDGET_ID)-[\w-]+(?: [\w-]+)*")

SUBMITTER = re.compile(rb"\$\$ID-[0-9a-f]+-FormSubmitter:[\w-]+(?: [\w-]+)*")


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

    def send(self, payload: bytes) -> None:
        """Any bytes at all."""
        self._socket.send(payload)

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
            self.widgets |= {one.decode() for one in (*WIDGET.findall(payload), *SUBMITTER.findall(payload))}
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


def look_typed_over(session: Session, query: str = "") -> bytes:
    """Has what was typed into an open page Send this week looked over, as its form asks; what the page shows then."""
    form = next(one for one in sorted(session.widgets) if one.endswith("-week_form"))
    asked = WidgetState(id=_make_trigger_id(form, "events"), json_trigger_value='[{"event": "look", "value": "1"}]')
    return session.run("send_week", query, [asked])


def send_week(session: Session, query: str = "") -> bytes:
    """Presses the button that sends what was looked over; what the page shows then."""
    button = next(one for one in sorted(session.widgets) if one.endswith("-send"))
    return session.run("send_week", query, [WidgetState(id=button, trigger_value=True)])


def drop_workbook(somebody: Somebody, session: Session, payload: bytes, name: str) -> bytes:
    """Uploads a workbook to an open page Send this week and has it looked over; what the page shows then."""
    address = f"/_stcore/upload_file/{session.session_id}/dropped"
    headers = {"Origin": somebody.at, "X-Xsrftoken": somebody.xsrf()}
    sent = somebody.http.put(address, files={"file": (name, payload)}, headers=headers)
    assert sent.status_code == 204, (sent.status_code, sent.text)
    state = FileUploaderState()
    state.uploaded_file_info.add(file_id="dropped", name=name, size=len(payload))
    given, button = (
        next(one for one in sorted(session.widgets) if part in one)
        for part in ("workbook_file", "FormSubmitter:workbook")
    )
    widgets = [WidgetState(id=given, file_uploader_state_value=state), WidgetState(id=button, trigger_value=True)]
    return session.run("send_week", widgets=widgets)
