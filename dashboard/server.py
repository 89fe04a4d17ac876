"""Who may come in, and what they may fetch; everything else is the app's.

Comes in: a book, a host and a port. Goes out: the dashboard, until it is stopped. Nothing it serves asks another machine
for anything. Every request and web socket passes the gate before it reaches the app.
"""

import errno
import logging
import signal
import socket
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import streamlit as st
import uvicorn
from starlette.responses import PlainTextResponse, Response
from starlette.types import Receive, Scope, Send
from streamlit.starlette import App
from streamlit.web import bootstrap

from dashboard import queries, words
from dashboard.pages import screens
from pipelines.book import Book
from pipelines.errors import Stop

APP = Path(__file__).with_name("app.py")
HERE = "127.0.0.1"
PORT = 8501
PORTS_TRIED = 50
MOST_UPLOAD_MEGABYTES = 200
SETTINGS: dict[str, Any] = {
    "server_headless": True,
    "server_fileWatcherType": "none",
    "server_maxUploadSize": MOST_UPLOAD_MEGABYTES,
    "browser_gatherUsageStats": False,  # else every page asks another machine
    "client_toolbarMode": "viewer",
    "client_showErrorDetails": "none",
}
HOSTS = {"127.0.0.1", "localhost", "[::1]"}
PAGE_HEADERS = {
    "cache-control": "no-cache",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    # Charts are drawn by generated code, hence unsafe-eval; everything comes from this server and nowhere else.
    "content-security-policy": "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; worker-src 'self' blob:; "
    "connect-src 'self' ws: wss:; object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors 'none'",
}

Asgi = Callable[[Scope, Receive, Send], Awaitable[None]]

log = logging.getLogger("musterbook.dashboard")


class Gate:
    """Stands before the app. Until sign-in exists it turns away whoever does not ask this machine by its own name.

    That keeps out pages of other sites that had their own name point here. The page itself, under the address of every
    screen, comes from here too: with rules for the browser that let it ask nobody else.
    """

    def __init__(self, app: Asgi) -> None:
        self._app = app
        self._page = _page()
        self._addresses = {"/", *(f"/{Path(one.file).stem}" for one in screens())}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif _host(scope) not in HOSTS:
            await _turn_away(scope, receive, send)
        elif scope["type"] == "http" and scope["method"] in {"GET", "HEAD"} and scope["path"] in self._addresses:
            await Response(self._page, media_type="text/html", headers=PAGE_HEADERS)(scope, receive, send)
        else:
            await self._app(scope, receive, send)


def _page() -> str:
    """Streamlit's page, told where its server is, so that it need not try the addresses of screens, and who it is."""
    page = (Path(st.__file__).parent / "static" / "index.html").read_text(encoding="utf-8")
    page = page.replace("<title>Streamlit</title>", "<title>Musterbook</title>")
    here = "<script>window.__streamlit = {BACKEND_BASE_URL: window.location.origin}</script>"
    return page.replace("<head>", f"<head>{here}", 1).replace('="./', '="/')


async def _turn_away(scope: Scope, receive: Receive, send: Send) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
    else:
        await PlainTextResponse("This dashboard answers on this machine only.", 403)(scope, receive, send)


def _host(scope: Scope) -> str:
    """The host that the request names, without its port."""
    named = next((value.decode("latin-1") for name, value in scope["headers"] if name == b"host"), "")
    return named if named.endswith("]") else named.rpartition(":")[0] or named


def make_app(book: Book) -> Asgi:
    """The whole dashboard of a book as one ASGI app, gate first."""
    queries.open_book(book)
    app = App(APP, lifespan=_warm, on_script_error=_said)  # also finds .streamlit/config.toml beside the script
    bootstrap.load_config_options(SETTINGS)
    return Gate(app)


@asynccontextmanager
async def _warm(_app: App) -> AsyncIterator[dict[str, Any]]:
    """Reads the newest figures once, so that the first person need not wait for it."""
    threading.Thread(target=_read_ahead, daemon=True).start()
    yield {}
    queries.open_book(None)


def _read_ahead() -> None:
    try:
        read = queries.now()
        for relation in ("area", "standing", "items", "dues"):
            read.rows(relation)  # type: ignore[arg-type]
    except Stop:
        log.info("nothing to read ahead")


def _said(fault: Exception) -> bool:
    """Whatever goes wrong on a screen is said in one sentence; what exactly stands in the log."""
    if isinstance(fault, Stop):
        st.warning(words.plain(str(fault)))
    else:
        log.error("a screen broke off", exc_info=fault)
        st.error("This screen could not be shown. Load the page again; if it happens again, tell who keeps this book.")
    return True


def serve(book: Book, *, host: str = HERE, port: int = PORT, next_free: bool = True,
          said: Callable[[str], None] = print) -> None:  # fmt: skip
    """Runs the dashboard until SIGTERM or Ctrl-C. Raises Stop where the host is another machine's or the port is taken.

    With `next_free` the next free port is taken in place of one in use.
    """
    if host not in {HERE, "localhost"}:
        raise Stop(
            f"--host {host}: there is no sign-in yet, so the dashboard listens on {HERE} only and nobody else can reach it."
        )
    app = make_app(book)
    listening = _bind(port, next_free=next_free)
    at = f"http://{HERE}:{listening.getsockname()[1]}"
    server = uvicorn.Server(
        uvicorn.Config(app, log_level="warning", access_log=False, timeout_graceful_shutdown=2, server_header=False)
    )
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    said(f"The dashboard is at {at}")
    said("It listens on this machine only: whoever can use this machine can see it. Ctrl-C stops it.")
    try:
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        said("The dashboard is stopped.")
    finally:
        signal.signal(signal.SIGTERM, before)
        listening.close()


def _bind(port: int, *, next_free: bool) -> socket.socket:
    """A socket that listens on this machine at the port, or at the next free one."""
    for tried in range(port, port + (PORTS_TRIED if next_free else 1)):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HERE, tried))
            listening.listen(128)
        except OSError as fault:
            listening.close()
            if fault.errno not in {errno.EADDRINUSE, errno.EACCES}:
                raise
        else:
            return listening
    many = f"Ports {port} to {port + PORTS_TRIED - 1} are" if next_free else f"Port {port} is"
    raise Stop(f"{many} in use by another program. Choose another with --port.")
