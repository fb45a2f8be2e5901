"""Access control: every request and socket is checked here before it reaches the page."""

import hmac
import secrets
from html import escape
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cases.page.settings import PageSettings

MOST_BYTES = 256 * 1024
"""Largest body of a request [bytes]; a case file has a few kB."""
COOKIE = "neckpreload_entry"
ENTER = "/enter"
SAFE_METHODS = ("GET", "HEAD")
CSP = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self' data:; connect-src 'self' ws: wss:; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""Nothing is loaded from elsewhere, and no other page may frame this one. The UI library compiles its
templates in the browser and needs `unsafe-eval` and `unsafe-inline`; user text never becomes a template.
"""
HEADERS = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
}


class Guard:
    """ASGI middleware in front of ``app``: checks host, origin, token, size and the paths of the mode."""

    def __init__(self, app: ASGIApp, settings: PageSettings) -> None:
        self._app = app
        self._settings = settings
        # a browser that has given the token gets this cookie instead of the token
        self._entry = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse or forward one connection."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self.refusal(scope)
        limited = _limited(receive) if scope["type"] == "http" else receive
        try:
            if refusal is not None:
                await _refuse(scope, receive, send, *refusal)
            elif scope["type"] == "http" and scope["path"] == ENTER:
                await (await self._entered(Request(scope, limited)))(scope, receive, send)
            elif not self._may_enter(scope):
                await _refuse(scope, receive, send, 401, ENTRY_PAGE)
            else:
                await self._app(scope, limited, _with_headers(send))
        except TooLarge:
            await _refuse(scope, receive, send, 413, TOO_LARGE)

    def refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and message of a refused connection; None if it is accepted."""
        headers = HTTPConnection(scope).headers
        host = headers.get("host", "")
        name = _name_of(host)
        if name is None or name not in self._settings.hosts:
            names = ", ".join(sorted(self._settings.hosts))
            return 421, f"The page answers to {names}; open it by that name."
        origins = headers.getlist("origin")
        unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE_METHODS
        if (unsafe and not origins) or any(urlsplit(one).netloc != host for one in origins):
            return 403, "The page refuses requests from another site; open it directly."
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BYTES:
            return 413, TOO_LARGE
        return None if scope["type"] == "websocket" else closed_path(self._settings, scope["path"])

    def _may_enter(self, scope: Scope) -> bool:
        if self._settings.token is None:
            return True
        shown = HTTPConnection(scope).cookies.get(COOKIE, "")
        return hmac.compare_digest(shown.encode(), self._entry.encode())

    async def _entered(self, request: Request) -> Response:
        """Check the token from the entry form and set the cookie."""
        given = parse_qs((await request.body()).decode("utf-8", "replace")).get("token", [""])[0]
        token = self._settings.token
        if token is not None and not hmac.compare_digest(given.encode(), token.encode()):
            return _page(401, ENTRY_PAGE)
        entered = RedirectResponse("/", 303, HEADERS)
        entered.set_cookie(COOKIE, self._entry, httponly=True, samesite="strict")
        return entered


class TooLarge(Exception):
    """A request body larger than `MOST_BYTES`."""


TOO_LARGE = f"A request may have at most {MOST_BYTES // 1024} kB; a case file has a few."
ENTRY_PAGE = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>neckpreload: token</title>"
    "<meta name=viewport content='width=device-width, initial-scale=1'>"
    "<body style='font:18px sans-serif;max-width:30em;margin:3em auto;padding:0 1em'>"
    "<main><h1>neckpreload</h1><form method=post action=/enter>"
    "<p><label>Token of this page<br><input name=token type=password autocomplete=current-password autofocus "
    "style='font-size:18px;min-height:44px;width:100%'></label></p>"
    "<button style='font-size:18px;min-height:44px'>Open the page</button></form>"
    "<p>The token was set by the person who started the page.</p></main>"
)


def closed_path(settings: PageSettings, path: str) -> tuple[int, str] | None:
    """Status and message of a path closed in this mode; None if it is open."""
    room = "/" + path.strip("/").split("/")[0]
    if settings.mode == "class" and room in ("/bench", "/trend"):
        return 403, "A class keeps no logbook: bench and trend are closed; start the page without --class."
    if settings.mode == "bench" and room == "/neck":
        return 403, "This page is the bench: it edits nothing; start another page without --bench."
    return None


def _name_of(host: str) -> str | None:
    """Host name in a Host header, without port, in lower case; None if there is none."""
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:
        return None


def _limited(receive: Receive) -> Receive:
    """Count a body as it arrives, since a stated length may be missing or wrong."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BYTES:
            raise TooLarge
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).update(HEADERS)
        await send(message)

    return sending


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, text: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
    else:
        await _page(status, text)(scope, receive, send)


def _page(status: int, text: str) -> Response:
    if not text.startswith("<!doctype"):
        text = f"<!doctype html><html lang=en><meta charset=utf-8><title>neckpreload</title><p>{escape(text)}"
    return HTMLResponse(text, status, {"cache-control": "no-store", **HEADERS})
