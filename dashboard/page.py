"""The one page that every screen's address answers with: Streamlit's own, told where its server is.

Comes in: requests. Goes out: that page under the address of each screen; everything else is the app's. Told where its
server is, the page need not try the addresses of screens first, which took time and left errors in the browser's log.
"""

from pathlib import Path

import streamlit as st
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from dashboard.pages import screens

HERE = "<script>window.__streamlit = {BACKEND_BASE_URL: window.location.origin}</script>"


class Page:
    """Answers the addresses of screens; stands between the gate and the app."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._page = _page()
        self._addresses = {"/", *(f"/{Path(one.file).stem}" for one in screens())}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] in {"GET", "HEAD"} and scope["path"] in self._addresses:
            await Response(self._page, media_type="text/html", headers={"cache-control": "no-cache"})(scope, receive, send)
        else:
            await self._app(scope, receive, send)


def _page() -> str:
    page = (Path(st.__file__).parent / "static" / "index.html").read_text(encoding="utf-8")
    page = page.replace("<title>Streamlit</title>", "<title>Musterbook</title>")
    return page.replace("<head>", f"<head>{HERE}", 1).replace('="./', '="/')
