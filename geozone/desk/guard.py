"""Who may ask the desk for anything: the browser in which its address was opened, and no other page, program or machine."""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import secrets
from collections.abc import Callable
from html import escape
from http.cookies import CookieError, SimpleCookie

from starlette.exceptions import HTTPException

#: One file that is dropped, with what a browser puts round it [byte].
MOST_UPLOAD_BYTES = 100_000_000
#: Anything else that is sent: the text of a job file has at most 2 MB, and a form spells letters in up to twelve bytes [byte].
MOST_FORM_BYTES = 26_000_000
_ROUND_A_FILE_BYTES = 100_000
_READS = ("GET", "HEAD")

#: What a page of the desk may load: its own style, script and pictures, its own frames, nothing of another host and nothing written in it.
POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; frame-src 'self'; "
          "form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
#: What a page that a run wrote may do in its frame: run the script inside it and draw; ask for nothing.
RESULT_POLICY = ("sandbox allow-scripts; default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; "
                 "font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'")
_HEADERS = {b"content-security-policy": POLICY.encode(), b"x-content-type-options": b"nosniff", b"referrer-policy": b"same-origin",
            b"cross-origin-opener-policy": b"same-origin", b"cross-origin-resource-policy": b"same-origin", b"cache-control": b"no-store"}


_GO_ON = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="0; url=/"><link rel="icon" href="data:,"><title>geozone desk</title></head>
<body><p><a href="/">Go on to the desk</a></p></body></html>
"""


class Keys:
    """What lets a browser in: a token that works once, and the cookie that it gets for it.

    Parameters
    ----------
    port : int
    renewed : callable
        Told the new address each time one was used.
    """

    def __init__(self, port: int, renewed: Callable[[str], None] = lambda address: None):
        self.port, self._renewed = port, renewed
        self._cookie, self._token = secrets.token_urlsafe(32), secrets.token_urlsafe(24)

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    @property
    def cookie_name(self) -> str:
        """Cookies know no ports: two desks on one machine must not take each other's."""
        return f"desk_{self.port}"

    @property
    def address(self) -> str:
        """Where the desk opens, once."""
        return f"http://{self.host}/open/{self._token}"

    def opened_by(self, path: str) -> bool:
        """Whether a path is the address that works once; if so it is used up."""
        if not hmac.compare_digest(path.encode(), f"/open/{self._token}".encode()):
            return False
        self._token = secrets.token_urlsafe(24)
        self._renewed(self.address)
        return True

    def cookie_header(self) -> str:
        return f"{self.cookie_name}={self._cookie}; Path=/; HttpOnly; SameSite=Strict"

    def knows(self, cookies: str) -> bool:
        """Whether a Cookie header holds the desk's own."""
        try:
            found = SimpleCookie(cookies).get(self.cookie_name)
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(found.value.encode(), self._cookie.encode())


class Guard:
    """Asked before the desk: host, address that works once, where the request comes from, cookie, size.

    Parameters
    ----------
    app : ASGI application
    keys : Keys
    read_only : bool
        Whether nothing may be sent, only looked at.
    """

    def __init__(self, app, keys: Keys, read_only: bool = False):
        self._app, self._keys, self._read_only = app, keys, read_only

    async def __call__(self, scope, receive, send):
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        refusal = self._host_refused(scope)
        if refusal is None and scope["method"] == "GET" and scope["path"].startswith("/open/"):
            if self._keys.opened_by(scope["path"]):
                # Not a redirect: a browser that comes from another page sends no strict cookie along with that.
                await _answer(send, 200, _GO_ON, "text/html; charset=utf-8", ((b"set-cookie", self._keys.cookie_header().encode()),))
                return
            if not self._keys.knows(_one(scope, b"cookie") or ""):
                refusal = 403, "This address has been used; it works once. The terminal in which the desk was started shows the next one."
        refusal = refusal or self._refused(scope)
        if refusal is not None:
            await _answer(send, refusal[0], refusal[1] + "\n")
            return
        most = MOST_UPLOAD_BYTES + _ROUND_A_FILE_BYTES if scope["path"].endswith("/upload") else MOST_FORM_BYTES
        try:
            await self._app(scope, _counted(receive, most), _sealed(send))
        except asyncio.CancelledError:  # the desk is being closed while a page waits for news
            with contextlib.suppress(Exception):
                await _answer(send, 503, "The desk is being closed.\n")

    def _host_refused(self, scope) -> tuple[int, str] | None:
        if _all(scope, b"host") != [self._keys.host]:
            return 421, f"This is the desk of {self._keys.host} and answers to no other name."
        return None

    def _refused(self, scope) -> tuple[int, str] | None:
        site, origins = _one(scope, b"sec-fetch-site"), _all(scope, b"origin")
        own = f"http://{self._keys.host}"
        if site not in (None, "same-origin", "none") or any(origin != own for origin in origins):
            return 403, "The desk answers its own pages only; this was asked for by another one."
        if scope["method"] not in _READS and (origins != [own] or site == "none"):
            return 403, "The desk takes what its own pages send; this does not say that it comes from one."
        if not self._keys.knows(_one(scope, b"cookie") or ""):
            return 403, "This browser was not let in. Open the address that the terminal shows in which the desk was started."
        if scope["method"] not in _READS and self._read_only:
            return 403, "This desk was started with --read-only: plans can be looked at, nothing is changed."
        length = _one(scope, b"content-length")
        if length is not None:
            if not length.isascii() or not length.isdigit():
                return 400, "The length of what was sent is no number."
            most = MOST_UPLOAD_BYTES + _ROUND_A_FILE_BYTES if scope["path"].endswith("/upload") else MOST_FORM_BYTES
            if int(length) > most:
                return 413, too_much(most)
        return None


def too_much(most: int) -> str:
    return f"This is more than the desk takes at once: at most {most / 1e6:.0f} MB. Export only what is needed, or run the job by geozone run."


def _all(scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key == name]


def _one(scope, name: bytes) -> str | None:
    found = _all(scope, name)
    return "; ".join(found) if name == b"cookie" and found else found[0] if len(found) == 1 else "two of them" if found else None


def _counted(receive, most: int):
    """The body as it comes in, stopped where it grows too large: a length that was not said cannot be asked beforehand."""
    seen = 0

    async def counted():
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            # Starlette's own kind: any other would come out of its form parser as a defect.
            raise HTTPException(413, too_much(most))
        return message

    return counted


def _sealed(send):
    """Answers with the headers that keep a page to itself, unless it has its own."""
    async def sealed(message):
        if message["type"] == "http.response.start":
            given = {key.lower() for key, _ in message.get("headers", ())}
            message = {**message, "headers": [*message.get("headers", ()), *((k, v) for k, v in _HEADERS.items() if k not in given)]}
        await send(message)

    return sealed


async def _answer(send, status: int, text: str, kind: str = "text/plain; charset=utf-8", more: tuple = ()) -> None:
    body = text.encode()
    headers = [(b"content-type", kind.encode()), (b"content-length", str(len(body)).encode()), *_HEADERS.items(), *more]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def plain_page(title: str, text: str) -> str:
    """A page for what went wrong, where no other can be made."""
    return (f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title></head>'
            f"<body><h1>{escape(title)}</h1><p>{escape(text)}</p></body></html>")
