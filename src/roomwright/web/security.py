"""Who may talk to the server: checks on every request before anything else sees it."""

from __future__ import annotations

import hmac
import ipaddress
import socket
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from roomwright._errors import InputError
from roomwright.web.visit import Visit

#: A request's body may be this long: the longest takes are WAV files of some hundred megabytes.
MAXIMUM_BODY_BYTES: Final = 512 * 1024 * 1024

_COOKIE: Final = "roomwright-token"
_SHORTEST_TOKEN: Final = 16

_HEADERS: Final = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "SAMEORIGIN",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    # The toolkit compiles its templates in the page; but nothing is ever fetched from elsewhere.
    "content-security-policy": (
        "default-src 'self' 'unsafe-inline' 'unsafe-eval' data: blob:; object-src 'none'; "
        "base-uri 'self'; form-action 'self'; frame-ancestors 'self'"
    ),
}

_ASK: Final = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Roomwright</title>
<style>body{font:16px/1.5 system-ui,sans-serif;max-width:30rem;margin:15vh auto;padding:0 1rem;
background:#121517;color:#e6e9ea}input,button{font:inherit;padding:.3rem .6rem}</style>
<h1>Token</h1><p>This server asks for the token that was printed where it was started.</p>
<form method="get"><label>Token <input name="token" type="password" autofocus></label>
<button>Open</button></form></html>"""


def is_loopback(host: str) -> bool:
    """Whether an address to listen on is reached from this computer alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class Guard:
    """Refuses requests under a foreign name, from foreign pages, without the token, or too long.

    A page elsewhere can make a browser send requests here, and can point its own name at this
    computer (DNS rebinding): so the name must be one of ours, and whatever page a request comes
    from must be ours too.

    Parameters
    ----------
    app
        What is guarded.
    host
        The address listened on. For loopback only its names are taken; otherwise also numeric
        addresses, `host` itself and this computer's name.
    token
        What a browser must show once; None asks for nothing, allowed on loopback alone.
    maximum_body_bytes
        How long a request's body may be.

    Raises
    ------
    InputError
        If the token is missing where it is needed, or short.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        host: str,
        token: str | None,
        maximum_body_bytes: int = MAXIMUM_BODY_BYTES,
    ) -> None:
        if token is None and not is_loopback(host):
            raise InputError(f"{host} can be reached from other computers: a token is needed")
        if token is not None and (len(token) < _SHORTEST_TOKEN or not token.isascii()):
            raise InputError(f"a token has at least {_SHORTEST_TOKEN} ASCII characters")
        self._app = app
        self._token = token
        self._maximum = maximum_body_bytes
        self._visits: set[Visit] = set()
        self._numeric = not is_loopback(host)
        self._names = {"localhost", "127.0.0.1", "::1"}
        if self._numeric:
            name = socket.gethostname().lower()
            self._names |= {host.lower(), name, f"{name}.local"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer that it is refused."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope, Headers(scope=scope))
        if refusal is None:
            visit = Visit(scope, receive, _with_headers(send), maximum_body_bytes=self._maximum)
            self._visits.add(visit)
            try:
                await visit.pass_to(self._app)
            finally:
                self._visits.discard(visit)
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            await refusal(scope, receive, _with_headers(send))

    def end(self) -> None:
        """Answer whoever still waits, as the server ends."""
        for visit in self._visits:
            visit.end()

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        if not self._knows(headers.getlist("host")):
            return PlainTextResponse("This server does not go by that name.", 421)
        origins = headers.getlist("origin")
        if origins and origins not in (
            [f"http://{headers['host']}"],
            [f"https://{headers['host']}"],
        ):
            return PlainTextResponse("Requests from other pages are refused.", 403)
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self._maximum:
            return _too_long(self._maximum)
        return self._asks(scope, headers)

    def _knows(self, hosts: list[str]) -> bool:
        if len(hosts) != 1:
            return False
        try:
            name = urlsplit(f"//{hosts[0]}").hostname
        except ValueError:
            return False
        return name is not None and (name in self._names or (self._numeric and _is_numeric(name)))

    def _asks(self, scope: Scope, headers: Headers) -> Response | None:
        """None if the token was shown, else the answer that asks for it or takes it."""
        if self._token is None or self._is_token(_cookie(headers)):
            return None
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        if not any(name == "token" and self._is_token(value) for name, value in query):
            return HTMLResponse(_ASK, 401)
        # One leading slash: two would be the address of another server.
        path = "/" + quote(scope["path"].lstrip("/\\"))
        rest = urlencode([(name, value) for name, value in query if name != "token"])
        answer = RedirectResponse(f"{path}?{rest}" if rest else path, 303)
        answer.set_cookie(_COOKIE, self._token, httponly=True, samesite="strict")
        return answer

    def _is_token(self, text: str) -> bool:
        return self._token is not None and hmac.compare_digest(
            text.encode("utf-8", "replace"), self._token.encode()
        )


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
        await send(message)

    return sending


def _too_long(maximum: int) -> Response:
    return PlainTextResponse(f"At most {maximum // 2**20} MB can be sent at once.", 413)


def _is_numeric(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _cookie(headers: Headers) -> str:
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[_COOKIE].value if _COOKIE in cookies else ""
